"""Motifs: what of the theme can be taken up by itself."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.analysis import Analysis
from builder.music import Note, Pitch
from builder.source import Verset

HEAD = 4
"""Notes of a motif."""
EIGHTH = Fraction(1, 2)
MEMORY = 8
"""Quarters within which what the line sang is answered."""


@dataclass(frozen=True, slots=True)
class Motif:
    """A motif: `kind` (`head`, `halved`, `inverted` and `tail` of the theme, `line`), the moves from note to
    note in staff steps, and the lengths of its notes in quarters (one more than moves). A motif of the line
    has the pitch that it began on there, and the voice that sang it."""

    kind: str
    steps: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    first: Pitch | None = None
    voice: str = ""

    @property
    def span(self) -> Fraction:
        """From its first onset to its last."""
        return sum(self.lengths[:-1], Fraction(0))


def motifs(verset: Verset, analysis: Analysis) -> tuple[Motif, ...]:
    """The head of the theme as it is, in half its values where they are no shorter than eighths, turned
    upside down; and its end.

    >>> from builder.analysis import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> [(motif.kind, motif.steps) for motif in motifs(verset, analyse(verset))]
    [('head', (-3, 1, 1)), ('inverted', (3, -1, -1)), ('tail', (1, -1, -1))]
    """
    entry = analysis.entries[0] if analysis.entries else None
    if entry is None:
        return ()
    notes = [
        g.note
        for g in verset.given
        if g.voice == entry.voice and entry.onset <= g.note.onset < entry.end and g.note.pitch is not None
    ]
    if len(notes) < HEAD:
        return ()
    head, tail = notes[:HEAD], notes[-HEAD:]
    steps, lengths = _moves(head), tuple(n.duration for n in head)
    found = [Motif("head", steps, lengths)]
    if all(x / 2 >= EIGHTH and x / 2 % EIGHTH == 0 for x in lengths[:-1]):
        found.append(Motif("halved", steps, tuple(x / 2 for x in lengths)))
    found.append(Motif("inverted", tuple(-s for s in steps), lengths))
    if tail != head:
        found.append(Motif("tail", _moves(tail), tuple(n.duration for n in tail)))
    return tuple(m for m in found if all(x % EIGHTH == 0 for x in m.lengths[:-1]))


def of_the_line(verset: Verset, time: Fraction) -> tuple[Motif, ...]:
    """What the given line sang in the four half notes before a time and a voice may answer: each four notes
    that join and move at least twice, the latest first.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> [motif.steps for motif in of_the_line(verset, verset.bars[1].onset)]
    [(1, -1, -1), (1, 1, -1), (-3, 1, 1)]
    """
    found = []
    for k in range(len(verset.given) - HEAD + 1):
        own = verset.given[k : k + HEAD]
        notes = [g.note for g in own]
        first = notes[0].pitch
        joined = all(
            a.voice == b.voice and a.note.end == b.note.onset and a.note.pitch and b.note.pitch
            for a, b in itertools.pairwise(own)
        )
        if first is None or not joined or not time - MEMORY <= notes[0].onset < time:
            continue
        steps, lengths = _moves(notes), tuple(n.duration for n in notes)
        if sum(map(bool, steps)) > 1 and all(x % EIGHTH == 0 for x in lengths[:-1]):
            found.append(Motif("line", steps, lengths, first, own[0].voice))
    return tuple(found[::-1])


def _moves(notes: Sequence[Note]) -> tuple[int, ...]:
    return tuple(
        b.pitch.diatonic - a.pitch.diatonic for a, b in itertools.pairwise(notes) if a.pitch and b.pitch
    )
