"""Levels 2 and 3, diminished: lines in small notes over several plain notes at once."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Container, Iterator, Sequence

from builder.diminution import rhythm
from builder.diminution.closes import Close, formulas
from builder.diminution.draw import Style, draw, frame, shifts
from builder.diminution.florid import Florid
from builder.diminution.harmony import natural
from builder.diminution.lines import Lines
from builder.diminution.search import Search, rests
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import SILENT, Change, Tone, Weave

STYLES = {
    2: Style(learned=0.7, repeat=2.0, leap=0.3, octave=2.0, turn=0.9, heat=0.5, keyboard=True),
    3: Style(
        learned=0.7, repeat=2.0, leap=0.3, octave=2.0, turn=0.8, heat=0.5, keyboard=True, values="halved"
    ),
}
ROUNDS = {2: 60, 3: 60}
"""Proposals to a bar."""
DENSITY = {2: (1.15, 1.5), 3: (1.9, 2.5)}
"""Small notes a quarter, all voices together."""
SHORT = 6
"""Bars of a piece in which the number of small notes counts as much as in longer ones."""
STRONG = 0.08
"""Share of the dissonances of small notes that stand no weaker than the note before (one in fourteen in
masses and madrigals, as counted in music21's corpus)."""
STILLNESS = frozenset({"longest stillness % of piece (mean)"})
"""Not measured by the whole piece: the theme alone at its first entry is a third of a short one."""
STILL = {2: 0.6, 3: 2.0}
"""What a quarter costs in which nothing moves."""
AIMLESS, AIMS = 0.8, 0.03
"""What an aimless small note costs, beyond three in a hundred."""
HARD = 3.0
"""What a dissonance costs that stands no weaker than the note before, beyond `STRONG`."""
CIRCLING = 2.0
"""What it costs when eight small notes turn about three pitches, or four come again at once."""
BASS, LOW = 1.2, 0.1
"""What each small note costs that the lowest of four voices has fewer than a tenth of all."""
SIXTEENTHS = {2: 0.5, 3: 1.1}
CLAUSULAE = {"cantizans": 1.0, "tenorizans": 0.35, "altizans": 0.3, "bassizans": 0.2}
"""How readily each clausula has the formula of a close."""
LATER, TRIES, FORMULA = 0.3, 12, 8.0
"""Chance that level 2 leaves a close to level 3; formulas tried at a close; what one is worth, so that it
adds few warnings."""
AGAIN, PLACES = 3, 4
"""Figures that are tried again for one proposal, and in how many places each."""
OTHER, OWN = (1, 2, 3, 4, 6, 8, 10, 12, 16), (1, 2, 4)
"""Quarters after which, or before which, a figure comes again in another voice and in its own."""
RUN = 6
"""Small notes of a passaggio, at least."""
RUNS = (
    (0, 1, 2, 3, 4, 3, 2, 1, 0),
    (0, 1, 2, 3, 4, 5, 6, 7),
    (0, 1, 2, 1, 0, -1, -2, -1, 0),
    (0, 1, 2, 3, 2, 3, 4, 5, 4),
    (0, 1, 2, 3, 4, 5, 4, 3, 2),
    (0, -1, 0, 1, 2, 3, 4, 3, 2),
)
"""Steps of a passaggio out of the final, to a tone that the sonority has (G. Bassano, 1585; from memory)."""
LIKED, STATED = 1.8, 5.0
"""What it gains that a note of the level below sounds on its onset, and one of an answer to the line: the
reader is told of it. Dear for all that a plan states, three and four voices come out of their bands."""
KEPT = {2: 0.92, 3: 0.95}
"""Chance that a note of the level below keeps its onset."""


class Worth:
    """How far a diminished score is from real pieces, and from a growth to the close."""

    def __init__(self, weave: Weave, level: int, density: float = 1.0, opening: int = 0) -> None:
        """`density`: small notes as a share of the usual number. `opening`: the tick to which the theme
        sounds alone, and so plain."""
        self.florid, self.level, self.density = Florid(weave, level), level, density
        self.opening = opening
        self.close = max((row[-1].start for row in weave.tones if row), default=0)

    def __call__(self, weave: Weave) -> float:
        florid = self.florid
        cost = 2.6 * florid.cost(STILLNESS)
        bars = weave.size / (4 * weave.unit)
        low, high = (x * self.density for x in DENSITY[self.level])
        density = florid.small * weave.unit / weave.size
        weight = 1.5 if self.density == 1 else 6.0
        cost += weight * max(bars, SHORT) * max(0.0, low - density, density - high)
        first, _, last = florid.thirds
        cost += 3.0 * max(0.0, 2.2 - last / max(1, first))
        cost += 0.5 * bars * max(0.0, florid.nats - 1.5)
        cost += STILL[self.level] * self.still(weave.unit)
        cost += AIMLESS * max(0.0, florid.aimless - AIMS * florid.small)
        cost += HARD * max(0.0, florid.strong - STRONG * florid.dissonant)
        cost += CIRCLING * florid.circling
        if len(weave.tones) > 3:
            cost += BASS * max(0.0, LOW * florid.small - florid.bass)
        return cost

    def still(self, unit: int) -> float:
        """Quarters in which nothing moves, beyond two at a time, from the first entry's end to the close."""
        onsets = self.florid.onsets
        inside = onsets[bisect_left(onsets, self.opening) : bisect_left(onsets, self.close)]
        # The listener has waited through the opening.
        points = (self.opening - 2 * unit, *inside, self.close)
        return sum(max(0, b - a - 2 * unit) for a, b in itertools.pairwise(points)) / unit


class Diminished(Lines):
    """The proposals of levels 2 and 3."""

    def __init__(
        self,
        search: Search,
        still: Still,
        level: int,
        below: Sequence[Sequence[Tone]],
        closes: Sequence[Sequence[Close]],
        words: Words,
        ends: Sequence[int],
        stated: Container[tuple[int, int]] = (),
    ) -> None:
        """`ends`: the ticks of the cadences; `stated`: voices and onsets of answers to the line."""
        super().__init__(search, still, words, STYLES[level])
        self.ends = ends
        self.level, self.closes = level, closes
        self.likes = [
            {t.start: (t.d, STATED if (v, t.start) in stated else LIKED) for t in row}
            for v, row in enumerate(below)
        ]
        self.below = [{t.start for t in row} for row in below]
        self.old = [list(row) for row in below]

    def run(self) -> None:
        self.formulas()
        self.own_words()
        if self.level == 3:
            self.passaggio()
        self.loop(
            ROUNDS[self.level],
            2.0,
            0.15,
            (
                self.break_up,
                self.break_up,
                self.break_up,
                self.answer,
                self.answer,
                self.answer,
                self.sequence,
                self.restore,
            ),
        )

    def stumbles(self, change: Change) -> bool:
        """Also where two voices would run in sixteenths at once: each wants a hand of its own."""
        return super().stumbles(change) or self._both(change)

    def _both(self, change: Change) -> bool:
        weave, sixteenth = self.weave, self.unit // 4
        own = {t.start for t in change.tones if t.end - t.start <= sixteenth}
        return bool(own) and any(
            t.start in own and t.end - t.start <= sixteenth
            for v in range(len(weave.voices))
            if v != change.voice
            for t in weave.inside(v, change.start, change.end)
        )

    def span(self) -> tuple[int, int, int] | None:
        weave, dice, unit = self.weave, self.dice, self.unit
        for _ in range(10):
            v = self.voice()
            row = weave.tones[v]
            if len(row) < 3:
                continue
            start = row[dice.randrange(len(row) - 1)].start
            length = dice.choice((1, 2, 2, 3, 4, 4, 6)) * unit
            found = self.stretch(v, start, start + length)
            if found:
                return v, *found
        return None

    def voice(self, but: int = -1) -> int:
        """A voice, rather one with few small notes."""
        weave, half = self.weave, self.unit // 2
        many = self.dice.choice((1, 2))
        two = self.dice.choices([v for v in range(len(weave.voices)) if v != but], k=many)
        return min(two, key=lambda v: sum(t.end - t.start <= half for t in weave.tones[v]))

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
        for _ in range(AGAIN):
            figure = self._figure()
            if figure is None:
                return None
            w, tones = figure
            for v, at in self._places(w, tones, other):
                found = self._placed(w, tones, v, at)
                if found:
                    return [found]
        return None

    def _figure(self) -> tuple[int, list[Tone]] | None:
        """A voice and four to eight of its notes that join, mostly small."""
        weave, dice, half = self.weave, self.dice, self.unit // 2
        for _ in range(AGAIN):
            w = dice.randrange(len(weave.voices))
            row = weave.tones[w]
            small = [k for k, t in enumerate(row) if t.end - t.start <= half]
            if len(small) < 4:
                continue
            i = dice.choice(small)
            found = row[i : i + dice.choice((4, 4, 5, 6, 8))]
            joined = all(a.end == b.start for a, b in itertools.pairwise(found))
            if joined and len(found) > 3 and sum(t.end - t.start <= half for t in found) > 2:
                return w, found
        return None

    def _places(self, w: int, figure: Sequence[Tone], other: bool) -> list[tuple[int, int]]:
        """Where a figure of a voice may come again, in another or in itself: mostly where that sounds many of
        its notes already, on some step."""
        weave, unit = self.weave, self.unit
        first = figure[0].start
        length = figure[-1].start - first
        notes = [(t.start - first, t.d) for t in figure]
        v = self.voice(w) if other else w
        found = [
            (v, at)
            for n in (OTHER if other else OWN)
            for at in (first + n * unit, first - n * unit)
            if at >= 0 and at + length < weave.size and self.given[at] != v and weave.d[v][at] != SILENT
        ]
        return self.likeliest(found, notes)[:PLACES]

    def _placed(self, w: int, figure: Sequence[Tone], v: int, at: int) -> Change | None:
        """A figure of a voice, set in another or the same at a tick, on the step where it goes best."""
        weave = self.weave
        first, last = figure[0], at + figure[-1].start - figure[0].start
        stretch = self.stretch(v, at, last + self.unit // 2)
        if stretch is None:
            return None
        start, end = stretch
        placed = {at + t.start - first.start: t for t in figure}
        kept = [x for x in self.kept(v, start, end) if x < at or x > last]
        onsets = sorted({start, *kept, *placed})
        bound = self.still.bound(v, start, end, onsets)
        if bound is None or bound[0] != onsets:
            return None
        joined = frame(weave, v, start, end)
        joined.likes = self.likes[v]
        spots = self.search.spots(v, start, end)
        here = next(t for t in weave.tones[v] if t.start <= at < t.end)
        best: tuple[float, list[Tone]] | None = None
        sung = {t: f.d for t, f in placed.items()}
        around = range(here.d - first.d - 4, here.d - first.d + 5)
        for shift in shifts(spots, onsets, end, joined, sung, (n for n in around if n or v != w)):
            must = {t: f.d + shift for t, f in placed.items()}
            if any(must.setdefault(t, d) != d for t, d in bound[1].items()):
                continue
            joined.must = must
            drawn = draw(spots, onsets, end, joined, self.style, self.dice)
            if drawn and (best is None or drawn[0] < best[0]):
                best = drawn
        return Change(v, start, end, tuple(best[1])) if best else None

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
        """At each cadence one voice has a formula, mostly the cantizans: the first, in a drawn order, that
        breaks no rule. At level 2 now and then none, so that level 3 has one to add."""
        for n, row in enumerate(self.closes):
            last = n == len(self.closes) - 1
            if self.level == 2 and not last and self.dice.random() < LATER:
                continue
            plain = [c for c in row if c.tone in self.weave.tones[c.voice]]
            if len(plain) < len(row) and not any(c.kind == "cantizans" for c in plain):
                # It has its formula from the level below.
                continue
            order = sorted(plain, key=lambda c: self.dice.random() / CLAUSULAE[c.kind])
            if self.level == 3:
                order.sort(key=lambda c: c.kind != "cantizans")
            any(self._formula(close) for close in order)

    def passaggio(self) -> None:
        """A run of small notes into each close or out of it: the first, in a drawn order, that breaks no
        rule."""
        last = max((row[-1].start for row in self.weave.tones if row), default=0)
        for close in [*(c for c in self.ends if c != last), last]:
            ways = [self._out(), self._into(close)] if close == last else [self._into(close), self._on(close)]
            self.dice.shuffle(ways)
            any(
                self._graced(change)
                for change in itertools.chain(*ways)
                if sum(t.end - t.start <= self.unit // 2 for t in change.tones) >= RUN
            )

    def _graced(self, change: Change) -> bool:
        done = not self._both(change) and self.search.offer([change], 0.0, gain=2 * FORMULA, at_once=True)
        if done:
            self.still.mark(change.voice, change.start, change.end)
        return done

    def _out(self) -> Iterator[Change]:
        """From the final note of a voice, once it has been heard, to another tone of the sonority or back."""
        weave, dice, sixteenth = self.weave, self.dice, self.unit // 4
        tries = [
            (v, wait, run, way)
            for v in self._graceable()
            for wait in (1, 2)
            for run in RUNS
            for way in (1, -1)
        ]
        dice.shuffle(tries)
        for v, wait, run, way in tries:
            last = weave.tones[v][-1]
            start = last.start + wait * self.unit
            if start + (len(run) + 3) * sixteenth > last.end:
                continue
            tones = [Tone(last.start, start + sixteenth, last.d, last.m)]
            for n, steps in enumerate(run[1:]):
                at = start + (n + 1) * sixteenth
                d = last.d + way * steps
                alter = self.search.harmony.alter[at][d % 7]
                if alter is None:
                    break
                tones.append(Tone(at, at + sixteenth, d, natural(d) + alter))
            else:
                tones[-1] = tones[-1]._replace(end=last.end)
                yield Change(v, last.start, last.end, tuple(tones))

    def _into(self, close: int) -> Iterator[Change]:
        """Through the two quarters before a close."""
        yield from self._through(close - 2 * self.unit, close)

    def _on(self, close: int) -> Iterator[Change]:
        """Out of a close within the piece, once it has been heard for a quarter."""
        yield from self._through(close + self.unit, close + 3 * self.unit)

    def _through(self, start: int, end: int) -> Iterator[Change]:
        """In eighths and sixteenths from what sounds at a tick to a note that begins at another."""
        weave, unit = self.weave, self.unit
        voices = [v for v, row in enumerate(weave.tones) if row and self.given[start] != v]
        # First a voice that has moved little so far.
        small = [sum(t.end - t.start <= unit // 2 for t in row) for row in weave.tones]
        voices.sort(key=lambda v: small[v] * self.dice.random())
        for v in voices * 2:
            found = self.stretch(v, start, end) if start >= 0 else None
            if found is None or found[1] - end > unit or found[0] < start - 2 * unit:
                continue
            onsets = sorted({found[0], *range(start, found[1], unit // 4)})
            yield from self.line(v, *found, onsets, frame(weave, v, *found)) or ()

    def _graceable(self) -> list[int]:
        """The voices above the lowest that sound to the end, in a drawn order."""
        rows = self.weave.tones
        lowest = min((row[-1].m for row in rows if row), default=0)
        found = [
            v for v, row in enumerate(rows) if row and row[-1].m > lowest and row[-1].end == self.weave.size
        ]
        self.dice.shuffle(found)
        return found

    def _formula(self, close: Close) -> bool:
        for change in itertools.islice(formulas(self.weave, close, self.level, self.dice), TRIES):
            if self.search.offer([change], 0.0, gain=FORMULA, at_once=True):
                self.still.mark(close.voice, change.start, close.after.start + 1)
                return True
        return False


def noted(weave: Weave) -> list[list[Tone]]:
    """The notes of all voices as they stand."""
    return [list(row) for row in weave.tones]
