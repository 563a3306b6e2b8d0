"""A score as arrays: one row for each voice, one column for each onset. What the check looks at."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from math import lcm
from typing import NamedTuple

import numpy as np

from builder.counterpoint.voicing import Array
from builder.music import Metre, Note, Score

_APART = 1_000_000
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
        # The score's own fractions, which are many times quicker had than made.
        known = {t: n.onset for line in self.lines for t, n in zip(line.start.tolist(), line.notes)} | {
            _ticks(b.onset, self.unit): b.onset for b in self.score.bars
        }
        return tuple(known[t] for t in self.ticks.tolist())

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
        gaps = self.all_notes.gap[self._place]
        found: Array = both & (gaps[:, 1:] == gaps[:, :-1])
        return found

    @cached_property
    def all_notes(self) -> Line:
        """The notes of all voices one after another; the silences are counted on, so that no two voices
        share a number."""
        start, end, d, m = (np.concatenate([line[n] for line in self.lines]) for n in range(1, 5))
        gap = np.concatenate([line.gap + v * _APART for v, line in enumerate(self.lines)])
        return Line(tuple(n for line in self.lines for n in line.notes), start, end, d, m, gap)

    def voice_of(self, place: int) -> str:
        """The voice of one of all the notes."""
        return self.voices[int(self.all_notes.gap[place]) // _APART]

    @cached_property
    def _place(self) -> Array:
        """Voices x onsets: the sounding note's place among all notes."""
        counts = [0, *(len(line.start) for line in self.lines[:-1])]
        found: Array = self.note + np.cumsum(counts)[:, None]
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
        line, size = self.all_notes, abs(places)
        found = np.full(len(line.d), FAR, dtype=np.int64)
        if len(line.d) > size:
            move = np.where(line.gap[size:] == line.gap[:-size], line.d[size:] - line.d[:-size], FAR)
            if places > 0:
                found[:-size] = move
            else:
                found[size:] = np.where(move == FAR, FAR, -move)
        spread: Array = found[self._place]
        return spread

    @cached_property
    def length(self) -> Array:
        """Quarters that each sounding note lasts."""
        found: Array = ((self.all_notes.end - self.all_notes.start) / self.unit)[self._place]
        return found

    def weight_of_notes(self, places: int) -> Array:
        """Metrical weight at which the note `places` further on begins; -9 if there is none."""
        found: Array = self._shifted(self._weights[0], places)[self._place]
        return found

    @cached_property
    def weight_before(self) -> Array:
        """The strongest moment at which the note before sounds (it may be held into it); -9 if none."""
        found: Array = self._shifted(self._weights[1], -1)[self._place]
        return found

    @cached_property
    def _weights(self) -> tuple[Array, Array]:
        """For each note the weight of its onset, and of the strongest moment it sounds at."""
        own, peak = (np.full(len(self.all_notes.start), -9) for _ in range(2))
        weights = np.broadcast_to(self.weight, self.note.shape)
        own[self._place[self.struck]] = weights[self.struck]
        np.maximum.at(peak, self._place[self.sounds], weights[self.sounds])
        return own, peak

    def _shifted(self, values: Array, places: int) -> Array:
        voice, size = self.all_notes.gap // _APART, abs(places)
        found = np.full(len(values), -9)
        if len(values) > size:
            same = voice[size:] == voice[:-size]
            if places > 0:
                found[:-size] = np.where(same, values[size:], -9)
            else:
                found[size:] = np.where(same, values[:-size], -9)
        return found

    @cached_property
    def first(self) -> Array:
        """Voices x onsets: column at which the sounding note began."""
        columns = np.where(self.struck, np.arange(len(self.ticks))[None, :], 0)
        return np.maximum.accumulate(columns, axis=1)


def _ticks(value: Fraction, unit: int) -> int:
    return value.numerator * unit // value.denominator


def _weights(score: Score, ticks: Array, unit: int) -> Array:
    """3 first beat, 2 middle of the bar, 1 beat, 0 half beat, then -1 …"""
    starts = np.array([_ticks(b.onset, unit) for b in score.bars])
    bar = np.maximum(np.searchsorted(starts, ticks, side="right") - 1, 0)
    offset = ticks - starts[bar]
    return np.array([_weight(score.metre, o, unit) for o in offset.tolist()], dtype=np.int64)


@lru_cache(maxsize=4096)
def _weight(metre: Metre, offset: int, unit: int) -> int:
    place = Fraction(offset, unit)
    strength = metre.strength(place)
    level, size = 0, metre.beat / 2
    while strength == 0 and place % size and level > -5:
        level, size = level - 1, size / 2
    return strength or level
