"""Figures mean what signature, accidentals in force and their own signs say; what is doubtful is told."""

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import parse

FRONT = "---\ntitle: T\nverset:\n  metre: C\n  signature: {signature}\n---\n\n```given\n{given}\n```\n"


def setting(given, signature="none"):
    verset = parse(FRONT.format(given=given, signature=signature))
    return realise(verset, analyse(verset))


def letters(found, onset):
    return {p.at(onset).pitch.letter for p in found.score.parts if p.at(onset)}


def told(found, rule="doubtful-accidental"):
    return [f for f in found.findings if f.rule == rule]


THREE = "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | "


def test_an_accidental_of_the_line_holds_beyond_the_bar_line_until_it_is_contradicted():
    found = setting(THREE + "Bb2/2 A2/2 | G2/1 | D3/1")
    # A suspension may keep the third away at first.
    over_g = letters(found, 12) | letters(found, 14)
    assert "Bb" in over_g and "B" not in over_g
    (note,) = told(found)
    assert note.severity == "note" and note.place.bar == 4
    assert "B♭ or B? The line had B♭ a moment ago" in note.message


@pytest.mark.parametrize(("sign", "letter"), [("n", "B"), ("b", "Bb")])
def test_one_sign_decides_the_doubt(sign, letter):
    found = setting(THREE + f"Bb2/2 A2/2 | G2/1{{{sign}}} | D3/1")
    assert letter in letters(found, 12) | letters(found, 14) and not told(found)


def test_a_natural_in_the_line_contradicts_the_flat_before_it():
    found = setting(THREE + "Bb2/2 B2/2{6} | C3/2 G2/2 | D3/1")
    assert "Bb" not in letters(found, 14) and not told(found)


def test_a_phrase_ends_with_its_rest_and_takes_its_accidentals_with_it():
    found = setting(THREE + "Bb2/2 A2/4 R/4 | G2/1 | D3/1")
    assert "Bb" not in letters(found, 12) and not told(found)


def test_a_sharp_that_has_risen_is_forgotten_in_the_next_bar_and_one_that_has_not_is_kept():
    risen = setting(THREE + "F#2/2{6} G2/2 | D3/2{3} C3/2 | D3/1")
    assert "F#" not in letters(risen, 12)
    kept = setting(THREE + "F#3/2{6} E3/2 | D3/2{3} C3/2 | D3/1")
    assert "F#" in letters(kept, 12) and told(kept)


def test_a_fourth_that_the_signature_makes_augmented_is_set_as_written_and_asked_about():
    found = setting(THREE + "C3/2 G2/2 | F2/2{4 3} C3/2 | D3/1")
    (note,) = [f for f in told(found) if f.onset == 12]
    assert "B or B♭? Without a sign the figure 4 gives an augmented fourth" in note.message


def test_a_sharpened_third_over_mi_takes_the_perfect_fifth_in_any_number_of_voices():
    found = setting(THREE + "D3/2 E3/2{#} | A2/2 D3/2 | D3/1", signature="Bb")
    assert letters(found, 10) <= {"E", "G#", "B"} and "G#" in letters(found, 10)
    two = setting("cantus C1 | A4/1\nbassus F4 | D3/2 E3/2{#} | A2/1 | D3/1", signature="Bb")
    assert "G#" in letters(two, 6)


def test_the_last_sonority_has_a_perfect_fifth():
    found = setting(THREE + "D3/2 F3/2 | E3/1 | E3/1", signature="Bb")
    assert letters(found, 16) <= {"E", "G#", "B"}
