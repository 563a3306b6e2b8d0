"""Steps from one event's voicings to the next's: how every voice that sounds in both goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from builder.counterpoint.rules.context import Array, Of
from builder.counterpoint.rules.tables import (
    ASKED_OF,
    LEAPS,
    MOTION_BITS,
    PERFECT,
    WAY,
    Bits,
    across,
    interval,
    look,
    motion_class,
    pitch_code,
)
from builder.counterpoint.search.shape import Shape
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


@dataclass(frozen=True, slots=True)
class Meeting:
    """The voices of two sonorities in a row: those of the setting, highest first, and the given line's."""

    upper: tuple[str, ...]
    bass: str
    then: tuple[str, ...]
    then_bass: str

    @classmethod
    def of(cls, a: Shape, b: Shape) -> Meeting:
        return cls(a.upper, a.voice, b.upper, b.voice)


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


@dataclass(frozen=True, eq=False)
class Steps:
    """Many steps of the same voices: codes of their pitches before and after, voices x steps."""

    meeting: Meeting
    before: Array
    after: Array
    given: Conditions

    @classmethod
    def between(cls, a: Voicings, b: Voicings, joint: Joint, rows: Array, cols: Array) -> Steps:
        """From some voicings to as many others."""
        meeting = Meeting.of(a.shape, b.shape)
        names = order(meeting).names
        given = Conditions.of([joint], [b.shape]).some(np.zeros(len(rows), dtype=np.int64))
        return cls(meeting, columns([a], names)[:, rows], columns([b], names)[:, cols], given)

    @classmethod
    def along(
        cls,
        meeting: Meeting,
        notes: Sequence[tuple[Mapping[str, tuple[int, int]], Mapping[str, tuple[int, int]]]],
        given: Conditions,
    ) -> Steps:
        """From the notes (staff step and MIDI number) that each voice has before and after."""
        names = order(meeting).names
        table = np.array([[(*a[v], *b[v]) for a, b in notes] for v in names], dtype=np.int64)
        d0, m0, d1, m1 = np.moveaxis(table.reshape(len(names), len(notes), 4), 2, 0)
        return cls(meeting, pitch_code(d0, m0), pitch_code(d1, m1), given)

    def __len__(self) -> int:
        return int(self.before.shape[1])

    def some(self, kept: Array) -> Steps:
        """Of all steps some, with what is known of them already."""
        before, after = self.before.take(kept, axis=1), self.after.take(kept, axis=1)
        found = Steps(self.meeting, before, after, self.given.some(kept))
        for name in ("moves", "ways", "motion"):
            if name in self.__dict__:
                found.__dict__[name] = self.__dict__[name].take(kept, axis=1)
        return found

    @property
    def order(self) -> Order:
        return order(self.meeting)

    @cached_property
    def moves(self) -> Array:
        """The interval by which each voice moves."""
        return interval(self.before, self.after)

    @cached_property
    def ways(self) -> Array:
        return look(WAY, self.moves)

    @cached_property
    def motion(self) -> Array:
        """Rules on two voices that each pair breaks, pairs x steps, as bits."""
        low, high = self.order.low, self.order.high
        before, after = self.perfect
        leaps = look(LEAPS, self.moves)
        found: Array = motion_class(before, after, self.ways[low] * self.ways[high], leaps[high])
        return MOTION_BITS.take(found)

    @cached_property
    def across(self) -> Array:
        """Rules that each pair breaks from where one voice was to where the other goes, as bits."""
        return across(self.before, self.after, self.order.low, self.order.high, self.moves)

    @cached_property
    def perfect(self) -> tuple[Array, Array]:
        """Perfect intervals of each pair before and after."""
        return perfect_between(self.before, self.order), perfect_between(self.after, self.order)


def perfect_between(codes: Array, order: Order) -> Array:
    """The perfect intervals of every pair of voices (see `tables.PERFECT`), pairs x columns."""
    return look(PERFECT, interval(codes[order.low], codes[order.high]))


def columns(found: Sequence[Voicings], names: Sequence[str]) -> Array:
    """Codes of the pitches of some voices, the given line's among them: voices x rows, one set of voicings
    after another."""
    return np.concatenate([v.code for v in found], axis=1)[[VOICES.index(v) for v in names]]
