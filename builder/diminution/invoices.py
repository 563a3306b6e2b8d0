"""Level 1, in voices: each voice in its own rhythm, with imitation, rests and suspensions."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from builder.analysis import Analysis, Entry
from builder.diminution import rhythm
from builder.diminution.draw import Frame, Style, draw, frame
from builder.diminution.habits import NO_MOVE
from builder.diminution.harmony import natural
from builder.diminution.hearing import Heard, beyond, hear
from builder.diminution.search import Search, cooling, rests
from builder.diminution.spots import Spot, Spots
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone, Weave
from builder.plan import Countersubject, Motif, Plan, Rest, Statement
from builder.source import Verset

STYLE = Style()
ROUNDS = 110
"""Proposals to a bar."""


def worth(weave: Weave, given: Sequence[int]) -> float:
    """How far the voices are from what masters have in three and four voices (shares counted in Palestrina
    and in Frescobaldi's Kyries, 1635)."""
    return judge(hear(weave, given), len(weave.voices))


def judge(h: Heard, voices: int) -> float:
    cost = 1.8 * beyond(h.imitated, 0.52, 1.0, 0.1)
    cost += 0.7 * beyond(h.suspensions, 0.54, 0.9, 0.15)
    if voices > 2:
        cost += 1.0 * beyond(h.silent, 0.1, 0.13, 0.03)
    cost += 0.6 * beyond(h.with_given, 0.42, 0.56, 0.08)
    cost += 0.8 * beyond(h.density, 0.77, 0.9, 0.08)
    cost += 0.6 * beyond(h.repeated, 0.0, 0.09, 0.03)
    cost += 0.6 * beyond(h.leaps, 0.0, 0.05, 0.02)
    return cost * h.bars


class Voices:
    """The proposals of level 1."""

    def __init__(self, search: Search, analysis: Analysis, still: Still, words: Words) -> None:
        self.search, self.analysis, self.still, self.words = search, analysis, still, words
        self.weave, self.dice, self.given = search.weave, search.dice, search.given
        self.place = rhythm.places(self.weave)
        self.unit = self.weave.unit
        self.gain = 0.0

    def run(self, plan: Plan, verset: Verset) -> Plan:
        """Carry the plan out, then let the voices find their lines; the plan as far as it was done."""
        kept = self.countersubject(plan)
        plan = replace(self.statements(plan, verset), countersubject=kept)
        rounds = int(ROUNDS * self.weave.size / (self.unit * 4))
        kinds = (self.redraw, *[self.take_up] * 3, self.silence, self.silence, self.suspend, self.word)
        for heat in cooling(rounds, 3.0, 0.25):
            self.gain = 0.0
            changes = self.dice.choice(kinds)()
            if changes and self.search.offer(changes, heat, self.gain) and self.gain:
                self.still.mark(changes[0].voice, changes[0].start, changes[0].end)
        return plan

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

    def free(self, voice: int, start: int, end: int) -> bool:
        return end <= self.weave.size and not self.still.whole(voice, start, end)

    def redraw(self) -> list[Change] | None:
        """A stretch of one voice anew."""
        found = self.span(1, 8)
        if found is None:
            return None
        v, start, end = found
        if rests(self.weave, v, start, end):
            return None
        onsets = self.rhythm(v, start, end)
        return self.drawn(v, start, end, onsets, frame(self.weave, v, start, end))

    def rhythm(self, v: int, start: int, end: int) -> list[int]:
        return rhythm.vocal(self.weave, self.place, v, self.given[start], start, end, 1.1, self.dice)

    def drawn(self, v: int, start: int, end: int, onsets: list[int], joined: Frame) -> list[Change] | None:
        bound = self.still.bound(v, start, end, onsets)
        if bound is None:
            return None
        onsets, joined.must = bound
        found = draw(self.search.spots(v, start, end), onsets, end, joined, STYLE, self.dice)
        return [Change(v, start, end, tuple(found[1]))] if found else None

    def take_up(self) -> list[Change] | None:
        """A figure that another voice has had is taken up, perhaps after a rest."""
        for _ in range(5):
            found = self._taken_up()
            if found:
                return found
        return None

    def _taken_up(self) -> list[Change] | None:
        weave, dice, unit = self.weave, self.dice, self.unit
        others = [w for w, row in enumerate(weave.tones) if len(row) > 4]
        if not others:
            return None
        w = dice.choice(others)
        row = weave.tones[w]
        i = dice.randrange(len(row) - 3)
        n = dice.choice((4, 4, 5, 6, 7))
        figure = row[i : i + n]
        if len(figure) < 4 or any(a.end != b.start for a, b in itertools.pairwise(figure)):
            return None
        voices = [v for v in range(len(weave.voices)) if v != w]
        if not voices:
            return None
        v = dice.choice(voices)
        step = 2 * unit if dice.random() < 0.7 else unit
        at = figure[0].start + step * dice.randint(1, 16)
        rest = dice.choice((0, 0, 2, 3, 4)) * unit
        return self.stated(v, at, [(t.start - figure[0].start, t.d) for t in figure], rest)

    def stated(self, v: int, at: int, figure: Sequence[tuple[int, int]], rest: int) -> list[Change] | None:
        """A figure (onsets from its first, staff steps) set in a voice at a tick, after a rest of so many
        ticks, on the step where it goes best; what it stands in is drawn anew up to the next note that
        stays."""
        weave, unit = self.weave, self.unit
        own, start, last = weave.tones[v], at - rest, at + figure[-1][0]
        if start < 0 or last + unit // 2 > weave.size:
            return None
        k = weave.place(v, start + 1) - 1
        j = weave.place(v, last + unit // 2)
        if k < 0 or j >= len(own):
            return None
        head = [own[k]._replace(end=start)] if own[k].start < start < own[k].end else []
        begin = own[k].start if own[k].end > start else start
        end = own[j].start if own[j - 1].end == own[j].start else max(own[j - 1].end, last + unit)
        if end > weave.size or end - last > 3 * unit or not self.still.none(v, start, at):
            return None
        if not rest and not head and own[k].end <= start:
            return None
        onsets = [at + t for t, _ in figure]
        if end - last > 2 * unit:
            onsets += self.rhythm(v, last + unit, end)
        bound = self.still.bound(v, at, end, onsets)
        if bound is None or len(bound[0]) != len(onsets):
            return None
        joined = frame(weave, v, begin, end)
        if rest:
            joined.before, joined.move = None, NO_MOVE
        elif head:
            joined.before, joined.move = head[0], NO_MOVE
        spots = self.search.spots(v, begin, end)
        best: tuple[float, list[Tone]] | None = None
        here = own[k].d - figure[0][1]
        for shift in range(here - 6, here + 7):
            must = {at + t: d + shift for t, d in figure}
            if any(must.setdefault(t, d) != d for t, d in bound[1].items()):
                continue
            joined.must = must
            found = draw(spots, onsets, end, joined, STYLE, self.dice)
            if found and (best is None or found[0] < best[0]):
                best = found
        return [Change(v, begin, end, (*head, *best[1]))] if best else None

    def statements(self, plan: Plan, verset: Verset) -> Plan:
        """Carry a plan out: each statement in its voice, or else in another that is free; after its rest if
        that can be, after a shorter one, or after none. What cannot be is left out."""
        done: list[Statement] = []
        silent: list[Rest] = []
        for one in plan.statements:
            rests = [int((r.end - r.start) * self.unit) for r in plan.rests if r.end == one.onset]
            made = self._statement(one, plan, verset, rests)
            if made is not None:
                statement, rest = made
                done.append(statement)
                if rest is not None:
                    silent.append(rest)
        return replace(plan, statements=tuple(done), rests=tuple(silent))

    def _statement(
        self, one: Statement, plan: Plan, verset: Verset, rests: Sequence[int]
    ) -> tuple[Statement, Rest | None] | None:
        """The statement as it can be made: first as it was planned, then with other voices, a little sooner
        or later, with other motifs."""
        weave, unit = self.weave, self.unit
        lengths = [x for r in rests for x in (r, r // (4 * unit) * 2 * unit) if x >= 2 * unit]
        step = max(int(verset.metre.beat * unit), unit)
        motifs = [one.motif, *(m for m in plan.motifs if m != one.motif and m.kind != "inverted")]
        ways = [(m, by) for m in motifs for by in (0, step, -step)]
        for motif, by in ways:
            at = weave.tick(one.onset) + by
            ticks = [int(x * unit) for x in motif.lengths]
            figure = [(sum(ticks[:n]), sum(motif.steps[:n])) for n in range(len(ticks))]
            time = weave.time(at)
            if time <= 0 or any(c.start <= time < c.onset for c in self.analysis.cadences):
                continue
            # The first notes of an entry are left alone.
            if any(e.onset - 1 < time < e.onset + 2 for e in self.analysis.entries):
                continue
            above = verset.above(time)
            voices = [v for v in (one.voice, *above) if v in above]
            for name in dict.fromkeys(voices):
                v = weave.voices.index(name)
                for rest in (*dict.fromkeys(lengths), 0):
                    changes = self.stated(v, at, figure, rest)
                    if changes and self.search.offer(changes, 0.0, gain=20.0):
                        return self._made(one, motif, v, at, figure, rest, verset)
        return None

    def _made(
        self,
        one: Statement,
        motif: Motif,
        voice: int,
        at: int,
        figure: Sequence[tuple[int, int]],
        rest: int,
        verset: Verset,
    ) -> tuple[Statement, Rest | None]:
        weave = self.weave
        name, end = weave.voices[voice], at + figure[-1][0]
        self.still.mark(voice, at - rest, end + 1)
        tone = weave.tones[voice][weave.place(voice, at)]
        onset = weave.time(at)
        entries = [e for e in self.analysis.entries if e.voice != name and e.onset < onset]
        leader = max(entries, key=lambda e: e.onset)
        made = Statement(
            motif,
            name,
            onset,
            weave.time(end),
            verset.place(onset),
            leader.voice,
            weave.note(tone).pitch,
            tone.d - leader.pitch.diatonic,
        )
        start = weave.time(at - rest)
        return made, Rest(name, start, onset, verset.place(start)) if rest else None

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
            return self.drawn(v, start, end, onsets, frame(weave, v, start, end))
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
        return self.drawn(v, start, end, onsets, frame(weave, v, start, end))

    def word(self) -> list[Change] | None:
        """A pattern of the tables on one note."""
        weave, dice = self.weave, self.dice
        v = dice.randrange(len(weave.voices))
        row = weave.tones[v]
        if len(row) < 2:
            return None
        k = dice.randrange(len(row) - 1)
        tone, after = row[k], row[k + 1]
        if tone.end != after.start or not self.still.none(v, tone.start, tone.end):
            return None
        found = self.words.change(weave, self.search.harmony, v, tone, after, dice)
        if found is None:
            return None
        self.gain = found[1]
        return [found[0]]

    # The countersubject

    def countersubject(self, plan: Plan, tries: int = 24) -> tuple[Countersubject, ...]:
        """What the voice that has just had the theme sings to the next entry, the same at each entry where it
        can be; where it is."""
        windows = self.windows()
        done: set[int] = set()
        for a, b in self.common(windows) if len(windows) > 1 else ():
            best: tuple[float, list[list[Change]]] | None = None
            for _ in range(tries):
                found = self.tried(windows, a, b)
                if found and (best is None or found[0] < best[0]):
                    best = found
            if best is None:
                continue
            for window, changes in zip(windows, best[1]):
                if self.settle(changes, window[1] + a, window[1] + b):
                    self.still.mark(window[0], window[1] + a, window[1] + b)
                    done.add(window[1])
        kept = [c for c in plan.countersubject if self.weave.tick(c.start) in done]
        if len(kept) < 2:
            return ()
        return tuple(replace(c, first=n == 0) for n, c in enumerate(kept))

    def windows(self) -> list[tuple[int, int, int]]:
        """Voice that sings against an entry, onset and length of the entry in ticks, steps from the first."""
        weave = self.weave
        entries = [e for e in self.analysis.entries if e.voice in weave.voices]
        found = []
        for one, two in itertools.pairwise(entries):
            if one.voice != two.voice:
                found.append(
                    (weave.voices.index(one.voice), weave.tick(two.onset), self.shift(two, entries[1]))
                )
        return found

    @staticmethod
    def shift(entry: Entry, first: Entry) -> int:
        return entry.pitch.diatonic - first.pitch.diatonic

    def common(self, windows: list[tuple[int, int, int]]) -> list[tuple[int, int]]:
        """Stretches, counted from the entry, in which every one of the voices is free, between onsets of
        notes."""
        weave = self.weave
        first = self.analysis.theme.length
        length = int(first * self.unit)
        free = [
            all(
                0 <= on + t < weave.size and not self.still.rows[v][on + t] and weave.d[v][on + t] >= 0
                for v, on, _ in windows
            )
            for t in range(length)
        ]
        found, t = [], 0
        while t < length:
            if not free[t]:
                t += 1
                continue
            a = t
            while t < length and free[t]:
                t += 1
            b = t
            # The stretch ends where every voice has a note of its own to go on with.
            starts = [{tone.start - on for tone in weave.tones[v]} for v, on, _ in windows]
            ends = [x for x in range(a + 2 * self.unit, b + 1) if all(x in s for s in starts)]
            begins = [x for x in range(a, b) if all(x in s for s in starts)]
            if ends and begins and ends[-1] - begins[0] >= 2 * self.unit:
                found.append((begins[0], ends[-1]))
        return found

    def tried(
        self, windows: list[tuple[int, int, int]], a: int, b: int
    ) -> tuple[float, list[list[Change]]] | None:
        """One line for all windows, and its cost."""
        v, on, _ = windows[0]
        spots = Joint(self.search, windows)
        joined = frame(self.weave, v, on + a, on + b)
        onsets = self.rhythm(v, on + a, on + b)
        found = draw(spots, onsets, on + b, joined, STYLE, self.dice)
        if found is None:
            return None
        cost, line = found
        # A line in the rhythm of the theme is no counterpoint to it; nor is one that hardly moves.
        theme = {
            t.start - on
            for w in range(len(self.weave.voices))
            if w != v
            for t in self.weave.inside(w, on + a, on + b)
        }
        shared = sum(t.start - on in theme for t in line)
        cost += 1.5 * shared + 3.0 * abs(len(line) / ((b - a) / self.unit) - 0.85)
        changes = []
        for w, start, steps in windows:
            row = []
            for t in line:
                tick = t.start - on + start
                alter = self.search.harmony.alter[tick][(t.d + steps) % 7]
                if alter is None:
                    return None
                row.append(Tone(tick, t.end - on + start, t.d + steps, natural(t.d + steps) + alter))
            changes.append([Change(w, start + a, start + b, tuple(row))])
        return cost, changes

    def settle(self, changes: list[Change], start: int, end: int, tries: int = 10) -> bool:
        """Set a countersubject in, and draw the other free voices anew where they stand in its way."""
        if self.search.offer(changes, 0.0, gain=1e6):
            return True
        weave = self.weave
        own = changes[0].voice
        others = [v for v in range(len(weave.voices)) if v != own and self.given[start] != v]
        for _ in range(tries):
            more = []
            back = [weave.apply(c) for c in changes]
            for v in others:
                row = [t for t in weave.tones[v] if t.end > start and t.start < end]
                if not row:
                    continue
                a, b = row[0].start, row[-1].end
                if not self.free(v, a, b) or rests(weave, v, a, b):
                    continue
                made = self.drawn(v, a, b, self.rhythm(v, a, b), frame(weave, v, a, b))
                if made:
                    back.append(weave.apply(made[0]))
                    more += made
            for c in reversed(back):
                weave.apply(c)
            if self.search.offer([*changes, *more], 0.0, gain=1e6):
                return True
        return False


class Joint(Spots):
    """The spots of one line in several places at once: what may be sung in each of them, with all their
    costs."""

    def __init__(self, search: Search, windows: list[tuple[int, int, int]]) -> None:
        v, self.on, _ = windows[0]
        span = 0, search.weave.size
        super().__init__(search.weave, search.harmony, v, search.given, span)
        self.views = [
            (Spots(search.weave, search.harmony, w, search.given, span), on - self.on, steps)
            for w, on, steps in windows[1:]
        ]

    def at(
        self, start: int, end: int, before: int, after: int, low: int, high: int, given: bool = False
    ) -> dict[int, Spot]:
        found = super().at(start, end, before, after, low, high, given)
        if low == high:
            return found
        for spots, by, steps in self.views:
            other = spots.at(start + by, end + by, before + by, after + by, low + steps, high + steps, given)
            both = {}
            for d, one in found.items():
                two = other.get(d + steps)
                if two is not None:
                    both[d] = Spot(
                        one.m,
                        one.cost + two.cost,
                        one.clash or two.clash,
                        one.fall or two.fall,
                        one.accented or two.accented,
                    )
            found = both
        return found
