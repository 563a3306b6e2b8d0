"""The lattice of voicings and the best paths through it.

Exact: the best path is found by dynamic programming over (voicing, melodic context), so no path
that the rules allow costs less; the k best come in order of cost, each no dearer than any path not
yet given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from builder.counterpoint.costs import Weights
from builder.counterpoint.events import Event
from builder.counterpoint.lookup import pitch_code
from builder.counterpoint.pricing import contexts
from builder.counterpoint.steps import Joint
from builder.counterpoint.transition import Arcs, Crossing, all_arcs, arcs
from builder.counterpoint.voicing import Array, Shape, Voicings, all_voicings, voicings
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


def _standing(event: Event, found: Voicings, weights: Weights) -> tuple[Voicings, bool]:
    """The voicings of an event; when the rules leave none, those of ever looser ones."""
    for loose in (1, 2):
        if len(found):
            return found, loose > 1
        found = voicings(shape_of(event, loose), weights)
    if len(found):
        return found, True
    # Nothing fits above this note: the upper voices fall silent over it.
    return voicings(replace(shape_of(event), upper=(), pins=()), weights), True


def _held(event: Event, before: Voicings) -> Voicings:
    """The voicings before, over a passing given note; what is bound stays bound."""
    key = (id(before), event.bass)
    known = _HELD.get(key)
    if known is None or known.d is not before.d:
        b, code = before, before.code.copy()
        shape, cost = replace(b.shape, bass=event.bass), np.zeros(len(b))
        code[VOICES.index(b.shape.voice)] = pitch_code(event.bass.diatonic, event.bass.midi)
        known = _HELD[key] = Voicings(shape, b.d, b.m, code, b.role, b.number, {}, cost)
    return known


_HELD: dict[Any, Voicings] = {}


def build(
    events: Sequence[Event],
    weights: Weights,
    *,
    waived: Sequence[frozenset[str]] = (),
) -> Lattice:
    """The lattice of a line, with its costs summed both ways."""
    layers, blocked = _layers(events, weights)
    joints = _joints(events, waived)
    steps = all_arcs([Crossing(*x) for x in zip(layers, layers[1:], joints)], weights)
    wide = [contexts(len(layer.shape.upper)) for layer in layers]
    first = np.full(len(layers[0]) * wide[0], np.inf)
    first[:: wide[0]] = layers[0].cost
    costs = [first]
    for i, step in enumerate(steps):
        now = forward(step, costs[-1])
        if not np.isfinite(now).any():
            blocked.append(Blocked(i + 1, False))
            joints[i] = replace(joints[i], loose=True)
            steps[i] = arcs(layers[i], layers[i + 1], joints[i], weights)
            now = forward(steps[i], costs[-1])
        costs.append(now)
    return Lattice(
        tuple(events),
        tuple(layers),
        tuple(joints),
        tuple(steps),
        tuple({} for _ in layers),
        tuple(np.zeros(len(layer) * n) for layer, n in zip(layers, wide)),
        weights,
        tuple(costs),
        (),
        tuple(sorted(blocked, key=lambda b: b.index)),
    )


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
                main=main if past.hold and not event.hold else None,
                waived=waived[i] if i < len(waived) else frozenset(),
                pinned=bool(event.pins),
            )
        )
        if not event.hold:
            main = None
        elif not past.hold:
            main = past.bass
    return found


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
