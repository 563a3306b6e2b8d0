"""The levels of a verset that was moved, as at its written pitch: kept wherever the check at the new pitch
lets them stand."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import replace

from builder.diminution.gate import Gate
from builder.diminution.harmony import Harmony
from builder.diminution.result import Diminution
from builder.diminution.search import unsung
from builder.diminution.weave import Change, Tone, Weave
from builder.music import Interval, Score, bar_at
from builder.plan import Plan, Statement

Free = tuple[int, int, int]
"""A voice, and the ticks of a stretch in which it may be set anew."""


class Written:
    """The levels at the written pitch, laid over the voices at another level by level."""

    def __init__(self, by: Interval, plain: Score, made: Mapping[int, Diminution]) -> None:
        """`by`: how far the verset was moved; `plain`: its plain setting as written."""
        self.by, self.made = by, made
        self.scores = {0: plain, **{level: one.score for level, one in made.items()}}

    def rows(self, weave: Weave, level: int) -> list[list[Tone]]:
        """The voices of a level (0: plain), moved."""
        up, higher = self.by.steps, self.by.semitones
        found = []
        for voice in weave.voices:
            tones = (weave.tone(n) for n in self.scores[level].part(voice).sounding())
            found.append([t._replace(d=t.d + up, m=t.m + higher) for t in tones])
        return found

    def lay(self, weave: Weave, level: int, gate: Gate, harmony: Harmony) -> list[Free]:
        """Give the voices, which stand as in the level below, the notes of a level, but where the level below
        is not the written one, and where the check finds an error. What was not laid may be set anew."""
        below, due = self.rows(weave, level - 1), self.rows(weave, level)
        free: list[Free] = []
        laid: list[Change] = []
        for v, row in enumerate(weave.tones):
            other = [(v, a, b) for a, b, _ in stretches(row, below[v])]
            free += other
            laid += [
                Change(v, a, b, tones)
                for a, b, tones in stretches(row, due[v])
                if not any(a < end and start < b for _, start, end in other)
            ]
        stood = {two for v in range(len(weave.voices)) for two in unsung(weave, v, 0, weave.size)}
        back = [weave.apply(change) for change in laid]
        while lost := _refused(weave, laid, gate, harmony, stood):
            for n in sorted(lost, reverse=True):
                weave.apply(back.pop(n))
                v, start, end, _ = laid.pop(n)
                free.append((v, start, end))
        return free

    def plan(self, here: Plan, weave: Weave) -> Plan:
        """The written plan at this pitch, as far as the voices of level 1 have carried it out again. `here`:
        a plan made at this pitch, for its clausulae."""
        written, due = self.made[1].plan, self.rows(weave, 1)

        def stands(voice: str, start: int, end: int) -> bool:
            v = weave.voices.index(voice)
            row = due[v]
            tones = row[bisect_left(row, (start,)) : bisect_left(row, (end,))]
            return weave.inside(v, start, end) == tones

        def carried(one: Statement) -> Statement:
            first = one.motif.first and one.motif.first.up(self.by)
            motif = replace(one.motif, first=first)
            return replace(one, motif=motif, pitch=one.pitch and one.pitch.up(self.by))

        tick = weave.tick
        both = [c for c in written.countersubject if stands(c.voice, tick(c.start), tick(c.end))]
        return replace(
            written,
            statements=tuple(
                carried(s) for s in written.statements if stands(s.voice, tick(s.onset), tick(s.end) + 1)
            ),
            rests=tuple(r for r in written.rests if stands(r.voice, tick(r.start), tick(r.end) + 1)),
            countersubject=tuple(both) if len(both) > 1 and both[0].first else (),
            clausulae=here.clausulae,
        )

    def other_bars(self, weave: Weave, level: int) -> tuple[int, ...]:
        """The bars in which the voices are not those of a level as written."""
        bars: set[int] = set()
        for row, due in zip(weave.tones, self.rows(weave, level), strict=True):
            for tone in {*row} ^ {*due}:
                bars.add(bar_at(weave.score.bars, weave.time(tone.start)).number)
        return tuple(sorted(bars))


def stretches(row: Sequence[Tone], due: Sequence[Tone]) -> list[tuple[int, int, tuple[Tone, ...]]]:
    """Where a voice is not as it should be, each stretch as short as may be: both begin a note at its ends,
    or neither sounds across them; with the notes that are due.

    >>> C, D = Tone(0, 4, 35, 60), Tone(4, 8, 36, 62)
    >>> stretches([C, D], [C, D._replace(end=6), Tone(6, 8, 37, 64)])
    [(4, 8, (Tone(start=4, end=6, d=36, m=62), Tone(start=6, end=8, d=37, m=64)))]
    """
    edges = sorted({t for tone in (*row, *due) for t in (tone.start, tone.end)})
    edges = [t for t in edges if not _across(row, t) and not _across(due, t)]
    found = []
    for a, b in itertools.pairwise(edges):
        now, then = (x[bisect_left(x, (a,)) : bisect_left(x, (b,))] for x in (row, due))
        if [*now] != [*then]:
            found.append((a, b, tuple(then)))
    return found


def _across(row: Sequence[Tone], tick: int) -> bool:
    """Whether a note sounds across a tick."""
    k = bisect_left(row, (tick,))
    return k > 0 and row[k - 1].end > tick


def _refused(
    weave: Weave, laid: Sequence[Change], gate: Gate, harmony: Harmony, stood: set[tuple[Tone, Tone]]
) -> set[int]:
    """Which of the changes brought an error, a move that may not be sung, or left a figure unsounded: those
    of its voices that reach it, else all that reach it, else all."""
    lost = {n for n, c in enumerate(laid) if harmony.uncovered(weave, c.start, c.end)}
    for n, c in enumerate(laid):
        if not stood.issuperset(unsung(weave, c.voice, c.start, c.end)):
            lost.add(n)
    for error in gate.new_errors(gate.whole(weave).findings):
        tick = weave.tick(error.onset)
        near = {n for n, c in enumerate(laid) if c.start - weave.unit <= tick <= c.end + weave.unit}
        own = {n for n in near if weave.voices[laid[n].voice] in error.voices}
        lost |= own or near or {*range(len(laid))}
    return lost
