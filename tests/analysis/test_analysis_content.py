"""What a musician reads in the versets of the demonstration course."""

from pathlib import Path

import pytest

from builder.analysis import Analysis, analyse
from builder.source import read

VERSETS = Path(__file__).parents[2] / "content" / "versets"


def of(name: str) -> Analysis:
    return analyse(read(VERSETS / f"{name}.md"))


def test_the_first_verset_has_four_voices_that_answer_each_other_on_d_and_a() -> None:
    found = of("first")
    assert found.voices == 4
    assert [(e.voice, e.place.bar, e.pitch.name, e.clef.name, e.kind) for e in found.entries] == [
        ("cantus", 1, "D5", "C1", "theme"),
        ("altus", 3, "A4", "C3", "tonal"),
        ("tenor", 6, "D4", "C4", "exact"),
        ("bassus", 9, "A3", "F4", "tonal"),
    ]
    assert "final and fifth change places (D5 answered by A4" in found.entries[1].evidence


def test_the_first_verset_is_in_the_first_tone_and_closes_with_the_double_cadence() -> None:
    found = of("first")
    assert (found.final, found.tone, [t.tone for t in found.tones], found.warnings) == ("D", 1, [1], ())
    assert [(c.place.bar, c.degree, c.kind) for c in found.cadences] == [
        (4, "D", "composta"),
        (7, "A", "composta"),
        (10, "D", "composta"),
        (12, "F", "composta"),
        (14, "D", "doppia"),
    ]


def test_the_fourth_verset_imitates_the_semitone_exactly_and_closes_on_mi() -> None:
    found = of("fourth")
    assert [e.kind for e in found.entries] == ["theme", "exact", "exact"]
    assert [(c.place.bar, c.degree, c.kind) for c in found.cadences] == [(13, "E", "mi")]
    assert (found.tone, found.voices, found.warnings) == (4, 3, ())


def test_the_sixth_verset_has_two_voices_and_one_suspension_at_the_close() -> None:
    found = of("sixth")
    assert [(e.voice, e.kind, e.matched) for e in found.entries] == [
        ("cantus", "theme", 8),
        ("tenor", "exact", 8),
    ]
    assert [(c.place.bar, c.degree, c.kind) for c in found.cadences] == [(10, "F", "composta")]
    assert (found.tone, found.final) == (6, "F")


def test_the_second_verset_has_its_voices_out_of_order_and_an_evaded_and_a_half_cadence() -> None:
    found = of("second")
    assert [(e.voice, e.pitch.letter, e.kind) for e in found.entries] == [
        ("cantus", "D", "theme"),
        ("tenor", "D", "exact"),
        ("altus", "G", "exact"),
        ("bassus", "G", "exact"),
    ]
    assert [(c.place.bar, c.degree, c.kind) for c in found.cadences] == [
        (4, "G", "composta"),
        (7, "D", "half"),
        (10, "Bb", "composta"),
        (14, "G", "evaded"),
        (16, "G", "semplice"),
    ]
    assert (found.tone, [t.tone for t in found.tones], found.warnings) == (2, [2], ())


def test_the_eighth_verset_bends_its_answer_home_to_c_and_closes_with_the_double_cadence() -> None:
    found = of("eighth")
    assert [(e.voice, e.kind, e.matched) for e in found.entries] == [
        ("cantus", "theme", 8),
        ("altus", "tonal", 8),
        ("bassus", "exact", 8),
    ]
    assert [(c.degree, c.kind) for c in found.cadences] == [
        ("C", "composta"),
        ("G", "composta"),
        ("C", "composta"),
        ("G", "doppia"),
    ]
    assert (found.tone, found.final, found.warnings) == (8, "G", ())


@pytest.mark.parametrize(
    ("name", "steps"),
    [
        ("second", "cantus 1.1-2.2 tenor 2.2-7.2 altus 8.1-10.2 bassus 10.2-12.2 cadence 12.2-16.4"),
        ("eighth", "cantus 1.1-2.4 altus 2.3-5.4 bassus 5.4-7.4 cadence 7.3-11.8"),
        ("first", "cantus 1.1-2.4 altus 2.3-5.4 tenor 5.4-8.4 bassus 8.4-10.4 cadence 10.3-14.8"),
        ("fourth", "cantus 1.1-2.2 altus 2.2-6.2 tenor 6.2-8.2 cadence 8.2-13.4"),
        ("sixth", "cantus 1.1-3.3 tenor 3.2-6.3 cadence 6.2-10.3"),
    ],
)
def test_each_step_of_the_lesson_begins_with_the_note_on_which_the_one_before_ends(
    name: str, steps: str
) -> None:
    """Bar and beat on which each begins and ends; the altus of the second enters after a rest."""
    told = [f"{s.name} {s.first.bar}.{s.first.beat}-{s.last.bar}.{s.last.beat}" for s in of(name).steps]
    assert " ".join(told) == steps


def test_the_steps_gather_the_voices_one_by_one() -> None:
    assert [len(s.voices) for s in of("first").steps] == [1, 2, 3, 4, 4]


def test_a_voice_that_falls_silent_is_not_in_the_step() -> None:
    assert of("second").steps[2].voices == ("cantus", "altus")
    assert of("second").steps[3].voices == ("cantus", "altus", "tenor", "bassus")
