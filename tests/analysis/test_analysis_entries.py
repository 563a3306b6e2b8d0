"""Who comes in, when, and how the theme is answered."""

import pytest

from builder.analysis import analyse


def kinds(found) -> list[tuple[str, str]]:
    return [(e.voice, e.kind) for e in found.entries]


SUBJECT = "cantus C1 | D5/2 A4/4 B4/4 | C5/4 B4/4 A4/2\n"
CLOSE = "| A2/1{4 3} | D3/1"


def test_four_entries_make_four_voices(hear) -> None:
    found = hear(
        SUBJECT
        + """altus C3 | A4/2 D4/4 E4/4 | F4/4 E4/4 D4/2
        tenor C4 | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2
        bassus F4 | A3/2 D3/4 E3/4 | F3/4 E3/4 D3/2 """
        + CLOSE
    )
    assert found.voices == 4
    assert kinds(found) == [("cantus", "theme"), ("altus", "tonal"), ("tenor", "exact"), ("bassus", "tonal")]


@pytest.mark.parametrize(
    ("answer", "kind", "why"),
    [
        ("G4/2 D4/4 E4/4 | F4/4 E4/4 D4/2", "exact", "all 6 notes with the same intervals, a fifth below"),
        ("A4/2 E4/4 F#4/4 | G4/4 F#4/4 E4/2", "exact", "a fourth below"),
        ("A4/2 E4/4 F4/4 | G4/4 F4/4 E4/2", "modal", "the semitones fall elsewhere (note 3)"),
        ("A4/2 D4/4 E4/4 | F4/4 E4/4 D4/2", "tonal", "final and fifth change places"),
        ("A3/1 | F4/8 G4/8 A4/2.", "free", "does not take up the theme"),
    ],
    ids=["fifth below", "fourth below", "in the mode", "final for fifth", "free"],
)
def test_an_answer_is_exact_in_the_mode_tonal_or_free(hear, answer: str, kind: str, why: str) -> None:
    found = hear(f"{SUBJECT} altus C3 | {answer} | A3/1{{4 3}} | D4/1")
    assert kinds(found)[1] == ("altus", kind)
    assert why in found.entries[1].evidence


@pytest.mark.parametrize(
    ("theme", "answer", "final", "kind"),
    [
        ("G4/4 A4/4 C5/4 B4/4 | C5/1", "D3/4 E3/4 G3/4 F3/4 | G3/1", "G", "modal"),
        ("G4/4 A4/4 C5/4 B4/4 | C5/1", "D3/4 E3/4 G3/4 F#3/4 | G3/1", "G", "exact"),
        ("D5/4 A4/4 B4/4 C5/4 | B4/2 A4/2", "A3/4 D3/4 E3/4 F3/4 | E3/2 D3/2", "D", "tonal"),
        ("G4/4 D5/4 C5/4 B4/4 | A4/2 G4/2", "D3/4 G3/4 F3/4 E3/4 | D3/2 C3/2", "G", "tonal"),
        ("E5/4 F5/4 A5/4 G5/4 | F5/2 E5/2", "B3/4 C4/4 D4/4 C4/4 | B3/2 A3/2", "D", "altered"),
    ],
    ids=["same steps", "same intervals", "D for A and A for D", "G for D and D for G", "bent elsewhere"],
)
def test_an_answer_is_tonal_only_where_final_and_fifth_change_places(
    hear, theme: str, answer: str, final: str, kind: str
) -> None:
    """G. Zarlino, *Istitutioni harmoniche* (1558), book III, chapters 51 and 52, keeps *fuga*, by the same
    intervals, apart from *imitatione*, by the same steps (from memory)."""
    close = {"G": "D3/1{4 #} | G2/1", "D": "A2/1{4 #} | D3/1"}[final]
    found = hear(f"cantus G2 | {theme}\nbassus F4 | {answer} | {close}")
    assert found.entries[1].kind == kind


def test_an_editorial_accidental_does_not_spoil_an_exact_answer_and_is_named(hear) -> None:
    found = hear(f"{SUBJECT} altus C3 | A4/2 E4/4 F(#)4/4 | G4/4 F4/4 E4/2 | A3/1{{4 3}} | D4/1")
    # F sharp by the editor on the way up, F on the way down: set aside, the third note of the theme
    # has no such semitone, so the answer is not exact
    assert found.entries[1].kind == "modal"
    octave = hear(f"{SUBJECT} tenor C4 | D4/2 A3/4 B(b)3/4 | C4/4 B3/4 A3/2 | A3/1{{4 3}} | D4/1")
    assert octave.entries[1].kind == "exact"
    assert "B♭3 in bar 3, beat 4 is set aside: an editorial accidental" in octave.entries[1].evidence


def test_a_raised_leading_note_does_not_spoil_an_exact_answer_and_is_named(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 F5/4 E5/4 | D5/4 C5/4 D5/2
        tenor C4 | D4/2 F4/4 E4/4 | D4/4 C#4/4 D4/2 | A3/1{4 3} | D3/1"""
    )
    assert found.entries[1].kind == "exact"
    assert "C♯4 in bar 4, beat 2 is set aside: a raised leading note" in found.entries[1].evidence


def test_the_theme_is_as_long_as_the_head_that_is_imitated(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 E5/4 F5/4 | G5/4 A4/4 B4/8 C5/8 D5/4
        tenor C4 | D4/2 E4/4 F4/4 | G4/2 F4/2 | E4/2 D4/2 | A3/1{4 3} | D4/1"""
    )
    assert (found.theme.notes, found.entries[1].matched) == (4, 4)
    assert found.theme.length == 5


@pytest.mark.parametrize(
    ("answer", "times"),
    [
        ("D4/1 | A3/2 B3/2 | C4/2 B3/2 | A3/1", "in values 2 times as long"),
        ("D4/4 A3/8 B3/8 C4/8 B3/8 A3/4", "in values 2 times as short"),
    ],
    ids=["augmented", "diminished"],
)
def test_the_theme_may_come_in_other_note_values(hear, answer: str, times: str) -> None:
    found = hear(f"{SUBJECT} tenor C4 | {answer} | A3/1{{4 3}} | D3/1")
    assert kinds(found)[1] == ("tenor", "exact")
    assert times in found.entries[1].evidence


def test_the_theme_is_known_by_its_steps_when_the_rhythm_has_changed(hear) -> None:
    found = hear(f"{SUBJECT} tenor C4 | D4/4. A3/8 B3/4 C4/4 | B3/4. A3/8 F3/2 | A3/1{{4 3}} | D3/1")
    assert kinds(found)[1] == ("tenor", "exact")
    assert "in another rhythm" in found.entries[1].evidence


def test_an_entry_may_shorten_the_first_note(hear) -> None:
    found = hear(f"{SUBJECT} altus C3 | R/4 A4/4 D4/4 E4/4 | F4/4 E4/4 D4/2 | A3/1{{4 3}} | D4/1")
    assert found.entries[1].kind == "tonal"
    assert found.entries[1].place.beat == 2
    assert "the first note has another value" in found.entries[1].evidence


def test_an_entry_may_be_cut_short(hear) -> None:
    found = hear(
        f"""{SUBJECT} altus C3 | A4/2 D4/4 E4/4 | F4/4 E4/4 D4/2
        bassus F4 | D3/2 A2/4 B2/4 | C3/1 | A2/1{{4 3}} | D3/1"""
    )
    last = found.entries[-1]
    assert (last.kind, last.matched) == ("exact", 4)
    assert "then it goes its own way" in last.evidence


def test_an_entry_may_begin_otherwise(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/4 B4/4 | C5/4 D5/4 E5/4 C5/4 | B4/4 A4/2.
        tenor C4 | F4/2 A3/4 B3/4 | C4/4 D4/4 E4/4 C4/4 | B3/4 A3/2. | A3/1{4 3} | D3/1"""
    )
    assert found.entries[1].kind == "exact"
    assert "begun on another first note" in found.entries[1].evidence


def test_the_bass_may_be_first(hear) -> None:
    found = hear(
        """bassus F4 | D3/2 A2/4 B2/4 | C3/4 B2/4 A2/2
        tenor C4 | A3/2 D3/4 E3/4 | F3/4 E3/4 D3/2
        altus C3 | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2 | D4/1
        bassus F4 | A3/2 D3/4 E3/4 | F3/4 E3/4 D3/2 | A2/1{4 3} | D3/1"""
    )
    assert kinds(found) == [("bassus", "theme"), ("tenor", "tonal"), ("altus", "exact"), ("bassus", "tonal")]
    assert [s.name for s in found.steps] == ["bassus", "tenor", "altus", "bassus-2", "cadence"]
    assert found.voices == 3


def test_a_voice_that_comes_back_without_the_theme_makes_no_entry(hear) -> None:
    found = hear(
        f"""{SUBJECT} tenor C4 | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2
        cantus C1 | F5/1 | E5/1
        tenor C4 | A3/1{{4 3}} | D4/1"""
    )
    assert kinds(found) == [("cantus", "theme"), ("tenor", "exact")]


def test_the_theme_restated_in_one_voice_after_a_rest_is_an_entry(hear) -> None:
    found = hear(
        f"""{SUBJECT} bassus F4 | D3/2 A2/4 B2/4 | C3/4 B2/4 A2/2 | D3/2 R/2
        bassus F4 | G3/2 D3/4 E3/4 | F3/4 E3/4 D3/2 | A2/1{{4 3}} | D3/1"""
    )
    assert [s.name for s in found.steps] == ["cantus", "bassus", "bassus-2", "cadence"]
    assert found.entries[2].place.bar == 6


def test_two_notes_are_enough_when_final_and_fifth_change_places(hear) -> None:
    found = hear("cantus C1 | D5/2 A4/2\nbassus F4 | A3/2 D3/2 | A2/1{4 #} | D3/1")
    assert kinds(found) == [("cantus", "theme"), ("bassus", "tonal")]


def test_contrary_motion_is_free_but_named(hear) -> None:
    found = hear(
        """cantus C1 | D5/4 E5/4 F5/4 D5/4 | C5/2 D5/2
        tenor C4 | A3/4 G3/4 F3/4 A3/4 | B3/2 A3/2 | A3/1{4 #} | D4/1"""
    )
    assert kinds(found)[1] == ("tenor", "free")
    assert "the theme’s steps in contrary motion (6 notes)" in found.entries[1].evidence


def test_without_a_repeated_theme_the_entries_are_free_and_the_first_phrase_is_the_theme(hear) -> None:
    found = hear(
        """cantus C1 | D5/1 | A4/2 R/2
        tenor C4 | F4/8 E4/8 D4/8 C4/8 B3/2 | A3/1{4 3} | D4/1"""
    )
    assert kinds(found) == [("cantus", "theme"), ("tenor", "free")]
    assert found.theme.notes == 2
    assert found.entries[0].evidence == "the first voice to sound; no other entry imitates it"


def test_one_voice_alone_is_a_theme_and_a_close(hear) -> None:
    found = hear("cantus C1 | D5/2 A4/2 | F4/4 E4/4 D4/2")
    assert (found.voices, kinds(found)) == (1, [("cantus", "theme")])
    assert [(c.degree, c.kind) for c in found.cadences] == [("D", "semplice")]
    assert "one voice alone" in found.cadences[0].evidence


def test_rests_at_the_head_belong_to_the_first_step(hear) -> None:
    found = hear("cantus C1 | R/1 | R/2 D5/2 | A4/1\ntenor C4 | R/2 A3/2 | D4/1 | A3/1{4 3} | D4/1")
    assert (found.entries[0].place.bar, found.entries[0].place.beat) == (2, 3)
    assert (found.steps[0].start, found.steps[0].first_bar) == (0, 1)
    assert found.entries[1].place.beat == 3


def test_two_entries_in_one_bar_share_it(hear) -> None:
    found = hear(
        """cantus C1 | D5/4 A4/4
        altus C3 | A4/4 D4/4 | C4/2 D4/2 | A3/1{4 3} | D4/1"""
    )
    first, second = found.steps[:2]
    assert (first.end, second.onset, second.start) == (2, 2, 1)
    assert (first.last_bar, second.first_bar) == (1, 1)


def test_a_tie_over_the_bar_is_one_note_of_the_theme(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/2~ | A4/4 B4/4 C5/2
        tenor C4 | D4/2 A3/2~ | A3/4 B3/4 C4/2 | A3/1{4 3} | D4/1"""
    )
    assert (found.theme.notes, found.entries[1].kind) == (4, "exact")


@pytest.mark.parametrize("links", ["C4/2", "F4/4 E4/4"], ids=["one", "two"])
def test_a_voice_may_link_to_the_theme_with_a_note_or_two(hear, links: str) -> None:
    found = hear(f"{SUBJECT} tenor C4 | R/2 {links} | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2 | A3/1{{4 3}} | D3/1")
    entry = found.entries[1]
    assert (entry.voice, entry.kind, entry.matched) == ("tenor", "exact", 6)
    assert (entry.place.bar, entry.place.beat, entry.pitch.name) == (4, 1, "D4")
    assert entry.taken == 10
    assert "linking note" in entry.evidence


def test_a_theme_of_four_notes_is_known_behind_two_linking_notes(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/4 B4/4 | C5/1
        tenor C4 | F4/4 E4/4 D4/2 | A3/4 B3/4 C4/2 | A3/1{4 3} | D3/1"""
    )
    assert kinds(found) == [("cantus", "theme"), ("tenor", "exact")]
    assert found.entries[1].evidence.startswith(
        "all 4 notes with the same intervals, an octave below; after 2"
    )


def test_a_theme_of_four_notes_may_come_in_augmentation(hear) -> None:
    found = hear(
        """cantus C1 | D5/2 A4/4 B4/4 | C5/1
        altus C3 | A4/2 E4/4 F#4/4 | G4/1
        bassus F4 | D3/1 | A2/2 B2/2 | C3/1 | A2/1{4 3} | D3/1"""
    )
    assert kinds(found) == [("cantus", "theme"), ("altus", "exact"), ("bassus", "exact")]
    assert "in values 2 times as long" in found.entries[2].evidence


PINS = """
```plain
{voice} {bar} | {bars}
```
"""


def test_the_theme_in_a_pinned_upper_voice_is_an_entry(write) -> None:
    given = f"""{SUBJECT} tenor C4 | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2
    tenor C4 | D4/1 | F4/1 | A3/1{{4 3}} | D4/1"""
    text = "D5/2 A4/4 B4/4 | C5/4 B4/4 A4/2"
    found = analyse(write(given, pins=PINS.format(voice="cantus", bar=5, bars=text)))
    assert kinds(found) == [("cantus", "theme"), ("tenor", "exact"), ("cantus", "exact")]
    assert found.entries[2].place.bar == 5
    assert [s.name for s in found.steps] == ["cantus", "tenor", "cantus-2", "cadence"]


def test_what_is_pinned_without_the_theme_is_no_entry(write) -> None:
    given = f"""{SUBJECT} tenor C4 | D4/2 A3/4 B3/4 | C4/4 B3/4 A3/2 | D4/1 | F4/1 | A3/1{{4 3}} | D4/1"""
    found = analyse(write(given, pins=PINS.format(voice="cantus", bar=5, bars="F5/1 | A5/1")))
    assert kinds(found) == [("cantus", "theme"), ("tenor", "exact")]


def test_an_entry_in_stretto_is_known_by_the_theme_that_the_pins_complete(write) -> None:
    given = """cantus C1 | D5/2 A4/4 B4/4
    altus C3 | A4/2 E4/4 F#4/4 | G4/4 F#4/4 E4/2 | D4/1{6}
    bassus F4 | A2/1{4 3} | D3/1"""
    found = analyse(write(given, pins=PINS.format(voice="cantus", bar=2, bars="C5/4 B4/4 A4/2")))
    assert (found.theme.notes, kinds(found)[1]) == (6, ("altus", "exact"))
    assert "in stretto: the cantus has not yet ended the theme" in found.entries[1].evidence
