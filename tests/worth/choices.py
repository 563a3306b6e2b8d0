"""The master's choice at each sonority of a passage among all lawful voicings from the one before, with what
each costs by name: the data from which weights are learned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from passages import Passage

from builder.counterpoint.search.costs import NAMES, Prices, Weights
from builder.counterpoint.search.draws import Memory
from builder.counterpoint.search.lattice import Lattice, build
from builder.counterpoint.search.shape import contexts
from builder.counterpoint.search.step_costs import Steps, melodic, named

Array = np.ndarray[Any, np.dtype[Any]]
UNIT = Weights.of(dict.fromkeys(NAMES, 1.0))
EACH = UNIT.above(1)


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Occurrences of each cost, candidates x `NAMES`, the master's candidate, and how many voices lie
    above."""

    counts: Array
    taken: int
    upper: int


def choices(passage: Passage) -> Iterator[Choice]:
    """The choices of a passage that are the master's own."""
    lattice = build(passage.events, UNIT)
    rows = [row_of(lattice, i, pitches) for i, pitches in enumerate(passage.chosen)]
    context: int | None = None
    memory = Memory.empty(1)
    for i in range(1, len(rows)):
        before, after = rows[i - 1], rows[i]
        joint = lattice.joints[i - 1]
        a, b = lattice.layers[i - 1], lattice.layers[i]
        if joint.hold:
            # The voices keep their notes: so does what is remembered of them.
            rows[i] = before
            continue
        if joint.silent or before is None or after is None or not a.shape.upper:
            context, memory = None, Memory.empty(1)
            if after is not None:
                memory = memory.after(b.shape.upper, b.d[[after]])
            continue
        if not memory.pitch.any():
            memory = memory.after(a.shape.upper, a.d[[before]])
        steps = Steps.between(a, b, joint, np.full(len(b), before), np.arange(len(b)))
        known = 0 if context is None else context
        codes, _ = melodic(steps, EACH)
        found = counts(lattice, i, steps, known)
        for name, values in memory.occurrences(b.shape.upper, b.d[None]).items():
            found[:, NAMES.index(name)] += values[0]
        memory = memory.after(b.shape.upper, b.d[[after]])
        lawful = _lawful(lattice, i, before, known)
        if after in lawful and len(lawful) > 1 and context is not None:
            yield Choice(found[lawful], lawful.index(after), len(b.shape.upper))
        context = int(codes[after, known])


def row_of(lattice: Lattice, i: int, pitches: Any) -> int | None:
    if pitches is None:
        return None
    layer = lattice.layers[i]
    met = np.flatnonzero(
        (layer.m == [p.midi for p in pitches]).all(axis=1)
        & (layer.d == [p.diatonic for p in pitches]).all(axis=1)
    )
    return int(met[0]) if len(met) else None


def _lawful(lattice: Lattice, i: int, row: int, context: int) -> list[int]:
    step = lattice.steps[i - 1]
    wide = contexts(len(lattice.layers[i - 1].shape.upper))
    own = step.target[step.source == row * wide + context]
    return sorted({lattice.row(i, int(t)) for t in own})


def counts(lattice: Lattice, i: int, steps: Steps, context: int) -> Array:
    """How often each cost occurs in each step to the voicings of an event, candidates x `NAMES`."""
    layer = lattice.layers[i]
    found = np.zeros((len(layer), len(NAMES)))
    for name, values in (*layer.parts.items(), *named(steps, EACH).items()):
        found[:, NAMES.index(name)] += values
    for name in ("recovery", "stillness"):
        only = Prices(tuple(float(n == name) for n in NAMES))
        found[:, NAMES.index(name)] += melodic(steps, only)[1][:, context]
    return found


def fitted(
    found: Sequence[Choice], prior: Array, strength: float = 1.0, *, fixed: Array | None = None
) -> tuple[Array, float]:
    """Prices of greatest conditional likelihood, drawn towards a prior (where `fixed`, kept there), and the
    mean log-likelihood."""
    from scipy.optimize import minimize

    size = sum(len(c.counts) for c in found)
    table = np.concatenate([c.counts for c in found])
    owner = np.repeat(np.arange(len(found)), [len(c.counts) for c in found])
    first = np.concatenate(([0], np.cumsum([len(c.counts) for c in found])[:-1]))
    taken = first + np.array([c.taken for c in found])
    assert len(table) == size

    def loss(w: Array) -> tuple[float, Array]:
        z = -table @ w
        z -= np.maximum.reduceat(z, first)[owner]
        p = np.exp(z)
        total = np.add.reduceat(p, first)
        value = -(z[taken] - np.log(total)).sum() + strength * ((w - prior) ** 2).sum() / 2
        gradient = table[taken].sum(axis=0) - table.T @ (p / total[owner]) + strength * (w - prior)
        return float(value), gradient if fixed is None else np.where(fixed, 0.0, gradient)

    done = minimize(loss, prior, jac=True, method="L-BFGS-B", options={"maxiter": 300})
    return done.x, judged(found, done.x)[1]


def judged(found: Sequence[Choice], weights: Array) -> tuple[float, float]:
    """Share of choices in which the master's voicing is ranked first, and mean log-likelihood at the
    temperature that fits best."""
    from scipy.optimize import minimize_scalar

    prices = [c.counts @ weights for c in found]
    first = float(
        np.mean(
            [
                (p[c.taken] <= p.min() + 1e-9) / max(1, (p <= p.min() + 1e-9).sum())
                for p, c in zip(prices, found)
            ]
        )
    )

    def loss(log_t: float) -> float:
        t = np.exp(log_t)
        return -float(
            np.mean(
                [
                    -p[c.taken] / t - np.log(np.exp(-(p - p.min()) / t).sum()) + p.min() / t
                    for p, c in zip(prices, found)
                ]
            )
        )

    best = minimize_scalar(loss, bounds=(-2, 2), method="bounded")
    return first, -float(best.fun)
