"""Carries a plan out: motifs stated in their voices, after a rest where that can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder.analysis import Analysis
from builder.diminution import rhythm
from builder.diminution.draw import Style, draw, frame, shifts
from builder.diminution.habits import NO_MOVE
from builder.diminution.lines import Lines
from builder.diminution.search import Search
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone
from builder.plan import Motif, Plan, Rest, Statement
from builder.source import Verset


class Sung(Lines):
    """Lines in the rhythm of voices, and figures stated in them."""

    def __init__(self, search: Search, analysis: Analysis, still: Still, words: Words) -> None:
        super().__init__(search, still, words, Style())
        self.analysis = analysis
        self.place = rhythm.places(self.weave)

    def rhythm(self, v: int, start: int, end: int) -> list[int]:
        """Onsets for a stretch of a voice."""
        return rhythm.vocal(self.weave, self.place, v, self.given[start], start, end, 1.1, self.dice)

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
        if bound is None or bound[0] != sorted({at, *onsets}):
            return None
        joined = frame(weave, v, begin, end)
        if rest:
            joined.before, joined.move = None, NO_MOVE
        elif head:
            joined.before, joined.move = head[0], NO_MOVE
        spots = self.search.spots(v, begin, end)
        best: tuple[float, list[Tone]] | None = None
        here = own[k].d - figure[0][1]
        sung = {at + t: d for t, d in figure}
        for shift in shifts(spots, onsets, end, joined, sung, range(here - 6, here + 7)):
            must = {at + t: d + shift for t, d in figure}
            if any(must.setdefault(t, d) != d for t, d in bound[1].items()):
                continue
            joined.must = must
            found = draw(spots, onsets, end, joined, self.style, self.dice)
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
        if one.motif.first:
            ways = [(m, 0) for m in (one.motif, *one.others)]
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
            voices = [v for v in (one.voice, *above) if v in above and v != motif.voice]
            for name in dict.fromkeys(voices):
                v = weave.voices.index(name)
                for rest in (*dict.fromkeys(lengths), 0):
                    changes = self.stated(v, at, figure, rest)
                    if changes and self.search.offer(changes, 0.0, gain=20.0, at_once=True):
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
        last = max(entries, key=lambda e: e.onset)
        leader, began = (motif.voice, motif.first) if motif.first else (last.voice, last.pitch)
        made = Statement(
            motif,
            name,
            onset,
            weave.time(end),
            verset.place(onset),
            leader,
            weave.note(tone).pitch,
            tone.d - began.diatonic,
        )
        start = weave.time(at - rest)
        return made, Rest(name, start, onset, verset.place(start)) if rest else None
