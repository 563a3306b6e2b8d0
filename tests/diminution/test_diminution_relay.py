"""The chooser's promise: no relay of the figures on offer is cheaper than the one it finds."""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import pytest

from builder.diminution import weights as w
from builder.diminution.relay import Terms, best
from builder.diminution.texture import Stem
from builder.music import Note, Pitch

D = Pitch.parse("D4")


@dataclass
class Figure:
    """An offer with what the relay looks at."""

    stem: Stem
    start: int
    end: int
    figure: int
    cost: float
    name: int

    @property
    def parts(self) -> tuple[Figure, ...]:
        return (self,)


def random_offers(seed: int, count: int) -> list[Figure]:
    dice = random.Random(seed)
    found = []
    for name in range(count):
        start = dice.randrange(0, 24)
        stem = Stem(dice.randrange(3), 0, start, start, D, D, D, Note(Fraction(0), Fraction(1), D))
        end = start + dice.randrange(1, 5)
        found.append(Figure(stem, start, end, dice.randrange(3), round(dice.uniform(-3, 0.6), 3), name))
    return sorted(found, key=lambda f: (f.start, f.end, f.name))


def clash(one: Figure, two: Figure) -> bool:
    return (one.name * 7 + two.name) % 5 == 0


def price(relay: tuple[Figure, ...], terms: Terms) -> float | None:
    """The cost of a relay worked out from the rules in words, or None when it is not one."""
    total, run, turns = 0.0, 0, 0
    for n, now in enumerate(relay):
        total += now.cost + terms.dearer[now.figure]
        if not n:
            run = turns = 1
            continue
        last = relay[n - 1]
        gap = now.start - last.end
        same = last.stem.voice == now.stem.voice
        if gap < 0:
            return None
        again = last.figure == now.figure
        run = run + 1 if again else 1
        if run > 2:
            return None
        if gap < terms.room:
            total += terms.crowd * (terms.room - gap) / terms.room
        if gap <= terms.near:
            if same:
                total += w.SAME_VOICE * min(2, turns)
                turns = min(3, turns + 1)
            else:
                if clash(last, now):
                    return None
                total += w.EXCHANGE
                turns = 1
            if again:
                total += w.AGAIN if same else w.IMITATION
        else:
            turns = 1
            if again:
                total += w.AGAIN
    return total


@pytest.mark.parametrize("seed", range(60))
def test_no_relay_is_cheaper_than_the_chosen_one(seed: int) -> None:
    offers = random_offers(seed, 11)
    terms = Terms(near=2, room=6, crowd=1.5 if seed % 2 else 0.0, dearer=(0.0, 0.2, 0.0))
    cost, chosen = best(offers, clash, terms)  # type: ignore[arg-type]
    prices = [
        found
        for size in range(1, len(offers) + 1)
        for relay in combinations(offers, size)
        if (found := price(relay, terms)) is not None
    ]
    assert cost == pytest.approx(min([0.0, *prices]))
    assert (price(tuple(chosen), terms) or 0.0) == pytest.approx(cost)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(30))
def test_what_is_kept_stays_and_the_rest_is_the_cheapest_that_joins_it(seed: int) -> None:
    offers = random_offers(seed, 10)
    terms = Terms(near=2, room=6, crowd=0.0, dearer=(0.0, 0.2, 0.0))
    _, chosen = best(offers, clash, terms)  # type: ignore[arg-type]
    kept = chosen[::2]
    free = [o for o in offers if o not in kept and o is not chosen[-1]]
    cost, found = best(free, clash, terms, kept)  # type: ignore[arg-type]
    prices = [
        price(relay, terms)
        for size in range(1, len(offers) + 1)
        for relay in combinations(sorted((*kept, *free), key=lambda f: f.start), size)
        if all(k in relay for k in kept)
    ]
    assert all(k in found for k in kept)
    assert cost == pytest.approx(min(p for p in prices if p is not None))
