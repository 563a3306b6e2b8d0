"""What joins one event to the next: the voices that sound in both, and what holds between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from builder.counterpoint.rules.context import Array, Of
from builder.counterpoint.rules.tables import (
    ASKED_OF,
    Bits,
    pitch_code,
)
from builder.counterpoint.search.shape import Meeting, Shape
from builder.counterpoint.search.voicing import Voicings
from builder.music import VOICES, Pitch


@dataclass(frozen=True, slots=True)
class Joint:
    """What a transition depends on beyond the two sets of voicings."""

    silent: bool = False
    """Silence lies between: no rule on motion applies."""
    hold: bool = False
    """The upper voices keep their notes."""
    same_bass: bool = False
    """The given note goes on sounding, or is struck again."""
    short: bool = False
    """The later event is shorter than a quarter."""
    still: bool = False
    """The given note goes on under the same figure: voices move only as a suspension falls, or as pinned."""
    main: Pitch | None = None
    """The given note before the passing ones just heard."""
    waived: frozenset[str] = frozenset()
    """Rules licensed here."""
    loose: bool = False
    """Broken rules cost much instead of being refused."""


class Order(NamedTuple):
    """Where voices stand among those that sound in both sonorities, highest first."""

    names: tuple[str, ...]
    upper: list[int]
    """Voices of the setting that sound in both."""
    bass: int | None
    """The voice of the later given note, when it sounded before."""
    low: Array
    high: Array
    """The lower and the higher voice of every pair."""
    outer: int | None
    """The pair of the given line with the highest voice."""
    sung: list[int]
    """Voices whose melody is ours: what the given line sings itself is the source's."""
    asked: Array
    """The rules on two voices that are asked of each pair, as bits."""


@lru_cache(maxsize=256)
def order(meeting: Meeting) -> Order:
    """Who sounds in both of two sonorities."""
    first, then = {*meeting.upper, meeting.bass}, {*meeting.then, meeting.then_bass}
    names = tuple(v for v in VOICES if v in first and v in then)
    high, low = np.triu_indices(len(names), 1)
    bass = names.index(meeting.then_bass) if meeting.then_bass in names else None
    last = len(names) - 1
    # Of the pairs in order that of the highest with the lowest is the last with the highest.
    outer = last - 1 if last > 0 and bass == last else None
    beside = low - high == 1
    own = meeting.then_bass if meeting.bass == meeting.then_bass else None
    return Order(
        names,
        [n for n, v in enumerate(names) if v in meeting.then],
        bass,
        low,
        high,
        outer,
        [n for n, v in enumerate(names) if v != own],
        _asked(beside, low == bass, np.arange(len(low)) == outer),
    )


def _asked(beside: Array, over_bass: Array, outer: Array) -> Array:
    found = np.full(len(beside), ASKED_OF[Of.PAIR])
    for of, pairs in ((Of.NEIGHBOURS, beside), (Of.UPPER, beside & ~over_bass), (Of.OUTER, outer)):
        found |= np.where(pairs, ASKED_OF[of], Bits(0))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """What holds for each of many steps, or for them all."""

    same_bass: Array
    short: Array
    still: Array
    closing: Array
    main: Array
    """Code of the given note before the passing ones; -1 without."""

    @classmethod
    def of(cls, joints: Sequence[Joint], shapes: Sequence[Shape]) -> Conditions:
        """From what joins two events, and the later one's shape."""
        main = [-1 if j.main is None else int(pitch_code(j.main.diatonic, j.main.midi)) for j in joints]
        return cls(
            np.array([j.same_bass for j in joints]),
            np.array([j.short for j in joints]),
            np.array([j.still for j in joints]),
            np.array([s.closing for s in shapes]),
            np.array(main),
        )

    def some(self, kept: Array) -> Conditions:
        """Of some steps (one may come more than once)."""
        return Conditions(
            *(x.take(kept) for x in (self.same_bass, self.short, self.still, self.closing, self.main))
        )


def columns(found: Sequence[Voicings], names: Sequence[str]) -> Array:
    """Codes of the pitches of some voices, the given line's among them: voices x rows, one set of voicings
    after another."""
    return np.concatenate([v.code for v in found], axis=1)[[VOICES.index(v) for v in names]]
