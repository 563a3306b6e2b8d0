"""Notes, parts, scores: what sounds, and how it is written down."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated, place, written

D = Pitch.parse("D4")


def note(onset: int | Fraction, length: int | Fraction, pitch: Pitch | None = D, tied: bool = False) -> Note:
    return Note(Fraction(onset), Fraction(length), pitch, tied)


def score(*notes: Note, count: int = 3) -> Score:
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(count))
    return Score("A", Version.PLAIN, Metre.parse("C"), Signature(), bars, (Part("altus", notes),))


def test_a_tie_makes_one_sound_of_two_notes() -> None:
    part = Part("altus", (note(0, 4, tied=True), note(4, 2), note(6, 2)))
    assert [(n.onset, n.duration) for n in part.sounding()] == [(0, 6), (6, 2)]


def test_a_rest_is_silence() -> None:
    part = Part("altus", (note(0, 2), note(2, 2, None), note(4, 4)))
    assert part.at(Fraction(3)) is None and part.at(Fraction(5)) == note(4, 4)
    assert [n.onset for n in part.sounding()] == [0, 4]


def test_a_note_over_the_bar_line_is_written_with_a_tie() -> None:
    written_out = notated(score(note(2, 4))).parts[0].notes
    assert [(n.onset, n.duration, n.tied, n.pitch) for n in written_out] == [
        (0, 2, False, None),
        (2, 2, True, D),
        (4, 2, False, D),
        (6, 2, False, None),
        (8, 4, False, None),
    ]


def test_every_symbol_has_an_id_with_version_voice_bar_and_number() -> None:
    ids = [n.id for n in notated(score(note(2, 4))).parts[0].notes]
    assert ids == [
        "plain-altus-1-1",
        "plain-altus-1-2",
        "plain-altus-2-1",
        "plain-altus-2-2",
        "plain-altus-3-1",
    ]


def test_an_excerpt_keeps_numbers_ids_and_times() -> None:
    whole = notated(score(note(0, 4), note(4, 4), note(8, 4)))
    cut = whole.excerpt(Fraction(4), Fraction(8))
    assert [b.number for b in cut.bars] == [2]
    assert cut.parts[0].notes == whole.parts[0].notes[1:2]
    assert whole.closed and not cut.closed and whole.excerpt(Fraction(9), Fraction(12)).closed


def test_an_excerpt_inside_bars_cuts_them_and_the_notes_that_reach_over_its_edges() -> None:
    whole = notated(score(note(0, 2), note(2, 2), note(4, 4), note(8, 4)))
    cut = whole.excerpt(Fraction(3), Fraction(9))
    assert [(b.number, b.onset, b.length, b.line) for b in cut.bars] == [
        (1, 3, 1, 0),
        (2, 4, 4, 4),
        (3, 8, 1, 8),
    ]
    assert [(n.onset, n.duration) for n in cut.parts[0].notes] == [(3, 1), (4, 4), (8, 1)]
    assert [n.id for n in cut.parts[0].notes] == [n.id for n in whole.parts[0].notes[1:]]
    assert not cut.closed
    assert str(place(cut.bars, cut.metre, Fraction(3))) == "bar 1, beat 4"


def test_what_is_left_of_a_note_is_written_in_values_of_its_own() -> None:
    whole = notated(score(note(0, 4), note(4, 4)))
    cut = whole.excerpt(Fraction(3, 2), Fraction(8))
    first, second, _ = cut.parts[0].notes
    assert (first.duration, second.duration, first.tied, second.tied) == (2, Fraction(1, 2), True, False)
    assert first.id != second.id


def test_a_length_no_values_make_up_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="last 1/3 quarters"):
        notated(score(note(0, Fraction(1, 3))))


@st.composite
def parts(draw: st.DrawFn) -> tuple[Note, ...]:
    notes, now = [], Fraction(0)
    while now < 11:
        gap = Fraction(draw(st.integers(0, 10)), 4)
        length = min(Fraction(draw(st.integers(1, 30)), 4), 12 - now - gap)
        if length <= 0:
            break
        notes.append(note(now + gap, length, Pitch(draw(st.integers(20, 35)))))
        now += gap + length
    return tuple(notes)


@settings(deadline=None)
@given(parts())
def test_what_is_written_down_sounds_the_same_and_fills_every_bar(notes: tuple[Note, ...]) -> None:
    plain = score(*notes)
    down = notated(plain)
    heard = [(n.onset, n.duration, n.pitch) for n in down.parts[0].sounding()]
    assert heard == [(n.onset, n.duration, n.pitch) for n in plain.parts[0].sounding()]
    assert all(written(n.duration) for n in down.parts[0].notes)
    for bar in down.bars:
        inside = [n for n in down.parts[0].notes if bar.onset <= n.onset < bar.end]
        assert sum(n.duration for n in inside) == bar.length
    assert notated(down) == down
