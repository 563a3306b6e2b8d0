"""The chooser: an exact search for the best relay of figures through all the voices.

A relay is a succession of figures in which one voice moves at a time and then hands on to another
or keeps the word. Among all relays that can be made of the offers, the dynamic programme below
finds the cheapest, exactly: costs of figures are added, and what one figure does to the next
(exchange, imitation, sequence, crowding, a clash, a figure three times running) depends only on
what a state carries. States too dear to win whatever follows are dropped; that loses nothing, as
`_prune` explains.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from builder.diminution import weights as w
from builder.diminution.offers import Offer

Clash = Callable[[Offer, Offer], bool]
HOLD = 1000.0
"""More than any relay of a few bars can earn: what it buys is never given up."""


@dataclass(slots=True)
class State:
    """A relay so far: its cost, its last offer, how many times running that figure has come, and
    how many figures its voice has had in one breath (three stand for more)."""

    cost: float
    last: Offer
    run: int
    turns: int
    parent: State | None


@dataclass(frozen=True, slots=True)
class Terms:
    """How figures hear each other. `near` ticks apart or less they answer each other; nearer than
    `room` ticks they crowd each other, at most by `crowd`. `dearer` is an added cost by figure."""

    near: int
    room: int
    crowd: float
    dearer: Sequence[float]

    @property
    def slack(self) -> float:
        return abs(w.IMITATION) + abs(w.EXCHANGE) + self.crowd


def best(
    offers: Sequence[Offer], clash: Clash, terms: Terms, kept: Sequence[Offer] = ()
) -> tuple[float, list[Offer]]:
    """The cost of the cheapest relay (0 when silence is cheapest) and its offers in order. Offers
    come in the order in which they begin to move. Those `kept` stand among the chosen whatever they
    cost, so that a stretch searched again joins exactly to what lies before and after it."""
    held = {id(offer) for offer in kept}
    offers = sorted((*kept, *offers), key=lambda o: o.start) if kept else offers
    waiting: list[tuple[int, int, State]] = []
    frontier: list[State] = []
    winner: State | None = None
    serial, now = 0, -1
    for offer in offers:
        if offer.start != now:
            now = offer.start
            while waiting and waiting[0][0] <= now:
                frontier.append(heappop(waiting)[2])
            frontier = _prune(frontier, now, terms)
        own = offer.cost + terms.dearer[offer.figure] - (HOLD if id(offer) in held else 0.0)
        for (run, turns), (cost, parent) in _ways(frontier, offer, clash, terms).items():
            made = State(cost + own, offer, run, turns, parent)
            serial += 1
            heappush(waiting, (offer.end, serial, made))
            if winner is None or made.cost < winner.cost:
                winner = made
    if winner is None or winner.cost >= 0:
        return 0.0, []
    chosen: list[Offer] = []
    state: State | None = winner
    while state is not None:
        chosen.append(state.last)
        state = state.parent
    return winner.cost + HOLD * sum(id(o) in held for o in chosen), chosen[::-1]


def _ways(
    frontier: Sequence[State], offer: Offer, clash: Clash, terms: Terms
) -> dict[tuple[int, int], tuple[float, State | None]]:
    """The cheapest way to each new (run, turns), without those that another way beats in all."""
    ways: dict[tuple[int, int], tuple[float, State | None]] = {(1, 1): (0.0, None)}
    most = abs(w.IMITATION) + abs(w.EXCHANGE)
    for state in frontier:
        if state.cost - most >= ways[1, 1][0]:
            break
        last = state.last
        run = state.run + 1 if last.figure == offer.figure else 1
        if run > 2:
            continue
        gap = offer.start - last.end
        cost, turns = state.cost, 1
        if gap < terms.room:
            cost += terms.crowd * (terms.room - gap) / terms.room
        same = last.stem.voice == offer.stem.voice
        if gap <= terms.near:
            if same:
                turns = min(3, state.turns + 1)
                cost += w.SAME_VOICE * min(2, state.turns)
            else:
                cost += w.EXCHANGE
            if run == 2:
                cost += w.AGAIN if same else w.IMITATION
        elif run == 2:
            cost += w.AGAIN
        beaten = any(cost >= c for (r, t), (c, _) in ways.items() if r <= run and t <= turns)
        if beaten or (gap <= terms.near and not same and clash(last, offer)):
            continue
        ways[run, turns] = cost, state
    return ways


def _prune(states: list[State], now: int, terms: Terms) -> list[State]:
    """States in order of cost, without those that cannot win.

    A state whose last figure lies more than `near` back cannot clash, and joins with run and turns
    of 1 unless the figure is the same; of two such states with different figures at least one does.
    Whatever is dearer than both by more than all rewards and costs of joining is beaten by them.
    """
    states.sort(key=lambda s: s.cost)
    first = None
    for state in states:
        if now - state.last.end <= terms.near:
            continue
        if first is None:
            first = state.last.figure
        elif state.last.figure != first:
            limit = state.cost + terms.slack
            return [s for s in states if s.cost <= limit]
    return states
