"""Level 1, in voices: each voice in its own rhythm, with imitation, rests and suspensions."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from builder.diminution.countersubject import WithCountersubject
from builder.diminution.draw import frame
from builder.diminution.hearing import Heard, beyond, hear
from builder.diminution.search import rests
from builder.diminution.weave import Change, Weave
from builder.plan import Plan
from builder.source import Verset

ROUNDS = 110
"""Proposals to a bar."""
FIGURES, PLACES, ODD = 3, 4, 0.4
"""Figures that are tried for one proposal, in how many places each, and how readily an odd number of quarters
later."""


def worth(weave: Weave, given: Sequence[int]) -> float:
    """How far the voices are from what masters have in three and four voices (shares counted in Palestrina
    and in Frescobaldi's Kyries, 1635)."""
    return judge(hear(weave, given), len(weave.voices))


def judge(h: Heard, voices: int) -> float:
    cost = 1.8 * beyond(h.imitated, 0.52, 1.0, 0.1)
    cost += 0.7 * beyond(h.suspensions, 0.54, 0.9, 0.15)
    # Where one of two voices rests, the other is alone.
    silent = (0.1, 0.13) if voices > 2 else (0.0, 0.08)
    cost += 1.0 * beyond(h.silent, *silent, 0.03)
    cost += 0.6 * beyond(h.with_given, 0.42, 0.56, 0.08)
    cost += 1.4 * beyond(h.density, 0.79, 0.9, 0.08)
    cost += 0.6 * beyond(h.repeated, 0.0, 0.09, 0.03)
    cost += 0.6 * beyond(h.leaps, 0.0, 0.05, 0.02)
    # Small notes as they lie in his lines (Palestrina, files at even places of music21's list).
    cost += 0.8 * beyond(h.upper, 0.0, 0.02, 0.03)
    cost += 0.5 * beyond(h.sixths, 0.0, 0.06, 0.05)
    cost += 0.6 * beyond(h.late, 0.0, 0.015, 0.02)
    return cost * h.bars


class Voices(WithCountersubject):
    """The proposals of level 1."""

    def carry_out(self, plan: Plan, verset: Verset) -> Plan:
        """Carry a plan out; the plan as far as that could be done."""
        self.own_words()
        kept = self.countersubject(plan)
        return replace(self.statements(plan, verset), countersubject=kept)

    def run(self) -> None:
        """Let the voices find their lines about what the plan has set."""
        kinds = (self.redraw, *[self.take_up] * 3, self.silence, self.silence, self.suspend, self.word)
        self.loop(ROUNDS, 3.0, 0.25, kinds)

    # What is proposed

    def span(self, least: int, most: int) -> tuple[int, int, int] | None:
        """A voice and a stretch of its notes that may change, of so many quarters."""
        weave, dice = self.weave, self.dice
        for _ in range(12):
            v = dice.randrange(len(weave.voices))
            row = weave.tones[v]
            if len(row) < 3:
                continue
            i = dice.randrange(len(row) - 1)
            start = row[i].start
            length = dice.randint(least, most) * self.unit
            j = i + 1
            while j < len(row) - 1 and row[j].start < start + length and row[j].start == row[j - 1].end:
                j += 1
            end = row[j].start if row[j].start == row[j - 1].end else row[j - 1].end
            if end > start and self.free(v, start, end):
                return v, start, end
        return None

    def redraw(self) -> list[Change] | None:
        """A stretch of one voice anew."""
        found = self.span(1, 8)
        if found is None:
            return None
        v, start, end = found
        if rests(self.weave, v, start, end):
            return None
        onsets = self.rhythm(v, start, end)
        return self.line(v, start, end, onsets, frame(self.weave, v, start, end))

    def take_up(self) -> list[Change] | None:
        """A figure that another voice has had is taken up, perhaps after a rest."""
        for _ in range(FIGURES):
            found = self._taken_up()
            if found:
                return found
        return None

    def _taken_up(self) -> list[Change] | None:
        weave, dice, unit = self.weave, self.dice, self.unit
        w = dice.randrange(len(weave.voices))
        row = weave.tones[w]
        if len(row) < 5:
            return None
        i = dice.randrange(len(row) - 3)
        tones = row[i : i + dice.choice((4, 4, 5, 6, 7))]
        if any(a.end != b.start for a, b in itertools.pairwise(tones)):
            return None
        figure = [(t.start - tones[0].start, t.d) for t in tones]
        last = weave.size - figure[-1][0] - unit
        places = [
            (v, at)
            for v in range(len(weave.voices))
            if v != w
            for n in range(1, 17)
            if n % 2 == 0 or dice.random() < ODD
            if weave.tones[v]
            if weave.tones[v][0].start < (at := tones[0].start + n * unit) < last
            if self.given[at] != v and self.still.none(v, at, at + 1)
        ]
        for v, at in self.likeliest(places, figure)[:PLACES]:
            found = self.stated(v, at, figure, dice.choice((0, 0, 2, 3, 4)) * unit)
            if found:
                return found
        return None

    def silence(self) -> list[Change] | None:
        """A voice rests, to come back with a figure; or a rest is filled."""
        weave, dice = self.weave, self.dice
        v = dice.randrange(len(weave.voices))
        row = weave.tones[v]
        if len(row) < 4:
            return None
        i = dice.randrange(1, len(row) - 1)
        if row[i - 1].end < row[i].start:
            start, end = row[i - 1].start, row[i].start
            if not self.free(v, start, end):
                return None
            onsets = self.rhythm(v, start, end)
            return self.line(v, start, end, onsets, frame(weave, v, start, end))
        most = dice.randint(1, 6) * self.unit
        k = i
        while k > 1 and row[i].start - row[k - 1].start <= most and row[k - 1].end == row[k].start:
            k -= 1
        start, end = row[k].start, row[i].start
        if k < i and end - start >= 2 * self.unit and self.still.none(v, start, end):
            return [Change(v, start, end, ())]
        return None

    def suspend(self) -> list[Change] | None:
        """A note is held over a strong beat and falls after it."""
        weave, dice, unit = self.weave, self.dice, self.unit
        found = self.span(2, 5)
        if found is None:
            return None
        v, start, end = found
        if rests(weave, v, start, end):
            return None
        strong = [t for t in range(start + unit // 2, end - unit // 2, unit // 2) if weave.weight[t] >= 1]
        if not strong:
            return None
        t = dice.choice(strong)
        gap = dice.choice((unit, unit, 2 * unit, unit // 2))
        onsets = [x for x in self.rhythm(v, start, end) if not t - unit < x < t + gap]
        onsets = sorted(
            {
                start,
                *onsets,
                *([t - unit] if t - unit >= start else []),
                *([t + gap] if t + gap < end else []),
            }
        )
        return self.line(v, start, end, onsets, frame(weave, v, start, end))
