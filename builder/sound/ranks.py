"""The ranks of an Italian organ as data: pitch, compass, breaking back, and what their pipes sound like.

To add a rank, add a line to `RANKS`; to add a kind of pipe, a table to `SPECTRA` and `SPEECH`. Levels
are measured-like: of the size and slope that the general literature on organ pipes gives for open
principals and wide flutes (from memory; not measured on an instrument).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY

BRIGHTEST = 16_000.0
"""Hertz above which no harmonic is made."""
TOP = 108
"""The highest pipe of a rank, as the MIDI number of the note it sounds: about an eighth of a foot. A
key that would need a higher pipe breaks back an octave."""

Register = tuple[int, tuple[float, ...]]
SPECTRA: Mapping[str, tuple[Register, ...]] = MappingProxyType(
    {
        "principal": (
            (36, (0, -1, -4, -8, -10, -14, -16, -20, -22, -25, -27, -30, -32, -35, -37, -40)),
            (48, (0, -3, -7, -12, -15, -19, -22, -26, -29, -33, -36, -39)),
            (60, (0, -6, -11, -17, -21, -26, -30, -34, -38, -42)),
            (72, (0, -9, -16, -23, -29, -35, -41)),
            (84, (0, -13, -22, -31, -39)),
            (96, (0, -17, -30, -42)),
            (108, (0, -22, -40)),
        ),
        "flute": (
            (36, (0, -9, -10, -20, -22, -31, -34, -42)),
            (48, (0, -12, -13, -25, -28, -38)),
            (60, (0, -16, -18, -31, -37)),
            (72, (0, -20, -25, -40)),
            (96, (0, -28, -40)),
        ),
    }
)
"""The strong harmonics in decibels below the fundamental, by kind of pipe, at some sounding pitches (MIDI).
Above them a pipe's harmonics go on falling, by `SLOPE`."""

SLOPE: Mapping[str, float] = MappingProxyType({"principal": -14.0, "flute": -18.0})
"""Decibels an octave by which the harmonics above the tabled ones fall, by kind of pipe: the edge tone of a
narrow pipe carries further up than a wide one's (from memory, after the slopes that N. H. Fletcher and
T. D. Rossing, The Physics of Musical Instruments, chapter 17, give for flue pipes)."""


@dataclass(frozen=True, slots=True)
class Speech:
    """How a kind of pipe begins to speak, at C4; lower pipes are slower. Seconds for the fundamental
    and the overtones to rise by all but 1/e; level of the chiff in decibels below the tone, its
    length, and the harmonics between which it lies; level of the wind's steady hiss, likewise."""

    fundamental: float
    overtones: float
    chiff: float
    chiff_length: float
    chiff_low: float
    chiff_high: float
    hiss: float


SPEECH: Mapping[str, Speech] = MappingProxyType(
    {
        "principal": Speech(0.026, 0.011, -27.0, 0.028, 2.0, 7.0, -52.0),
        "flute": Speech(0.018, 0.014, -22.0, 0.035, 2.0, 5.0, -48.0),
    }
)


@dataclass(frozen=True, slots=True)
class Rank:
    """A rank of pipes. `harmonic`: which harmonic of an eight-foot pipe its pipes sound (4 for two
    foot). `level` in decibels. `lowest` and `highest`: keys (MIDI) it has pipes for. `beats`: for a
    rank tuned sharp, beats a second against the principale at some keys."""

    name: str
    feet: str
    harmonic: int
    kind: str
    level: float
    lowest: int = LOWEST_KEY.midi
    highest: int = HIGHEST_KEY.midi
    beats: tuple[tuple[int, float], ...] = ()

    def has(self, key: int) -> bool:
        return self.lowest <= key <= self.highest

    def sounding_harmonic(self, key: int) -> float:
        """The harmonic of eight foot that a key sounds, after breaking back.

        >>> RANKS["vigesimanona"].sounding_harmonic(48), RANKS["vigesimanona"].sounding_harmonic(72)
        (16, 8)
        """
        harmonic: float = self.harmonic
        while key + 12 * math.log2(harmonic) > TOP + 0.5 and harmonic > 1:
            harmonic /= 2
        return harmonic if harmonic != int(harmonic) else int(harmonic)

    def detune(self, key: int, hertz: float) -> float:
        """Cents by which a pipe is tuned sharp of its place, from the beats wanted at that key."""
        if not self.beats:
            return 0.0
        return 1200 * math.log2(1 + interpolate(self.beats, key) / hertz)

    def spectrum(self, key: int) -> tuple[float, ...]:
        """Amplitudes of the harmonics of the pipe that a key sounds, as parts of an RMS of 1."""
        return spectrum(self.kind, key + 12 * math.log2(self.sounding_harmonic(key)))

    def gain(self, key: int) -> float:
        """RMS of the pipe's tone: trebles a little softer, as voiced for a room."""
        return float(10 ** ((self.level - (key - 60) / 12.0) / 20))


RANKS: Mapping[str, Rank] = MappingProxyType(
    {
        rank.name: rank
        for rank in (
            Rank("principale", "8′", 1, "principal", 0.0),
            Rank("ottava", "4′", 2, "principal", -3.0),
            Rank("quintadecima", "2′", 4, "principal", -6.0),
            Rank("decimanona", "1⅓′", 6, "principal", -9.0),
            Rank("vigesimaseconda", "1′", 8, "principal", -10.0),
            Rank("vigesimasesta", "⅔′", 12, "principal", -12.0),
            Rank("vigesimanona", "½′", 16, "principal", -13.0),
            Rank("flauto", "4′", 2, "flute", -3.0),
            Rank("flauto in duodecima", "2⅔′", 3, "flute", -6.0),
            Rank(
                "fiffaro", "8′", 1, "principal", -1.5, 60, HIGHEST_KEY.midi, ((60, 2.0), (72, 3.0), (84, 4.5))
            ),
        )
    }
)
"""All ranks, the fiffaro in the treble only (from C4)."""

RIPIENO = (
    *("principale", "ottava", "quintadecima", "decimanona"),
    *("vigesimaseconda", "vigesimasesta", "vigesimanona"),
)


def interpolate(points: tuple[tuple[int, float], ...], at: float) -> float:
    """A value between tabled ones, held level outside them.

    >>> interpolate(((60, 2.0), (72, 3.0)), 66), interpolate(((60, 2.0), (72, 3.0)), 80)
    (2.5, 3.0)
    """
    if at <= points[0][0]:
        return points[0][1]
    for (low, a), (high, b) in pairwise(points):
        if at <= high:
            return a + (b - a) * (at - low) / (high - low)
    return points[-1][1]


def spectrum(kind: str, sounding: float) -> tuple[float, ...]:
    """Amplitudes of the harmonics at a sounding pitch (MIDI), so scaled that their RMS is 1.

    They go up to `BRIGHTEST`, and no step in them is a cliff:

    >>> low, high = spectrum("principal", 36), spectrum("principal", 84)
    >>> len(low), len(high), high[1] / high[0] < low[1] / low[0]
    (244, 15, True)
    """
    count = max(1, int(BRIGHTEST / (440 * 2 ** ((sounding - 69) / 12))))
    rows = [(at, _continued(levels, count, SLOPE[kind])) for at, levels in SPECTRA[kind]]
    levels = [interpolate(tuple((at, row[n]) for at, row in rows), sounding) for n in range(count)]
    heard = [10 ** (level / 20) for level in levels]
    rms = math.sqrt(sum(a * a for a in heard) / 2)
    return tuple(a / rms for a in heard)


def _continued(levels: tuple[float, ...], count: int, slope: float) -> tuple[float, ...]:
    """The levels of `count` harmonics, those above the given ones on an even slope in decibels an octave."""
    last = len(levels)
    beyond = (levels[-1] + slope * math.log2(n / last) for n in range(last + 1, count + 1))
    return (*levels, *beyond)[:count]
