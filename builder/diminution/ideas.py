"""Ideas: one figure taken up several times at equal distances.

Either voices exchange it, dux and comes at the distance that the plain notes give, or one voice has
it in sequence, where its plain line repeats itself on other steps. The relay sets an idea as a
whole or not at all; nothing else moves between its members.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from builder.diminution import weights as w
from builder.diminution.offers import Offer
from builder.diminution.pattern import Pattern
from builder.diminution.texture import Stem

Kin = tuple[tuple[int, ...], tuple[int, ...]]
"""What the ear knows again: the lengths of the notes that move, and where the line turns."""
LONGEST = 5
"""Members of an idea at most; after so many the ear wants another."""


@dataclass(slots=True)
class Idea:
    """Figures that belong together, in order; for the relay one thing."""

    parts: tuple[Offer, ...]
    cost: float

    @property
    def start(self) -> int:
        return self.parts[0].start

    @property
    def end(self) -> int:
        return self.parts[-1].end

    @property
    def figure(self) -> int:
        return self.parts[0].figure

    @property
    def stem(self) -> Stem:
        return self.parts[0].stem


def ideas(
    offers: Sequence[Offer], clash: Callable[[Offer, Offer], bool], unit: int, beat: int, bar: int
) -> list[Idea]:
    """The ideas that can be made of the offers (a sequence has three members at least), the cheapest
    for each beginning, distance and number of members. Members move for a quarter note (`unit`
    ticks) at least and lie whole beats and at most a bar apart."""
    families: dict[Kin, dict[int, list[Offer]]] = defaultdict(lambda: defaultdict(list))
    for offer in offers:
        if offer.added > 1 and offer.end - offer.start >= unit and _apt(offer.pattern):
            families[_kin(offer)][offer.start].append(offer)
    found: list[Idea] = []
    for starts in families.values():
        for start in starts:
            span = starts[start][0].end - start
            for apart in range(-(-span // beat) * beat, bar + 1, beat):
                if start + apart in starts:
                    found += _handed_on(starts, start, apart, clash)
                    found += _sequences(starts, start, apart)
    return found


def _apt(pattern: Pattern) -> bool:
    """Not an ornament, and not the groppo, which belongs to the cadence."""
    return not pattern.late and pattern.interval is not None and pattern.figure != "groppo"


def _kin(offer: Offer) -> Kin:
    lengths = tuple(b - a for a, b in itertools.pairwise((*offer.ticks[1:], offer.end)))
    ways = [b > a for a, b in itertools.pairwise(offer.pattern.steps)]
    return lengths, tuple(way == ways[0] for way in ways)


def _link(last: Offer, offer: Offer) -> float:
    if last.figure == offer.figure:
        return w.TAKEN_UP
    one, two = last.pattern.steps, offer.pattern.steps
    return w.TAKEN_UP_FREELY if (one[1] - one[0]) * (two[1] - two[0]) > 0 else w.TAKEN_UP_INVERTED


def _handed_on(
    starts: dict[int, list[Offer]], start: int, apart: int, clash: Callable[[Offer, Offer], bool]
) -> Iterator[Idea]:
    """Another voice each time: the cheapest way to each voice, member by member."""
    ways: dict[int, Idea] = {}
    for offer in starts[start]:
        _keep(ways, Idea((offer,), offer.cost))
    for count in range(2, LONGEST + 1):
        longer: dict[int, Idea] = {}
        for offer in starts.get(start + (count - 1) * apart, ()):
            for way in ways.values():
                last = way.parts[-1]
                if last.stem.voice == offer.stem.voice or clash(last, offer):
                    continue
                _keep(longer, Idea((*way.parts, offer), way.cost + offer.cost + _link(last, offer)))
        if not longer:
            return
        yield min(longer.values(), key=lambda i: i.cost)
        ways = longer


def _keep(ways: dict[int, Idea], idea: Idea) -> None:
    voice = idea.parts[-1].stem.voice
    if voice not in ways or idea.cost < ways[voice].cost:
        ways[voice] = idea


def _sequences(starts: dict[int, list[Offer]], start: int, apart: int) -> Iterator[Idea]:
    """The same voice each time, as many steps higher or lower as the time before."""
    for first in starts[start]:
        parts, cost = [first], first.cost
        while len(parts) < LONGEST:
            after = next((o for o in starts.get(start + len(parts) * apart, ()) if _goes_on(parts, o)), None)
            if after is None:
                break
            parts.append(after)
            cost += after.cost + w.SEQUENCE
            if len(parts) > 2:
                yield Idea(tuple(parts), cost)


def _goes_on(parts: Sequence[Offer], offer: Offer) -> bool:
    last = parts[-1]
    if offer.stem.voice != last.stem.voice or offer.pattern is not last.pattern:
        return False
    by = offer.stem.pitch.diatonic - last.stem.pitch.diatonic
    if not 0 < abs(by) <= 3:
        return False
    return len(parts) < 2 or by == last.stem.pitch.diatonic - parts[-2].stem.pitch.diatonic
