"""The lattice of voicings and the best paths through it.

Exact: the best path is found by dynamic programming over (voicing, melodic context), so no path
that the rules allow costs less; the k best come in order of cost, each no dearer than any path not
yet given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.tables import pitch_code
from builder.counterpoint.search.arcs import Arcs, Crossing, all_arcs, arcs
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.joints import Joint
from builder.counterpoint.search.shape import Shape, contexts
from builder.counterpoint.search.voicing import Voicings, all_voicings, voicings
from builder.music import VOICES, Pitch

Path = tuple[int, ...]
"""One state for each event; a state is row * contexts + context."""


@dataclass(frozen=True, slots=True)
class Blocked:
    """An event that no legal step reaches."""

    index: int
    empty: bool
    """No voicing at all stands over the note (else: voicings, but no way to them)."""


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Layers of voicings and the arcs between them; `before` is the least cost to each state. `blocked` lists
    the events where rules had to give way."""

    events: tuple[Event, ...]
    layers: tuple[Voicings, ...]
    joints: tuple[Joint, ...]
    steps: tuple[Arcs, ...]
    named_gains: tuple[Mapping[str, Array], ...]
    """What the rows of each event gain (or cost) besides, by name."""
    gains: tuple[Array, ...]
    """The same by states, summed."""
    weights: Weights
    before: tuple[Array, ...]
    blocked: tuple[Blocked, ...] = ()

    @property
    def best(self) -> float:
        """Cost of the best path."""
        return float(self.before[-1].min())

    def row(self, index: int, state: int) -> int:
        return state // contexts(len(self.layers[index].shape.upper))

    def costs_of(self, index: int, state: int) -> Iterator[tuple[str, float]]:
        """The named costs and gains of a voicing by itself."""
        row = self.row(index, state)
        for name, values in (*self.layers[index].parts.items(), *self.named_gains[index].items()):
            yield name, values.item(row)

    def moves(self, first: int, states: Sequence[int]) -> list[tuple[Shape, Shape, Joint, int]]:
        """The moves of a way through some events, from the event `first` on, as `along` takes them."""
        shapes = [self.layers[first + n].shape for n in range(len(states))]
        return [
            (a, b, self.joints[first + n], states[n] % contexts(len(a.upper)))
            for n, (a, b) in enumerate(pairwise(shapes))
        ]


def shape_of(event: Event, loose: int = 0) -> Shape:
    pins = tuple((v, p) for v, p in event.pins if p is not None)
    return Shape(
        event.bass,
        event.voice,
        event.upper,
        event.variants,
        opening=event.opening and len(event.upper) == 1,
        closing=event.closing,
        cadence=event.cadence,
        strong=event.weight > 0,
        pins=pins,
        loose=loose,
    )


def _standing(event: Event, found: Voicings, weights: Weights) -> tuple[Voicings, bool]:
    """The voicings of an event; when the rules leave none, looser ones, and whether that is to be told
    as a place without a way (voices far apart or beyond their compass, and figures for which pins leave no
    voice, are told by the check)."""
    for loose in (1, 2):
        if len(found):
            break
        found = voicings(shape_of(event, loose), weights)
    if len(found):
        return found, found.shape.loose > 1 and not found.shape.pins
    # Nothing fits above this note: the upper voices fall silent over it.
    return voicings(replace(shape_of(event), upper=(), pins=()), weights), True


def _held(event: Event, before: Voicings) -> Voicings:
    """The voicings before, over a passing given note; what is bound stays bound."""
    key = (id(before), event.bass)
    known = _HELD.get(key)
    if known is None or known.d is not before.d:
        if len(_HELD) >= _HELD_SIZE:
            _HELD.clear()
        b, code = before, before.code.copy()
        shape, cost = replace(b.shape, bass=event.bass), np.zeros(len(b))
        code[VOICES.index(b.shape.voice)] = pitch_code(event.bass.diatonic, event.bass.midi)
        known = _HELD[key] = Voicings(shape, b.d, b.m, code, b.role, b.number, {}, cost)
    return known


_HELD: dict[Any, Voicings] = {}
_HELD_SIZE = 4096


_BACK = 2
"""How many steps before a place without a way voices may be let move."""

Gains = Mapping[str, Sequence[Array | None]]
"""By name, what the rows of each event gain (or cost) besides; None for events that gain nothing."""


def build(
    events: Sequence[Event],
    weights: Weights,
    *,
    waived: Sequence[frozenset[str]] = (),
    gains: Callable[[Sequence[Voicings]], Gains] | None = None,
) -> Lattice:
    """The lattice of a line, with its costs summed; `gains` tells of the voicings of all events what more
    they gain or cost."""
    layers, blocked = _layers(events, weights)
    joints = _joints(events, waived)
    steps = all_arcs([Crossing(*x) for x in zip(layers, layers[1:], joints)], weights)
    told = _named([{}] * len(layers), gains(layers) if gains else {})
    spread = tuple(map(_spread, layers, told))
    wide = contexts(len(layers[0].shape.upper))
    first = np.full(len(layers[0]) * wide, np.inf)
    first[::wide] = layers[0].cost
    costs = [first + spread[0]]
    while len(costs) < len(layers):
        i = len(costs) - 1
        now = forward(steps[i], costs[-1])
        if not now.min(initial=np.inf) < np.inf:
            near = [n for n in range(max(0, i - _BACK), i + 1) if joints[n].still]
            change = replace(joints[near[-1]], still=False) if near else replace(joints[i], loose=True)
            if near:
                # Where nothing else leads on, the voices may move while the given note goes on.
                i = near[-1]
                del costs[i + 1 :]
            else:
                blocked.append(Blocked(i + 1, False))
            joints[i] = change
            steps[i] = arcs(layers[i], layers[i + 1], change, weights)
            now = forward(steps[i], costs[-1])
            if near and not now.min(initial=np.inf) < np.inf:
                # It did not help: the next place before is let move, or the rules give way.
                continue
        costs.append(now + spread[i + 1] if told[i + 1] else now)
    blocked.sort(key=lambda b: b.index)
    whole = tuple(events), tuple(layers), tuple(joints), tuple(steps), told, spread, weights
    return Lattice(*whole, tuple(costs), tuple(blocked))


def _named(known: Sequence[Mapping[str, Array]], gains: Gains) -> tuple[Mapping[str, Array], ...]:
    """What is known of the gains of each event, and more."""
    found = []
    for i, here in enumerate(known):
        more = {name: gain for name, rows in gains.items() if (gain := rows[i]) is not None}
        found.append({**here, **more})
    return tuple(found)


def _spread(layer: Voicings, named: Mapping[str, Array]) -> Array:
    """The gains of an event's states, from those of its rows."""
    wide = contexts(len(layer.shape.upper))
    if not named:
        return np.zeros(len(layer) * wide)
    return np.repeat(sum(named.values(), np.zeros(len(layer))), wide)


def gaining(lattice: Lattice, gains: Gains) -> Lattice:
    """The same lattice with more gains (or costs); what is legal stays as it is."""
    first = min((i for rows in gains.values() for i, x in enumerate(rows) if x is not None), default=None)
    if first is None:
        return lattice
    told = _named(lattice.named_gains, gains)
    spread = [*lattice.gains[:first], *map(_spread, lattice.layers[first:], told[first:])]
    costs = list(lattice.before[:first])
    if not first:
        costs.append(lattice.before[0] - lattice.gains[0] + spread[0])
    for i in range(len(costs), len(lattice.layers)):
        now = forward(lattice.steps[i - 1], costs[-1])
        costs.append(now + spread[i] if told[i] else now)
    return replace(lattice, named_gains=told, gains=tuple(spread), before=tuple(costs))


KEPT = -40.0
"""What keeping a sonority is worth."""


def like(
    lattice: Lattice, other: Lattice, path: Path, *, semitones: int | None = None
) -> tuple[Array | None, ...]:
    """A gain for every voicing that a path of another lattice of the same music has at the same time. With
    `semitones`, of the same music so much higher, voice by voice: where one cannot follow, the others do."""
    there = {
        event.onset: (layer.shape.upper, layer.m[other.row(i, state)])
        for i, (event, layer, state) in enumerate(zip(other.events, other.layers, path))
    }
    found: list[Array | None] = []
    for event, layer in zip(lattice.events, lattice.layers):
        upper, notes = there.get(event.onset, ((), None))
        same = notes is not None and upper == layer.shape.upper and len(layer) > 1
        if not same or notes is None:
            found.append(None)
        elif semitones is None:
            found.append(np.where((layer.m == notes).all(axis=1), KEPT, 0.0))
        else:
            found.append((layer.m == notes + semitones).mean(axis=1) * KEPT)
    return tuple(found)


def _layers(events: Sequence[Event], weights: Weights) -> tuple[list[Voicings], list[Blocked]]:
    """The voicings of each event; and where the rules leave none."""
    layers: list[Voicings] = []
    blocked: list[Blocked] = []
    struck = [event for i, event in enumerate(events) if not (event.hold and i)]
    made = iter(all_voicings([shape_of(event) for event in struck], weights))
    for i, event in enumerate(events):
        if event.hold and i:
            layers.append(_held(event, layers[-1]))
            continue
        layer, empty = _standing(event, next(made), weights)
        if empty:
            blocked.append(Blocked(i, True))
        layers.append(layer)
    return layers, blocked


def _joints(events: Sequence[Event], waived: Sequence[frozenset[str]]) -> list[Joint]:
    """What joins each event to the one before."""
    found = []
    main: Pitch | None = None
    for i, (past, event) in enumerate(pairwise(events), 1):
        found.append(
            Joint(
                silent=not event.joined,
                hold=event.hold,
                same_bass=event.joined and event.bass == past.bass and not event.hold,
                short=event.duration < 1,
                still=event.still and event.joined and not event.hold,
                main=main if past.hold and not event.hold else None,
                waived=waived[i] if i < len(waived) else frozenset(),
            )
        )
        if not event.hold:
            main = None
        elif not past.hold:
            main = past.bass
    return found


def forward(step: Arcs, cost: Array) -> Array:
    """Least cost to each later state."""
    found = np.full(step.width, np.inf)
    if len(step.source):
        found[step.targets] = np.minimum.reduceat(cost[step.source] + step.cost, step.starts)
    return found


def backward(lattice: Lattice) -> tuple[Array, ...]:
    """Least cost from each state to the end, the state's own cost not counted."""
    found = [np.zeros(len(lattice.before[-1]))]
    for i in range(len(lattice.steps) - 1, -1, -1):
        step = lattice.steps[i]
        onward = found[-1] + lattice.gains[i + 1]
        values = onward[step.target] + step.cost
        least = np.full(len(lattice.before[i]), np.inf)
        np.minimum.at(least, step.source, values)
        found.append(least)
    return tuple(reversed(found))
