"""What is set against the theme: fit to change places with it, and back again where the theme comes back."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np

from builder.analysis import Analysis
from builder.analysis.findings import Entry
from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.lattice import Lattice, Path, gaining
from builder.counterpoint.search.paths import best_path
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


PROFILE = 0.5
"""What a line that moves at every step is worth as a countersubject, against one that all comes back (1)."""

Pattern = Mapping[Fraction, tuple[int, int]]
"""A countersubject: time from the entry -> the theme's note there (steps from its first) and the interval
above it, within the octave."""


def patterns(lattice: Lattice, heads: Iterable[Path], analysis: Analysis) -> list[Pattern]:
    """The lines that some paths have against the second entry: those first that move and of whose notes most
    can come back at the later entries in one lawful setting. None where there is no second entry."""
    (before, second), *_ = [*_entries(analysis), (None, None)]
    if before is None or second is None:
        return []
    found = {tuple(sorted(_pattern(lattice, p, second, before.voice).items())): None for p in heads}

    def worth(pattern: Pattern) -> float:
        tried = gaining(lattice, {"countersubject": placed(lattice, pattern, analysis)})
        return share_returning(lattice, best_path(tried), pattern, analysis) + PROFILE * moving(pattern)

    return sorted((dict(items) for items in found if items), key=worth, reverse=True)


def moving(pattern: Pattern) -> float:
    """Which share of a countersubject's steps lead to another note; a line that stands has no profile.

    >>> theme_rises = {Fraction(0): (0, 4), Fraction(1): (1, 3), Fraction(2): (2, 4)}
    >>> moving(theme_rises)
    0.5
    """
    sung = [(theme + above) % 7 for _, (theme, above) in sorted(pattern.items())]
    return sum(a != b for a, b in pairwise(sung)) / max(1, len(sung) - 1)


def placed(lattice: Lattice, pattern: Pattern, analysis: Analysis) -> tuple[Array | None, ...]:
    """For each event a gain for each row that has the countersubject, or None: at the second entry and at
    every later one, in the voice that had the entry before, transposed with the theme."""
    found: list[Array | None] = [None] * len(lattice.events)
    for i, place, sung in _asked(lattice, pattern, analysis):
        layer = lattice.layers[i]
        same = np.isin((layer.number[:, place] - 1) % 7, sung)
        gain = lattice.weights.above(len(layer.shape.upper))["countersubject"]
        found[i] = np.where(same, gain, 0.0)
    return tuple(found)


def share_returning(lattice: Lattice, path: Path, pattern: Pattern, analysis: Analysis) -> float:
    """Which share of the countersubject's notes a path has at the entries after the second; 1 where none is
    asked for."""
    second = sorted(e.onset for e in analysis.entries)[1]
    met = [
        (int(lattice.layers[i].number[lattice.row(i, path[i]), place]) - 1) % 7 in sung
        for i, place, sung in _asked(lattice, pattern, analysis, after=second)
    ]
    return sum(met) / len(met) if met else 1.0


def _asked(
    lattice: Lattice, pattern: Pattern, analysis: Analysis, after: Fraction | None = None
) -> Iterator[tuple[int, int, tuple[int, ...]]]:
    """Where the countersubject may be sung: event, place of the voice, intervals above within the octave. A
    tonal answer bends the theme; there the countersubject may bend with it or keep its line."""
    for before, entry in _entries(analysis):
        if after is not None and entry.onset <= after:
            continue
        for i, place in _against(lattice.events, lattice.layers, entry, before.voice):
            event = lattice.events[i]
            known = pattern.get(event.onset - entry.onset)
            if known is not None:
                theme, above = known
                bent = event.bass.diatonic - entry.pitch.diatonic - theme
                yield i, place, tuple(dict.fromkeys((above, (above - bent) % 7)))


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


def _pattern(lattice: Lattice, path: Path, entry: Entry, voice: str) -> Pattern:
    """What a voice of a path has against an entry."""
    found: dict[Fraction, tuple[int, int]] = {}
    for i in _during(lattice.events, entry):
        event, layer = lattice.events[i], lattice.layers[i]
        # Over a passing note of the theme the voice keeps its note.
        if event.hold or voice not in layer.shape.upper:
            continue
        number = int(layer.number[lattice.row(i, path[i]), layer.shape.upper.index(voice)])
        theme = event.bass.diatonic - entry.pitch.diatonic
        found[event.onset - entry.onset] = theme, (number - 1) % 7
    return found
