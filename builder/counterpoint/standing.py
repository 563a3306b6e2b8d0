"""What a sonority costs as it stands, before it moves: all its voicings at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from builder.music import VOICES, WRITTEN

if TYPE_CHECKING:
    from builder.counterpoint.voicing import Shape

Array = np.ndarray[Any, np.dtype[Any]]

_MIDDLE = {v: sum(p.midi for p in WRITTEN[v]) / 2 + (2 if v == "cantus" else 1) for v in VOICES}
# At the keyboard the upper voices lie a little above the sung middle.


def hand_spans(d: Array, bass: int) -> Array:
    """For each voicing (rows of staff steps, highest first) over a bass: the wider of the two hands'
    stretches, when they share the notes as well as can be.

    >>> hand_spans(np.array([[35, 33, 30]]), 21).tolist()
    [5]
    """
    notes = np.column_stack((d, np.full(len(d), bass)))
    count = notes.shape[1]
    # Notes from the top down to each, and from each down to the bass.
    above = np.maximum.accumulate(notes, axis=1) - np.minimum.accumulate(notes, axis=1)
    turned = notes[:, ::-1]
    below = (np.maximum.accumulate(turned, axis=1) - np.minimum.accumulate(turned, axis=1))[:, ::-1]
    left = np.column_stack((below[:, 1:], np.zeros(len(d), dtype=np.int64)))
    found: Array = np.maximum(above, left)[:, :count].min(axis=1)
    return found


def occurrences(shape: Shape, d: Array, m: Array, number: Array, variant: Array) -> dict[str, Array]:
    """How often each named cost of a single sonority occurs in each row; `variant` tells of each row which
    of the shape's variants it sounds."""
    rows, count = d.shape
    ends = shape.opening or shape.closing
    none = np.zeros(rows)
    price = np.array([v.price for v in shape.variants])[variant] if rows else np.array([], dtype=str)
    alone = number[:, 0] if count == 1 else None
    perfect = opening = close = none
    if alone is not None:
        if not ends:
            perfect = ((alone == 5) * 1.0 + (alone == 8) * 1.5) * (1.0 if shape.strong else 0.6)
        if shape.opening:
            opening = ((alone != 5) & (alone != 8)) * 1.0
    if shape.closing and count:
        close = (number[:, 0] != 8) * 1.0
    return {
        "perfect": perfect,
        "incomplete": _incomplete(shape, number, variant),
        "doubling": _doubling(shape, number, variant),
        "unison": _unisons(shape, m) * (0.4 if ends else 1.0),
        "spacing": _spacing(shape, d, m),
        "register": _register(shape, m),
        "stretch": (hand_spans(d, shape.bass.diatonic) == 9) * 1.0 if count else none,
        "supplied": (price == "supplied") * 1.0,
        "passing": (price == "passing") * 1.0,
        "suspension": (price == "suspension") * 1.0,
        "opening": opening,
        "close": close,
    }


def _has(shape: Shape, number: int, variant: Array) -> Array:
    """Rows whose variant has a member of a number."""
    found: Array = np.array([any(m.number == number for m in v.members) for v in shape.variants])[variant]
    return found


def _incomplete(shape: Shape, number: Array, variant: Array) -> Array:
    rows, count = number.shape
    missing: Array = np.zeros(rows)
    if count < 2:
        return missing
    third = _has(shape, 3, variant) & (number != 3).all(axis=1)
    missing = missing + third * (0.6 if shape.closing else 1.6)
    if count > 2:
        fifth = _has(shape, 5, variant) & (number != 5).all(axis=1)
        missing = missing + fifth * 0.35
    return missing


_DOUBLED = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.6, 0.5, 1.0, 0.3, 1.0])
_DOUBLED_IN_SIXTH = np.array([1.0, 1.0, 1.0, 0.5, 1.0, 0.6, 0.5, 1.0, 0.5, 1.0])
"""Price of a second voice on a number; in the sonority of the sixth the third is doubled as gladly as the
bass, elsewhere the bass."""


def _doubling(shape: Shape, number: Array, variant: Array) -> Array:
    rows, count = number.shape
    total: Array = np.zeros(rows)
    if count < 2:
        return total
    sixth = _has(shape, 6, variant) & ~_has(shape, 5, variant)
    for n in range(1, 10):
        more = (number == n).sum(axis=1) - 1
        if (more > 0).any():
            total = total + np.maximum(more, 0) * np.where(sixth, _DOUBLED_IN_SIXTH[n], _DOUBLED[n])
    return total


def _unisons(shape: Shape, m: Array) -> Array:
    count = m.shape[1]
    total: Array = (m[:, 1:] == m[:, :-1]).sum(axis=1) * 1.0
    if count:
        total = total + (m[:, -1] == shape.bass.midi) * (4.0 if count == 1 else 1.5)
    return total


def _spacing(shape: Shape, d: Array, m: Array) -> Array:
    rows, count = d.shape
    total = np.zeros(rows)
    for i in range(1, count):
        gap = d[:, i - 1] - d[:, i]
        total = total + (np.maximum(0, gap - 5) * 0.3 + (gap > 7) * 1.0)
    if not count:
        return total
    over = d[:, -1] - shape.bass.diatonic
    if count < 3:
        total = total + np.maximum(0, over - 9) * (0.6 if count == 1 else 0.25)
    # Thirds low down growl.
    low: Array = total + ((m[:, -1] < 50) & (over > 0) & (over < 4)) * 1.0
    return low


def _register(shape: Shape, m: Array) -> Array:
    total = np.zeros(len(m))
    for i, voice in enumerate(shape.upper):
        off = abs(m[:, i] - _MIDDLE[voice])
        total = total + (np.maximum(0.0, off - 4) * 0.12 + np.maximum(0.0, off - 8) * 0.3)
    return total
