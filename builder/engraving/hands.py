"""Which voices go on which of the two staves, so that two hands can read and play them.

Decided bar by bar for the whole score at once, by the least total cost: ledger lines towards the
middle, stretches beyond an octave, an idle hand, a voice that moves to the other stave (common
practice, no source; the weights are ours).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from builder.music import Bar, Note, Score

MIDDLE_C = 28
"""Diatonic number of the note on the ledger line between the staves."""


def hands(score: Score) -> dict[int, int]:
    """For each bar number how many voices, counted from the highest, stand on the upper stave."""
    played = [_bars(part.notes, score.bars) for part in score.parts]
    choices = range(len(score.parts) + 1)
    best: list[tuple[Fraction, tuple[int, ...]]] = [(Fraction(0), ())] * len(choices)
    for n in range(len(score.bars)):
        here = [notes[n] for notes in played]
        before = [notes[n - 1] for notes in played] if n else None
        step = []
        for k in choices:
            own = _staves(here[:k], here[k:])
            cost, path = min((best[j][0] + _moves(j, k, before, here), best[j][1]) for j in choices)
            step.append((cost + own, (*path, k)))
        best = step
    return {bar.number: k for bar, k in zip(score.bars, min(best)[1], strict=True)}


Played = Sequence[Note]


def _bars(notes: Sequence[Note], bars: Sequence[Bar]) -> list[Played]:
    return [[n for n in notes if n.pitch and bar.onset <= n.onset < bar.end] for bar in bars]


def _staves(upper: Sequence[Played], lower: Sequence[Played]) -> Fraction:
    both = any(upper) and any(lower)
    cost = Fraction(0)
    for voices, sign in ((upper, 1), (lower, -1)):
        used = [v for v in voices if v]
        cost += 60 * max(0, len(used) - 2)
        if both:  # with one stave empty either hand may take a voice from the other
            cost += sum(_stretch(used))
        for note in (n for voice in used for n in voice):
            assert note.pitch is not None
            cost += note.duration * max(0, sign * (MIDDLE_C - note.pitch.diatonic)) / 2
    idle = not both and sum(1 for v in (*upper, *lower) if v) > 1
    return cost + (3 if idle else 0)


def _stretch(voices: Sequence[Played]) -> list[int]:
    """The price of every wide grip of one hand: beyond an octave little, beyond a ninth much."""
    onsets = sorted({n.onset for voice in voices for n in voice})
    prices = []
    for onset in onsets:
        held = [n.pitch.diatonic for v in voices for n in v if n.pitch and n.onset <= onset < n.end]
        span = max(held) - min(held)
        prices.append(max(0, span - 7) + 4 * max(0, span - 8))
    return prices


def _moves(j: int, k: int, before: Sequence[Played] | None, here: Sequence[Played]) -> Fraction:
    """The price of voices that change stave at a barline."""
    if before is None or j == k:
        return Fraction(0)
    cost = Fraction(1)
    for voice in range(min(j, k), max(j, k)):
        if before[voice] and here[voice]:
            cost += 50 if before[voice][-1].tied else 20
    return cost
