"""Accidentals by the rule of the bar (common practice, no source), beams and rests."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.engraving import glyphs
from builder.engraving.accidentals import signs
from builder.engraving.beams import beams
from builder.engraving.writing import rests
from builder.music import Bar, Metre, Note, Pitch, Signature


def bar(*pitches: str, start: int = 0, editorial: bool = False) -> list[Note]:
    return [
        Note(Fraction(start + n), Fraction(1), Pitch.parse(p), editorial=editorial, id=f"{start + n}")
        for n, p in enumerate(pitches)
    ]


def written(bars: Sequence[list[Note]], signature: str = "none", held: Sequence[str] = ()) -> list[str]:
    """Alteration and kind of each sign, in order; a full stop where none is written."""
    found = signs(bars, Signature.parse(signature), frozenset(held))
    notes = [note for notes in bars for note in notes]
    return [f"{found[n.id].alter} {found[n.id].kind}" if n.id in found else "." for n in notes]


def test_an_accidental_holds_to_the_barline() -> None:
    assert written([bar("F#4", "G4", "F#4"), bar("F#4", start=4)]) == ["1 plain", ".", ".", "1 plain"]


def test_a_natural_takes_it_back() -> None:
    assert written([bar("F#4", "F4", "F4")]) == ["1 plain", "0 plain", "."]


def test_after_a_sharp_the_next_bar_reminds_of_the_natural() -> None:
    assert written([bar("F#4"), bar("F4", "F4", start=4), bar("F4", start=8)]) == [
        "1 plain",
        "0 reminder",
        ".",
        ".",
    ]


def test_another_octave_in_the_same_bar_is_reminded_of() -> None:
    assert written([bar("C#4", "C5")]) == ["1 plain", "0 reminder"]


def test_a_note_held_over_the_barline_needs_no_sign_but_the_next_one_does() -> None:
    bars = [bar("F#4"), bar("F#4", "F#4", start=4)]
    assert written(bars, held=["4"]) == ["1 plain", ".", "1 plain"]


def test_after_a_held_sharp_the_natural_is_reminded_of() -> None:
    assert written([bar("F#4"), bar("F#4", "F4", start=4)], held=["4"])[-1] == "0 reminder"


def test_the_signature_needs_no_signs_and_is_contradicted_by_a_natural() -> None:
    assert written([bar("Bb4", "B4", "Bb4")], "Bb") == [".", "0 plain", "-1 plain"]


def test_an_editorial_accidental_holds_for_its_note_alone() -> None:
    bars = [bar("F#4", editorial=True) + bar("F#4", "F4", start=1)]
    assert written(bars) == ["1 editorial", "1 plain", "0 plain"]


def test_after_an_editorial_accidental_the_source_s_own_note_is_reminded_of() -> None:
    bars = [bar("F#4", editorial=True) + bar("F4", start=1), bar("F4", start=4)]
    assert written(bars) == ["1 editorial", "0 reminder", "."]
    assert written([bar("F#4", editorial=True), bar("F4", start=4)]) == ["1 editorial", "0 reminder"]
    assert written([bar("F#4", "F#4", editorial=True)]) == ["1 editorial", "1 editorial"]


PITCHES = st.sampled_from([Pitch(28 + step, alter) for step in range(8) for alter in (-1, 0, 1)])


@given(
    st.lists(st.lists(PITCHES, min_size=1, max_size=6), min_size=1, max_size=4),
    st.sampled_from(["none", "Bb", "F#"]),
)
def test_a_reader_who_knows_the_rule_reads_what_was_meant(bars: list[list[Pitch]], signature: str) -> None:
    """Reading the signs back bar by bar gives every pitch again."""
    key = Signature.parse(signature)
    notes = [
        [Note(Fraction(8 * b + n), Fraction(1), p, id=f"{b}-{n}") for n, p in enumerate(row)]
        for b, row in enumerate(bars)
    ]
    found = signs(notes, key, frozenset())
    for row in notes:
        in_force: dict[int, int] = {}
        for note in row:
            assert note.pitch is not None
            line = note.pitch.diatonic
            if note.id in found:
                in_force[line] = found[note.id].alter
            assert in_force.get(line, key.alter(line % 7)) == note.pitch.alter


def run(*lengths: str) -> list[Note]:
    notes, now = [], Fraction(0)
    for length in lengths:
        value = Fraction(length)
        notes.append(Note(now, value, Pitch.parse("C5")))
        now += value
    return notes


@pytest.mark.parametrize(
    ("metre", "lengths", "groups"),
    [
        ("C", ["1/2"] * 8, [(0, 1, 2, 3), (4, 5, 6, 7)]),
        ("C", ["1/4"] * 4 + ["1/2"] * 2, [(0, 1, 2, 3), (4, 5)]),
        ("C", ["3/2", "1/2", "1/2", "1/2", "1"], [(2, 3)]),
        ("C", ["1/2", "1", "1/2"], []),
        ("C|", ["1/2"] * 4 + ["2"], [(0, 1, 2, 3)]),
        ("3/2", ["1/2"] * 12, [(0, 1, 2, 3), (4, 5, 6, 7), (8, 9, 10, 11)]),
        ("3/4", ["1/2"] * 6, [(0, 1), (2, 3), (4, 5)]),
        ("6/8", ["1/2"] * 6, [(0, 1, 2), (3, 4, 5)]),
    ],
)
def test_short_notes_share_beams_by_the_beat(
    metre: str, lengths: list[str], groups: list[tuple[int, ...]]
) -> None:
    notes = run(*lengths)
    assert list(beams(notes, Metre.parse(metre), Bar(1, Fraction(0), Metre.parse(metre).bar))) == groups


def test_a_rest_breaks_a_beam() -> None:
    notes = run("1/2", "1/2", "1/2", "1/2")
    notes[1] = Note(notes[1].onset, notes[1].duration, None)
    assert list(beams(notes, Metre.parse("C"), Bar(1, Fraction(0), Fraction(4)))) == [(2, 3)]


@given(st.integers(0, 63), st.integers(1, 64))
def test_rests_fill_a_silence_and_none_hides_a_stronger_beat(start: int, length: int) -> None:
    pieces = list(rests(Fraction(start, 16), Fraction(length, 16)))
    assert sum(value for _, value in pieces) == Fraction(length, 16)
    assert all(offset % value == 0 for offset, value in pieces)


def test_an_accidental_of_a_figure_keeps_off_its_number() -> None:
    """By a quarter of a space in units of the figures, where the font alone has an eighth."""
    sharp, six = glyphs.place(glyphs.signs("♯6"), 900.0, 0.0, float("-inf"))
    left, _, wide, _ = glyphs.box(sharp.code)
    ends, begins = sharp.x + (left + wide) * glyphs.SCALE, six.x + glyphs.box(six.code)[0] * glyphs.SCALE
    assert begins - ends > 0.25 * 250 * glyphs.SCALE
