"""The eight tones. The table is from memory of the general literature; sources differ."""

import pytest

from builder.analysis import TONES, as_words
from builder.analysis.tone_table import moved

TABLE = [
    (1, "D", "none", "D A F"),
    (2, "G", "Bb", "G D Bb"),
    (3, "A", "none", "A E C"),
    (4, "E", "none", "E A G"),
    (5, "C", "none", "C G E"),
    (6, "F", "Bb", "F C A"),
    (7, "D", "Bb", "D A F"),
    (8, "G", "none", "G C D"),
]
"""Tone, final, signature, usual cadences (from memory)."""

VERSETS = {
    1: ("D5/2 A4/2", "A3/2 D3/2 | C3/1{4 3} | F3/1 | A2/1{4 #} | D3/1"),
    2: ("G4/2 D5/2", "D3/2 G3/2 | F3/1{4 3} | Bb2/1 | D3/1{4 #} | G2/1"),
    3: ("A4/2 E5/2", "E3/2 A3/2 | E3/1{4 #} | A3/1 | G3/1{4 3} | C3/1 | F3/1{7 6} | E3/1{#}"),
    4: ("E5/2 B4/2", "B3/2 E3/2 | D3/1{4 #} | G3/1 | E3/1{4 #} | A3/1 | F3/1{7 6} | E3/1{#}"),
    5: ("C5/2 G4/2", "G3/2 C3/2 | D3/1{4 #} | G3/1 | G2/1{4 3} | C3/1"),
    6: ("F5/2 C5/2", "C4/2 F3/2 | G3/1{4 n} | C3/1 | C3/1{4 3} | F3/1"),
    7: ("D5/2 A4/2", "A3/2 D3/2 | C3/1{4 3} | F3/1 | A2/1{4 #} | D3/1"),
    8: ("G4/2 D5/2", "D3/2 G3/2 | G2/1{4 3} | C3/1 | D3/1{4 #} | G2/1"),
}


@pytest.mark.parametrize(("number", "final", "signature", "cadences"), TABLE)
def test_the_table_holds_final_signature_and_cadences(
    number: int, final: str, signature: str, cadences: str
) -> None:
    tone = TONES[number - 1]
    form = tone.forms[0]
    told = (tone.number, form.final, form.signature, " ".join(form.cadences))
    assert told == (number, final, signature, cadences)
    assert form.close == ("E" if number == 3 else final)


@pytest.mark.parametrize(("number", "final", "signature", "cadences"), TABLE)
def test_every_tone_is_told_from_its_entries_last_note_signature_and_cadences(
    hear, number: int, final: str, signature: str, cadences: str
) -> None:
    theme, rest = VERSETS[number]
    found = hear(f"cantus C1 | {theme}\nbassus F4 | {rest}", signature=signature)
    assert (found.tone, found.tones[0].tone, found.warnings) == (number, number, ())
    assert all(e.text for t in found.tones for e in t.evidence)


@pytest.mark.parametrize(("number", "final", "signature", "cadences"), TABLE)
def test_the_tone_named_by_the_source_is_not_contradicted_by_its_own_music(
    hear, number: int, final: str, signature: str, cadences: str
) -> None:
    theme, rest = VERSETS[number]
    found = hear(f"cantus C1 | {theme}\nbassus F4 | {rest}", signature=signature, tone=number)
    assert found.warnings == ()


def test_first_entries_on_d_and_a_with_the_last_note_d_make_the_first_tone(hear) -> None:
    found = hear("cantus C1 | D5/1\naltus C3 | A4/1 | G4/1 | D4/1")
    assert (found.tone, found.final) == (1, "D")
    reasons = [e.text for e in found.tones[0].evidence]
    assert "the last note, D, is the final" in reasons
    assert "entries on D and A: 2 of 2" in reasons


@pytest.mark.parametrize("number", [2, 4, 5, 6, 8])
def test_a_tone_that_the_music_contradicts_is_kept_and_warned_of(hear, number: int) -> None:
    theme, rest = VERSETS[1]
    found = hear(f"cantus C1 | {theme}\nbassus F4 | {rest}", tone=number)
    if number == 2:  # the same scale and degrees a fourth lower: not against the music
        assert found.warnings == ()
    else:
        assert found.warnings[0].startswith(
            f"the source gives tone {number}, but the music speaks for tone 1"
        )
    assert found.tone == number
    assert found.tones[0].tone == 1


def test_the_signature_parts_the_seventh_tone_from_the_first(hear) -> None:
    theme, rest = VERSETS[7]
    verset = f"cantus C1 | {theme}\nbassus F4 | {rest}"
    assert [hear(verset, signature=s).tone for s in ("none", "Bb")] == [1, 7]


def test_a_final_on_a_without_signature_is_the_third_tone(hear) -> None:
    found = hear("cantus C1 | A4/2 E5/2\nbassus F4 | E3/2 A3/2 | E3/1{4 #} | A2/1")
    assert found.tone == 3
    assert found.warnings == ()


def test_the_third_and_fourth_tones_stand_near_when_the_entries_do_not_decide(hear) -> None:
    found = hear("cantus C1 | E5/1\nbassus F4 | E3/1 | F3/1{7 6} | E3/1{#}")
    assert [t.tone for t in found.tones] == [4, 3]


def test_a_final_outside_the_table_is_read_as_the_nearest_tone_with_a_warning(hear) -> None:
    found = hear(
        "cantus C1 | G4/2 D5/2\nbassus F4 | D3/2 G3/2 | A2/1{4 #} | D3/1 | D3/1{4 3} | G2/1", signature="F#"
    )
    assert found.tone == 5
    assert found.tones[0].evidence[0].text == "transposed a fifth higher, with G as final instead of C"
    assert found.warnings == (
        "final G with signature F♯ is not in the table of tones; the nearest is tone 5",
    )


def test_the_first_tone_a_tone_higher_has_two_sharps(hear) -> None:
    found = hear(
        "cantus C1 | E5/2 B4/2\nbassus F4 | B3/2 E3/2 | D3/1{4 3} | G3/1 | B2/1{4 #} | E3/1",
        signature="F# C#",
    )
    assert found.tone == 1
    assert found.tones[0].evidence[0].text == "transposed a second higher, with E as final instead of D"


RECITING = {1: "A", 2: "F", 3: "C", 4: "A", 5: "C", 6: "A", 7: "D", 8: "C"}
"""Reciting notes of the psalm tones at their own pitch: published, *Liber usualis*, the tones of the psalms
(from memory)."""

OWN_FINAL = {1: "D", 2: "D", 3: "E", 4: "E", 5: "F", 6: "F", 7: "G", 8: "G"}


@pytest.mark.parametrize("tone", TONES, ids=lambda t: str(t.number))
def test_the_reciting_note_moves_with_the_tone(tone) -> None:
    """Where the organ sets a tone at another pitch, the reciting note goes along: by the same number of
    fifths as the final, or, in the third, fifth and seventh, which end on other notes than the mode's final,
    by the number that the signature tells."""
    fifths = {2: -1, 5: 1, 7: -1}.get(tone.number, 0)
    assert tone.forms[0].reciting == moved(RECITING[tone.number], fifths)
    own = [form for form in tone.forms if form.final == OWN_FINAL[tone.number] and form.signature == "none"]
    assert all(form.reciting == RECITING[tone.number] for form in own)
    assert own or tone.number in (2,)


def test_the_compass_tells_the_first_tone_transposed_from_the_second(hear) -> None:
    bass = "bassus F4 | D3/2 G3/2 | F3/1{4 3} | Bb2/1 | D3/1{4 #} | G2/1"
    high = hear(f"cantus G2 | G4/4 A4/4 Bb4/4 C5/4 | D5/4 G5/4 Eb5/4 D5/4 | D5/1\n{bass}", signature="Bb")
    low = hear(f"cantus C1 | G4/4 A4/4 Bb4/4 A4/4 | G4/4 E4/4 D4/4 C4/4 | G4/1\n{bass}", signature="Bb")
    assert [t.tone for t in high.tones] == [1, 2]
    assert "transposed a fourth higher, with G as final instead of D" in high.tones[0].told
    assert "the cantus moves between G4 and G5: authentic, as this tone is" in high.tones[0].told
    assert (low.tone, low.tones[0].fifths) == (2, 0)
    assert "the cantus moves between C4 and B♭4: plagal, as this tone is" in low.tones[0].told


def test_a_half_cadence_on_the_fifth_does_not_turn_the_tone_round(hear) -> None:
    given = "cantus C1 | D5/2 A4/2 | F5/2 D5/2\nbassus F4 | A3/2 D3/2 | F3/2 D3/2 | C3/1{4 3} | F3/1"
    ends = {
        "on D": "A2/1{4 #} | D3/1",
        "on A": "G2/1{6} | A2/1{#}",
        "on A by mi": "Bb2/1{7 6} | A2/1{#}",
    }
    found = {name: hear(f"{given} | {end}") for name, end in ends.items()}
    assert {name: f.tone for name, f in found.items()} == dict.fromkeys(ends, 1)
    assert found["on A"].cadences[-1].kind == "half"


def test_f_without_a_flat_is_told_as_what_older_sources_write(hear) -> None:
    found = hear(
        "cantus C1 | F4/2 A4/2 | C5/2 F5/2\n"
        "bassus F4 | C3/2 E3/2 | G3/2 C4/2 | G3/1{4 n} | C3/1 | C3/1{4 3} | F3/1"
    )
    assert [t.tone for t in found.tones[:1]] == [5]
    assert "on F with the signature of older sources (none)" in found.tones[0].told
    assert found.warnings == ()


@pytest.mark.parametrize("number", [3, 5, 7])
def test_where_sources_differ_it_is_said(hear, number: int) -> None:
    theme, rest = VERSETS[number]
    found = hear(f"cantus C1 | {theme}\nbassus F4 | {rest}", signature=TABLE[number - 1][2])
    assert any(text.startswith("sources differ") for text in found.chosen.told)


def test_a_tone_that_the_source_forces_is_told_with_what_speaks_against_it(hear) -> None:
    theme, rest = VERSETS[1]
    found = hear(f"cantus C1 | {theme}\nbassus F4 | {rest}", tone=6)
    assert (found.chosen.tone, found.tones[0].tone) == (6, 1)
    assert not any("final" in text and "D" in text for text in found.chosen.told)
    sentence = as_words(found)["tone"][-1]
    assert sentence.startswith(
        "The source names the sixth tone; against it: the last note, D, is not the final F"
    )
    assert "the signature is none, this tone has B♭" in sentence
