"""The lattice of voicings and the best paths through it.

Exact: the best path is found by dynamic programming over (voicing, melodic context), so no path
that the rules allow costs less; the k best come in order of cost, each no dearer than any path not
yet given.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from builder.counterpoint.costs import Weights
from builder.counterpoint.events import Event
from builder.counterpoint.transition import Arcs, Joint, arcs, contexts
from builder.counterpoint.voicing import Array, Shape, Voicings, voicings
from builder.music import Pitch

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
    """Layers of voicings and the arcs between them; `before` and `after` are the least cost to and
    from each state. `blocked` lists the events where rules had to give way."""

    events: tuple[Event, ...]
    layers: tuple[Voicings, ...]
    joints: tuple[Joint, ...]
    steps: tuple[Arcs, ...]
    gains: tuple[Array, ...]
    weights: Weights
    before: tuple[Array, ...]
    after: tuple[Array, ...]
    blocked: tuple[Blocked, ...] = ()

    @property
    def best(self) -> float:
        """Cost of the best path."""
        return float(self.before[-1].min())

    def row(self, index: int, state: int) -> int:
        return state // contexts(len(self.layers[index].shape.upper))


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


def _layer(event: Event, before: Voicings | None, weights: Weights) -> tuple[Voicings, bool]:
    """Voicings of an event; when the rules leave none, those of ever looser ones."""
    if event.hold and before is not None:
        shape = replace(before.shape, bass=event.bass)
        # What is bound stays bound over the passing note.
        still = np.zeros(len(before))
        return Voicings(shape, before.d, before.m, before.role, before.number, {}, still), False
    found = voicings(shape_of(event), weights)
    for loose in (1, 2):
        if len(found):
            return found, loose > 1
        found = voicings(shape_of(event, loose), weights)
    if len(found):
        return found, True
    # Nothing fits above this note: the upper voices fall silent over it.
    return voicings(replace(shape_of(event), upper=(), pins=()), weights), True


_HELD: dict[Any, Voicings] = {}


def build(
    events: Sequence[Event],
    weights: Weights,
    *,
    waived: Sequence[frozenset[str]] = (),
    gains: Sequence[Array | None] = (),
) -> Lattice:
    """The lattice of a line, with its costs summed both ways."""
    layers: list[Voicings] = []
    joints: list[Joint] = []
    steps: list[Arcs] = []
    blocked: list[Blocked] = []
    main: Pitch | None = None
    costs: list[Array] = []
    extra: list[Array] = []
    for i, event in enumerate(events):
        layer, empty = _layer(event, layers[-1] if layers else None, weights)
        if event.hold:
            key = (id(layers[-1]), event.bass)
            known = _HELD.get(key)
            if known is None or known.d is not layer.d:
                _HELD[key] = layer
            layer = _HELD[key]
        if empty:
            blocked.append(Blocked(i, True))
        wide = contexts(len(layer.shape.upper))
        given_gain = gains[i] if i < len(gains) else None
        gain = np.repeat(given_gain, wide) if given_gain is not None else np.zeros(len(layer) * wide)
        extra.append(gain)
        if not layers:
            first = np.full(len(layer) * wide, np.inf)
            first[::wide] = layer.cost
            layers.append(layer)
            costs.append(first + gain)
            continue
        past = events[i - 1]
        joint = Joint(
            silent=not event.joined,
            hold=event.hold,
            same_bass=event.joined and event.bass == past.bass and not event.hold,
            short=event.duration < 1,
            main=main if past.hold and not event.hold else None,
            waived=waived[i] if i < len(waived) else frozenset(),
            pinned=bool(event.pins),
        )
        if not event.hold:
            main = None
        if event.hold and not past.hold:
            main = past.bass
        step = arcs(layers[-1], layer, joint, weights)
        now = forward(step, costs[-1]) + gain
        if not np.isfinite(now).any():
            blocked.append(Blocked(i, False))
            joint = replace(joint, loose=True)
            step = arcs(layers[-1], layer, joint, weights)
            now = forward(step, costs[-1]) + gain
        layers.append(layer)
        joints.append(joint)
        steps.append(step)
        costs.append(now)
    return Lattice(
        tuple(events),
        tuple(layers),
        tuple(joints),
        tuple(steps),
        tuple(extra),
        weights,
        tuple(costs),
        (),
        tuple(blocked),
    )


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


def best_path(lattice: Lattice, end: int | None = None, last: int | None = None) -> Path:
    """The least costly path to the end (or to a state of a given event); the first one among equals."""
    i = len(lattice.before) - 1 if last is None else last
    state = int(lattice.before[i].argmin()) if end is None else end
    path = [state]
    for n in range(i - 1, -1, -1):
        step = lattice.steps[n]
        place = int(np.searchsorted(step.targets, state))
        start = step.starts[place]
        stop = step.starts[place + 1] if place + 1 < len(step.starts) else len(step.source)
        values = lattice.before[n][step.source[start:stop]] + step.cost[start:stop]
        state = int(step.source[start + int(values.argmin())])
        path.append(state)
    return tuple(reversed(path))


def through(lattice: Lattice, after: tuple[Array, ...], index: int, state: int) -> Path:
    """The least costly path through one state of one event."""
    head = best_path(lattice, state, index)
    path = list(head)
    for n in range(index, len(lattice.steps)):
        step = lattice.steps[n]
        own = np.flatnonzero(step.source == path[-1])
        onward = after[n + 1] + lattice.gains[n + 1]
        values = onward[step.target[own]] + step.cost[own]
        path.append(int(step.target[own[int(values.argmin())]]))
    return tuple(path)


def k_best(lattice: Lattice, count: int) -> Iterator[tuple[float, Path]]:
    """The `count` least costly paths in order of cost. Exact: the search goes backwards from the end with
    the true least cost of the way still to go, so a path is given only when nothing cheaper is left."""
    last = len(lattice.before) - 1
    # (total cost, index, tie order, state, suffix as linked pairs)
    heap: list[tuple[float, int, int, int, Any]] = []
    order = 0
    for state in np.flatnonzero(np.isfinite(lattice.before[last])).tolist():
        heap.append((float(lattice.before[last][state]), last, order, state, (state, None)))
        order += 1
    heapq.heapify(heap)
    given = 0
    while heap and given < count:
        total, index, _, state, chain = heapq.heappop(heap)
        if index == 0:
            path = []
            while chain is not None:
                path.append(chain[0])
                chain = chain[1]
            given += 1
            yield total, tuple(path)
            continue
        step = lattice.steps[index - 1]
        place = int(np.searchsorted(step.targets, state))
        start = step.starts[place]
        stop = step.starts[place + 1] if place + 1 < len(step.starts) else len(step.source)
        sources = step.source[start:stop]
        values = lattice.before[index - 1][sources] + step.cost[start:stop]
        base = float(values.min())
        for source, value in zip(sources.tolist(), values.tolist()):
            if value < np.inf:
                order += 1
                heapq.heappush(heap, (total + value - base, index - 1, order, source, (source, chain)))
