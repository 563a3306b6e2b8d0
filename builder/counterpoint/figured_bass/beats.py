"""Bars and metrical weights of a verset, each looked up once."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from builder.music import Bar
from builder.source import Verset


class Beats:
    """Where in its bar a time stands, and how heavy it is there."""

    def __init__(self, verset: Verset) -> None:
        self.bars, self.metre = verset.bars, verset.metre
        self._ends = [bar.end for bar in verset.bars]
        # By numerator and denominator: whole numbers are found sooner than fractions.
        self._places: dict[tuple[int, int], Bar] = {}
        self._weights: dict[tuple[int, int], int] = {}

    def bar(self, onset: Fraction) -> Bar:
        """The bar in which a time lies; the last bar for times at or past the end."""
        key = onset.as_integer_ratio()
        found = self._places.get(key)
        if found is None:
            place = min(bisect_right(self._ends, onset), len(self.bars) - 1)
            found = self._places[key] = self.bars[place]
        return found

    def weight(self, onset: Fraction) -> int:
        """Metrical weight of a time, as `Metre.weight`."""
        bar = self.bar(onset)
        (a, b), (c, d) = onset.as_integer_ratio(), bar.onset.as_integer_ratio()
        key = (a * d - c * b, b * d)
        found = self._weights.get(key)
        if found is None:
            found = self._weights[key] = self.metre.weight(onset - bar.onset)
        return found
