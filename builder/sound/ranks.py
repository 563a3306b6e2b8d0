"""The ranks of an Italian organ as data: pitch, compass, breaking back, and what their pipes sound like.

To add a rank, add a line to `RANKS`; to add a kind of pipe, a table to `SPECTRA` and `SPEECH`. Levels and
times are of the size that the literature on flue pipes gives for open principals and wide flutes. They are
set down from memory of it, and not measured on an instrument:

- spectra: N. H. Fletcher and T. D. Rossing, *The Physics of Musical Instruments*, chapter 17 (a principal
  falls by about 8 to 14 dB an octave, steeper the smaller the pipe; a wide pipe faster, odd harmonics first);
- speech: D. H. Keeler, "The attack transients of some organ pipes" (1972); H. F. Pollard and E. V. Jansson,
  "Analysis and assessment of musical starting transients" (1982); A. W. Nolle and T. L. Finch, "Starting
  transients of flue organ pipes" (1992); M. Castellengo, "Acoustical analysis of initial transients in
  flute-like instruments" (1999): upper modes and a noise at the mouth come first, the fundamental is steady
  after some ten to thirty of its vibrations, a tenth of a second or two in the bass;
- wind: V. Rioux, *Sound Quality of Flue Organ Pipes* (2001): noise 35 to 60 dB below the tone, more audible
  in small and in wide pipes.
"""

from __future__ import annotations

import math
import zlib
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

MISTUNED, VOICED = 1.5, 1.0
"""Cents and decibels by which a pipe may differ from its neighbours: a rank just tuned, voiced by ear (our
own numbers, smaller than what is heard as out of tune)."""

Register = tuple[int, tuple[float, ...]]
SPECTRA: Mapping[str, tuple[Register, ...]] = MappingProxyType(
    {
        "principal": (
            (36, (0, -1, -3, -6, -8, -11, -13, -16, -18, -20, -21, -23, -24, -26, -27, -29)),
            (48, (0, -3, -6, -10, -13, -16, -18, -21, -23, -26, -28, -30, -32, -34)),
            (60, (0, -5, -9, -13, -17, -20, -23, -26, -29, -31, -34, -36)),
            (72, (0, -7, -13, -18, -23, -27, -31, -34)),
            (84, (0, -11, -19, -26, -32, -36)),
            (96, (0, -15, -26, -35)),
            (108, (0, -20, -36)),
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

SLOPE = -18.0
"""Decibels an octave by which the harmonics above the tabled ones fall (from memory, after the slopes that
N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, chapter 17, give for flue pipes). The
page goes on by the same slope."""


@dataclass(frozen=True, slots=True)
class Speech:
    """How a kind of pipe begins to speak, at C4; lower pipes are slower. Seconds for the fundamental
    and the overtones to rise by all but 1/e; level of the chiff in decibels below the tone, its
    length, and the harmonics between which it lies; level of the wind's steady hiss at C4, likewise, and
    by how much it is stronger an octave higher."""

    fundamental: float
    overtones: float
    chiff: float
    chiff_length: float
    chiff_low: float
    chiff_high: float
    hiss: float
    hiss_rises: float = 2.0

    def wind(self, sounding: float) -> float:
        """Decibels below the tone at which the wind hisses in a pipe of this pitch (MIDI)."""
        return self.hiss + self.hiss_rises * (sounding - 60) / 12


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

    def voiced(self, key: int) -> tuple[float, float]:
        """By how much a pipe differs from what it should be, from voicing and tuning by hand: cents
        and decibels, the same in every build and in the page. Eight-foot ranks bear the tuning: no cents.

        >>> RANKS["ottava"].voiced(60) == RANKS["ottava"].voiced(60) != RANKS["ottava"].voiced(61)
        True
        """
        mixed = (self.seed + key * 40_503) * 0x45D9F3B & 0xFFFFFFFF
        mixed = (mixed >> 16 ^ mixed) * 0x45D9F3B & 0xFFFFFFFF
        cents, level = (mixed >> 16) / 65_535 * 2 - 1, (mixed & 0xFFFF) / 65_535 * 2 - 1
        return (MISTUNED * cents if self.harmonic > 1 else 0.0), VOICED * level

    @property
    def seed(self) -> int:
        """The number from which the differences between its pipes come."""
        return zlib.crc32(self.name.encode()) & 0x7FFF

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
            Rank("ottava", "4′", 2, "principal", -5.0),
            Rank("quintadecima", "2′", 4, "principal", -8.0),
            Rank("decimanona", "1⅓′", 6, "principal", -10.0),
            Rank("vigesimaseconda", "1′", 8, "principal", -11.0),
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
    rows = [(at, _continued(levels, count)) for at, levels in SPECTRA[kind]]
    levels = [interpolate(tuple((at, row[n]) for at, row in rows), sounding) for n in range(count)]
    heard = [10 ** (level / 20) for level in levels]
    rms = math.sqrt(sum(a * a for a in heard) / 2)
    return tuple(a / rms for a in heard)


def _continued(levels: tuple[float, ...], count: int) -> tuple[float, ...]:
    """The levels of `count` harmonics, those above the given ones on an even slope in decibels an octave."""
    last = len(levels)
    beyond = (levels[-1] + SLOPE * math.log2(n / last) for n in range(last + 1, count + 1))
    return (*levels, *beyond)[:count]
