"""Lays out a level's relays: the best first, and at the full level a second beside it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction

from builder.analysis import Analysis
from builder.diminution import relay
from builder.diminution import weights as w
from builder.diminution.gate import Refusal
from builder.diminution.ideas import ideas
from builder.diminution.lawful import clash
from builder.diminution.offers import Offer, Shelf, Wish, offers, shortest_note
from builder.diminution.pattern import Pattern
from builder.diminution.relay import Item
from builder.diminution.texture import Line, Stem, Texture
from builder.source import Verset

JOINED = 3
"""A figure is felt by at most so many after it: a third of its kind, a third turn of its voice."""


class Chooser:
    """Chooses the figures of one verset at one level; mends where some are refused."""

    def __init__(
        self,
        texture: Texture,
        verset: Verset,
        analysis: Analysis,
        table: Sequence[Pattern],
        level: int,
        seed: int,
        given_line: bool,
    ) -> None:
        self.texture = texture
        self.weights = w.LEVELS[level]
        value, beats = verset.tempo
        shortest = shortest_note(texture.unit, value * Fraction(beats) / 60, self.weights.fastest)
        self.shelf = Shelf(table, texture.unit, self.weights, shortest)
        self.wish = _wish(texture, verset, analysis, level, seed)
        if not given_line:
            for stems in texture.stems:
                for stem in stems:
                    if self.wish.given(stem):
                        stem.earliest = stem.end
        self.near = max(int(texture.score.metre.beat * texture.unit), texture.unit)
        self.bar = int(verset.metre.bar * texture.unit)
        self.plain = [Line(list(x.dia), list(x.midi), list(x.start)) for x in texture.lines]
        self.barred: dict[tuple[int, int], list[Refusal]] = defaultdict(list)
        self.relays: list[list[Item]] = []
        self.terms: list[relay.Terms] = []
        everywhere = [s for stems in texture.stems for s in stems]
        self.first = offers(texture, self.shelf, self.wish, everywhere)
        for layer in range(self.weights.layers):
            terms, picked = self._varied(self._found(layer, everywhere))
            self.terms.append(terms)
            self._add(layer, picked)

    def figures(self) -> list[Offer]:
        """The figures chosen, one relay after another."""
        return [part for chosen in self.relays for item in chosen for part in item.parts]

    def cost(self) -> float:
        """What the relays cost together."""
        return sum(
            relay.best((), self._clash, terms, chosen)[0]
            for terms, chosen in zip(self.terms, self.relays, strict=True)
        )

    def mend(self, refused: frozenset[Refusal]) -> None:
        """Bar some figures and search again where they stood, a bar either way; what lies before
        and after is kept, and the new stretch is the best that joins it."""
        for refusal in refused:
            self.barred[refusal.voice, refusal.index].append(refusal)
        places = sorted(
            (self.texture.stems[r.voice][r.index] for r in refused), key=lambda s: (s.start, s.voice)
        )
        windows: list[tuple[int, int]] = []
        for stem in places:
            low, high = stem.start - self.bar, stem.end + self.bar
            if windows and low <= windows[-1][1]:
                windows[-1] = windows[-1][0], max(high, windows[-1][1])
            else:
                windows.append((low, high))
        for low, high in windows:
            self._search_again(low, high)

    def _search_again(self, low: int, high: int) -> None:
        stems = [s for stems in self.texture.stems for s in stems if low <= s.start and s.end <= high]
        names = {(s.voice, s.index) for s in stems}
        # An idea that reaches out of the window is taken back whole.
        gone = [i for chosen in self.relays for i in chosen if names & _names(i)]
        names = names.union(*map(_names, gone))
        free = [self.texture.stems[voice][index] for voice, index in sorted(names)]
        for stem in free:
            self._lay_plain(stem)
        low, high = min(s.start for s in free), max(s.end for s in free)
        kept = [[i for i in chosen if not names & _names(i)] for chosen in self.relays]
        self.relays = []
        for layer, chosen in enumerate(kept):
            first = bisect_left([i.end for i in chosen], low)
            last = bisect_right([i.start for i in chosen], high)
            beside = chosen[max(0, first - JOINED) : last + JOINED]
            _, picked = relay.best(self._found(layer, free), self._clash, self.terms[layer], beside)
            join = {id(item) for item in beside}
            fresh = [item for item in picked if id(item) not in join]
            self._add(layer, fresh)
            self.relays[layer] = sorted((*chosen, *fresh), key=lambda i: i.start)

    def _found(self, layer: int, stems: Sequence[Stem]) -> list[Item]:
        """The figures of a layer on these plain notes, without those that are barred or divided, and
        the ideas that can be made of them."""
        if layer:
            taken = set().union(*(_names(i) for chosen in self.relays for i in chosen))
            free = [s for s in stems if (s.voice, s.index) not in taken]
            return [*self._lawful(offers(self.texture, self.shelf, self.wish, free, second=True))]
        names = {(s.voice, s.index) for s in stems}
        first = bisect_left(self.first, min((s.start for s in stems), default=0), key=lambda o: o.start)
        last = bisect_right(self.first, max((s.end for s in stems), default=0), key=lambda o: o.start)
        found = self._lawful(o for o in self.first[first:last] if (o.stem.voice, o.stem.index) in names)
        if not self.weights.ideas:
            return [*found]
        return [*found, *ideas(found, self._clash, self.texture.unit, self.near, self.bar)]

    def _lawful(self, several: Iterable[Offer]) -> list[Offer]:
        barred = self.barred
        return [
            o for o in several if not any(r.bars(o) for r in barred.get((o.stem.voice, o.stem.index), ()))
        ]

    def _add(self, layer: int, picked: list[Item]) -> None:
        self.relays.append(picked)
        for item in picked:
            for offer in item.parts:
                _lay(self.texture, offer)

    def _lay_plain(self, stem: Stem) -> None:
        span = slice(stem.start, stem.end)
        line, plain = self.texture.lines[stem.voice], self.plain[stem.voice]
        line.dia[span], line.midi[span], line.start[span] = (
            plain.dia[span],
            plain.midi[span],
            plain.start[span],
        )

    def _clash(self, one: Offer, two: Offer) -> bool:
        return clash(self.texture, one, two)

    def _varied(self, found: list[Item]) -> tuple[relay.Terms, list[Item]]:
        """The best relay; when one figure has more than its share (the groppo has no share), the
        best with that figure dearer."""
        weights = self.weights
        dearer = [0.0] * self.shelf.figures
        for _ in range(4):
            terms = relay.Terms(
                self.near, int(weights.room * self.texture.unit), weights.crowd, tuple(dearer)
            )
            _, picked = relay.best(found, self._clash, terms)
            counts = Counter(i.figure for i in picked if i.parts[0].pattern.figure != "groppo")
            share = max(2, len(picked) // 6)
            often = [(figure, n - share) for figure, n in sorted(counts.items()) if n > share]
            if not often:
                break
            for figure, excess in often:
                dearer[figure] += w.USED_OFTEN * excess
        return terms, picked


def _names(item: Item) -> set[tuple[int, int]]:
    """The plain notes that it divides: voice and number."""
    return {(part.stem.voice, part.stem.index) for part in item.parts}


def _wish(texture: Texture, verset: Verset, analysis: Analysis, level: int, seed: int) -> Wish:
    closes = sorted(texture.tick(c.onset) for c in analysis.cadences)
    bar = float(verset.metre.bar * texture.unit)
    growing = []
    for tick in range(texture.size):
        ahead = bisect_right(closes, tick)
        near = (closes[ahead] - tick) / bar if ahead < len(closes) else None
        growing.append(w.growth(tick / texture.size, near))
    given = _given(texture, verset)
    entered = [False] * texture.size
    for entry in analysis.entries:
        begin, end = texture.tick(entry.onset), texture.tick(entry.end)
        entered[begin:end] = [True] * (end - begin)

    hushed = [False] * texture.size
    for stems in texture.stems:
        for stem in stems:
            if stem.closes:
                hushed[stem.earliest : stem.end] = [True] * (stem.end - stem.earliest)

    def is_given(stem: Stem) -> bool:
        return given[stem.start] == stem.voice

    return Wish(
        growing.__getitem__,
        w.LEVELS[level],
        level,
        is_given,
        entered.__getitem__,
        hushed.__getitem__,
        seed,
    )


def _given(texture: Texture, verset: Verset) -> list[int]:
    """Which voice has the given line at each tick."""
    having = [-1] * texture.size
    for g in verset.given:
        if g.note.pitch is not None and g.voice in texture.voices:
            begin, end = texture.tick(g.note.onset), texture.tick(g.note.end)
            having[begin:end] = [texture.voices.index(g.voice)] * (end - begin)
    return having


def _lay(texture: Texture, offer: Offer) -> None:
    line = texture.lines[offer.stem.voice]
    for n, tick in enumerate(offer.ticks):
        end = offer.ticks[n + 1] if n + 1 < len(offer.ticks) else offer.end
        line.lay(tick, end, offer.dias[n], offer.keys[n])
