"""Which voices go on which of the two staves, so that two hands can read and play them.

Decided bar by bar for the whole score at once, by the least total cost: ledger lines towards the
middle, stretches beyond an octave, an idle hand, a voice that moves to the other stave (common
practice, no source; the weights are ours). Then note by note: one that would stand on ledger lines in the
other hand's room, and which that hand reaches, crosses to its stave.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from builder.engraving.beams import beams
from builder.engraving.sheet import Sheet, by_bar, sheet
from builder.music import Bar, Note, Score
from builder.music.keyboard import NINTH, OCTAVE

THIRD = 2
MIDDLE_C = 28
"""Diatonic number of the note on the ledger line between the staves."""
_LEDGERS = 2
"""Steps beyond middle C at which a note has two ledger lines."""


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


def crossings(score: Score, share: Mapping[int, int]) -> dict[str, str]:
    """The notes that stand on the other stave for once: those of the voices next to the middle that would
    need two ledger lines or more into the other hand, where that hand reaches them. By their ids, each with
    the id of the note whose stem it shares there, if it does.

    They cross alone or with all of their beam, into a stave on which the voices stay legible: one other voice
    sounds there, or two, of which the nearer has a note of the same length at the same time, so that both
    share a stem. Three voices and more: with two, each keeps its hand.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE).score())
    >>> crossings(score, hands(score))
    {}
    """
    of, found = sheet(score), dict[str, str]()
    voices = [part.voice for part in score.parts]
    for n, bar in enumerate(score.bars):
        k = share[bar.number]
        for inner, others, sign in ((k, voices[:k][::-1], 1), (k - 1, voices[k:], -1)):
            if not 0 < inner < len(voices) - 1 or not others:
                continue
            there = [of.bars[v][n] for v in others if of.bars[v][n]]
            for unit in _units(of, bar, of.bars[voices[inner]][n]):
                beyond = [sign * (note.pitch.diatonic - MIDDLE_C) for note in unit if note.pitch]
                mates = [_mate(note, there, sign) for note in unit]
                if min(beyond) >= 0 and max(beyond) >= _LEDGERS and None not in mates:
                    found |= {note.id: mate or "" for note, mate in zip(unit, mates, strict=True)}
    return found


def _units(of: Sheet, bar: Bar, notes: Sequence[Note]) -> Iterator[tuple[Note, ...]]:
    """The notes of a voice in a bar that cross together: a beam, or one note; none that is tied."""
    groups = beams(notes, of.score.metre, bar)
    beamed = {n for group in groups for n in group}
    for group in (*groups, *((n,) for n in range(len(notes)) if n not in beamed)):
        unit = tuple(notes[n] for n in group)
        if not any(note.tied or note.id in of.continued for note in unit):
            yield unit


def _mate(note: Note, there: Sequence[Sequence[Note]], sign: int) -> str | None:
    """The note whose stem a note shares on a stave, by its id, empty where it needs none; None where it may
    not stand there with what sounds, the nearest voice first."""
    held = [
        [other for other in voice if other.onset < note.end and other.end > note.onset] for voice in there
    ]
    if not held or len(held) > 2 or any(sum(o.end - o.onset for o in v) < note.duration for v in held):
        return None
    if len(held) == 2 and [(o.onset, o.end) for o in held[0]] != [(note.onset, note.end)]:
        return None
    rows = [[sign * o.pitch.diatonic for o in voice if o.pitch] for voice in held]
    own = [sign * note.pitch.diatonic] if note.pitch else []
    apart = [min(high) - max(low) for low, high in pairwise([own, *rows])]
    if min(apart) < THIRD or max(rows[-1]) - own[0] > OCTAVE:
        return None
    return held[0][0].id if len(held) == 2 and note.duration < 4 else ""


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
