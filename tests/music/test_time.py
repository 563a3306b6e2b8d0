"""Values, metres, bars: time is exact, in quarter notes."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.music import Bar, Metre, bar_at, place, written
from builder.music.time import VALUES, dotted

BARS = (Bar(1, Fraction(0), Fraction(4)), Bar(2, Fraction(4), Fraction(4)), Bar(3, Fraction(8), Fraction(8)))


@given(st.sampled_from(list(VALUES)), st.integers(0, 2))
def test_a_value_with_its_dots_is_written_as_itself(name: str, dots: int) -> None:
    assert written(dotted(VALUES[name], dots)) == (name, dots)


def test_a_dot_adds_half_and_a_second_dot_a_quarter() -> None:
    assert [dotted(VALUES["2"], dots) for dots in (0, 1, 2)] == [2, 3, Fraction(7, 2)]
    assert written(Fraction(5)) is None and written(Fraction(1, 3)) is None


@pytest.mark.parametrize(
    ("text", "bar", "beat"),
    [
        ("C", 4, 1),
        ("C|", 4, 2),
        ("3/2", 6, 2),
        ("6/4", 6, 1),
        ("2/1", 8, 4),
        ("3/1", 12, 4),
        ("6/8", 3, Fraction(1, 2)),
    ],
)
def test_a_metre_gives_the_length_of_its_bar_and_of_its_beat(text: str, bar: int, beat: Fraction) -> None:
    metre = Metre.parse(text)
    assert (metre.bar, metre.beat, metre.symbol) == (bar, beat, text)


@pytest.mark.parametrize("text", ["", "c", "4", "3/3", "0/4", "3/2 ", "25/4", "C/", "٣/2"])
def test_what_is_not_a_metre_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a metre"):
        Metre.parse(text)


def test_the_first_beat_is_the_strongest_and_the_middle_comes_next() -> None:
    assert [Metre.parse("3/2").weight(Fraction(n)) for n in range(6)] == [3, 0, 1, 0, 1, 0]
    assert [Metre.parse("6/4").weight(Fraction(n)) for n in range(6)] == [3, 1, 1, 2, 1, 1]
    assert [Metre.parse("9/8").weight(Fraction(n, 2)) for n in range(9)] == [3, 1, 1, 2, 1, 1, 2, 1, 1]


def test_between_beats_every_halving_is_lighter_down_to_a_floor() -> None:
    assert [Metre.parse("C").weight(Fraction(1, n)) for n in (2, 4, 8, 16, 3)] == [0, -1, -2, -3, -6]


def test_a_last_bar_that_goes_on_has_its_first_beat_again() -> None:
    assert [Metre.parse("C").weight(Fraction(n)) for n in (4, 5, 6)] == [3, 1, 2]


def test_a_time_lies_in_the_bar_that_begins_with_it() -> None:
    assert [bar_at(BARS, Fraction(t)).number for t in (0, 3, 4, 8, 15, 16, 99)] == [1, 1, 2, 3, 3, 3, 3]


def test_a_place_is_said_as_bar_and_beat() -> None:
    assert str(place(BARS, Metre.parse("C|"), Fraction(6))) == "bar 2, beat 2"
    assert str(place(BARS, Metre.parse("C"), Fraction(11, 2))) == "bar 2, beat 2 1/2"
