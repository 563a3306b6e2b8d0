"""What a sonority costs as it stands, before it moves: many voicings at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.counterpoint.figured_bass.sonority import Variant
from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.shape import Shape
from builder.music import VOICES, WRITTEN
from builder.music.keyboard import NINTH

THIRD = 2
"""Staff steps of a third."""

_MIDDLE = {v: sum(p.midi for p in WRITTEN[v]) / 2 + (2 if v == "cantus" else 1) for v in VOICES}
# At the keyboard the upper voices lie a little above the sung middle.


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """What the costs of voicings depend on beyond their notes, one entry for each row."""

    upper: tuple[str, ...]
    opening: Array
    closing: Array
    strong: Array
    bass_d: Array
    bass_m: Array
    third: Array
    """The variant sounded has a third; so `fifth`, `sixth`."""
    fifth: Array
    sixth: Array
    price: Array
    """Name of the cost of choosing the variant, or empty."""

    @classmethod
    def of(
        cls, shapes: Sequence[Shape], of_shape: Array, variants: Sequence[Variant], variant: Array
    ) -> Stand:
        """For rows of which each belongs to a shape (`of_shape`, its place among the shapes) and sounds a
        variant of it (`variant`, its place among the variants)."""
        features = [(s.opening, s.closing, s.strong, s.bass.diatonic, s.bass.midi) for s in shapes]
        opening, closing, strong, bass_d, bass_m = np.array(features, dtype=np.int64).T.take(of_shape, axis=1)
        numbers = [{m.number for m in v.members} for v in variants]
        has = np.array([[n in those for those in numbers] for n in (3, 5, 6)]).take(variant, axis=1)
        price = np.array([v.price for v in variants])[variant]
        flags = opening == 1, closing == 1, strong == 1
        third, fifth, sixth = has
        return cls(shapes[0].upper, *flags, bass_d, bass_m, third, fifth, sixth, price)


def occurrences(stand: Stand, d: Array, m: Array, number: Array, spans: Array) -> dict[str, Array]:
    """How often each named cost of a single sonority occurs in each row; `spans` are the hands' stretches."""
    count = d.shape[1]
    found = {
        "supplied": stand.price == "supplied",
        "suspension": stand.price == "suspension",
    }
    if count == 1:
        ends, alone = stand.opening | stand.closing, number[:, 0]
        perfect = (alone == 5) * 1.0 + (alone == 8) * 1.5
        found["perfect"] = np.where(ends, 0.0, perfect * np.where(stand.strong, 1.0, 0.6))
        found["opening"] = stand.opening & (alone != 5) & (alone != 8)
    if count:
        found["close"] = stand.closing & (number[:, 0] != 8)
        ends = np.where(stand.opening | stand.closing, 0.4, 1.0)
        found["unison"] = (m[:, 1:] == m[:, :-1]).sum(axis=1) * ends
        found["bass-unison"] = (m[:, -1] == stand.bass_m) * ends
        found["spacing"] = _spacing(stand, d, m)
        found["register"] = _register(stand, m)
        found["stretch"] = spans > NINTH
    if count > 1:
        found["incomplete"] = _incomplete(stand, number)
        found["doubling"] = _doubling(stand, m, number)
        found["apart"] = (d[:, 0] - d[:, 1]) / THIRD
    return {name: times * 1.0 for name, times in found.items()}


def _incomplete(stand: Stand, number: Array) -> Array:
    missing: Array = stand.third & (number != 3).all(axis=1)
    missing = missing * np.where(stand.closing, 0.6, 1.6)
    fifth: Array = (number != 5).all(axis=1) & stand.fifth
    if number.shape[1] > 2:
        missing = missing + fifth * 0.35
        return missing
    # With the third gone something else has to tell the sonority from a bare octave.
    bare: Array = (fifth | stand.sixth & (number != 6).all(axis=1)) * (missing > 0)
    missing = missing + bare
    return missing


_DOUBLED = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.6, 0.5, 1.0, 0.3, 1.0])
_DOUBLED_IN_SIXTH = np.array([1.0, 1.0, 1.0, 0.5, 1.0, 0.6, 0.5, 1.0, 0.5, 1.0])
"""Price of a second voice on a number; in the sonority of the sixth the third is doubled as gladly as the
bass, elsewhere the bass."""


_SIXTH_DOUBLED = 8.0
"""Price of a second sixth in a diminished sonority of the sixth: one of the two could not resolve."""


def _doubling(stand: Stand, m: Array, number: Array) -> Array:
    rows, count = number.shape
    price = np.where((stand.sixth & ~stand.fifth)[:, None], _DOUBLED_IN_SIXTH, _DOUBLED)
    total: Array = np.zeros(rows)
    for voice in range(1, count):
        again = (number[:, :voice] == number[:, voice, None]).any(axis=1)
        total += again * price[np.arange(rows), number[:, voice]]
    sixth = (number == 6) & (stand.sixth & ~stand.fifth)[:, None]
    away = (m[:, :, None] - m[:, None, :]) % 12 == 6
    diminished = (sixth[:, :, None] & (number == 3)[:, None, :] & away).any(axis=(1, 2))
    total += (diminished & (sixth.sum(axis=1) > 1)) * _SIXTH_DOUBLED
    return total


def _spacing(stand: Stand, d: Array, m: Array) -> Array:
    count = d.shape[1]
    gaps = d[:, :-1] - d[:, 1:]
    total: Array = (np.maximum(0, gaps - 5) * 0.3 + (gaps > 7)).sum(axis=1)
    over = d[:, -1] - stand.bass_d
    if count < 3:
        total = total + np.maximum(0, over - 9) * (0.6 if count == 1 else 0.25)
    # Thirds low down growl.
    return total + ((m[:, -1] < 50) & (over > 0) & (over < 4))


def _register(stand: Stand, m: Array) -> Array:
    off = abs(m - np.array([_MIDDLE[v] for v in stand.upper]))
    total: Array = (np.maximum(0.0, off - 4) * 0.12 + np.maximum(0.0, off - 8) * 0.3).sum(axis=1)
    return total
