"""Lays out a level's relays: the best first, and at the full level a second beside it."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from builder.analysis import Analysis
from builder.diminution import relay
from builder.diminution import weights as w
from builder.diminution.lawful import clash
from builder.diminution.offers import Offer, Shelf, Wish, offers, shortest_note
from builder.diminution.pattern import Pattern
from builder.diminution.texture import Line, Stem, Texture
from builder.source import Verset

Barred = frozenset[tuple[int, int, str]]
"""Voice, number of the plain note and pattern of figures that the check of the whole refused."""


class Chooser:
    """Chooses the figures of one verset at one level; asked again when some are refused."""

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
        self.first = offers(texture, self.shelf, self.wish)
        self.plain = [Line(list(x.dia), list(x.midi), list(x.start)) for x in texture.lines]

    def choose(self, barred: Barred) -> tuple[float, list[Offer]]:
        """The relays of the level, one after another, each the best given those before, with their
        cost. Their notes stand in the texture afterwards."""
        for line, plain in zip(self.texture.lines, self.plain, strict=True):
            line.dia[:], line.midi[:], line.start[:] = plain.dia, plain.midi, plain.start
        total = 0.0
        chosen: list[Offer] = []
        for layer in range(self.weights.layers):
            if layer:
                taken = frozenset((o.stem.voice, o.stem.index) for o in chosen)
                found = offers(self.texture, self.shelf, self.wish, taken=taken, second=True)
            else:
                found = self.first
            found = [o for o in found if (o.stem.voice, o.stem.index, o.pattern.id) not in barred]
            cost, picked = self._varied(found)
            total += cost
            for offer in picked:
                _lay(self.texture, offer)
            chosen += picked
        return total, chosen

    def _varied(self, found: list[Offer]) -> tuple[float, list[Offer]]:
        """The best relay; when one figure has more than its share, the best with that figure dearer."""
        texture, weights = self.texture, self.weights
        beat = int(texture.score.metre.beat * texture.unit)
        near = max(beat, texture.unit)
        dearer = [0.0] * self.shelf.figures
        cost, picked = 0.0, list[Offer]()
        for _ in range(4):
            terms = relay.Terms(near, int(weights.room * texture.unit), weights.crowd, tuple(dearer))
            cost, picked = relay.best(found, lambda p, q: clash(texture, p, q), terms)
            counts = Counter(o.figure for o in picked)
            share = max(2, len(picked) // 6)
            often = [(figure, n - share) for figure, n in sorted(counts.items()) if n > share]
            if not often:
                break
            for figure, excess in often:
                dearer[figure] += w.USED_OFTEN * excess
        return cost, picked


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

    def is_given(stem: Stem) -> bool:
        return given[stem.start] == stem.voice

    return Wish(growing.__getitem__, w.LEVELS[level], level, is_given, entered.__getitem__, seed)


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
