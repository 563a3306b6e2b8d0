"""What every layout shares: notes by bar, ties, names of voices."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from builder.engraving.tree import beats, element
from builder.music import Bar, Note, Score


@dataclass(frozen=True, slots=True)
class Sheet:
    """A score sorted for writing: for each part its notes by bar, the notes that are held from
    the one before, and the ties that start in each bar."""

    score: Score
    bars: Mapping[str, tuple[tuple[Note, ...], ...]]
    continued: frozenset[str]
    ties: Mapping[int, tuple[tuple[str, str], ...]]


def sheet(score: Score) -> Sheet:
    """Sort a notated score for the engraver: the notes of each bar by voice, the notes that are tied to the
    one before, and the ties by bar. `ValueError` when its notes have no ids.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> held = parse(EXAMPLE.replace("B4/8 | C5/4", "B4/8~ | B4/4"))
    >>> sheet(notated(held.score())).ties
    {1: (('given-cantus-1-3', 'given-cantus-2-1'),)}
    """
    bars = {part.voice: by_bar(part.notes, score.bars) for part in score.parts}
    continued: set[str] = set()
    ties: dict[int, list[tuple[str, str]]] = {}
    for part in score.parts:
        for number, start, end in _ties(part.notes, score.bars):
            continued.add(end)
            ties.setdefault(number, []).append((start, end))
    return Sheet(score, bars, frozenset(continued), {n: tuple(found) for n, found in ties.items()})


def by_bar(notes: Iterable[Note], bars: Sequence[Bar]) -> tuple[tuple[Note, ...], ...]:
    """The notes (no rests) of each bar.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE).score())
    >>> [[str(note.pitch) for note in bar] for bar in by_bar(score.part("cantus").notes, score.bars)]
    [['D5', 'A4', 'B4'], ['C5', 'B4', 'A4'], [], []]
    """
    found: list[list[Note]] = [[] for _ in bars]
    here = 0
    for note in notes:
        if not note.id:
            raise ValueError("a note without an id: engrave notated(score)")
        while here < len(bars) - 1 and note.onset >= bars[here].end:
            here += 1
        if note.pitch is not None:
            found[here].append(note)
    return tuple(map(tuple, found))


def _ties(notes: Sequence[Note], bars: Sequence[Bar]) -> Iterator[tuple[int, str, str]]:
    """Bar number, first and second id of each pair of notes that are tied."""
    here = 0
    for note, following in pairwise(notes):
        while here < len(bars) - 1 and note.onset >= bars[here].end:
            here += 1
        if note.tied and following.pitch == note.pitch and following.onset == note.end:
            yield bars[here].number, note.id, following.id


def tie_elements(of: Sheet, bar: Bar) -> Iterator[ET.Element]:
    """The ties that start in a bar."""
    for start, end in of.ties.get(bar.number, ()):
        yield element("tie", startid=f"#{start}", endid=f"#{end}")


def entry_name(score: Score, bar: Bar, note: Note, voice: str, staff: int = 1) -> ET.Element:
    """The name of a voice above the note with which it enters."""
    return element(
        "dir",
        text=voice.capitalize(),
        type="voice",
        staff=str(staff),
        tstamp=beats(score.metre, bar, note.onset),
        place="above",
    )
