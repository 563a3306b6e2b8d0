"""A score as arrays: one row for each voice, one column for each onset. What the check looks at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from math import lcm
from typing import NamedTuple, Protocol

import numpy as np

from builder.counterpoint.rules.context import Array
from builder.music import Metre, Note, Score
from builder.music.pitch import SEMITONES

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

    def during(self, start: Array, end: Array) -> tuple[Array, Array]:
        """For each of many stretches of time (in ticks) the first note that sounds in it, and the first
        after it."""
        return self.end.searchsorted(start, side="right"), self.start.searchsorted(end)

    def least(self, first: Array, last: Array) -> Array:
        """The lowest MIDI number of each of many runs of notes; of a run without notes any number."""
        bounds = np.stack((first, np.maximum(first, last)), axis=1).ravel()
        found: Array = np.minimum.reduceat(np.append(self.m, 999), bounds)[::2]
        return found


_NATURAL = np.array(SEMITONES)


def _heard(
    notes: tuple[Note, ...], ratios: list[_Ratios], unit: int, silences: int
) -> tuple[list[Note], list[int]]:
    """The notes of one voice with ties joined, and five whole numbers for each, in the order of `Line`
    (of the pitch: staff steps and alteration)."""
    heard: list[Note] = []
    rows: list[int] = []
    open_tie, over = False, -1
    for note, ((a, b), (c, d)) in zip(notes, ratios):
        pitch = note.pitch
        if pitch is None:
            open_tie = False
            continue
        start, length = a * unit // b, c * unit // d
        if start == over and rows:
            if open_tie and heard[-1].pitch == pitch:
                rows[-4] = over = start + length
                open_tie = note.tied
                continue
        elif rows:
            silences += 1
        over = start + length
        heard.append(note)
        rows += (start, over, pitch.diatonic, pitch.alter, silences)
        open_tie = note.tied
    return heard, rows


def _line(notes: list[Note], rows: list[int]) -> Line:
    start, end, d, alter, gap = np.array(rows, dtype=np.int64).reshape(-1, 5).T
    return Line(tuple(notes), start, end, d, natural(d) + alter, gap)


@lru_cache(maxsize=16)
def _pairs(voices: int) -> tuple[Array, Array]:
    high, low = np.triu_indices(voices, 1)
    return low, high


def natural(d: Array) -> Array:
    """MIDI numbers of staff steps without accidentals."""
    octaves, steps = np.divmod(d, 7)
    found: Array = _NATURAL[steps] + 12 * (octaves + 1)
    return found


class _Timed(Protocol):
    @property
    def onset(self) -> Fraction: ...
    @property
    def duration(self) -> Fraction: ...


_Ratios = tuple[tuple[int, int], tuple[int, int]]
"""Onset and duration of a note, each as numerator and denominator."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Voices x onsets. `d` and `m` hold staff steps and MIDI numbers of what sounds (meaningless where
    `sounds` is false); `struck`: a note begins here."""

    score: Score
    voices: tuple[str, ...]
    all_notes: Line
    """The notes of all voices one after another; the silences are counted on, so that no two voices
    share a number."""
    bounds: tuple[int, ...]
    """Where each voice begins among all notes, and the end of the last."""
    unit: int
    barlines: Array
    """Onset of each bar, in ticks."""
    ticks: Array
    place: Array
    """The sounding note's place among all notes."""
    d: Array
    m: Array
    sounds: Array
    struck: Array
    weight: Array
    """Metrical weight of each onset."""

    @classmethod
    def of(cls, score: Score) -> Grid:
        """Lay a score out; ties are joined, rests are silence."""
        parts = tuple(p for p in score.parts if any(n.pitch for n in p.notes))
        ratios = [
            [(n.onset.as_integer_ratio(), n.duration.as_integer_ratio()) for n in p.notes] for p in parts
        ]
        unit = lcm(
            *{b.onset.denominator for b in score.bars},
            *{x for part in ratios for (_, b), (_, d) in part for x in (b, d)},
        )
        notes: list[Note] = []
        rows: list[int] = []
        bounds = [0]
        for v, (part, ratio) in enumerate(zip(parts, ratios)):
            heard, numbers = _heard(part.notes, ratio, unit, v * _APART)
            notes += heard
            rows += numbers
            bounds.append(len(notes))
        line = _line(notes, rows)
        # Bar lines are looked at too: a note held over one must bear it.
        last = int(line.end.max()) if notes else 0
        starts = np.array([_ticks(b.onset, unit) for b in score.bars], dtype=np.int64)
        ticks = np.concatenate([starts[starts < last], line.start])
        ticks.sort()
        # What np.unique does, which costs much more to begin with.
        ticks = ticks[np.diff(ticks, prepend=ticks[:1] - 1) > 0] if notes else ticks[:0]
        # The voices end to end: one search finds every voice's note at every onset.
        firsts = np.array(bounds[:-1], dtype=np.int64)[:, None]
        apart = np.arange(len(parts))[:, None] * (last + 1)
        keys = line.start + (line.gap // _APART) * (last + 1)
        found = keys.searchsorted(ticks + apart, side="right") - 1
        place = np.maximum(found, firsts)
        sounds = (found >= firsts) & (ticks < line.end[place])
        struck = sounds & (line.start[place] == ticks)
        return cls(
            score,
            tuple(p.voice for p in parts),
            line,
            tuple(bounds),
            unit,
            starts,
            ticks,
            place,
            line.d[place],
            line.m[place],
            sounds,
            struck,
            _weights(score, starts, ticks, unit),
        )

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """The notes of each voice."""
        notes, *numbers = self.all_notes
        return tuple(Line(notes[a:b], *(x[a:b] for x in numbers)) for a, b in pairwise(self.bounds))

    def time(self, column: int) -> Fraction:
        """The onset of a column, in quarters."""
        found = self._times.get(column)
        if found is None:
            found = self._times[column] = Fraction(int(self.ticks[column]), self.unit)
        return found

    @cached_property
    def _times(self) -> dict[int, Fraction]:
        return {}

    def column(self, onset: Fraction) -> int | None:
        """The column of an onset, None when nothing happens there."""
        tick, rest = divmod(onset.numerator * self.unit, onset.denominator)
        place = int(self.ticks.searchsorted(tick))
        return place if not rest and place < len(self.ticks) and self.ticks[place] == tick else None

    def spans(self, things: Sequence[_Timed]) -> tuple[Array, Array]:
        """Beginning and end, in ticks, of things that have an onset and a duration."""
        rows = [(_ticks(x.onset, self.unit), _ticks(x.duration, self.unit)) for x in things]
        start, length = np.array(rows, dtype=np.int64).reshape(-1, 2).T
        return start, start + length

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
        return _pairs(len(self.voices))

    @cached_property
    def joined(self) -> Array:
        """Voices x onsets but the first: the voice sounds here and just before, without silence between."""
        both = self.sounds[:, 1:] & self.sounds[:, :-1]
        gaps = self.all_notes.gap[self.place]
        found: Array = both & (gaps[:, 1:] == gaps[:, :-1])
        return found

    @cached_property
    def beside(self) -> Array:
        """Pairs x onsets: no sounding part lies between the two in the score."""
        low, high = self.pairs
        above = np.cumsum(self.sounds, axis=0)
        found: Array = above[low] - above[high] <= 1
        return found

    def voice_of(self, place: int) -> str:
        """The voice of one of all the notes."""
        return self.voices[int(self.all_notes.gap[place]) // _APART]

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
        """For each of all notes: staff steps to the note `places` further on (negative: from the note
        before) in its voice; FAR across a silence or where there is none."""
        line, size = self.all_notes, abs(places)
        found = np.full(len(line.d), FAR, dtype=np.int64)
        if len(line.d) > size:
            move = np.where(line.gap[size:] == line.gap[:-size], line.d[size:] - line.d[:-size], FAR)
            found[slice(None, -size) if places > 0 else slice(size, None)] = move
        return found

    @cached_property
    def length(self) -> Array:
        """Quarters that each sounding note lasts."""
        found: Array = ((self.all_notes.end - self.all_notes.start) / self.unit)[self.place]
        return found

    @cached_property
    def weights(self) -> tuple[Array, Array]:
        """For each of all notes the weight of its onset, and of the strongest moment it sounds at."""
        own, peak = (np.full(len(self.all_notes.start), -9) for _ in range(2))
        weights = np.broadcast_to(self.weight, self.place.shape)
        own[self.place[self.struck]] = weights[self.struck]
        np.maximum.at(peak, self.place[self.sounds], weights[self.sounds])
        return own, peak

    def shifted(self, values: Array, places: int) -> Array:
        """For each of all notes the value of the note `places` further on in its voice; -9 if none."""
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


def _weights(score: Score, starts: Array, ticks: Array, unit: int) -> Array:
    """The metrical weight of each tick."""
    bar = np.maximum(starts.searchsorted(ticks, side="right") - 1, 0)
    offsets = (ticks - starts[bar]).tolist()
    # Few places in the bar are ever struck: each is weighed once.
    known = {o: _weight(score.metre, o, unit) for o in set(offsets)}
    return np.array([known[o] for o in offsets], dtype=np.int64)


@lru_cache(maxsize=4096)
def _weight(metre: Metre, offset: int, unit: int) -> int:
    return metre.weight(Fraction(offset, unit))
