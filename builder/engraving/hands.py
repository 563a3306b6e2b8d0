"""Which voices go on which of the two staves, so that two hands can read and play them.

Decided bar by bar for the whole score at once, by the least total cost: ledger lines towards the
middle, stretches beyond an octave, an idle hand, a voice that moves to the other stave (common
practice, no source; the weights are ours).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from builder.engraving.sheet import by_bar
from builder.music import Note, Score
from builder.music.keyboard import NINTH, OCTAVE

MIDDLE_C = 28
"""Diatonic number of the note on the ledger line between the staves."""


class Played(NamedTuple):
    """A note as a hand feels it: from, to, where on the keyboard, held on into the next."""

    start: float
    end: float
    key: int
    held: bool


Voice = Sequence[Played]


def hands(score: Score) -> dict[int, int]:
    """For each bar number how many voices, counted from the highest, stand on the upper stave.

    Cantus and altus are played by the right hand; cantus and bassus are parted.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> hands(notated(parse(EXAMPLE).score()))
    {1: 2, 2: 2, 3: 2, 4: 2}
    >>> theme, answer = EXAMPLE.split("altus  C3")
    >>> low = answer.replace("4/", "3/").replace("3/3", "4/3")
    >>> hands(notated(parse(f"{theme}bassus F4{low}").score()))
    {1: 1, 2: 1, 3: 1, 4: 1}
    """
    voices = [[_played(bar) for bar in by_bar(part.notes, score.bars)] for part in score.parts]
    choices = range(len(score.parts) + 1)
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())] * len(choices)
    for n in range(len(score.bars)):
        here = [bars[n] for bars in voices]
        before = [bars[n - 1] for bars in voices] if n else None
        step = []
        for k in choices:
            own = _staves(here[:k], here[k:])
            cost, path = min((best[j][0] + _moves(j, k, before, here), best[j][1]) for j in choices)
            step.append((cost + own, (*path, k)))
        best = step
    return {bar.number: k for bar, k in zip(score.bars, min(best)[1], strict=True)}


def _played(notes: Iterable[Note]) -> list[Played]:
    return [Played(float(n.onset), float(n.end), n.pitch.diatonic, n.tied) for n in notes if n.pitch]


def _staves(upper: Sequence[Voice], lower: Sequence[Voice]) -> float:
    """The price of one bar."""
    both = any(upper) and any(lower)
    cost = 0.0
    for voices, sign in ((upper, 1), (lower, -1)):
        used = [v for v in voices if v]
        cost += 60 * max(0, len(used) - 2)
        if both:  # with one stave empty either hand may take a voice from the other
            cost += _stretch(used)
        for note in (n for voice in used for n in voice):
            cost += (note.end - note.start) * max(0, sign * (MIDDLE_C - note.key)) / 2
    idle = not both and sum(1 for v in (*upper, *lower) if v) > 1
    return cost + (3 if idle else 0)


def _stretch(voices: Sequence[Voice]) -> int:
    """The price of the wide grips of one hand: beyond an octave little, beyond a ninth much."""
    notes = [n for voice in voices for n in voice]
    price = 0
    for onset in sorted({n.start for n in notes}):
        held = [n.key for n in notes if n.start <= onset < n.end]
        span = max(held) - min(held)
        price += max(0, span - OCTAVE) + 4 * max(0, span - NINTH)
    return price


def _moves(j: int, k: int, before: Sequence[Voice] | None, here: Sequence[Voice]) -> float:
    """The price of voices that change stave at a barline."""
    if before is None or j == k:
        return 0.0
    cost = 1.0
    for voice in range(min(j, k), max(j, k)):
        if before[voice] and here[voice]:
            cost += 50 if before[voice][-1].held else 20
    return cost
