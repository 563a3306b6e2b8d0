"""Tunings: how high each spelled note stands, and where the wolf howls.

Sizes of the regular tunings follow from the size of the fifth; J. M. Barbour, *Tuning and Temperament*
(1951), prints the tables. Attributions to Zarlino (1558) and Salinas (1577) are from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import product
from types import MappingProxyType

from builder.music.consonance import FOURTH, consonant
from builder.music.pitch import Pitch

A4 = 440.0
"""Hertz; ISO 16."""
LOWEST_A4, HIGHEST_A4 = 392.0, 520.0
"""Hertz: the pitches of A between which an organ is tuned here."""

LETTERS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
"""The twelve keys as they are named when nothing else is said."""

COMMA = 1200 * math.log2(81 / 80)
"""The syntonic comma in cents: what four pure fifths exceed a pure third by."""
FIFTH = 1200 * math.log2(3 / 2)

PURE = {0: 0.0, 3: 315.641, 4: 386.314, 5: 498.045, 7: 701.955, 8: 813.686, 9: 884.359}
"""Cents of the pure consonances by number of keys within the octave (ratios 6/5, 5/4, 4/3 …)."""
_PERFECT_LIMIT, _IMPERFECT_LIMIT = 12.0, 20.0
# Our own limits, in cents: fifths of every tuning in use here stay within 8, every wolf is beyond 15.
# Thirds may be as wide as the tuning makes its ordinary ones (22 in the Pythagorean).


@dataclass(frozen=True)
class Tuning:
    """A tuning of the keyboard.

    `keys` gives cents above C for each spelled note that has a key or half of a split one;
    `fifth` is the size in cents of its ordinary fifth, None when it has no ordinary one;
    `enharmonic` when a key serves for every spelling (equal temperament).

    >>> mean = TUNINGS["quarter-comma"]
    >>> round(mean.frequency(Pitch.parse("E4")), 3)
    328.977
    >>> mean.has(Pitch.parse("D#4")), mean.sounds_as(Pitch.parse("D#4"))
    (False, Pitch('Eb4'))
    >>> mean.wolf(Pitch.parse("G#3"), Pitch.parse("Eb4")), mean.wolf(Pitch.parse("G3"), Pitch.parse("D4"))
    (True, False)
    """

    name: str
    keys: tuple[tuple[str, float], ...]
    fifth: float | None = None
    enharmonic: bool = False

    def __hash__(self) -> int:
        return hash(self.name)

    @cached_property
    def _cents(self) -> Mapping[str, float]:
        return dict(self.keys)

    @cached_property
    def _by_key(self) -> Mapping[int, tuple[str, ...]]:
        found: dict[int, tuple[str, ...]] = {}
        for letter, _ in self.keys:
            found[key_of(letter)] = (*found.get(key_of(letter), ()), letter)
        return found

    @cached_property
    def letters(self) -> tuple[str, ...]:
        """The notes that are there, upwards from C."""
        return tuple(letter for letter, _ in sorted(self.keys, key=lambda k: (key_of(k[0]), k[1])))

    @property
    def split(self) -> tuple[tuple[str, str], ...]:
        """The split keys: the two notes of each."""
        return tuple((v[0], v[1]) for _, v in sorted(self._by_key.items()) if len(v) > 1)

    def has(self, pitch: Pitch) -> bool:
        """Whether the spelled note is there (D sharp and A flat usually are not)."""
        return self.enharmonic or pitch.letter in self._cents

    def sounds_as(self, pitch: Pitch) -> Pitch:
        """The note that sounds when a pitch is played: itself, or the key that is there instead."""
        if pitch.letter in self._cents:
            return pitch
        letter = self._by_key[pitch.midi % 12][0]
        found = Pitch.parse(f"{letter}{pitch.octave}")
        return Pitch(found.diatonic + 7 * ((pitch.midi - found.midi) // 12), found.alter)

    def cents(self, pitch: Pitch) -> float:
        """Cents above C4, as it sounds.

        >>> round(TUNINGS["quarter-comma"].cents(Pitch.parse("Bb4")), 2)
        1006.84
        """
        sound = self.sounds_as(pitch)
        return self._cents[sound.letter] + 1200.0 * (sound.octave - 4)

    def frequency(self, pitch: Pitch, a4: float = A4) -> float:
        """Hertz of a pitch with A above middle C at `a4` hertz; `ValueError` outside 392–520."""
        if not LOWEST_A4 <= a4 <= HIGHEST_A4:
            raise ValueError(f"A at {a4:g} Hz is not between {LOWEST_A4:g} and {HIGHEST_A4:g} Hz")
        return a4 * math.exp2((self.cents(pitch) - self._cents["A"]) / 1200.0)

    def size(self, low: Pitch, high: Pitch) -> float:
        """The sounding interval in cents."""
        return self.cents(high) - self.cents(low)

    def error(self, low: Pitch, high: Pitch) -> float | None:
        """Cents by which an interval exceeds the pure consonance of as many keys (an octave or more
        is reduced); None when so many keys are no consonance.

        >>> mean = TUNINGS["quarter-comma"]
        >>> [round(mean.error(Pitch.parse("D4"), Pitch.parse(p)) or 0.0, 2) for p in ("F#4", "A4", "F4")]
        [-0.0, -5.38, -5.38]
        """
        if high.midi < low.midi:
            low, high = high, low
        octaves, keys = divmod(high.midi - low.midi, 12)
        if keys not in PURE:
            return None
        return self.size(low, high) - 1200.0 * octaves - PURE[keys]

    def wolf(self, low: Pitch, high: Pitch, *, spelled: bool = False) -> bool:
        """Whether two keys that should make a consonance howl. Judged by the keys, so that B–E flat
        counts as the third it is played as; with `spelled` only intervals written as consonances
        count (an augmented second is then the dissonance it is meant to be).

        >>> mean = TUNINGS["quarter-comma"]
        >>> b, eb, ds = map(Pitch.parse, ("B3", "Eb4", "D#4"))
        >>> mean.wolf(b, eb), mean.wolf(b, eb, spelled=True), mean.wolf(b, ds, spelled=True)
        (True, False, True)
        """
        if spelled and not _ought_to_be_pure(low, high):
            return False
        error = self.error(low, high)
        if error is None:
            return False
        keys = abs(high.midi - low.midi) % 12
        return abs(error) > self._limit[keys] + 0.01

    @cached_property
    def _limit(self) -> Mapping[int, float]:
        third = 0.0 if self.fifth is None else abs(self.fifth * 4 - 2400 - PURE[4])
        minor = 0.0 if self.fifth is None else abs(1200 * 2 - self.fifth * 3 + 0.0 - PURE[3])
        wide = max(_IMPERFECT_LIMIT, third + 1, minor + 1)
        return {k: _PERFECT_LIMIT if k in (0, 5, 7) else wide for k in PURE}

    def wolves(self) -> tuple[tuple[str, str, float], ...]:
        """The fifths and thirds that howl, as letters (low, high) with cents from pure; of a split
        key each half is tried and the better counts.

        >>> [(a, b, round(c, 1)) for a, b, c in TUNINGS["quarter-comma"].wolves()][:3]
        [('G#', 'Eb', 35.7), ('C#', 'F', 41.1), ('F#', 'Bb', 41.1)]
        """
        found = []
        for keys in (7, 4, 3):
            for _, halves in sorted(self._by_key.items()):
                tries = [
                    (abs(error), low, high, error)
                    for low, high in product(halves, self._by_key[(key_of(halves[0]) + keys) % 12])
                    if (error := self.error(*_pair(low, high))) is not None
                ]
                _, low, high, error = min(tries)
                if self.wolf(*_pair(low, high)):
                    found.append((low, high, error))
        return tuple(found)


def key_of(letter: str) -> int:
    """The key within the octave, 0 for C to 11 for B.

    >>> key_of("C"), key_of("Bb"), key_of("G#")
    (0, 10, 8)
    """
    return Pitch.parse(f"{letter}4").midi % 12


def _pair(low: str, high: str) -> tuple[Pitch, Pitch]:
    start, end = Pitch.parse(f"{low}4"), Pitch.parse(f"{high}4")
    return start, end if end.midi > start.midi else Pitch(end.diatonic + 7, end.alter)


def _ought_to_be_pure(low: Pitch, high: Pitch) -> bool:
    """Whether an interval is written as one that ought to be pure: a consonance or a perfect fourth."""
    low, high = sorted((low, high))
    steps, keys = high.diatonic - low.diatonic, high.midi - low.midi
    return consonant(steps, keys) or (steps % 7, keys % 12) == FOURTH


def fifths_from_c(letter: str) -> int:
    """The place of a note on the line of fifths: 0 for C, 1 for G, -3 for E flat, 8 for G sharp.

    >>> [fifths_from_c(letter) for letter in ("F", "C", "B", "G#", "Ab")]
    [-1, 0, 5, 8, -4]
    """
    pitch = Pitch.parse(f"{letter}4")
    return "FCGDAEB".index(letter[0]) - 1 + 7 * pitch.alter


def regular(name: str, fifth: float, letters: Iterable[str] = LETTERS) -> Tuning:
    """A tuning whose fifths are all of one size in cents, but for the wolf."""
    keys = tuple((letter, fifths_from_c(letter) * fifth % 1200.0) for letter in letters)
    return Tuning(name, keys, fifth)


_JUST = {
    **{"C": "1", "C#": "25/24", "Db": "16/15", "D": "9/8", "D#": "75/64", "Eb": "6/5", "E": "5/4"},
    **{"F": "4/3", "F#": "45/32", "Gb": "36/25", "G": "3/2", "G#": "25/16", "Ab": "8/5", "A": "5/3"},
    **{"A#": "225/128", "Bb": "9/5", "B": "15/8"},
}
# Zarlino's syntonic diatonic (1558) with sharps as pure thirds above, flats as pure minor thirds above
# their neighbours: pure in C, F, G, A and E; the fifths D–A and B flat–F are a comma short.


def just(letters: Iterable[str] = LETTERS) -> Tuning:
    """The just tuning; `KeyError` for a note that has no ratio in it."""
    keys = tuple((letter, 1200 * math.log2(Fraction(_JUST[letter]))) for letter in letters)
    return Tuning("just", keys)


_NAMED = (
    regular("quarter-comma", FIFTH - COMMA / 4),
    regular("two-sevenths-comma", FIFTH - COMMA * 2 / 7),
    regular("third-comma", FIFTH - COMMA / 3),
    regular("sixth-comma", FIFTH - COMMA / 6),
    regular("pythagorean", FIFTH),
    just(),
    replace(regular("equal", 700.0), enharmonic=True),
)

TUNINGS: Mapping[str, Tuning] = MappingProxyType({t.name: t for t in _NAMED})
"""The tunings by name; what each is for is said in `language/texts`."""
QUARTER_COMMA = TUNINGS["quarter-comma"]
"""The tuning of whatever asks for no other."""
