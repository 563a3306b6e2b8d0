"""The chooser: an exact search for the best relay of figures through all the voices.

A relay is a succession of figures, and of ideas made of several, in which one voice moves at a time
and then hands on to another or keeps the word. Among all relays that can be made of the offers, the
dynamic programme below finds the cheapest, exactly: costs of figures are added, and what one figure
does to the next (exchange, imitation, crowding, a clash, a figure three times running) depends only
on what a state carries. States too dear to win whatever follows are dropped; that loses nothing, as
`_prune` explains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from builder.diminution import weights as w
from builder.diminution.ideas import Idea
from builder.diminution.offers import Offer

Item = Offer | Idea
Clash = Callable[[Offer, Offer], bool]
HOLD = 1000.0
"""More than any relay of a few bars can earn: what it buys is never given up."""


@dataclass(slots=True)
class State:
    """A relay so far: its cost, what it had last and the last figure of that, how many times
    running that figure has come (an idea has had its turn: two), and how many figures its voice has
    had in one breath (three stand for more)."""

    cost: float
    item: Item
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
    items: Iterable[Item], clash: Clash, terms: Terms, kept: Sequence[Item] = ()
) -> tuple[float, list[Item]]:
    """The cost of the cheapest relay (0 when silence is cheapest) and what it is made of, in order.
    Those `kept` stand among the chosen whatever they cost, so that a stretch searched again joins
    exactly to what lies before and after it."""
    held = {id(item) for item in kept}
    waiting: list[tuple[int, int, State]] = []
    frontier: list[State] = []
    winner: State | None = None
    serial, now = 0, -1
    for item in sorted((*kept, *items), key=lambda i: i.start):
        if item.start != now:
            now = item.start
            while waiting and waiting[0][0] <= now:
                frontier.append(heappop(waiting)[2])
            frontier = _prune(frontier, now, terms)
        parts = item.parts
        own = item.cost + terms.dearer[item.figure] - (HOLD if id(item) in held else 0.0)
        for (run, turns), (cost, parent) in _ways(frontier, parts, clash, terms).items():
            made = State(cost + own, item, parts[-1], run, turns, parent)
            serial += 1
            heappush(waiting, (item.end, serial, made))
            if winner is None or made.cost < winner.cost:
                winner = made
    if winner is None or winner.cost >= 0:
        return 0.0, []
    chosen: list[Item] = []
    state: State | None = winner
    while state is not None:
        chosen.append(state.item)
        state = state.parent
    return winner.cost + HOLD * sum(id(i) in held for i in chosen), chosen[::-1]


def _ways(
    frontier: Sequence[State], parts: Sequence[Offer], clash: Clash, terms: Terms
) -> dict[tuple[int, int], tuple[float, State | None]]:
    """The cheapest way to each new (run, turns), without those that another way beats in all."""
    first = parts[0]
    more, stay = len(parts) > 1, _stay(parts)
    fresh = (2 if more else 1), stay
    ways: dict[tuple[int, int], tuple[float, State | None]] = {fresh: (0.0, None)}
    figure, voice, start = first.figure, first.stem.voice, first.start
    least = w.IMITATION + w.EXCHANGE
    for state in frontier:
        cheapest = ways[fresh][0]
        if state.cost + least >= cheapest:
            break
        last = state.last
        again = last.figure == figure
        if again and (more or state.run > 1):
            continue
        run = 2 if more or again else 1
        gap = start - last.end
        cost, turns = state.cost, stay
        if gap < terms.room:
            cost += terms.crowd * (terms.room - gap) / terms.room
        same = last.stem.voice == voice
        if gap <= terms.near:
            if same:
                turns = stay if more else min(3, state.turns + 1)
                cost += w.SAME_VOICE * min(2, state.turns)
            else:
                cost += w.EXCHANGE
            if again:
                cost += w.AGAIN if same else w.IMITATION
        elif again:
            cost += w.AGAIN
        if cost >= cheapest or _beaten(ways, run, turns, cost):
            continue
        if not (gap <= terms.near and not same and clash(last, first)):
            ways[run, turns] = cost, state
    return ways


def _beaten(
    ways: dict[tuple[int, int], tuple[float, State | None]], run: int, turns: int, cost: float
) -> bool:
    return any(r <= run and t <= turns and cost >= c for (r, t), (c, _) in ways.items())


def _stay(parts: Sequence[Offer]) -> int:
    """How many figures the last voice has had running, at the end."""
    voice, count = parts[-1].stem.voice, 0
    for part in reversed(parts):
        if part.stem.voice != voice:
            break
        count += 1
    return min(3, count)


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
