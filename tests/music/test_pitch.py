"""Pitches and intervals are spelled: D sharp is not E flat, and a second is not a third."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.music import Interval, Pitch

pitches = st.builds(Pitch, st.integers(7, 56), st.integers(-2, 2))


def p(text: str) -> Pitch:
    return Pitch.parse(text)


def test_middle_c_is_c4_and_key_60() -> None:
    assert p("C4").midi == 60  # MIDI 1.0: key 60 is middle C
    assert p("A4").midi == 69


def test_an_octave_begins_at_c() -> None:
    assert p("B3").midi + 1 == p("C4").midi
    assert p("Cb4").midi == p("B3").midi and p("Cb4").octave == 4
    assert p("B#3").midi == p("C4").midi and p("B#3").octave == 3


@pytest.mark.parametrize(
    "text", ["", "H4", "d4", "D", "D#", "4", "D4 ", "D4\n", "Dn4", "D♯4", "D#b4", "D٤", "D4#"]
)
def test_what_is_not_a_pitch_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a pitch"):
        Pitch.parse(text)


@given(pitches)
def test_a_name_is_read_back(pitch: Pitch) -> None:
    assert Pitch.parse(pitch.name) == pitch


@given(pitches, pitches)
def test_going_up_the_interval_between_two_pitches_leads_from_one_to_the_other(
    low: Pitch, high: Pitch
) -> None:
    assert low.up(Interval.between(low, high)) == high


@given(pitches, pitches)
def test_an_interval_has_one_name_upwards_and_downwards(low: Pitch, high: Pitch) -> None:
    if low.diatonic != high.diatonic:
        assert Interval.between(low, high).name == Interval.between(high, low).name


def test_a_pitch_beyond_double_accidentals_still_has_a_name() -> None:
    assert p("F##4").up(Interval(0, 1)).name == "F###4"


@pytest.mark.parametrize(
    ("low", "high", "name"),
    [("F3", "B3", "A4"), ("B3", "F4", "d5"), ("C#4", "Bb4", "d7"), ("G3", "D4", "P5"), ("D4", "F5", "m10")],
)
def test_intervals_have_their_names(low: str, high: str, name: str) -> None:
    assert Interval.between(p(low), p(high)).name == name


def test_an_octave_counts_as_a_unison_when_reduced() -> None:
    assert Interval.between(p("C3"), p("C4")).simple == 1
    assert Interval.between(p("C3"), p("E5")).simple == 3
    assert Interval.between(p("C3"), p("E5")).number == 17
