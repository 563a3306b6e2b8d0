"""The lattice of voicings and the best paths through it.

Exact: the best path is found by dynamic programming over (voicing, melodic context), so no path
that the rules allow costs less; the k best come in order of cost, each no dearer than any path not
yet given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from builder.counterpoint.costs import Weights
from builder.counterpoint.events import Event
from builder.counterpoint.pricing import contexts
from builder.counterpoint.steps import Joint
from builder.counterpoint.transition import Arcs, arcs
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
    named_gains: tuple[Mapping[str, Array], ...]
    """What the rows of each event gain (or cost) besides, by name."""
    gains: tuple[Array, ...]
    """The same by states, summed."""
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
        extra.append(np.zeros(len(layer) * wide))
        if not layers:
            first = np.full(len(layer) * wide, np.inf)
            first[::wide] = layer.cost
            layers.append(layer)
            costs.append(first)
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
        now = forward(step, costs[-1])
        if not np.isfinite(now).any():
            blocked.append(Blocked(i, False))
            joint = replace(joint, loose=True)
            step = arcs(layers[-1], layer, joint, weights)
            now = forward(step, costs[-1])
        layers.append(layer)
        joints.append(joint)
        steps.append(step)
        costs.append(now)
    return Lattice(
        tuple(events),
        tuple(layers),
        tuple(joints),
        tuple(steps),
        tuple({} for _ in layers),
        tuple(extra),
        weights,
        tuple(costs),
        (),
        tuple(blocked),
    )


def gaining(lattice: Lattice, gains: Mapping[str, Sequence[Array | None]]) -> Lattice:
    """The same lattice with more gains (or costs), by name, for the rows of some events; what is legal
    stays as it is."""
    told, spread = [], []
    for i, (layer, known) in enumerate(zip(lattice.layers, lattice.named_gains)):
        here = {**known, **{name: gain for name, rows in gains.items() if (gain := rows[i]) is not None}}
        told.append(here)
        whole = sum(here.values(), np.zeros(len(layer)))
        spread.append(np.repeat(whole, contexts(len(layer.shape.upper))))
    costs = [lattice.before[0] - lattice.gains[0] + spread[0]]
    for step, gain in zip(lattice.steps, spread[1:]):
        costs.append(forward(step, costs[-1]) + gain)
    return replace(lattice, named_gains=tuple(told), gains=tuple(spread), before=tuple(costs))


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
