"""Motifs: what of the theme can be taken up by itself."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.analysis import Analysis
from builder.music import Note
from builder.source import Verset

HEAD = 4
"""Notes of a motif."""
EIGHTH = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class Motif:
    """A motif: `kind` (`head`, `halved`, `inverted`, `tail`), the moves from note to note in staff steps, and
    the lengths of its notes in quarters (one more than moves)."""

    kind: str
    steps: tuple[int, ...]
    lengths: tuple[Fraction, ...]

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


def _moves(notes: Sequence[Note]) -> tuple[int, ...]:
    return tuple(
        b.pitch.diatonic - a.pitch.diatonic for a, b in itertools.pairwise(notes) if a.pitch and b.pitch
    )
