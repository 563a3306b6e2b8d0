"""Bars of a file as whole bars of its metre: pick-ups, bars that a repeat divides, a short last bar."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

ZERO = Fraction(0)


def starts_of(lengths: Sequence[Fraction], bar: Fraction) -> list[Fraction] | int:
    """Where each bar of a file begins in whole bars of its metre: a short first bar is a pick-up, two short
    ones that follow each other are one that a repeat or a double bar divides, and the last may be short.
    The number of the bar (from 0) that fits in none of these ways, if one does.

    >>> [str(t) for t in starts_of([Fraction(n) for n in (1, 4, 3, 1, 3)], Fraction(4))]
    ['3', '4', '8', '11', '12']
    >>> starts_of([Fraction(4), Fraction(3), Fraction(4)], Fraction(4))
    1
    """
    starts: list[Fraction] = []
    now = ZERO
    for n, length in enumerate(lengths):
        divided = len(lengths) > 1 and lengths[1] == bar - length
        if n == 0 and 0 < length < bar and not divided:
            now = bar - length
        within = now % bar
        if within and within + length > bar:
            return n - 1
        if n < len(lengths) - 1 and length > bar and length % bar:
            return n
        starts.append(now)
        now += length
    return starts
