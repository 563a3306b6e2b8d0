"""A score as arrays: one row for each voice, one column for each onset. What the check looks at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import lcm
from typing import NamedTuple

import numpy as np

from builder.counterpoint.voicing import Array
from builder.music import Note, Score

FAR = 99
"""Stands for `no note there` where steps to a neighbouring note are counted."""


class Line(NamedTuple):
    """One voice as heard, ties joined: arrays over its notes. `start` and `end` count ticks (so many
    to a quarter); `gap` counts the silences before each note."""

    notes: tuple[Note, ...]
    start: Array
    end: Array
    d: Array
    m: Array
    gap: Array


def _line(notes: tuple[Note, ...], unit: int) -> Line:
    heard: list[Note] = []
    rows: list[list[int]] = []
    open_tie, silences = False, 0
    for note in notes:
        pitch = note.pitch
        if pitch is None:
            open_tie = False
            continue
        (a, b), (c, d) = note.onset.as_integer_ratio(), note.duration.as_integer_ratio()
        start, length = a * unit // b, c * unit // d
        if open_tie and rows and rows[-1][1] == start and heard[-1].pitch == pitch:
            rows[-1][1] = start + length
            open_tie = note.tied
            continue
        silences += bool(rows) and rows[-1][1] != start
        heard.append(note)
        rows.append([start, start + length, pitch.diatonic, pitch.midi, silences])
        open_tie = note.tied
    table = np.array(rows, dtype=np.int64).reshape(-1, 5).T
    return Line(tuple(heard), *table)


@dataclass(frozen=True, eq=False)
class Grid:
    """Voices x onsets. `d` and `m` hold staff steps and MIDI numbers of what sounds (meaningless where
    `sounds` is false); `struck`: a note begins here; `note`: its number in the voice's line."""

    score: Score
    voices: tuple[str, ...]
    lines: tuple[Line, ...]
    unit: int
    ticks: Array
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
        denominators = {x.denominator for p in parts for n in p.notes for x in (n.onset, n.duration)}
        unit = lcm(1, *denominators)
        lines = tuple(_line(p.notes, unit) for p in parts)
        # Bar lines are looked at too: a note held over one must bear it.
        last = max((int(line.end[-1]) for line in lines), default=0)
        barlines = np.array([t for b in score.bars if (t := _ticks(b.onset, unit)) < last], dtype=np.int64)
        ticks = np.unique(np.concatenate([barlines, *(line.start for line in lines)]))
        if not lines:
            ticks = ticks[:0]
        shape = (len(parts), len(ticks))
        d, m, note = (np.zeros(shape, dtype=np.int64) for _ in range(3))
        sounds, struck = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        for v, line in enumerate(lines):
            at = np.searchsorted(line.start, ticks, side="right") - 1
            there = np.maximum(at, 0)
            sounds[v] = (at >= 0) & (ticks < line.end[there])
            struck[v] = sounds[v] & (line.start[there] == ticks)
            note[v], d[v], m[v] = there, line.d[there], line.m[there]
        voices = tuple(p.voice for p in parts)
        return cls(
            score, voices, lines, unit, ticks, d, m, sounds, struck, note, _weights(score, ticks, unit)
        )

    def time(self, column: int) -> Fraction:
        """The onset of a column, in quarters."""
        return self._times[column]

    @cached_property
    def _times(self) -> tuple[Fraction, ...]:
        ticks = self.ticks.tolist()
        return tuple(map(Fraction, ticks)) if self.unit == 1 else tuple(Fraction(t, self.unit) for t in ticks)

    def column(self, onset: Fraction) -> int | None:
        """The column of an onset, None when nothing happens there."""
        return self._columns.get(onset)

    @cached_property
    def _columns(self) -> dict[Fraction, int]:
        return {time: n for n, time in enumerate(self._times)}

    @cached_property
    def heard(self) -> tuple[tuple[Note, ...], ...]:
        """The notes of each voice with their whole lengths, ties joined."""
        parts = {p.voice: p for p in self.score.parts}
        return tuple(parts[v].sounding() for v in self.voices)

    def at(self, voice: int, onset: Fraction) -> Note | None:
        """The note that a voice sounds at a time, whole."""
        line, tick = self.lines[voice], _ticks(onset, self.unit)
        place = int(line.start.searchsorted(tick, side="right")) - 1
        return self.heard[voice][place] if place >= 0 and tick < line.end[place] else None

    def during(self, voice: int, start: Fraction, end: Fraction) -> tuple[Note, ...]:
        """The notes that a voice sounds in a stretch of time."""
        line = self.lines[voice]
        first = int(line.end.searchsorted(_ticks(start, self.unit), side="right"))
        last = int(line.start.searchsorted(-_ticks(-end, self.unit)))
        return self.heard[voice][first:last]

    @cached_property
    def pairs(self) -> tuple[Array, Array]:
        """Indices of every pair of voices: the lower one (by name), the higher one."""
        high, low = np.triu_indices(len(self.voices), 1)
        return low, high

    @cached_property
    def joined(self) -> Array:
        """Voices x onsets but the first: the voice sounds here and just before, without silence between."""
        both = self.sounds[:, 1:] & self.sounds[:, :-1]
        gaps = self.of_note([np.diff(line.gap, prepend=0) for line in self.lines])
        found: Array = both & (~self.struck[:, 1:] | (gaps[:, 1:] == 0))
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
        return self.of_note([_near(line, places) for line in self.lines])

    def of_note(self, values: Sequence[Array]) -> Array:
        """Spread a number for each note over the onsets at which it sounds."""
        found: Array = np.array([vs[self.note[v]] for v, vs in enumerate(values)])
        return found

    @cached_property
    def length(self) -> Array:
        """Quarters that each sounding note lasts."""
        return self.of_note([(line.end - line.start) / self.unit for line in self.lines])

    def weight_of_notes(self, places: int) -> Array:
        """Metrical weight at which the note `places` further on (negative: before) begins; -9 if none."""
        return self.of_note([_shifted(w, places) for w in self._own_weights])

    @cached_property
    def weight_before(self) -> Array:
        """The strongest moment at which the note before sounds (it may be held into it); -9 if none."""
        found = []
        for v, line in enumerate(self.lines):
            peaks = np.full(len(line.start), -9)
            np.maximum.at(peaks, self.note[v][self.sounds[v]], self.weight[self.sounds[v]])
            found.append(_shifted(peaks, -1))
        return self.of_note(found)

    @cached_property
    def _own_weights(self) -> list[Array]:
        found = []
        for v, line in enumerate(self.lines):
            weights = np.full(len(line.start), -9)
            weights[self.note[v][self.struck[v]]] = self.weight[self.struck[v]]
            found.append(weights)
        return found

    @cached_property
    def first(self) -> Array:
        """Voices x onsets: column at which the sounding note began."""
        columns = np.where(self.struck, np.arange(len(self.ticks))[None, :], 0)
        return np.maximum.accumulate(columns, axis=1)


def _near(line: Line, places: int) -> Array:
    size = abs(places)
    found = np.full(len(line.d), FAR, dtype=np.int64)
    if len(line.d) > size:
        joined = line.gap[size:] == line.gap[:-size]
        move = line.d[size:] - line.d[:-size]
        if places > 0:
            found[:-size] = np.where(joined, move, FAR)
        else:
            found[size:] = np.where(joined, -move, FAR)
    return found


def _shifted(values: Array, places: int) -> Array:
    none = np.full(min(abs(places), len(values)), -9)
    found: Array = np.concatenate([values[places:], none] if places > 0 else [none, values[:places]])
    return found


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
