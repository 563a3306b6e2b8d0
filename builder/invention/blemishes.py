"""What is dull or rough in a verset that the rules allow."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from builder.counterpoint import Realisation
from builder.invention.closing import Sung
from builder.invention.shape import dullness
from builder.source import Verset

SUSPENSIONS = {1: 0.04, 2: 0.16, 3: 0.24}
"""Suspensions a bar that the line's figures should ask for, by the voices above: about as many as stand over
Palestrina's lowest voice, 2, 8 and 12 in a hundred notes, two notes a bar."""
REMARK, BARE, AGAIN, DULL, NARROW = 1.0, 2.0, 1.5, 0.5, 2.0
"""What each weighs: remarks of the check, a bar; suspensions that lack, a bar; the share of bars in the
rhythm of the bar before; how dull the lowest voice is, a bar; the share of stretches in few notes (our own
judgement, no source)."""
WINDOW, LETTERS = 7, 4
"""So many notes in a row have so many different ones at least, where the line goes anywhere."""


def blemishes(verset: Verset, realisation: Realisation) -> float:
    """How much of a verset is dull or rough, a bar: the less the better.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> 0 <= blemishes(verset, realise(verset, analyse(verset))) < 5
    True
    """
    bars = len(verset.bars)
    remarks = sum(f.severity == "note" for f in realisation.findings) / bars
    bare = max(0.0, SUSPENSIONS[min(3, len(verset.voices) - 1)] - _suspended(verset) / bars)
    steps = [g.note.pitch.diatonic for g in verset.given if g.note.pitch]
    rough = REMARK * remarks + BARE * bare + DULL * _dull(verset) / bars
    return rough + AGAIN * _again(verset) + NARROW * _narrow(steps)


def _dull(verset: Verset) -> float:
    """How dull the line of the lowest voice is."""
    own = [g.note for g in verset.given if g.voice == verset.given[-1].voice]
    sung = [Sung(note.pitch, note.duration) for note in own if note.pitch]
    return dullness(sung, len(sung), own[0].onset, verset.metre)


def _narrow(steps: Sequence[int]) -> float:
    """The share of stretches of the line that turn in few notes."""
    stretches = [steps[n : n + WINDOW] for n in range(len(steps) - WINDOW + 1)]
    return sum(len(set(stretch)) < LETTERS for stretch in stretches) / max(1, len(stretches))


def _suspended(verset: Verset) -> int:
    """Notes of the line over which a tone that is held falls."""
    found = 0
    for g in verset.given:
        numbers = [{s.number for s in f.signs} for f in g.figures]
        found += any({4, 7, 9, 2} & a and not {4, 7, 9, 2} & b for a, b in pairwise(numbers))
    return found


def _again(verset: Verset) -> float:
    """The share of bars behind the entries that have the rhythm of the bar before, note for note."""
    rhythms: dict[int, tuple[object, ...]] = {}
    for bar in verset.bars:
        notes = [g.note for g in verset.given if bar.onset <= g.note.onset < bar.end]
        rhythms[bar.number] = tuple(n.duration for n in notes)
    same = sum(rhythms[a] == rhythms[b] for a, b in pairwise(sorted(rhythms)))
    return max(0.0, same / len(rhythms) - 0.3)
