"""Which short notes of a beat are written as eighths behind the first, which keeps its own sign.

Source: M. T. De Garmo, *Introduction to Braille Music Transcription* (2005), chapter 15; its examples 15.6 to
15.9 and 24.4 are in the tests.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from builder.engraving.writing import rests
from builder.music import Bar, Metre, Note

EIGHTH = Fraction(1, 2)
_SHORT = (EIGHTH / 2, EIGHTH / 4, EIGHTH / 8)
_FEWEST = 3


def written_as_eighths(
    items: Sequence[Note], bar: Bar, metre: Metre, apart: Iterable[Fraction] = ()
) -> frozenset[int]:
    """The places of these notes among the notes and rests of a bar. A group has three or more of one short
    value that fill a beat, of which only the first may be a rest; behind it stands no true eighth. Nothing is
    grouped over a moment that stands `apart`: a word or a figure there would divide the group.

    >>> from builder.music import Pitch
    >>> run = [Note(Fraction(n, 4), Fraction(1, 4), Pitch.parse("C5")) for n in range(8)]
    >>> bar = Bar(1, Fraction(0), Fraction(4))
    >>> sorted(written_as_eighths(run, bar, Metre.parse("C")))
    [1, 2, 3, 5, 6, 7]
    >>> eighth = Note(Fraction(2), Fraction(1, 2), Pitch.parse("C5"))
    >>> sorted(written_as_eighths([*run, eighth], bar, Metre.parse("C")))
    [1, 2, 3]
    """
    found: set[int] = set()
    moments = set(apart)
    for group in _beats(items, bar, metre):
        values = {items[n].duration for n in group}
        alike = len(group) >= _FEWEST and len(values) == 1 and values < set(_SHORT)
        start, end = items[group[0]].onset, items[group[-1]].end
        whole = all(items[n].pitch for n in group[1:]) and not any(start < t < end for t in moments)
        if alike and whole and not _eighth(items, group[-1] + 1, bar):
            found.update(group[1:])
    return frozenset(found)


def _beats(items: Sequence[Note], bar: Bar, metre: Metre) -> Iterator[list[int]]:
    """The places of what fills a beat, beat after beat."""
    beat = Fraction(3, 2) if metre.unit == 8 and metre.count % 3 == 0 else Fraction(1)
    for _, places in groupby(range(len(items)), lambda n: (items[n].onset - bar.line) // beat):
        group = list(places)
        if (items[group[0]].onset - bar.line) % beat == 0 and sum(items[n].duration for n in group) == beat:
            yield group


def _eighth(items: Sequence[Note], n: int, bar: Bar) -> bool:
    """Whether there is an eighth in a place, dotted or not, or a rest that begins with one."""
    if n == len(items):
        return False
    item = items[n]
    if item.pitch is None:
        return next(rests(item.onset - bar.line, item.duration))[1] == EIGHTH
    return EIGHTH <= item.duration < 2 * EIGHTH
