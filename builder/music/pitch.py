"""Spelled pitch and spelled intervals, in scientific pitch notation."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

STEPS = "CDEFGAB"
SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_SIGNS = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}
_PITCH = re.compile(r"([A-G])(##|#|bb|b)?(-?[0-9])")


@dataclass(frozen=True, slots=True, order=True)
class Pitch:
    """A spelled pitch: D sharp is not E flat.

    `diatonic` counts staff steps above C0 (C4 is 28); `alter` is in semitones.

    >>> Pitch.parse("Bb4")
    Pitch('Bb4')
    >>> Pitch.parse("A4").midi, Pitch.parse("C4").diatonic
    (69, 28)
    """

    diatonic: int
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read scientific pitch notation such as `C#4`; `ValueError` when it is not."""
        match = _PITCH.fullmatch(text)
        if not match:
            raise ValueError(f"{text!r} is not a pitch such as D5, Bb4 or F#3")
        step, sign, octave = match.groups()
        return cls(int(octave) * 7 + STEPS.index(step), _SIGNS[sign or ""])

    @property
    def step(self) -> int:
        """0 for C to 6 for B."""
        return self.diatonic % 7

    @property
    def octave(self) -> int:
        return self.diatonic // 7

    @property
    def midi(self) -> int:
        """MIDI key number; 60 is C4."""
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter

    @property
    def letter(self) -> str:
        """Letter with accidental, no octave: `Bb`."""
        return STEPS[self.step] + ("#" if self.alter > 0 else "b") * abs(self.alter)

    @property
    def name(self) -> str:
        return f"{self.letter}{self.octave}"

    def up(self, interval: Interval) -> Pitch:
        """The pitch an interval above (below when the interval descends).

        >>> Pitch.parse("D4").up(Interval(4, 7))
        Pitch('A4')
        """
        return spelled(self.diatonic + interval.steps, self.midi + interval.semitones)

    def __repr__(self) -> str:
        return f"Pitch({self.name!r})"

    def __str__(self) -> str:
        return self.name


_PERFECT = {0: 0, 3: 5, 4: 7}
_MAJOR = {1: 2, 2: 4, 5: 9, 6: 11}


@lru_cache(maxsize=4096)
def spelled(diatonic: int, midi: int) -> Pitch:
    """The pitch on a staff step (from C0) that sounds a MIDI key.

    >>> spelled(28, 61), spelled(29, 61)
    (Pitch('C#4'), Pitch('Db4'))
    """
    return Pitch(diatonic, midi - Pitch(diatonic).midi)


@dataclass(frozen=True, slots=True, order=True)
class Interval:
    """A spelled interval; both counts are negative when it descends.

    >>> Interval.between(Pitch.parse("E4"), Pitch.parse("C5")).name
    'm6'
    >>> Interval.between(Pitch.parse("F3"), Pitch.parse("B4")).name
    'A11'
    """

    steps: int
    semitones: int

    @classmethod
    def between(cls, start: Pitch, end: Pitch) -> Interval:
        return cls(end.diatonic - start.diatonic, end.midi - start.midi)

    @property
    def number(self) -> int:
        """1 for a unison, 5 for a fifth, 12 for a twelfth."""
        return abs(self.steps) + 1

    @property
    def simple(self) -> int:
        """The number reduced to 1–7; an octave counts as 1."""
        return abs(self.steps) % 7 + 1

    @property
    def quality(self) -> str:
        """`P`, `M`, `m`, `A`, `d` (doubled when doubly so)."""
        sign = -1 if self.steps < 0 or (self.steps == 0 and self.semitones < 0) else 1
        octaves, step = divmod(abs(self.steps), 7)
        size = sign * self.semitones - 12 * octaves
        if step in _PERFECT:
            off = size - _PERFECT[step]
            return "P" if off == 0 else ("A" * off if off > 0 else "d" * -off)
        off = size - _MAJOR[step]
        if off >= 0:
            return "A" * off or "M"
        return "m" if off == -1 else "d" * (-off - 1)

    @property
    def fifths(self) -> int:
        """How many fifths, without their octaves, lead to it: two to a tone higher, one back to a fourth.

        >>> Interval(1, 2).fifths, Interval(3, 5).fifths
        (2, -1)
        """
        return 7 * self.semitones - 12 * self.steps

    @property
    def name(self) -> str:
        return f"{self.quality}{self.number}"
