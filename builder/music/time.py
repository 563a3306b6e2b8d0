"""Exact musical time. Everything is counted in quarter notes, as `Fraction`."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

BREVE = Fraction(8)
VALUES: dict[str, Fraction] = {
    "longa": Fraction(16),
    "breve": BREVE,
    **{str(d): Fraction(4, d) for d in (1, 2, 4, 8, 16, 32, 64)},
}
LIGHTEST = -6
"""The least metrical weight, of places that no division of the beat by two reaches."""
VALUE_NAMES = {value: name for name, value in VALUES.items()}


def dotted(value: Fraction, dots: int) -> Fraction:
    """Length of a value with dots, in quarter notes.

    >>> dotted(VALUES["2"], 1)
    Fraction(3, 1)
    """
    return value * (2 - Fraction(1, 2**dots))


def written(duration: Fraction) -> tuple[str, int] | None:
    """The value and dots (at most two) that write a length, or None.

    >>> written(Fraction(3)), written(Fraction(5))
    (('2', 1), None)
    """
    return _WRITTEN.get(duration)


LENGTHS = {(name, dots): dotted(value, dots) for name, value in VALUES.items() for dots in (0, 1, 2)}
"""The length of each value with up to two dots, in quarter notes."""
_WRITTEN = {length: name for name, length in LENGTHS.items()}


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature as written: `C`, `C|`, `3/2`, `6/4` …

    >>> Metre.parse("C|")
    Metre(symbol='C|', count=2, unit=2)
    >>> Metre.parse("3/2").bar
    Fraction(6, 1)
    """

    symbol: str
    count: int
    unit: int

    @classmethod
    def parse(cls, text: str) -> Metre:
        """Read a time signature; `ValueError` when it is not one."""
        if text == "C":
            return cls(text, 4, 4)
        if text == "C|":
            return cls(text, 2, 2)
        match = re.fullmatch(r"([0-9]{1,2})/(1|2|4|8|16)", text)
        if not match or not 1 <= int(match[1]) <= 24:
            raise ValueError(f"{text!r} is not a metre such as C, C|, 3/2 or 6/4")
        return cls(text, int(match[1]), int(match[2]))

    @property
    def beat(self) -> Fraction:
        """Length of a beat in quarter notes."""
        return Fraction(4, self.unit)

    @property
    def bar(self) -> Fraction:
        """Length of a bar in quarter notes."""
        return self.count * self.beat

    def weight(self, offset: Fraction) -> int:
        """Metrical weight of a place in the bar: 3 the first beat, 2 the middle of an even bar (and each
        third beat of 6/4, 9/8 …), 1 the other beats, 0 half a beat, -1 a quarter of one, and so on down to
        -6. `offset`: quarter notes from the bar line; a bar that lasts longer than its metre is counted on.

        >>> [Metre.parse("C").weight(Fraction(n)) for n in range(4)]
        [3, 1, 2, 1]
        >>> Metre.parse("C").weight(Fraction(3, 2)), Metre.parse("C").weight(Fraction(5, 4))
        (0, -1)
        """
        offset %= self.bar
        if offset == 0:
            return 3
        if self.count % 2 == 0 and offset == self.bar / 2:
            return 2
        if self.count % 3 == 0 and self.count > 3 and offset % (3 * self.beat) == 0:
            return 2
        if offset % self.beat == 0:
            return 1
        weight, part = 0, self.beat / 2
        while offset % part and weight > LIGHTEST:
            weight, part = weight - 1, part / 2
        return weight


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar: number from 1, onset and length in quarter notes (the last may be longer). `skipped` is how
    much of it an excerpt leaves out before `onset`."""

    number: int
    onset: Fraction
    length: Fraction
    skipped: Fraction = Fraction(0)
    _end: Fraction | None = field(default=None, init=False, repr=False, compare=False)

    @property
    def line(self) -> Fraction:
        """Where its bar line stands, from which beats are counted."""
        return self.onset - self.skipped

    @property
    def end(self) -> Fraction:
        # Asked for so often that the sum is remembered.
        if self._end is None:
            object.__setattr__(self, "_end", self.onset + self.length)
        assert self._end is not None
        return self._end


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands, as a musician says it: bar and beat, both from 1."""

    bar: int
    beat: Fraction

    def __str__(self) -> str:
        whole, rest = divmod(self.beat, 1)
        beat = f"{whole}" if not rest else f"{whole} {rest}"
        return f"bar {self.bar}, beat {beat}"


def bar_at(bars: Sequence[Bar], onset: Fraction) -> Bar:
    """The bar in which a time lies; the last bar for times at or past the end.

    >>> bars = [Bar(1, Fraction(0), Fraction(4)), Bar(2, Fraction(4), Fraction(4))]
    >>> bar_at(bars, Fraction(9, 2)).number, bar_at(bars, Fraction(8)).number
    (2, 2)
    """
    return bars[min(bisect_right(bars, onset, key=lambda bar: bar.end), len(bars) - 1)]


def place(bars: Sequence[Bar], metre: Metre, onset: Fraction) -> Place:
    """Bar and beat of a time in quarter notes.

    >>> bars = [Bar(1, Fraction(0), Fraction(4)), Bar(2, Fraction(4), Fraction(4))]
    >>> str(place(bars, Metre.parse("C"), Fraction(11, 2)))
    'bar 2, beat 2 1/2'
    """
    bar = bar_at(bars, onset)
    return Place(bar.number, (onset - bar.line) / metre.beat + 1)


def metrical_weight(bars: Sequence[Bar], metre: Metre, onset: Fraction) -> int:
    """How heavy a time is (quarter notes from the beginning of the piece), as `Metre.weight`.

    >>> bars = [Bar(1, Fraction(0), Fraction(4)), Bar(2, Fraction(4), Fraction(4))]
    >>> [metrical_weight(bars, Metre.parse("C"), Fraction(n)) for n in (4, 5, 6)]
    [3, 1, 2]
    """
    return metre.weight(onset - bar_at(bars, onset).onset)


def clipped(bars: Sequence[Bar], start: Fraction, end: Fraction) -> tuple[Bar, ...]:
    """The bars from one time to another, the first and the last cut where these fall inside them.

    >>> [cut] = clipped([Bar(1, Fraction(0), Fraction(4))], Fraction(2), Fraction(3))
    >>> cut.onset, cut.length, str(place([cut], Metre.parse("C"), Fraction(2)))
    (Fraction(2, 1), Fraction(1, 1), 'bar 1, beat 3')
    """
    found = []
    for bar in bars:
        low, high = max(bar.onset, start), min(bar.end, end)
        if low < high:
            found.append(Bar(bar.number, low, high - low, low - bar.line))
    return tuple(found)
