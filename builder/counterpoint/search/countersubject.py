"""What is set against the theme: fit to change places with it, and back again where the theme comes back."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

from builder.analysis import Analysis
from builder.analysis.findings import Entry
from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.lattice import Lattice, Path
from builder.counterpoint.search.voicing import Voicings

FIFTH = 4
"""Staff steps of a fifth within the octave."""


def invertible(
    events: Sequence[Event], layers: Sequence[Voicings], analysis: Analysis, weight: float
) -> tuple[Array | None, ...]:
    """For each event a cost for each row whose countersubject would not do below the theme, or None.

    Changed about at the octave, thirds and sixths become each other, octaves unisons, sevenths with their
    resolution seconds with theirs; a fifth becomes a fourth, which a bass does not bear (J. J. Fux, Gradus
    ad Parnassum, 1725, book II, on double counterpoint, from memory). Tones that pass are free, and so is
    the sonority on which the theme begins.
    """
    found: list[Array | None] = [None] * len(events)
    for before, entry in _entries(analysis):
        for i, place in _against(events, layers, entry, before.voice):
            layer = layers[i]
            if events[i].opening or events[i].closing:
                continue
            fifth = (layer.number[:, place] - 1) % 7 == FIFTH
            found[i] = np.where(fifth & (layer.role[:, place] == Role.FREE), weight, 0.0)
    return tuple(found)


def returns(lattice: Lattice, path: Path, analysis: Analysis) -> tuple[Array | None, ...]:
    """For each event a gain for each row that repeats the countersubject, or None.

    The countersubject is what the voice of the first entry sings against the second in a first setting;
    at later entries the voice that had the entry before takes it up, transposed with the theme.
    """
    entries = list(_entries(analysis))
    found: list[Array | None] = [None] * len(lattice.events)
    if len(entries) < 2:
        return tuple(found)
    pattern = _pattern(lattice, path, entries[0][1], entries[0][0].voice)
    weight = lattice.weights.above(3)["countersubject"]
    for before, entry in entries[1:]:
        for i, place in _against(lattice.events, lattice.layers, entry, before.voice):
            event = lattice.events[i]
            sung = pattern.get((event.onset - entry.onset, event.bass.diatonic - entry.pitch.diatonic))
            if sung is not None:
                same = (lattice.layers[i].number[:, place] - 1) % 7 == sung
                found[i] = np.where(same, weight, 0.0)
    return tuple(found)


def _entries(analysis: Analysis) -> Iterator[tuple[Entry, Entry]]:
    """Each entry but the first, with the one before it."""
    return pairwise(sorted(analysis.entries, key=lambda e: e.onset))


def _against(
    events: Sequence[Event], layers: Sequence[Voicings], entry: Entry, voice: str
) -> Iterator[tuple[int, int]]:
    """The events of an entry over which a voice of the setting moves, and the voice's place in them."""
    if voice == entry.voice:
        return
    for i in _during(events, entry):
        upper = layers[i].shape.upper
        if not events[i].hold and voice in upper:
            yield i, upper.index(voice)


def _during(events: Sequence[Event], entry: Entry) -> range:
    """The events that begin during an entry."""
    first = bisect_left(events, entry.onset, key=lambda e: e.onset)
    return range(first, bisect_left(events, entry.end, key=lambda e: e.onset))


def _pattern(lattice: Lattice, path: Path, entry: Entry, voice: str) -> Mapping[tuple[Fraction, int], int]:
    """Time from the entry and theme note (steps from its first) -> interval above, within the octave."""
    found: dict[tuple[Fraction, int], int] = {}
    for i in _during(lattice.events, entry):
        event, layer = lattice.events[i], lattice.layers[i]
        if voice not in layer.shape.upper:
            continue
        number = int(layer.number[lattice.row(i, path[i]), layer.shape.upper.index(voice)])
        key = (event.onset - entry.onset, event.bass.diatonic - entry.pitch.diatonic)
        found[key] = (number - 1) % 7
    return found
