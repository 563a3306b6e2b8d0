"""What makes one legal setting better than another: named costs, each with a sentence and its prices.

Prices are data (`prices.yaml`): most are learned from the masters, by number of voices above the given line,
so that a setting drawn with probability exp(-cost) makes each turn as often as they do; those that their
music cannot teach (it has no lessons, no offered suspensions, no keyboard) are set by ear. A verset changes
a price under `costs` in its front matter. A cost is counted where it happens, so a realisation can report
its costs bar by bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
import yaml

COSTS: Mapping[str, str] = {
    "leap": "A voice leaps: a third a little, wider leaps more; steps are free.",
    "recovery": "A voice goes on the same way after a leap, or leaps twice.",
    "stillness": "A voice repeats its note while the given line moves on.",
    "waiting": "No voice moves over a given note that goes on.",
    "several": "More voices than one move over a given note that goes on.",
    "revoicing": "A voice moves by a third or more over a given note that goes on.",
    "restless": "A voice moves in less than a quarter over a repeated note.",
    "similar": "The outer voices move the same way; more when all voices do.",
    "direct": "A fifth or an octave is reached by similar motion.",
    "perfect": "In two or three voices a fifth or an octave where a third or sixth would be warmer.",
    "incomplete": "The third or another tone of the sonority is missing.",
    "doubling": "A third, a sixth or a raised note is doubled instead of the bass or the fifth.",
    "unison": "Two voices meet on one note.",
    "bass-unison": "A voice meets the given line on one note.",
    "spacing": "Neighbouring upper voices stand far apart.",
    "apart": "The highest voice stands apart from the next.",
    "register": "A voice leaves the middle of its compass.",
    "stretch": "A hand is stretched beyond a ninth.",
    "crossing": "A voice goes past where its neighbour has just been.",
    "false-relation": "A note and its altered form follow each other in two voices.",
    "awkward": "A diminished or chromatic step or a falling sixth, or both tones of a tritone leap away.",
    "supplied": "A sonority other than the plainest is supplied over an unfigured note.",
    "suspension": "A suspension that the line offers is taken (a gain).",
    "parallel": "Two voices go on in parallel thirds or sixths.",
    "covered": "Fifths or octaves stand on both sides of a passing note of the given line.",
    "opening": "The first sonority of two voices is not a perfect one.",
    "close": "At the close the highest voice does not reach the final, or by leap.",
    "invertible": "Against the theme stands a fifth: it would be a fourth if the two voices changed places.",
    "countersubject": "Where the theme returns, its counterpoint returns with it (a gain).",
    "skip": "A voice moves by a third.",
    "falling-leap": "A voice leaps down, by a third or more.",
    "rising-step": "A voice rises by step.",
    "contrary": "The outer voices move in contrary motion.",
    "similar-pair": "Two upper voices move the same way by different intervals.",
    "parallel-pair": "Two upper voices go on in parallel.",
    "turning": "A voice that moved by step or third turns back.",
    "shuttle": "A voice goes back to the note it has just left.",
    "back-step": "A voice takes back at once the step that it has just made.",
    "running": "A voice goes on by step the way it has just gone by step.",
    "warned": "A rule that only warns, and that no other cost counts, is broken.",
    "standing": "A voice sings one note for a third sonority or more.",
    "second-peak": "The highest voice comes up to its highest note again.",
    "frozen": "All voices above the line stand still for a fifth sonority or more.",
    "inner-leap": "An inner voice goes on the same way after a leap.",
}
"""What each cost stands for, by name."""

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
            tuple(Prices(tuple(float(changed.get(name, own[name])) for name in NAMES)) for own in _PRICES)
        )

    def above(self, upper: int) -> Prices:
        """The prices where so many voices sound above the given line."""
        return self.prices[min(max(upper, 1), len(self.prices)) - 1]


def read_prices(text: str) -> tuple[Mapping[str, float], ...]:
    """Prices by number of voices above the given line (one, two, three), from the text of `prices.yaml`;
    `KeyError` when a cost has no price or a price no cost."""
    found = yaml.safe_load(text)
    known = {**{name: [price] * 3 for name, price in found["by-ear"].items()}, **found["learned"]}
    if wrong := set(known) ^ set(NAMES):
        raise KeyError(f"prices.yaml and the costs do not agree on {', '.join(sorted(wrong))}")
    return tuple({name: float(known[name][n]) for name in NAMES} for n in range(3))


_PRICES = read_prices(files(__package__).joinpath("prices.yaml").read_text(encoding="utf-8"))


Parts = dict[str, "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"]
"""Named parts of a cost, one array each."""


LEAP_PRICE = np.array([0.0, 0.0, 0.35, 1.0, 1.5, 2.4, 4.0, 2.6, 5.0])
"""Price of a leap by staff steps, 0 to 7 and beyond."""
