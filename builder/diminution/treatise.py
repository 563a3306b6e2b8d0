"""The patterns of the tables as words that the search may use: on one note, to the next."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from random import Random

from builder.diminution.harmony import Harmony, natural
from builder.diminution.pattern import Pattern
from builder.diminution.tables import patterns
from builder.diminution.weave import Change, Tone, Weave


class Words:
    """The patterns of a level, by the value they divide and the way to the next note."""

    worth = 6.0
    """What a pattern of the course's own is worth beyond its music."""

    def __init__(self, table: Sequence[Pattern], level: int, shortest: Fraction) -> None:
        self.found: dict[tuple[Fraction, int | None], list[Pattern]] = {}
        house = {p.id for p in patterns()}
        self.own = frozenset(p.id for p in table if p.id not in house)
        """The course's own patterns: they are preferred."""
        for pattern in table:
            if pattern.density <= level and min(pattern.lengths) >= shortest and pattern.figure != "groppo":
                self.found.setdefault((pattern.value, pattern.interval), []).append(pattern)

    def change(
        self, weave: Weave, harmony: Harmony, voice: int, tone: Tone, after: Tone, dice: Random
    ) -> Change | None:
        """One of the patterns that fit a note and the note it goes to: one of the course's own, if any."""
        value = Fraction(tone.end - tone.start, weave.unit)
        fit = self.found.get((value, after.d - tone.d), []) + self.found.get((value, None), [])
        if not fit:
            return None
        mine = [p for p in fit if p.id in self.own]
        pattern = dice.choice(mine or fit)
        bounds = [tone.start]
        for length in pattern.lengths:
            ticks = length * weave.unit
            if ticks.denominator != 1:
                return None
            bounds.append(bounds[-1] + int(ticks))
        tones = []
        for steps, a, b in zip(pattern.steps, bounds, bounds[1:]):
            d = tone.d + steps
            alter = harmony.alter[a][d % 7]
            if d == tone.d:
                m = tone.m
            elif d == after.d:
                m = after.m
            elif alter is None:
                return None
            else:
                m = natural(d) + alter
            tones.append(Tone(a, b, d, m))
        return Change(voice, tone.start, tone.end, tuple(tones))
