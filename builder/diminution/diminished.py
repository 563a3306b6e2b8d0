"""Levels 2 and 3, diminished: lines in small notes over several plain notes at once."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from builder.diminution import rhythm
from builder.diminution.closes import formulas
from builder.diminution.draw import Frame, Style, draw, frame
from builder.diminution.florid import Florid
from builder.diminution.search import Search, cooling, rests
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone, Weave

STYLES = {
    2: Style(learned=0.7, repeat=2.0, leap=0.3, octave=2.0, turn=0.9, heat=0.5, keyboard=True),
    3: Style(
        learned=0.7, repeat=2.0, leap=0.3, octave=2.0, turn=0.8, heat=0.5, keyboard=True, values="halved"
    ),
}
ROUNDS = {2: 52, 3: 52}
"""Proposals to a bar."""
DENSITY = {2: (1.15, 1.5), 3: (1.9, 2.5)}
"""Small notes a quarter, all voices together."""
SIXTEENTHS = {2: 0.5, 3: 1.5}
KEPT = {2: 0.92, 3: 0.95}
"""Chance that a note of the level below keeps its onset."""


class Worth:
    """How far a diminished score is from real pieces, and from a growth to the close."""

    def __init__(self, weave: Weave, level: int) -> None:
        self.florid, self.level = Florid(weave, level), level

    def __call__(self, weave: Weave) -> float:
        florid = self.florid
        cost = 2.0 * florid.cost()
        bars = weave.size / (4 * weave.unit)
        low, high = DENSITY[self.level]
        density = florid.small * weave.unit / weave.size
        cost += 1.5 * bars * max(0.0, low - density, density - high)
        first, _, last = florid.thirds
        cost += 3.0 * max(0.0, 2.2 - last / max(1, first))
        cost += 0.5 * bars * max(0.0, florid.nats - 1.5)
        return cost


class Diminished:
    """The proposals of levels 2 and 3."""

    def __init__(
        self,
        search: Search,
        still: Still,
        level: int,
        below: Sequence[Sequence[Tone]],
        closes: list[tuple[int, Tone, Tone]],
        words: Words,
    ) -> None:
        self.search, self.still, self.level = search, still, level
        self.weave, self.dice, self.given = search.weave, search.dice, search.given
        self.unit, self.style = self.weave.unit, STYLES[level]
        self.closes, self.words, self.gain = closes, words, 0.0
        self.likes = [{t.start: (t.d, 1.8) for t in row} for row in below]
        self.below = [{t.start for t in row} for row in below]
        self.old = [list(row) for row in below]

    def run(self) -> None:
        self.formulas()
        rounds = int(ROUNDS[self.level] * self.weave.size / (self.unit * 4))
        kinds = (
            self.break_up,
            self.break_up,
            self.break_up,
            self.answer,
            self.answer,
            self.sequence,
            self.restore,
        )
        for heat in cooling(rounds, 2.0, 0.15):
            self.gain = 0.0
            changes = self.dice.choice(kinds)()
            if not changes or any(map(self.stumbles, changes)):
                continue
            if self.search.offer(changes, heat, self.gain) and self.gain:
                self.still.mark(changes[0].voice, changes[0].start, changes[0].end)

    def stumbles(self, change: Change) -> bool:
        """Whether a note begins between eighths and lasts longer than one."""
        eighth = self.unit // 2
        return any(t.start % eighth and t.end - t.start > eighth for t in change.tones)

    def span(self) -> tuple[int, int, int] | None:
        weave, dice, unit = self.weave, self.dice, self.unit
        for _ in range(10):
            v = dice.randrange(len(weave.voices))
            row = weave.tones[v]
            if len(row) < 3:
                continue
            start = row[dice.randrange(len(row) - 1)].start
            length = dice.choice((1, 2, 2, 3, 4, 4, 6)) * unit
            found = self.stretch(v, start, start + length)
            if found:
                return v, *found
        return None

    def stretch(self, v: int, start: int, end: int) -> tuple[int, int] | None:
        """From the note that sounds at a tick to the first note that begins at another or later."""
        weave = self.weave
        row = weave.tones[v]
        k = weave.place(v, start + 1) - 1
        if k < 0 or row[k].end <= start:
            return None
        j = weave.place(v, end)
        if j >= len(row):
            return None
        a, b = row[k].start, row[j].start
        if b - a > 8 * self.unit or rests(weave, v, a, b) or self.still.whole(v, a, b):
            return None
        return a, b

    def kept(self, v: int, start: int, end: int) -> list[int]:
        """Onsets of the level below that stay: nearly all, and all of the given line's."""
        return [
            x
            for x in sorted(self.below[v])
            if start <= x < end and (self.given[x] == v or self.dice.random() < KEPT[self.level])
        ]

    def line(self, v: int, start: int, end: int, onsets: Sequence[int], joined: Frame) -> list[Change] | None:
        bound = self.still.bound(v, start, end, onsets)
        if bound is None:
            return None
        ordered, must = bound
        joined.likes = self.likes[v]
        joined.given = self.given[start] == v
        if any(joined.must.get(t, d) != d for t, d in must.items()):
            return None
        joined.must = {**joined.must, **must}
        found = draw(self.search.spots(v, start, end), ordered, end, joined, self.style, self.dice)
        return [Change(v, start, end, tuple(found[1]))] if found else None

    def break_up(self) -> list[Change] | None:
        """A stretch of one voice in small notes."""
        found = self.span()
        if found is None:
            return None
        v, start, end = found
        values = "halved" if self.level == 3 and self.dice.random() < 0.6 else "as written"
        onsets = rhythm.figured(
            self.weave, start, end, values, self.kept(v, start, end), self.dice, SIXTEENTHS[self.level]
        )
        return self.line(v, start, end, onsets, frame(self.weave, v, start, end))

    def answer(self) -> list[Change] | None:
        """Small notes that another voice has had."""
        return self._again(other=True)

    def sequence(self) -> list[Change] | None:
        """Small notes that the voice itself has had, on another step."""
        return self._again(other=False)

    def _again(self, other: bool) -> list[Change] | None:
        weave, dice, unit = self.weave, self.dice, self.unit
        w = dice.randrange(len(weave.voices))
        row = weave.tones[w]
        small = [k for k, t in enumerate(row) if t.end - t.start <= unit // 2]
        if len(small) < 4:
            return None
        i = dice.choice(small)
        n = dice.choice((4, 4, 5, 6, 8))
        figure = row[i : i + n]
        if len(figure) < 4 or any(a.end != b.start for a, b in itertools.pairwise(figure)):
            return None
        if sum(t.end - t.start <= unit // 2 for t in figure) < 3:
            return None
        voices = [v for v in range(len(weave.voices)) if (v != w) == other]
        if not voices:
            return None
        v = dice.choice(voices)
        by = (
            dice.choice((1, 2, 2, 3, 4, 4, 6, 8, 12)) * unit if other else dice.choice((1, 2, 2, 4, 4)) * unit
        )
        at = figure[0].start + by * dice.choice((1, 1, 1, -1))
        last = at + figure[-1].start - figure[0].start
        if at < 0 or last >= weave.size or self.given[at] == v:
            return None
        found = self.stretch(v, at, last + unit // 2)
        if found is None:
            return None
        start, end = found
        placed = {at + t.start - figure[0].start: t for t in figure}
        kept = [x for x in self.kept(v, start, end) if x < at or x > last]
        onsets = sorted({start, *kept, *placed})
        joined = frame(weave, v, start, end)
        spots = self.search.spots(v, start, end)
        bound = self.still.bound(v, start, end, onsets)
        if bound is None or bound[0] != onsets:
            return None
        here = next((t for t in weave.tones[v] if t.start <= at < t.end), row[0])
        best: tuple[float, list[Tone]] | None = None
        for shift in range(here.d - figure[0].d - 4, here.d - figure[0].d + 5):
            if not other and not shift:
                continue
            must = {t: f.d + shift for t, f in placed.items()}
            if any(must.setdefault(t, d) != d for t, d in bound[1].items()):
                continue
            joined.must, joined.likes = must, self.likes[v]
            joined.given = False
            drawn = draw(spots, onsets, end, joined, self.style, dice)
            if drawn and (best is None or drawn[0] < best[0]):
                best = drawn
        return [Change(v, start, end, tuple(best[1]))] if best else None

    def word(self) -> list[Change] | None:
        """A pattern of the tables on one note."""
        weave, dice = self.weave, self.dice
        v = dice.randrange(len(weave.voices))
        row = weave.tones[v]
        if len(row) < 2:
            return None
        k = dice.randrange(len(row) - 1)
        tone, after = row[k], row[k + 1]
        if (
            tone.end != after.start
            or tone.end - tone.start < self.unit
            or any(self.still.rows[v][tone.start + 1 : tone.end])
        ):
            return None
        found = self.words.change(weave, self.search.harmony, v, tone, after, dice)
        if found is None or (self.still.rows[v][tone.start] and found[0].tones[0].d != tone.d):
            return None
        self.gain = found[1]
        return [found[0]]

    def restore(self) -> list[Change] | None:
        """A stretch is given back the notes of the level below."""
        weave, dice = self.weave, self.dice
        v = dice.randrange(len(self.old))
        row = self.old[v]
        if len(row) < 3:
            return None
        i = dice.randrange(len(row) - 1)
        j = min(len(row) - 1, i + dice.randint(1, 3))
        start, end = row[i].start, row[j].start
        own = {t.start for t in weave.tones[v]}
        if start not in own or end not in own or self.still.whole(v, start, end):
            return None
        old = tuple(row[i:j])
        return None if old == tuple(weave.inside(v, start, end)) else [Change(v, start, end, old)]

    def formulas(self) -> None:
        """At each cadence the leading note has a formula: the first, in a drawn order, that breaks no
        rule."""
        for v, tone, after in self.closes:
            for change in formulas(self.weave, v, tone, after, self.level, self.dice):
                if self.search.offer([change], 0.0, gain=1e6):
                    self.still.mark(v, change.start, after.start + 1)
                    break


def noted(weave: Weave) -> list[list[Tone]]:
    """The notes of all voices as they stand."""
    return [list(row) for row in weave.tones]
