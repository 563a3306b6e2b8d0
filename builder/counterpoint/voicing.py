"""Every legal voicing of one sonority: which tone each upper voice takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np

from builder.counterpoint.costs import Parts, Weights
from builder.counterpoint.sonority import Role, Variant
from builder.music import KEYBOARD, VOICES, WRITTEN, Pitch

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


@dataclass(frozen=True, slots=True)
class _Tone:
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
    prices: list[str] = []
    numbers: list[tuple[int, ...]] = []
    seen: dict[tuple[tuple[int, int], ...], int] = {}
    for variant in shape.variants:
        for row in _rows(shape, variant):
            key = tuple((t.m, int(t.role)) for t in row)
            if key in seen or _overstretched(shape, row):
                continue
            seen[key] = len(rows)
            rows.append(row)
            prices.append(variant.price)
            numbers.append(tuple(m.number for m in variant.members))
    count = len(shape.upper)
    d = np.array([[t.d for t in row] for row in rows], dtype=np.int64).reshape(len(rows), count)
    m = np.array([[t.m for t in row] for row in rows], dtype=np.int64).reshape(len(rows), count)
    role = np.array([[int(t.role) for t in row] for row in rows], dtype=np.int64).reshape(len(rows), count)
    number = np.array([[t.number for t in row] for row in rows], dtype=np.int64).reshape(len(rows), count)
    parts = {
        name: np.array(values, dtype=float) * weights[name]
        for name, values in _prices(shape, rows, prices, numbers).items()
    }
    cost = sum(parts.values(), np.zeros(len(rows)))
    return Voicings(shape, d, m, role, number, parts, cost)


def _overstretched(shape: Shape, row: tuple[_Tone, ...]) -> bool:
    return not shape.pins and shape.loose < 1 and hand_span([t.d for t in row], shape.bass.diatonic) > 9


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


_MIDDLE = {v: sum(p.midi for p in WRITTEN[v]) / 2 + (2 if v == "cantus" else 1) for v in VOICES}
# At the keyboard the upper voices lie a little above the sung middle.


def _prices(
    shape: Shape, rows: list[tuple[_Tone, ...]], prices: list[str], numbers: list[tuple[int, ...]]
) -> dict[str, list[float]]:
    """How often each named cost of a single sonority occurs in each row."""
    ends = shape.opening or shape.closing
    found: dict[str, list[float]] = {
        name: []
        for name in (
            "perfect",
            "incomplete",
            "doubling",
            "unison",
            "spacing",
            "register",
            "stretch",
            "supplied",
            "passing",
            "suspension",
            "opening",
            "close",
        )
    }
    for row, price, members in zip(rows, prices, numbers):
        present = [t.number for t in row]
        found["perfect"].append(0.0 if ends else _perfect(present, row, shape))
        found["incomplete"].append(_incomplete(present, members, shape))
        found["doubling"].append(_doubling(present, members))
        found["unison"].append(_unisons(row, shape) * (0.4 if ends else 1.0))
        found["spacing"].append(_spacing(row, shape))
        found["register"].append(_register(row, shape))
        found["stretch"].append(
            float(hand_span([t.d for t in row], shape.bass.diatonic) == 9) if row else 0.0
        )
        found["supplied"].append(float(price == "supplied"))
        found["passing"].append(float(price == "passing"))
        found["suspension"].append(float(price == "suspension"))
        found["opening"].append(float(shape.opening and len(row) == 1 and present[0] not in (5, 8)))
        found["close"].append(float(shape.closing and bool(row) and present[0] != 8))
    return found


def _perfect(present: list[int], row: tuple[_Tone, ...], shape: Shape) -> float:
    if len(present) == 1:
        return {5: 1.0, 8: 1.5}.get(present[0], 0.0) * (1.0 if shape.strong else 0.6)
    return 0.0


def _incomplete(present: list[int], members: tuple[int, ...], shape: Shape) -> float:
    if len(present) < 2:
        return 0.0
    missing = 0.0
    if 3 in members and 3 not in present:
        missing += 0.6 if shape.closing else 1.6
    if len(present) > 2 and 5 in members and 5 not in present:
        missing += 0.35
    return missing


def _doubling(present: list[int], members: tuple[int, ...]) -> float:
    total = 0.0
    for number in set(present):
        times = present.count(number)
        if times > 1:
            sixth = 6 in members and 5 not in members
            total += (times - 1) * {3: 0.5 if sixth else 1.0, 6: 0.5, 5: 0.6, 8: 0.5 if sixth else 0.3}.get(
                number, 1.0
            )
    return total


def _unisons(row: tuple[_Tone, ...], shape: Shape) -> float:
    total = sum(1.0 for a, b in pairwise(row) if a.m == b.m)
    if row and row[-1].m == shape.bass.midi:
        total += 4.0 if len(row) == 1 else 1.5
    return total


def _spacing(row: tuple[_Tone, ...], shape: Shape) -> float:
    total = 0.0
    for a, b in pairwise(row):
        gap = a.d - b.d
        total += max(0, gap - 5) * 0.3 + (1.0 if gap > 7 else 0.0)
    if len(row) == 1:
        total += max(0, row[0].d - shape.bass.diatonic - 9) * 0.6
    elif len(row) == 2:
        total += max(0, row[-1].d - shape.bass.diatonic - 9) * 0.25
    if row and row[-1].m < 50:
        # Thirds low down growl.
        total += 1.0 if 0 < row[-1].d - shape.bass.diatonic < 4 else 0.0
    return total


def _register(row: tuple[_Tone, ...], shape: Shape) -> float:
    total = 0.0
    for tone, voice in zip(row, shape.upper):
        off = abs(tone.m - _MIDDLE[voice])
        total += max(0.0, off - 4) * 0.12 + max(0.0, off - 8) * 0.3
    return total
