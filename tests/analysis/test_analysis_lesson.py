"""Sections of a verset and the steps in which it is taught."""

from builder.analysis import as_words

LONG = """cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
bassus F4 | A3/2 D3/4. E3/8 | F3/4 E3/4 D3/2 | G3/2{6} C3/2 | F3/2 C3/2{4 3} | F3/2 E3/2{6}"""
CLOSE = "A2/1{#:4 6/4:4 5/4:4 #:4} | D3/1"


def shown(found) -> list[str]:
    """Each step with the stretch that it shows, in quarter notes."""
    return [f"{s.name} {s.start}-{s.end}" for s in found.steps]


def test_a_long_last_section_falls_in_two_after_its_inner_cadence(hear) -> None:
    found = hear(f"{LONG} | D3/2 Bb2/2 | A2/1{{4 #}} | D3/2 A2/2 | Bb2/2 G2/2 | {CLOSE}")
    assert shown(found) == ["cantus 0-8", "bassus 6-16", "cadence-1 14-38", "cadence-2 36-52"]
    assert [s.kind for s in found.steps] == ["entry", "entry", "cadence", "cadence"]


def test_a_short_last_section_stays_whole(hear) -> None:
    assert [s.name for s in hear(f"{LONG} | {CLOSE}").steps] == ["cantus", "bassus", "cadence"]


def test_the_last_section_begins_no_later_than_the_formula_of_the_last_cadence(hear) -> None:
    found = hear("cantus C1 | D5/2 A4/2 | G4/1\nbassus F4 | D3/2 A2/2 | A2/1{4 #} | D3/1")
    assert shown(found)[-1] == "cadence 8-20"
    assert found.steps[-1].onset == 10


def test_a_verset_of_one_note_is_one_step(hear) -> None:
    found = hear("cantus C1 | D5/1")
    assert [(s.name, s.start, s.end) for s in found.steps] == [("cantus", 0, 4)]


def test_a_section_ends_where_a_phrase_has_closed_and_silence_follows(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/2
        bassus F4 | A3/2 D3/2 | A2/1{4 #} | D3/2 R/2
        bassus F4 | F3/1 | G3/1{6} | A2/1{4 #} | D3/1"""
    )
    assert 16 in [start for start, _ in found.sections]


def test_a_section_begins_where_the_lower_voices_fall_silent(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/2
        bassus F4 | D3/2 A2/2 | F3/1
        altus C3 | D4/2 A3/2
        bassus F4 | A2/1{4 #} | D3/1"""
    )
    assert [s.name for s in found.steps] == ["cantus", "bassus", "altus", "cadence"]
    assert (12, 16) in found.sections
    assert found.steps[2].voices == ("cantus", "altus")


def test_the_findings_are_told_in_sentences(hear) -> None:
    told = as_words(hear(f"{LONG} | {CLOSE}", tone=5))
    assert told["entries"][0] == "Two voices enter in this order: cantus and bassus."
    assert told["entries"][1] == "The theme has 6 notes (D, A, B, C, B and A)."
    assert told["entries"][3].startswith("Bassus, bar 3, beat 1, on A: a tonal answer; all 6 notes")
    assert told["tone"][0] == "The line closes on D."
    assert told["tone"][-1].startswith(
        "The source names the fifth tone; against it: the last note, D, is not"
    )
    assert told["cadences"][-1].startswith("Bar 9, beat 1, on D: double cadence (doppia)")
    assert told["warnings"][0].startswith("the source gives tone 5, but the music speaks for tone 1")


HALVES = (
    LONG.replace("F3/2 E3", "F3/2 CUT E3") + f" | D3/2 Bb2/2 | A2/1{{4 #}} | D3/2 A2/2 | Bb2/2 G2/2 | {CLOSE}"
)


def test_the_teacher_divides_the_last_section_at_a_cadence_in_the_midst_of_a_bar(hear) -> None:
    assert shown(hear(HALVES.replace("CUT", "//")))[2:] == ["cadence-1 14-26", "cadence-2 24-52"]


def test_several_cuts_make_several_parts_and_each_begins_with_the_note_before_it(hear) -> None:
    found = hear(HALVES.replace("CUT", "//").replace("D3/2 A2/2", "D3/2 // A2/2"))
    assert shown(found)[2:] == ["cadence-1 14-26", "cadence-2 24-38", "cadence-3 36-52"]


def test_a_cut_before_the_last_entry_divides_nothing_and_is_told(hear) -> None:
    found = hear(HALVES.replace("C5/4 B4/4", "C5/4 // B4/4").replace("CUT", ""))
    assert shown(found)[:2] == ["cantus 0-8", "bassus 6-16"]
    assert "the cut in bar 2, beat 2 divides nothing: it stands before the last entry" in found.warnings


def test_an_entry_begins_its_step_with_the_last_note_before_it_unless_a_rest_stands_there(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/2 | F5/4 E5/4
        altus C3 | A4/2 | D4/2 R/2
        tenor C4 | R/2 D4/2 | A3/1 | A3/1{4 3} | D3/1"""
    )
    assert shown(found)[:3] == ["cantus 0-6", "altus 5-14", "tenor 14-16"]
