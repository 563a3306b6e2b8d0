"""A score as arrays: one row for each voice, one column for each onset. What the check looks at."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import lcm

import numpy as np

from builder.counterpoint.voicing import Array
from builder.music import Note, Score

FAR = 99
"""Stands for `no note there` where steps to a neighbouring note are counted."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Voices x onsets. `d` and `m` hold staff steps and MIDI numbers of what sounds (meaningless where
    `sounds` is false); `struck`: a note begins here; `note`: its number in the voice's list."""

    score: Score
    voices: tuple[str, ...]
    notes: tuple[tuple[Note, ...], ...]
    times: tuple[Fraction, ...]
    d: Array
    m: Array
    sounds: Array
    struck: Array
    note: Array
    weight: Array
    """Metrical weight of each onset."""

    @classmethod
    def of(cls, score: Score) -> Grid:
        """Lay a score out; ties are joined, rests are silence."""
        parts = tuple(p for p in score.parts if any(n.pitch for n in p.notes))
        notes = tuple(p.sounding() for p in parts)
        unit = lcm(1, *(x.denominator for ns in notes for n in ns for x in (n.onset, n.duration)))
        starts = [[_ticks(n.onset, unit) for n in ns] for ns in notes]
        ends = [[s + _ticks(n.duration, unit) for s, n in zip(ss, ns)] for ss, ns in zip(starts, notes)]
        # Bar lines are looked at too: a note held over one must bear it.
        last = max((t for es in ends for t in es), default=0)
        lines = {t for b in score.bars if (t := _ticks(b.onset, unit)) < last}
        ticks = np.array(sorted({t for ss in starts for t in ss} | lines), dtype=np.int64)
        shape = (len(parts), len(ticks))
        d, m = np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64)
        note = np.zeros(shape, dtype=np.int64)
        sounds, struck = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        for v, ns in enumerate(notes):
            start, end = np.array(starts[v]), np.array(ends[v])
            at = np.searchsorted(start, ticks, side="right") - 1
            there = np.maximum(at, 0)
            sounds[v] = (at >= 0) & (ticks < end[there])
            struck[v] = sounds[v] & (start[there] == ticks)
            note[v] = there
            d[v] = np.array([n.pitch.diatonic for n in ns if n.pitch])[there]
            m[v] = np.array([n.pitch.midi for n in ns if n.pitch])[there]
        times = tuple(Fraction(int(t), unit) for t in ticks)
        weight = _weights(score, ticks, unit)
        return cls(score, tuple(p.voice for p in parts), notes, times, d, m, sounds, struck, note, weight)

    @cached_property
    def pairs(self) -> tuple[Array, Array]:
        """Indices of every pair of voices: the lower one (by name), the higher one."""
        high, low = np.triu_indices(len(self.voices), 1)
        return low, high

    @cached_property
    def joined(self) -> Array:
        """Voices x onsets but the first: the voice sounds here and at the onset before with no silence
        between that reaches a note's end."""
        both = self.sounds[:, 1:] & self.sounds[:, :-1]
        found: Array = both & (~self.struck[:, 1:] | (self._gap == 0))
        return found

    @cached_property
    def _gap(self) -> Array:
        """Silence before the note that sounds at each onset but the first, 0 or 1."""
        found = np.zeros((len(self.voices), max(0, len(self.times) - 1)), dtype=np.int64)
        for v, ns in enumerate(self.notes):
            after_rest = np.array([False, *(a.end != b.onset for a, b in pairwise(ns))])
            found[v] = after_rest[self.note[v, 1:]]
        return found

    @cached_property
    def lowest(self) -> Array:
        """Index of the lowest sounding voice at each onset (the lower part among equals)."""
        height = np.where(self.sounds, self.m, 999)
        found: Array = len(self.voices) - 1 - np.argmin(height[::-1], axis=0)
        return found

    @cached_property
    def highest(self) -> Array:
        height = np.where(self.sounds, self.m, -999)
        found: Array = np.argmax(height, axis=0)
        return found

    @cached_property
    def count(self) -> Array:
        """Number of sounding voices at each onset."""
        found: Array = self.sounds.sum(axis=0)
        return found

    def near(self, places: int) -> Array:
        """Voices x onsets: staff steps from the sounding note to the note `places` further on (negative:
        before) in its voice; FAR across a silence or where there is none."""
        found = np.full(self.d.shape, FAR, dtype=np.int64)
        for v, ns in enumerate(self.notes):
            found[v] = self._near_note(ns, places)[self.note[v]]
        return found

    @staticmethod
    def _near_note(ns: tuple[Note, ...], places: int) -> Array:
        steps = np.array([n.pitch.diatonic for n in ns if n.pitch])
        found = np.full(len(ns), FAR, dtype=np.int64)
        gap = np.array([0, *(int(a.end != b.onset) for a, b in pairwise(ns))]).cumsum()
        size = abs(places)
        if len(ns) > size:
            joined = gap[size:] == gap[:-size]
            move = np.where(joined, steps[size:] - steps[:-size], FAR)
            if places > 0:
                found[:-size] = move
            else:
                found[size:] = np.where(move == FAR, FAR, -move)
        return found

    def of_note(self, values: list[list[int]]) -> Array:
        """Spread a number for each note over the onsets at which it sounds."""
        return np.array([np.array(vs)[self.note[v]] for v, vs in enumerate(values)])

    @cached_property
    def first(self) -> Array:
        """Voices x onsets: column at which the sounding note began."""
        columns = np.where(self.struck, np.arange(len(self.times))[None, :], 0)
        return np.maximum.accumulate(columns, axis=1)


def _ticks(value: Fraction, unit: int) -> int:
    return value.numerator * unit // value.denominator


def _weights(score: Score, ticks: Array, unit: int) -> Array:
    """3 first beat, 2 middle of the bar, 1 beat, 0 half beat, then -1 …"""
    starts = np.array([_ticks(b.onset, unit) for b in score.bars])
    bar = np.maximum(np.searchsorted(starts, ticks, side="right") - 1, 0)
    offset = ticks - starts[bar]
    metre = score.metre
    table: dict[int, int] = {}
    for value in sorted(set(offset.tolist())):
        place = Fraction(value, unit)
        strength = metre.strength(place)
        level, size = 0, metre.beat / 2
        while strength == 0 and place % size and level > -5:
            level, size = level - 1, size / 2
        table[value] = strength or level
    return np.array([table[o] for o in offset.tolist()], dtype=np.int64)
