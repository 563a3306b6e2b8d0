"""Steps from one event's voicings to the next's: how every voice that sounds in both goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from builder.counterpoint.rule import Move, Truth
from builder.counterpoint.voicing import Array, Shape, Voicings
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
    main: Pitch | None = None
    """The given note before the passing ones just heard."""
    waived: frozenset[str] = frozenset()
    """Rules licensed here."""
    pinned: bool = False
    loose: bool = False
    """Broken rules cost much instead of being refused."""


class Moves(Move):
    """Moves as arrays; what many rules ask of them is worked out once."""

    @cached_property
    def steps(self) -> Array:
        found: Array = self.d1 - self.d0
        return found

    @cached_property
    def semitones(self) -> Array:
        found: Array = self.m1 - self.m0
        return found

    @cached_property
    def moves(self) -> Truth:
        return (self.d0 != self.d1) | (self.m0 != self.m1)


@dataclass(frozen=True, eq=False)
class Steps:
    """Many steps between two shapes. `names`: the voices that sound in both, highest first; `stack`: their
    moves, the voices along the first axis, the steps along the others."""

    before: Shape
    after: Shape
    names: tuple[str, ...]
    stack: Moves

    @classmethod
    def all(cls, a: Voicings, b: Voicings) -> Steps:
        """From every voicing to every other: (rows of a) x (rows of b)."""
        names = shared(a.shape, b.shape)
        (d0, m0), (d1, m1) = _columns(a, names), _columns(b, names)
        stack = Moves(d0[:, :, None], m0[:, :, None], d1[:, None, :], m1[:, None, :])
        return cls(a.shape, b.shape, names, stack)

    def some(self, rows: Array, cols: Array) -> Steps:
        """Of all steps those from some rows to as many others, along one axis."""
        d0, m0, d1, m1 = self.stack
        stack = Moves(d0[:, rows, 0], m0[:, rows, 0], d1[:, 0, cols], m1[:, 0, cols])
        return Steps(self.before, self.after, self.names, stack)

    @classmethod
    def along(
        cls,
        before: Shape,
        after: Shape,
        notes: Sequence[tuple[Mapping[str, tuple[int, int]], Mapping[str, tuple[int, int]]]],
    ) -> Steps:
        """Steps between shapes that have the same voices, from the notes (staff step and MIDI number) that
        each voice has before and after."""
        names = shared(before, after)
        table = np.array([[(*a[v], *b[v]) for a, b in notes] for v in names], dtype=np.int64).reshape(
            len(names), len(notes), 4
        )
        return cls(before, after, names, Moves(*np.moveaxis(table, 2, 0)))

    @property
    def bass(self) -> str:
        """The voice of the later given note."""
        return self.after.voice

    @cached_property
    def upper(self) -> tuple[str, ...]:
        """The voices of the setting that sound in both, highest first."""
        return tuple(v for v in self.names if v in self.after.upper)

    @cached_property
    def _voices(self) -> dict[str, Moves]:
        return {v: Moves(*(x[i] for x in self.stack)) for i, v in enumerate(self.names)}

    def __contains__(self, voice: str) -> bool:
        return voice in self._voices

    def __getitem__(self, voice: str) -> Moves:
        return self._voices[voice]

    def get(self, voice: str) -> Moves | None:
        return self._voices.get(voice)

    def of(self, voices: Sequence[str]) -> Moves:
        """The moves of some voices, along the first axis."""
        if tuple(voices) == self.names:
            return self.stack
        places = [self.names.index(v) for v in voices]
        return Moves(*(x[places] for x in self.stack))

    @cached_property
    def pairs(self) -> tuple[Moves, Moves]:
        """The lower and the higher voice of every pair."""
        low, high = _pairs(len(self.names))
        return Moves(*(x[low] for x in self.stack)), Moves(*(x[high] for x in self.stack))


def shared(before: Shape, after: Shape) -> tuple[str, ...]:
    """The voices that sound over or under both, highest first."""
    first, then = {*before.upper, before.voice}, {*after.upper, after.voice}
    return tuple(v for v in VOICES if v in first and v in then)


@lru_cache(maxsize=16)
def _pairs(voices: int) -> tuple[Array, Array]:
    high, low = np.triu_indices(voices, 1)
    return low, high


def _columns(v: Voicings, names: tuple[str, ...]) -> tuple[Array, Array]:
    """Staff steps and MIDI numbers, voices x rows."""
    d, m = (np.empty((len(names), len(v)), dtype=np.int64) for _ in range(2))
    for i, name in enumerate(names):
        if name in v.shape.upper:
            place = v.shape.upper.index(name)
            d[i], m[i] = v.d[:, place], v.m[:, place]
        else:
            d[i], m[i] = v.shape.bass.diatonic, v.shape.bass.midi
    return d, m
