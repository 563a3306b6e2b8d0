"""A score laid out in ticks, for the inner loop of the search: what every voice sounds at any time.

Internal to the room: lists of integers, because a chooser that asks a million small questions
cannot afford fractions. Everything that leaves the room is notes again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from math import lcm

from builder.music import Bar, Metre, Note, Pitch, Score, metrical_weight

SILENT = -1


@dataclass(slots=True)
class Line:
    """One voice: staff step, key number and onset of the note that sounds at each tick."""

    dia: list[int]
    midi: list[int]
    start: list[int]

    def lay(self, start: int, end: int, dia: int, midi: int) -> None:
        """Set a note over the ticks from start to end."""
        span = end - start
        self.dia[start:end] = [dia] * span
        self.midi[start:end] = [midi] * span
        self.start[start:end] = [start] * span

    def silence(self, start: int, end: int) -> None:
        """Rest over the ticks from start to end."""
        span = end - start
        self.dia[start:end] = self.midi[start:end] = self.start[start:end] = [SILENT] * span


@dataclass(slots=True)
class Stem:
    """A plain note that may be divided: its place in its voice and in time, its neighbours, and the
    earliest tick at which it may begin to move (its end: not at all)."""

    voice: int
    index: int
    start: int
    end: int
    pitch: Pitch
    before: Pitch | None
    after: Pitch | None
    note: Note
    earliest: int = 0
    zone: str = "middle"
    opens: bool = False
    """First note after silence."""
    suspended: bool = False
    """Becomes a dissonance that falls by step."""
    closes: bool = False
    """Leading note of a cadence, or the suspension before it."""


@dataclass(slots=True)
class Texture:
    """All voices, from the highest, over `size` ticks of which `unit` make a quarter note."""

    score: Score
    unit: int
    size: int
    voices: tuple[str, ...]
    lines: list[Line]
    stems: list[list[Stem]]
    level: list[int]
    """Metrical weight of each tick: 3 first beat, 2 middle of the bar, 1 beats, 0 half beats, then down."""
    beats: list[int] = field(default_factory=list)
    beat_number: dict[int, int] = field(default_factory=dict)
    """Tick of a beat -> its number from the beginning."""

    def tick(self, time: Fraction) -> int:
        return int((time - self.score.bars[0].onset) * self.unit)

    def time(self, tick: int) -> Fraction:
        return self.score.bars[0].onset + Fraction(tick, self.unit)


def lay_out(score: Score) -> Texture:
    """The texture of a sounding score. Ties are joined; time between notes is silence.

    >>> from builder.source import EXAMPLE, parse
    >>> found = lay_out(parse(EXAMPLE).score())
    >>> found.voices, [str(stem.pitch) for stem in found.stems[0][:3]]
    (('cantus', 'altus'), ['D5', 'A4', 'B4'])
    """
    parts = [part.sounding() for part in score.parts]
    times = [t for notes in parts for n in notes for t in (n.onset, n.duration)]
    first = score.bars[0].onset
    unit = lcm(8, *(t.denominator for t in times), first.denominator)
    end = max([score.end, *(n.end for notes in parts for n in notes)])
    size = int((end - first) * unit)
    lines = [Line([SILENT] * size, [SILENT] * size, [SILENT] * size) for _ in parts]
    texture = Texture(
        score, unit, size, tuple(p.voice for p in score.parts), lines, [], metrical_weights(score, unit, size)
    )
    for voice, notes in enumerate(parts):
        for note in notes:
            assert note.pitch is not None
            begin, stop = texture.tick(note.onset), texture.tick(note.end)
            lines[voice].lay(begin, stop, note.pitch.diatonic, note.pitch.midi)
        texture.stems.append(_stems(texture, voice, notes))
    texture.beats = [k for k in range(size) if texture.level[k] >= 1]
    texture.beat_number = {tick: n for n, tick in enumerate(texture.beats)}
    return texture


def _stems(texture: Texture, voice: int, notes: Sequence[Note]) -> list[Stem]:
    stems = []
    for n, note in enumerate(notes):
        assert note.pitch is not None
        last = notes[n - 1] if n and notes[n - 1].end == note.onset else None
        following = notes[n + 1] if n + 1 < len(notes) and notes[n + 1].onset == note.end else None
        stems.append(
            Stem(
                voice,
                n,
                texture.tick(note.onset),
                texture.tick(note.end),
                note.pitch,
                last.pitch if last else None,
                following.pitch if following else None,
                note,
                earliest=texture.tick(note.onset),
                opens=last is None,
            )
        )
    return stems


def metrical_weights(score: Score, unit: int, size: int) -> list[int]:
    """The metrical weight of each tick."""
    return list(_weights(tuple(score.bars), score.metre, unit, size))


@lru_cache(maxsize=8)
def _weights(bars: tuple[Bar, ...], metre: Metre, unit: int, size: int) -> tuple[int, ...]:
    return tuple(metrical_weight(bars, metre, bars[0].onset + Fraction(n, unit)) for n in range(size))
