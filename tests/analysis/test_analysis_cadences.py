"""Cadences, their kinds, and what is none. Common practice, no source, where nothing else is named."""

import pytest

HEAD = "cantus C1 | D5/1\nbassus F4 | D3/1 | "


def found(hear, line: str, **front: object) -> list[tuple[int, str, str]]:
    return [(c.place.bar, c.degree, c.kind) for c in hear(HEAD + line, **front).cadences]


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("A2/1{#} | D3/1", "semplice"),
        ("A2/1 | D3/1", "semplice"),
        ("A2/1{7} | D3/1", "semplice"),
        ("A2/1{4 3} | D3/1", "composta"),
        ("A2/1{4 #} | D3/1{#}", "composta"),
        ("A2/1{5/4 5/3} | D3/1", "composta"),
        ("A3/2{4} A2/2{#} | D3/1", "composta"),
        ("A2/1{5/3:4 6/4:4 5/4:4 #:4} | D3/breve{#}", "doppia"),
        ("A2/1~{# 6/4} | A2/1{5/4 #} | D3/1", "doppia"),
        ("A2/4 A2/4{6/4} A2/4{5/4} A2/4{#} | D3/1", "doppia"),
        ("A2/1{6/4 5/3} | D3/1", "semplice"),
        ("A2/1{6/4:2 5/4:4 #:4} | D3/1", "composta"),
        ("A2/1{7/4 7/#} | D3/1", "composta"),
        ("A2/1{4 #} | D3/1{9 8}", "composta"),
        ("G3/1{7 #6} | D3/1", ""),
        ("Eb3/1{7 6} | D3/1{#}", "mi"),
        ("Eb3/1{6} | D3/1{#}", "mi"),
        ("E3/1{7 #6} | D3/1", "composta"),
        ("E3/1{#6} | D3/1", "semplice"),
        ("D3/2{2} C#3/2{6} | D3/1", "composta"),
        ("C#3/1{6} | D3/1", "semplice"),
        ("G2/1 | D3/1", ""),
    ],
)
def test_the_close_is_named_by_its_bass_and_figures(hear, line: str, kind: str) -> None:
    closes = [(degree, k) for _, degree, k in found(hear, line)]
    assert closes == ([("D", kind)] if kind else [])


def test_a_close_that_is_no_cadence_known_here_is_warned_of(hear) -> None:
    assert "the last notes make no cadence known here" in hear(HEAD + "G2/1 | D3/1").warnings


def test_the_parts_of_a_double_cadence_should_be_equal(hear) -> None:
    unequal = hear(HEAD + "A2/1{#:2 6/4:8 5/4:8 #:4} | D3/1").cadences[-1]
    assert unequal.kind == "doppia"
    assert "not of the same length" in unequal.evidence


def test_a_leading_note_without_a_sign_is_said_to_be_raised(hear) -> None:
    assert "raised although no sign stands" in hear(HEAD + "A2/1{4 3} | D3/1").cadences[-1].evidence
    assert "raised although" not in hear(HEAD + "A2/1{4 #} | D3/1").cadences[-1].evidence


def test_a_semitone_fall_is_mi_and_a_tone_fall_is_the_tenors_clausula(hear) -> None:
    mi = hear("cantus C1 | B4/1\nbassus F4 | E3/1 | F3/1{7 6} | E3/1{#}").cadences[-1]
    tone = hear("cantus C1 | A4/1\nbassus F4 | D3/1 | E3/1{7 #6} | D3/1").cadences[-1]
    assert (mi.kind, tone.kind) == ("mi", "composta")
    assert "falls a semitone from F to E" in mi.evidence
    assert "clausula of the tenor in the lowest voice" in tone.evidence


@pytest.mark.parametrize(
    "line",
    [
        "A2/4 D3/4 G2/4 C3/4 | A2/1{4 3} | D3/1",
        "D3/4 A2/4 D3/4 E3/4 | A2/1{4 3} | D3/1",
        "F3/2 A2/4 D3/4 | A2/1{4 3} | D3/1",
        "B3/2{7 6} A3/2{7 6} | G3/2{7 6} F3/2{6} | A2/1{4 3} | D3/1",
        "E3/4{6} F3/4 G3/4{6} A3/4 | A2/1{4 3} | D3/1",
        "A2/2 D3/4. E3/8 | F3/2 G3/2 | A2/1{4 3} | D3/1",
    ],
    ids=[
        "fifths in a walk",
        "weak beats",
        "quarter on a weak beat",
        "chain of sevenths",
        "mi to fa",
        "a theme",
    ],
)
def test_the_same_notes_in_passing_are_no_cadence(hear, line: str) -> None:
    notes = found(hear, line)
    assert [k for _, _, k in notes] == ["composta"]
    assert notes[0][1] == "D"


def test_an_inner_cadence_with_a_suspension_is_found(hear) -> None:
    assert found(hear, "C3/2 C3/2{4 3} | F3/2 E3/2{6} | A2/1{4 #} | D3/1") == [
        (4, "F", "composta"),
        (6, "D", "composta"),
    ]


def test_an_inner_cadence_without_suspension_stands_before_a_rest(hear) -> None:
    assert found(hear, "C3/1 | F3/2 R/2 | A2/1{4 #} | D3/1")[0] == (4, "F", "semplice")


def test_the_cadence_begins_with_the_fifth_degree_and_its_octave(hear) -> None:
    last = hear(HEAD + "A3/2 A2/2{4 3} | D3/1").cadences[-1]
    assert (last.start, last.onset) == (8, 12)


def test_a_phrase_that_rests_on_the_fifth_is_a_half_cadence(hear) -> None:
    notes = found(hear, "G3/2{6} A3/2{#} | R/2 D3/2 | A2/1{4 #} | D3/1")
    assert notes == [(3, "A", "half"), (6, "D", "composta")]


def test_a_verset_that_ends_on_the_fifth_of_its_tone_ends_with_a_half_cadence(hear) -> None:
    found = hear("cantus C1 | D5/2 A4/2\nbassus F4 | A3/2 D3/2 | A2/2{4 #} D3/2 | G3/1{6} | A3/1{#}")
    assert (found.tones[0].tone, found.cadences[-1].degree, found.cadences[-1].kind) == (1, "A", "half")
    assert "the line ends on A, the fifth above the final" in found.cadences[-1].evidence
    assert found.warnings == ()


def test_a_theme_that_ends_on_the_fifth_is_no_half_cadence(hear) -> None:
    found = hear(
        "cantus C1 | D5/2 A4/2\ntenor C4 | D4/2 A3/2\nbassus F4 | D3/2 A2/2 | F3/1 | A2/1{4 #} | D3/1"
    )
    assert [c.kind for c in found.cadences] == ["composta"]


@pytest.mark.parametrize(
    ("goal", "why"),
    [
        ("Bb2/1", "the bass goes to B♭"),
        ("F2/1{6}", "the bass goes to F"),
        ("D3/1{6}", "6 over it withholds the close"),
    ],
)
def test_a_formula_that_goes_elsewhere_is_an_evaded_cadence(hear, goal: str, why: str) -> None:
    cadences = hear(HEAD + f"A2/1{{4 #}} | {goal} | A2/1{{4 #}} | D3/1").cadences
    assert [(c.degree, c.kind) for c in cadences] == [("D", "evaded"), ("D", "composta")]
    assert why in cadences[0].evidence


def test_a_suspension_over_a_minor_third_promises_nothing(hear) -> None:
    assert found(hear, "D3/1{4 3} | E3/1 | A2/1{4 #} | D3/1") == [(6, "D", "composta")]


def test_in_triple_time_the_close_may_be_prepared_over_the_octave(hear) -> None:
    notes = hear("cantus C1 | F5/1.\ntenor C4 | F4/1. | C4/2 C3/1{4 3} | F3/1.", metre="3/2", signature="Bb")
    assert [(c.place.bar, c.degree, c.kind) for c in notes.cadences] == [(4, "F", "composta")]


def test_a_dash_holds_the_sonority_before(hear) -> None:
    assert found(hear, "A2/1{4 - # -} | D3/1") == [(4, "D", "composta")]
