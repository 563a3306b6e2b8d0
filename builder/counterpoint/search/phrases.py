"""What is heard over a whole phrase, and what no cost of a single step can hold: voices that stand, go to
and fro, leap away together and back, twice the same way, or into an octave.

A master's phrases seldom have any of this, drawn ones now and then; so those that have least are tried first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import groupby, pairwise
from math import ceil
from typing import NamedTuple

from builder.analysis import Analysis
from builder.counterpoint.search.lattice import Lattice, Path

STANDS = 4
"""Under an entry the highest voice keeps one note for no more quarters than these."""
FREEZES = 6
"""The voices above a line that moves keep all their notes for no more quarters than these."""
TO_AND_FRO = 4
"""So many moves of a voice between the same two notes, or of all voices up and down together, are noticed."""
LEAP = 3
"""Staff steps of a fourth."""
SPANS = 5
"""Staff steps of a sixth: two leaps the same way stay below it."""


class Chord(NamedTuple):
    """What sounds from one time to another (quarters): staff steps of the given line, and of the voices above
    it, highest first."""

    onset: float
    end: float
    bass: int
    voices: tuple[str, ...]
    notes: tuple[int, ...]


def hearing(lattice: Lattice, analysis: Analysis) -> Callable[[Path], int]:
    """What counts in how many places a path has what the functions below look for, or closes on a sonority
    that lacks a tone, or without its final on top."""
    events, layers = lattice.events, lattice.layers
    whole = [
        (float(e.onset), float(e.end), e.bass.diatonic, layer.shape.upper) for e, layer in zip(events, layers)
    ]
    entries = [(float(e.onset), float(e.end)) for e in analysis.entries]
    # Paths share most of their sonorities.
    known: dict[tuple[int, int], Chord] = {}

    def chord(i: int, state: int) -> Chord:
        if (i, state) not in known:
            known[i, state] = Chord(*whole[i], tuple(layers[i].d[lattice.row(i, state)].tolist()))
        return known[i, state]

    def blemishes(path: Path) -> int:
        chords = [chord(i, state) for i, state in enumerate(path)]
        heard = standing(chords, entries) + frozen(chords) + shuttling(chords) + swaying(chords)
        heard += tossed(chords) + tumbling(chords) + beaten(chords) + crowded(chords)
        return heard + _closes(lattice, path)

    return blemishes


def _closes(lattice: Lattice, path: Path) -> int:
    """Last sonorities that lack a tone (worse) or have no final on top."""
    total = 0
    for i, (event, layer, state) in enumerate(zip(lattice.events, lattice.layers, path)):
        if event.closing:
            row = lattice.row(i, state)
            for name, weight in (("incomplete", 2), ("close", 1)):
                total += weight * bool(name in layer.parts and layer.parts[name][row] > 0)
    return total


def standing(chords: Sequence[Chord], entries: Sequence[tuple[float, float]]) -> int:
    """For how many quarters more than `STANDS` the highest voice stands on one note under an entry (onset and
    end).

    >>> chords = [Chord(n, n + 1, 21 + n, ("cantus",), (35,)) for n in range(5)]
    >>> standing(chords, [(2, 5)]), standing(chords[1:], [(2, 5)])
    (1, 0)
    """
    runs = (list(run) for _, run in groupby(chords, key=lambda c: (c.voices[:1], c.notes[:1])))
    lengths = [
        run[-1].end - run[0].onset
        for run in runs
        if run[0].notes and any(run[0].onset < end and run[-1].end > onset for onset, end in entries)
    ]
    return sum(max(0, ceil(length - STANDS)) for length in lengths)


def frozen(chords: Sequence[Chord]) -> int:
    """How often the voices above a line that moves keep all their notes for more than `FREEZES` quarters; the
    last sonority may last."""
    runs = (list(run) for _, run in groupby(chords, key=lambda c: (c.voices, c.notes)))
    return sum(
        run[-1].end - run[0].onset > FREEZES and len({c.bass for c in run}) > 1
        for run in runs
        if run[0].notes
    )


def shuttling(chords: Sequence[Chord]) -> int:
    """How often a voice goes to and fro between two notes, `TO_AND_FRO` moves and more without another note.

    >>> line = enumerate((30, 31, 30, 31, 30))
    >>> chords = [Chord(n, n + 1, 21, ("tenor",), (d,)) for n, d in line]
    >>> shuttling(chords), shuttling(chords[1:])
    (1, 0)
    """
    total = 0
    for line in _lines(chords):
        back = [a == c for a, c in zip(line, line[2:])]
        total += sum(yes and len(list(run)) >= TO_AND_FRO - 1 for yes, run in groupby(back))
    return total


def _lines(chords: Sequence[Chord]) -> Iterator[list[int]]:
    """The notes of each voice for as long as it sings on, repeated ones once."""
    for _, stretch in groupby(chords, key=lambda c: c.voices):
        for line in zip(*(c.notes for c in stretch)):
            yield [note for note, _ in groupby(line)]


def swaying(chords: Sequence[Chord]) -> int:
    """How often all of two or more voices go up and down together, `TO_AND_FRO` moves and more."""
    total = 0
    for voices, stretch in groupby(chords, key=lambda c: c.voices):
        if len(voices) < 2:
            continue
        ways = [way for a, b in pairwise(stretch) if (way := _way(a, b)) != (0,) * len(voices)]
        alike = [way[0] if len(set(way)) == 1 else 0 for way in ways]
        turned = [a * b < 0 for a, b in pairwise(alike)]
        total += sum(yes and len(list(run)) >= TO_AND_FRO - 1 for yes, run in groupby(turned))
    return total


def _way(a: Chord, b: Chord) -> tuple[int, ...]:
    """Whether each voice rises, falls or stays."""
    return tuple((y > x) - (y < x) for x, y in zip(a.notes, b.notes))


def tossed(chords: Sequence[Chord]) -> int:
    """How often two or more voices leap the same way by a fourth and more, and two or more go back by a third
    and more at their next move.

    >>> notes = (35, 32), (31, 29), (33, 32)
    >>> tossed([Chord(n, n + 1, 21, ("cantus", "altus"), x) for n, x in enumerate(notes)])
    1
    """
    total = 0
    for voices, stretch in groupby(chords, key=lambda c: c.voices):
        if len(voices) < 2:
            continue
        sizes = [[y - x for x, y in zip(a.notes, b.notes)] for a, b in pairwise(stretch)]
        moves = [size for size in sizes if any(size)]
        for a, b in pairwise(moves):
            if max(a) >= LEAP or min(a) <= -LEAP:
                total += _leap(a, LEAP) * _leap(b, LEAP - 1) < 0
    return total


def _leap(sizes: Sequence[int], least: int) -> int:
    """The way in which two or more voices move by so many staff steps or more; 0 when they do not."""
    return (sum(s >= least for s in sizes) > 1) - (sum(s <= -least for s in sizes) > 1)


def tumbling(chords: Sequence[Chord]) -> int:
    """How often a voice makes two leaps the same way, by a third and more each, that span a sixth and more.

    >>> notes = enumerate((35, 33, 30, 31))
    >>> tumbling([Chord(n, n + 1, 21, ("cantus",), (d,)) for n, d in notes])
    1
    """
    moves = ([b - a for a, b in pairwise(line)] for line in _lines(chords))
    return sum(
        a * b > 0 and min(abs(a), abs(b)) > 1 and abs(a + b) >= SPANS
        for sizes in moves
        for a, b in pairwise(sizes)
    )


def beaten(chords: Sequence[Chord]) -> int:
    """How often the highest voice leaps down to an octave with the line, which rises by step to it: the
    *ottava battuta* (J. J. Fux, Gradus ad Parnassum, 1725, book II, from memory).

    >>> notes = enumerate(((21, 33), (22, 29), (23, 28)))
    >>> beaten([Chord(n, n + 1, low, ("cantus",), (high,)) for n, (low, high) in notes])
    1
    """
    return sum(
        b.bass - a.bass == 1 and a.notes[0] - b.notes[0] > 1 and (b.notes[0] - b.bass) % 7 == 0
        for a, b in pairwise(chords)
        if a.voices[:1] == b.voices[:1] != ()
    )


def crowded(chords: Sequence[Chord]) -> int:
    """How many sonorities have three voices or more on one note, the given one among them.

    >>> voices = ("cantus", "altus")
    >>> crowded([Chord(0, 1, 21, voices, (21, 21)), Chord(1, 2, 21, voices, (28, 21))])
    1
    """
    doubled = (c for c in chords if len(set(c.notes)) < len(c.notes))
    return sum(max([c.bass, *c.notes].count(note) for note in c.notes) > 2 for c in doubled)
