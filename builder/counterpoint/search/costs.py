"""What makes one legal setting better than another: named costs, each with its weight and a sentence.

A verset changes a weight under `costs` in its front matter. A cost is counted where it happens, so a
realisation can report its costs bar by bar. The weights are our own judgement, tuned by ear.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Cost:
    """A cost: its weight (what one occurrence costs) and what it stands for."""

    weight: float
    sentence: str


COSTS: Mapping[str, Cost] = {
    "leap": Cost(1.0, "A voice leaps: a third a little, wider leaps more; steps are free."),
    "recovery": Cost(1.5, "A voice goes on the same way after a leap, or leaps twice."),
    "stillness": Cost(0.8, "A voice repeats its note while the given line moves on, or none moves for long."),
    "restless": Cost(0.6, "A voice moves in less than a quarter over a repeated note."),
    "similar": Cost(0.6, "The outer voices move the same way; more when all voices do."),
    "direct": Cost(2.0, "A fifth or an octave is reached by similar motion."),
    "perfect": Cost(
        1.0, "In two or three voices a fifth or an octave where a third or sixth would be warmer."
    ),
    "incomplete": Cost(1.6, "The third or another tone of the sonority is missing."),
    "doubling": Cost(0.8, "A third, a sixth or a raised note is doubled instead of the bass or the fifth."),
    "unison": Cost(1.5, "Two voices meet on one note."),
    "spacing": Cost(1.0, "Neighbouring upper voices stand far apart."),
    "register": Cost(0.5, "A voice leaves the middle of its compass."),
    "stretch": Cost(1.5, "A hand is stretched beyond a ninth."),
    "crossing": Cost(1.0, "A voice goes past where its neighbour has just been."),
    "false-relation": Cost(3.0, "A note and its altered form follow each other in two voices."),
    "awkward": Cost(1.5, "A diminished or chromatic step, or a falling sixth, in the melody."),
    "supplied": Cost(1.0, "A sonority other than the plainest is supplied over an unfigured note."),
    "passing": Cost(0.1, "A passing note is put over a held note."),
    "suspension": Cost(-1.6, "A suspension that the line offers is taken (a gain)."),
    "parallel": Cost(0.35, "Two voices go on in parallel thirds or sixths."),
    "covered": Cost(3.0, "Fifths or octaves stand on both sides of a passing note of the given line."),
    "opening": Cost(0.4, "The first sonority of two voices is not a perfect one."),
    "close": Cost(1.2, "At the close the highest voice does not reach the final, or by leap."),
    "invertible": Cost(
        0.5, "Against the theme stands a fifth: it would be a fourth if the two voices changed places."
    ),
    "countersubject": Cost(-1.2, "Where the theme returns, its counterpoint returns with it (a gain)."),
    "skip": Cost(0.0, "A voice moves by a third."),
    "falling-leap": Cost(0.0, "A voice leaps down, by a third or more."),
    "rising-step": Cost(0.0, "A voice rises by step."),
    "contrary": Cost(0.0, "The outer voices move in contrary motion."),
    "similar-pair": Cost(0.0, "Two upper voices move the same way by different intervals."),
    "turning": Cost(0.0, "A voice that moved by step or third turns back."),
    "shuttle": Cost(0.0, "A voice goes back to the note it has just left."),
    "warned": Cost(2.0, "A rule that only warns, and that no other cost counts, is broken."),
    "standing": Cost(0.0, "A voice sings one note for a third sonority or more."),
    "second-peak": Cost(0.0, "The highest voice comes up to its highest note again."),
    "inner-leap": Cost(0.0, "An inner voice goes on the same way after a leap."),
}

NAMES = tuple(COSTS)


@dataclass(frozen=True, slots=True)
class Prices:
    """What each cost of `NAMES` weighs, in that order."""

    values: tuple[float, ...]

    def __getitem__(self, name: str) -> float:
        return self.values[NAMES.index(name)]


@dataclass(frozen=True, slots=True)
class Weights:
    """Prices by number of voices above the given line: one, two, three and more; hashable, so that they can
    be part of a memo's key.

    >>> Weights.of({"leap": 2.0}).above(3)["leap"]
    2.0
    """

    prices: tuple[Prices, ...]

    @classmethod
    def of(cls, changed: Mapping[str, float]) -> Weights:
        """The default weights with some changed; unknown names are left to the caller's report."""
        return cls(
            tuple(Prices(tuple(float(changed.get(name, own[name])) for name in NAMES)) for own in _LEARNED)
        )

    def above(self, upper: int) -> Prices:
        """The prices where so many voices sound above the given line."""
        return self.prices[min(max(upper, 1), len(self.prices)) - 1]


_LEARNED: tuple[Mapping[str, float], ...] = tuple({n: c.weight for n, c in COSTS.items()} for _ in range(3))


Parts = dict[str, "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"]
"""Named parts of a cost, one array each."""


LEAP_PRICE = np.array([0.0, 0.0, 0.35, 1.0, 1.5, 2.4, 4.0, 2.6, 5.0])
"""Price of a leap by staff steps, 0 to 7 and beyond."""
