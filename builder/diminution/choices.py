"""What a diminution does to each stretch of the plain voices: the plain notes, and what stands for them."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from builder.diminution.pattern import Pattern
from builder.diminution.pinned import known
from builder.diminution.result import Choice
from builder.music import Note, Score

SMALL, PASSAGGIO = Fraction(1, 2), 8
"""An eighth; and how many small notes make a passaggio."""


def choices(
    plain: Score, score: Score, hand: Sequence[Choice], table: Sequence[Pattern]
) -> tuple[Choice, ...]:
    """One choice for each stretch, between onsets that the plain voice and the new one share, in which they
    differ; those set by hand as they are."""
    found = list(hand)
    for old, new in zip(plain.parts, score.parts, strict=True):
        pins = [(c.onset, c.onset + c.duration) for c in hand if c.voice == old.voice]
        for a, b, before, after, following in _stretches(
            old.sounding(), new.sounding(), {t for pin in pins for t in pin}
        ):
            if any(a < end and b > start for start, end in pins):
                continue
            if [(n.onset, n.end, n.pitch) for n in before] == [(n.onset, n.end, n.pitch) for n in after]:
                continue
            found.append(_choice(old.voice, a, b, before, after, following, table))
    order = [p.voice for p in plain.parts]
    return tuple(sorted(found, key=lambda c: (c.onset, order.index(c.voice))))


def _stretches(
    old: Sequence[Note], new: Sequence[Note], pins: set[Fraction]
) -> list[tuple[Fraction, Fraction, tuple[Note, ...], tuple[Note, ...], Note | None]]:
    """Cut where both voices begin a note, where neither sounds across, and where a stretch set by hand begins
    and ends."""
    ends = {n.end for n in old} | {n.end for n in new} | {n.onset for n in old}
    starts = {n.onset for n in new}
    cuts = [n.onset for n in old if n.onset in starts]
    inside = [t for t in ends if not _across(old, t) and not _across(new, t)]
    last = max([n.end for n in old] + [n.end for n in new], default=Fraction(0))
    first = min([n.onset for n in old] + [n.onset for n in new], default=Fraction(0))
    edges = sorted({first, *cuts, *inside, *pins, last})
    found: list[tuple[Fraction, Fraction, tuple[Note, ...], tuple[Note, ...], Note | None]] = []
    for a, b in itertools.pairwise(edges):
        before = tuple(n for n in old if a <= n.onset < b)
        after = tuple(n for n in new if a <= n.onset < b)
        if after and not before and found:
            # What is sung into a rest belongs to the plain notes before it.
            a, _, before, sung, _ = found.pop()
            after = (*sung, *after)
        if before:
            found.append((a, b, before, after, next((n for n in old if n.onset == b), None)))
    return found


def _across(notes: Sequence[Note], time: Fraction) -> bool:
    """Whether a note sounds across a time."""
    k = bisect_left(notes, time, key=lambda n: n.onset)
    return k > 0 and notes[k - 1].end > time


def _choice(
    voice: str,
    start: Fraction,
    end: Fraction,
    before: tuple[Note, ...],
    after: tuple[Note, ...],
    following: Note | None,
    table: Sequence[Pattern],
) -> Choice:
    pattern = known(after, before[0], following, table) if len(before) == 1 and after else None
    made = Choice(voice, start, end - start, "", "", before[0], after, following, replaced=before)
    if pattern is None:
        return replace(made, name=_name(before, after))
    return replace(
        made,
        pattern=pattern.id,
        name=pattern.figure,
        late=pattern.late,
        character=pattern.character,
        source=pattern.source,
    )


def _name(before: Sequence[Note], after: Sequence[Note]) -> str:
    """The trade's word for what is in no table: how the plain notes are gone through."""
    if not after:
        return "rest"
    small = [n for n in after if n.duration <= SMALL]
    if len(small) >= PASSAGGIO:
        return "passaggio"
    if small:
        return "minuta" if len(after) > len(before) else "exchange"
    return "syncopation" if {n.onset for n in before} - {n.onset for n in after} else "division"
