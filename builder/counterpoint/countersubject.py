"""What was set against the theme once comes back where the theme comes back."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

import numpy as np

from builder.analysis import Analysis
from builder.analysis.findings import Entry
from builder.counterpoint.lattice import Lattice, Path
from builder.counterpoint.voicing import Array


def returns(lattice: Lattice, path: Path, analysis: Analysis) -> tuple[Array | None, ...]:
    """For each event a gain for each row that repeats the countersubject, or None.

    The countersubject is what the voice of the first entry sings against the second in a first setting;
    at later entries the voice that had the entry before takes it up, transposed with the theme.
    """
    entries = sorted(analysis.entries, key=lambda e: e.onset)
    if len(entries) < 3:
        return (None,) * len(lattice.events)
    pattern = _pattern(lattice, path, entries[1], entries[0].voice)
    weight = lattice.weights["countersubject"]
    found: list[Array | None] = [None] * len(lattice.events)
    for before, entry in pairwise(entries[1:]):
        if before.voice == entry.voice:
            continue
        for i, event in enumerate(lattice.events):
            layer = lattice.layers[i]
            sung = pattern.get((event.onset - entry.onset, event.bass.diatonic - entry.pitch.diatonic))
            if sung is None or event.hold or not entry.onset <= event.onset < entry.end:
                continue
            if before.voice in layer.shape.upper:
                place = layer.shape.upper.index(before.voice)
                same = (layer.number[:, place] - 1) % 7 == sung
                found[i] = np.where(same, weight, 0.0)
    return tuple(found)


def _pattern(lattice: Lattice, path: Path, entry: Entry, voice: str) -> Mapping[tuple[Fraction, int], int]:
    """Time from the entry and theme note (steps from its first) -> interval above, within the octave."""
    found: dict[tuple[Fraction, int], int] = {}
    for i, (event, state) in enumerate(zip(lattice.events, path)):
        layer = lattice.layers[i]
        if not entry.onset <= event.onset < entry.end or voice not in layer.shape.upper:
            continue
        number = int(layer.number[lattice.row(i, state), layer.shape.upper.index(voice)])
        key = (event.onset - entry.onset, event.bass.diatonic - entry.pitch.diatonic)
        found[key] = (number - 1) % 7
    return found
