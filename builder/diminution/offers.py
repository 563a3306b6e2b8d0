"""Offers: every pattern that may stand in every place, with what it costs there."""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from builder.diminution import weights as w
from builder.diminution.lawful import Court
from builder.diminution.pattern import Pattern
from builder.diminution.texture import SILENT, Stem, Texture

Key = tuple[tuple[int, ...], tuple[int, ...]]
"""A figure whatever its speed: its steps and the proportion of its lengths."""


@dataclass(slots=True)
class Offer:
    """A pattern set on a plain note. It holds its voice from `start`, where the second note is
    struck, to the end of the plain note."""

    stem: Stem
    pattern: Pattern
    ticks: tuple[int, ...]
    dias: tuple[int, ...]
    keys: tuple[int, ...]
    start: int
    end: int
    figure: int
    cost: float
    added: int

    @property
    def parts(self) -> tuple[Offer, ...]:
        """The figures of which it is made: itself."""
        return (self,)

    def moved(self, tick: int) -> bool:
        """Whether it sounds anything but its plain note at that tick."""
        if not self.stem.start <= tick < self.end:
            return False
        return self.dias[bisect_right(self.ticks, tick) - 1] != self.stem.pitch.diatonic


@dataclass(frozen=True, slots=True)
class Shape:
    """A pattern in ticks: onsets after its first note, counted back from the end."""

    pattern: Pattern
    length: int
    back: tuple[int, ...]
    figure: int
    shortest: int
    grace: float


class Shelf:
    """The patterns of a level, in the ticks of one verset, by interval."""

    def __init__(self, patterns: Sequence[Pattern], unit: int, weights: w.Weights, shortest: int) -> None:
        self.by_interval: dict[int | None, list[Shape]] = defaultdict(list)
        figures: dict[Key, int] = {}
        self.figures = 0
        for pattern in patterns:
            # The groppo belongs to the cadence at every level, at the first in its shortest form.
            closing = pattern.figure == "groppo" and (
                pattern.density <= weights.density + 1 or len(pattern.steps) <= 3
            )
            if pattern.density > weights.density and not closing:
                continue
            lengths = [n * unit for n in pattern.lengths]
            if any(n.denominator != 1 for n in lengths) or min(lengths) < shortest:
                continue
            whole = [int(n) for n in lengths]
            least = min(whole)
            key = pattern.steps, tuple(n * 8 // least for n in whole)
            figure = figures.setdefault(key, len(figures))
            self.figures = len(figures)
            back = tuple(sum(whole[n:]) for n in range(len(whole)))
            self.by_interval[pattern.interval].append(
                Shape(pattern, back[0], back, figure, least, _grace(pattern))
            )

    def for_way(self, steps: int) -> Iterable[Shape]:
        yield from self.by_interval.get(steps, ())
        yield from self.by_interval.get(None, ())


def _grace(pattern: Pattern) -> float:
    """What the table entry alone costs: leaps, turning back, arrival, reach."""
    steps = pattern.steps if pattern.interval is None else (*pattern.steps, pattern.interval)
    cost = 0.0
    for n in range(len(steps) - 1):
        leap = steps[n + 1] - steps[n]
        if abs(leap) > 1:
            quick = pattern.lengths[n] < Fraction(1, 2)
            cost += (w.LEAP + 0.15 * (abs(leap) - 2)) * (3 if quick else 1)
            if n + 2 < len(steps):
                after = steps[n + 2] - steps[n + 1]
                if after * leap > 0 or abs(after) != 1:
                    cost += w.UNTURNED
    if pattern.interval is not None:
        last = abs(steps[-1] - steps[-2])
        cost += w.ARRIVE_STEP if last == 1 else w.ANTICIPATED if last == 0 else w.ARRIVE_LEAP
    ends = [0] if pattern.interval is None else [0, pattern.interval]
    turns = sum(
        1
        for a, b, c in zip(steps, steps[1:], steps[2:])
        if (b - a) * (c - b) < 0 and abs(b - a) == abs(c - b) == 1
    )
    cost += w.WIGGLE * max(0, turns - 1) + w.TIRATA * max(0, _run(steps) - 3)
    if pattern.figure == "tremolo":
        cost += w.TREMOLO
    over = max(0, max(steps) - max(ends) - 2) + max(0, min(ends) - min(steps) - 2)
    return cost + w.REACH * over


def _run(steps: Sequence[int]) -> int:
    """How many steps one way lead into the last note.

    >>> _run((0, -1, 0, 1, 2, 3)), _run((0, 2, 1, 3))
    (4, 0)
    """
    way = steps[-1] - steps[-2]
    if abs(way) != 1:
        return 0
    count = 0
    for a, b in zip(steps[-2::-1], steps[:0:-1]):
        if b - a != way:
            break
        count += 1
    return count


def _walks(pattern: Pattern) -> bool:
    """Whether it goes one way where the plain line leaps, and by step, at the end if not all the way."""
    way = pattern.interval or 0
    line = (*pattern.steps, way)
    straight = all((b - a) * way > 0 for a, b in pairwise(line))
    return abs(way) > 1 and straight and _run(line) >= min(3, abs(way))


@dataclass(slots=True)
class Wish:
    """What is wanted where: growth at each tick, and how a figure is disturbed by the seed."""

    growth: Callable[[int], float]
    weights: w.Weights
    level: int
    given: Callable[[Stem], bool]
    entry: Callable[[int], bool]
    hush: Callable[[int], bool]
    seed: int

    def whim(self, voice: str, stem: Stem, pattern: Pattern) -> float:
        """A small cost fixed by seed and place, so that each seed gives its own diminution."""
        if not self.seed:
            return 0.0
        text = f"{self.seed}:{voice}:{stem.index}:{pattern.id}".encode()
        return int.from_bytes(hashlib.blake2b(text, digest_size=2).digest(), "big") / 65535 * 1.6 - 0.8


def offers(
    texture: Texture,
    shelf: Shelf,
    wish: Wish,
    stems: Iterable[Stem],
    *,
    second: bool = False,
) -> list[Offer]:
    """All lawful offers on the plain notes `stems` (voice by voice) in the order in which they begin
    to move; `second` when a first relay is in."""
    found: list[Offer] = []
    for voice, mine in groupby(stems, key=lambda s: s.voice):
        court = Court(texture, voice, accented=wish.level == 3)
        for stem in mine:
            if stem.after is None or stem.earliest >= stem.end:
                continue
            if stem.end - stem.start < texture.unit:
                continue
            looked = False
            for shape in shelf.for_way(stem.after.diatonic - stem.pitch.diatonic):
                ticks = _set(shape, stem)
                if ticks is None or not _stands(shape.pattern, stem, texture, wish):
                    continue
                if not looked:
                    court.at(stem)
                    looked = True
                judged = court.judge(shape.pattern, ticks)
                if judged is None:
                    continue
                dias, keys, cost = judged
                offer = Offer(
                    stem,
                    shape.pattern,
                    ticks,
                    dias,
                    keys,
                    ticks[1],
                    stem.end,
                    shape.figure,
                    cost + shape.grace,
                    len(ticks) - 1,
                )
                offer.cost += _liking(offer, texture, wish, second)
                found.append(offer)
    found.sort(key=lambda o: (o.start, o.end, o.stem.voice, o.pattern.id))
    return found


def _set(shape: Shape, stem: Stem) -> tuple[int, ...] | None:
    """Onsets of the notes when the shape stands at the end of the plain note, its first note
    lengthened by what is left over; None when it does not fit."""
    span = stem.end - stem.start
    if shape.length > span or (
        shape.length < span and (shape.pattern.steps[0] or shape.pattern.interval is None)
    ):
        return None
    ticks = (stem.start, *(stem.end - b for b in shape.back[1:]))
    return None if ticks[1] < stem.earliest else ticks


def _stands(pattern: Pattern, stem: Stem, texture: Texture, wish: Wish) -> bool:
    if pattern.figure == "clamatione" and not stem.opens:
        return False
    # A suspension is broken downwards only, and near its resolution.
    if stem.suspended and (max(pattern.steps) > 0 or min(pattern.steps) < -2):
        return False
    if pattern.figure == "groppo" and not stem.closes:
        return False
    return not (pattern.where == ("cadence",) and stem.zone != "cadence")


def _liking(offer: Offer, texture: Texture, wish: Wish, second: bool) -> float:
    """What this figure is worth here: movement where it is wanted and where the others are still,
    the groppo at the cadence, the given line left alone rather than not."""
    weights, stem, pattern = wish.weights, offer.stem, offer.pattern
    cost = weights.figure
    lines = texture.lines
    brief = w.FUSS if stem.end - stem.start <= texture.unit else w.QUICK
    for tick, end in zip(offer.ticks[1:], (*offer.ticks[2:], offer.end)):
        alone = all(
            line.start[tick] != tick or line.dia[tick] == SILENT
            for n, line in enumerate(lines)
            if n != stem.voice
        )
        worth = (weights.attack + (weights.alone if alone else 0.0)) * wish.growth(tick)
        cost -= worth if 2 * (end - tick) >= texture.unit else worth * brief
    if second:
        cost += weights.second + _together(offer, texture)
    grown = wish.growth(offer.start)
    if pattern.density == 3:
        cost += w.EARLY_RUN * max(0.0, 1.25 - grown) * offer.added
    if stem.zone not in pattern.where:
        cost += w.OUT_OF_PLACE
    if pattern.figure == "groppo" and stem.closes:
        cost += w.GROPPO
    elif wish.hush(offer.end - 1):
        cost += w.HUSH * offer.added
    if stem.voice == len(lines) - 1 or wish.given(stem):
        walks = _walks(pattern) and not wish.hush(offer.end - 1)
        cost += w.WALK if walks else weights.line * (1 + 0.25 * offer.added)
        if pattern.figure == "tremolo":
            cost += w.OUT_OF_PLACE
    if wish.entry(offer.start):
        cost += w.OVER_ENTRY * offer.added
    if offer.added > 1 and offer.end - offer.start < texture.unit and pattern.figure != "groppo":
        cost += w.SNAP
    shortest = min(b - a for a, b in zip(offer.ticks[1:], (*offer.ticks[2:], offer.end)))
    if (offer.start % (2 * shortest)) and texture.level[offer.start] < -1:
        cost += w.OFF_BEAT
    return cost + wish.whim(texture.voices[stem.voice], stem, pattern)


def _together(offer: Offer, texture: Texture) -> float:
    """Two voices that move at once: note against note is dear, unless they go in thirds or sixths."""
    cost = 0.0
    for tick, dia in zip(offer.ticks[1:], offer.dias[1:]):
        for n, line in enumerate(texture.lines):
            if n != offer.stem.voice and line.start[tick] == tick:
                sweet = abs(line.dia[tick] - dia) % 7 in (2, 5)
                cost += w.PARALLEL if sweet else w.TOGETHER
    return cost


def shortest_note(unit: int, quarters_a_second: Fraction, fastest: float) -> int:
    """Ticks of the shortest note that the tempo leaves to a hand at `fastest` notes a second.

    >>> shortest_note(8, Fraction(104, 60), 8.0), shortest_note(8, Fraction(168, 60), 8.0)
    (2, 4)
    """
    ticks = 1
    while ticks < unit and float(quarters_a_second) * unit / ticks > fastest:
        ticks *= 2
    return ticks
