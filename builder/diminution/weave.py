"""The voices as the search changes them: whole numbers for pitches, ticks for time.

Internal to the room. Everything that leaves it is notes again.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from builder.diminution.texture import metrical_weights
from builder.music import Note, Part, Score, Version, spelled
from builder.source import Verset

SILENT = -1


class Tone(NamedTuple):
    """A note in a voice: first tick, tick after the last, staff step, key number."""

    start: int
    end: int
    d: int
    m: int


class Change(NamedTuple):
    """What a proposal does to one voice: its notes that begin in the ticks `start` to `end` go, others
    come."""

    voice: int
    start: int
    end: int
    tones: tuple[Tone, ...]


class Weave:
    """All voices, highest first, over `size` ticks of which `unit` make a quarter note."""

    def __init__(self, score: Score, finest: int = 4) -> None:
        self.score = score
        parts = [part.sounding() for part in score.parts]
        self.first = score.bars[0].onset
        times = [t for notes in parts for n in notes for t in (n.onset - self.first, n.duration)]
        self.unit = lcm(finest, *(t.denominator for t in times))
        self.voices = tuple(p.voice for p in score.parts)
        self.size = int((max([score.end, *(n.end for row in parts for n in row)]) - self.first) * self.unit)
        self.weight = metrical_weights(score, self.unit, self.size)
        self.tones: list[list[Tone]] = [[self.tone(n) for n in row] for row in parts]
        self.notes: dict[Tone, Note] = {}
        self.d: list[list[int]] = []
        self.m: list[list[int]] = []
        self.on: list[list[int]] = []
        for row in self.tones:
            for grid in (self.d, self.m, self.on):
                grid.append([SILENT] * self.size)
            for tone in row:
                self._lay(len(self.d) - 1, tone)

    def cut(self, tick: int) -> None:
        """Strike the notes that sound at a tick again."""
        for v, row in enumerate(self.tones):
            k = self.place(v, tick + 1) - 1
            if k >= 0 and row[k].start < tick < row[k].end:
                one = row[k]
                self.apply(Change(v, one.start, one.end, (one._replace(end=tick), one._replace(start=tick))))

    def mend(self, tick: int) -> None:
        """Hold on the notes that are merely struck again at a tick."""
        for v, row in enumerate(self.tones):
            k = self.place(v, tick)
            if 0 < k < len(row) and row[k].start == tick == row[k - 1].end and row[k - 1].m == row[k].m:
                a, b = row[k - 1], row[k]
                self.apply(Change(v, a.start, b.end, (a._replace(end=b.end),)))

    def tick(self, time: Fraction) -> int:
        return int((time - self.first) * self.unit)

    def time(self, tick: int) -> Fraction:
        return self.first + Fraction(tick, self.unit)

    def tone(self, note: Note) -> Tone:
        assert note.pitch is not None
        return Tone(self.tick(note.onset), self.tick(note.end), note.pitch.diatonic, note.pitch.midi)

    def _lay(self, voice: int, tone: Tone) -> None:
        a, b, d, m = tone
        n = b - a
        self.d[voice][a:b] = [d] * n
        self.m[voice][a:b] = [m] * n
        self.on[voice][a:b] = [a] * n

    def place(self, voice: int, tick: int) -> int:
        """Number of the first note of a voice that begins at a tick or later."""
        return bisect_left(self.tones[voice], (tick,))

    def inside(self, voice: int, start: int, end: int) -> list[Tone]:
        """The notes of a voice that begin in a stretch."""
        row = self.tones[voice]
        return row[self.place(voice, start) : self.place(voice, end)]

    def apply(self, change: Change) -> Change:
        """Make a change; the change that takes it back."""
        voice, start, end, tones = change
        row = self.tones[voice]
        a, b = self.place(voice, start), self.place(voice, end)
        old = tuple(row[a:b])
        row[a:b] = tones
        n = end - start
        for grid in (self.d, self.m, self.on):
            grid[voice][start:end] = [SILENT] * n
        for tone in tones:
            self._lay(voice, tone)
        return Change(voice, start, end, old)

    def lay_all(self, rows: Sequence[Sequence[Tone]]) -> None:
        """Give every voice other notes throughout."""
        for v, row in enumerate(rows):
            self.apply(Change(v, 0, self.size, tuple(row)))

    def scored(self) -> Score:
        """The voices as notes."""
        parts = []
        for v, name in enumerate(self.voices):
            parts.append(Part(name, tuple(self.note(t) for t in self.tones[v])))
        return replace(self.score, version=Version.DIMINISHED, parts=tuple(parts))

    def note(self, tone: Tone) -> Note:
        found = self.notes.get(tone)
        if found is None:
            length = Fraction(tone.end - tone.start, self.unit)
            found = self.notes[tone] = Note(self.time(tone.start), length, spelled(tone.d, tone.m))
        return found


def changed(weave: Weave, changes: Iterable[Change]) -> list[Change]:
    """Make changes; those that take them back, in the order in which to do it."""
    return [weave.apply(c) for c in changes][::-1]


def given_voices(weave: Weave, verset: Verset) -> list[int]:
    """Which voice has the given line at each tick (-1: none)."""
    having = [-1] * weave.size
    for g in verset.given:
        if g.note.pitch is not None and g.voice in weave.voices:
            begin, end = weave.tick(g.note.onset), weave.tick(g.note.end)
            having[begin:end] = [weave.voices.index(g.voice)] * (end - begin)
    return having
