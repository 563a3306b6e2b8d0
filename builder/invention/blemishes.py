"""What is dull or rough in a verset that the rules allow."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from builder.counterpoint import Realisation
from builder.music import Pitch
from builder.source import Verset

SUSPENSIONS = 0.3
"""Suspensions a bar that figures should ask for (the masters have .48, in all voices)."""
REMARK, BARE, STILL, AGAIN, STALE = 1.0, 2.0, 2.0, 1.5, 1.0
"""What a bar of each weighs: remarks of the check; too few suspensions; repeated notes in the line; the same
bar of pitches or rhythm again; the same note on strong beats (our own judgement, no source)."""


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
    bare = max(0.0, SUSPENSIONS - _suspended(verset) / bars)
    steps = [g.note.pitch.diatonic for g in verset.given if g.note.pitch]
    still = max(0.0, sum(a == b for a, b in pairwise(steps)) / len(steps) - 0.1)
    return REMARK * remarks + BARE * bare + STILL * still + AGAIN * _again(verset) + STALE * _stale(verset)


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


def _stale(verset: Verset) -> float:
    """How much more than a third one letter has of the strong beats of the lowest voice."""
    strong: Counter[Pitch] = Counter()
    for g in verset.given:
        if g.note.pitch and verset.place(g.note.onset).beat == 1 and g.voice == verset.given[-1].voice:
            strong[Pitch(28 + g.note.pitch.step)] += 1
    return max(0.0, max(strong.values()) / sum(strong.values()) - 0.33) if strong else 0.0
