"""Every legal voicing of one sonority: which tone each upper voice takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from builder.counterpoint.costs import Parts, Weights
from builder.counterpoint.sonority import Role, Variant
from builder.counterpoint.standing import hand_spans, occurrences
from builder.music import KEYBOARD, Pitch

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class Shape:
    """What the voicings of an event depend on; equal shapes share their voicings."""

    bass: Pitch
    voice: str
    upper: tuple[str, ...]
    variants: tuple[Variant, ...]
    opening: bool = False
    closing: bool = False
    cadence: bool = False
    strong: bool = True
    pins: tuple[tuple[str, Pitch], ...] = ()
    loose: int = 0
    """0: all rules on; 1: voices may stand further apart; 2: a tone may be missing; 3: any tones."""


@dataclass(frozen=True, slots=True, eq=False)
class Voicings:
    """The voicings of one shape as arrays, one row each: staff steps, MIDI numbers, roles and
    numbers above the bass of the upper voices (highest first), and what each costs by name."""

    shape: Shape
    d: Array
    m: Array
    role: Array
    number: Array
    parts: Parts
    cost: Array

    def __len__(self) -> int:
        return int(self.d.shape[0])


class _Tone(NamedTuple):
    d: int
    m: int
    number: int
    alter: int
    role: Role


@lru_cache(maxsize=20_000)
def _places(bass: Pitch, voice: str, variant: Variant) -> tuple[_Tone, ...]:
    """Where a voice may sound the members of a sonority: within its keyboard compass, not below the bass."""
    low, high = KEYBOARD[voice]
    found = []
    for member in variant.members:
        for octave in range(5):
            d = bass.diatonic + member.offset + 7 * octave
            pitch = Pitch(d, member.alter)
            if pitch.midi < bass.midi or not low.diatonic <= d <= high.diatonic:
                continue
            if member.number == 9 and d - bass.diatonic < 8:
                continue
            found.append(_Tone(d, pitch.midi, member.number, member.alter, member.role))
    return tuple(sorted(found, key=lambda t: -t.m))


def _pinned(bass: Pitch, pitch: Pitch) -> tuple[_Tone, ...]:
    number = (pitch.diatonic - bass.diatonic) % 7 + 1
    return (_Tone(pitch.diatonic, pitch.midi, number, pitch.alter, Role.FREE),)


def _rows(shape: Shape, variant: Variant) -> Iterator[tuple[_Tone, ...]]:
    """Voicings of one variant, pruned as they grow: no crossing, no gap beyond an octave, no doubled
    dissonance or raised note, all that must sound."""
    pins = dict(shape.pins)
    places = [
        _pinned(shape.bass, pins[v]) if v in pins else _places(shape.bass, v, variant) for v in shape.upper
    ]
    must = set(variant.must(len(shape.upper))) if shape.loose < 2 else set()
    gap = 7 if shape.loose < 1 else 11
    alone = {m.number for m in variant.members if m.role is not Role.FREE}
    sharp = {m.number for m in variant.members if m.raised}

    def grow(row: tuple[_Tone, ...]) -> Iterator[tuple[_Tone, ...]]:
        if len(row) == len(places):
            if must <= {t.number for t in row} or pins:
                yield row
            return
        for tone in places[len(row)]:
            if len(places) == 1 and tone.m == shape.bass.midi and _too_close(shape):
                continue
            if row and (tone.m > row[-1].m or row[-1].d - tone.d > gap) and not pins:
                continue
            if any(t.number == tone.number and (tone.number in alone or tone.number in sharp) for t in row):
                continue
            # What the source signs is its own business; what we choose is not harsh.
            if not variant.signed and not pins and any(_harsh(tone, t) for t in row):
                continue
            if tone.number == 8 and 8 in sharp and shape.loose < 2:
                continue
            if len(must - {t.number for t in (*row, tone)}) > len(places) - len(row) - 1 and not pins:
                continue
            yield from grow((*row, tone))

    yield from grow(())


def _too_close(shape: Shape) -> bool:
    """Two voices meet on one note only where they begin and end."""
    return not (shape.opening or shape.closing or shape.pins or shape.loose)


def _harsh(low: _Tone, high: _Tone) -> bool:
    """An augmented or diminished interval between two free upper tones, the tritone excepted."""
    if low.role in _BOUND or high.role in _BOUND:
        return False
    size = (high.m - low.m) % 12
    return size not in _SIZES[(high.d - low.d) % 7]


_BOUND = (Role.SUSPENDED, Role.STEPWISE, Role.PEDAL, Role.RISING, Role.FALLING)
_SIZES = ((0,), (1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11))


@lru_cache(maxsize=4096)
def voicings(shape: Shape, weights: Weights) -> Voicings:
    """All voicings of a shape that the rules on one sonority allow, with their costs."""
    rows: list[tuple[_Tone, ...]] = []
    sounded: list[int] = []
    for n, variant in enumerate(shape.variants):
        for row in _rows(shape, variant):
            rows.append(row)
            sounded.append(n)
    count = len(shape.upper)
    table = np.array(rows, dtype=np.int64).reshape(len(rows), count, len(_Tone._fields))
    kept = _distinct(shape, table)
    d, m, number, _, role = np.moveaxis(table[kept], 2, 0)
    parts = {
        name: times * weights[name]
        for name, times in occurrences(shape, d, m, number, np.array(sounded, dtype=np.int64)[kept]).items()
    }
    cost = sum(parts.values(), np.zeros(len(kept)))
    return Voicings(shape, d, m, role, number, parts, cost)


def _distinct(shape: Shape, table: Array) -> list[int]:
    """Rows that hands can reach, each sonority once: the first variant that has it."""
    heard = [_Tone._fields.index("m"), _Tone._fields.index("role")]
    keys = table[:, :, heard].reshape(len(table), 2 * len(shape.upper))
    wide = hand_spans(table[:, :, 0], shape.bass.diatonic) > 9
    if shape.pins or shape.loose > 0:
        wide[:] = False
    found: dict[tuple[int, ...], int] = {}
    for n, (key, out) in enumerate(zip(keys.tolist(), wide.tolist())):
        if not out:
            found.setdefault(tuple(key), n)
    return list(found.values())


def hand_span(upper: list[int], bass: int) -> int:
    """The wider of the two hands' stretches, in staff steps, when they share the notes as well as can be.

    >>> hand_span([35, 33, 30], 21)
    5
    """
    notes = [*upper, bass]
    best = 99
    for cut in range(1, len(notes) + 1):
        right, left = notes[:cut], notes[cut:]
        spans = [max(h) - min(h) for h in (right, left) if h]
        best = min(best, max(spans))
    return best
