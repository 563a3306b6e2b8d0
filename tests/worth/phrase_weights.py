"""Learns what a phrase is worth as a whole from the masters and writes `phrases.yaml`.

    python tests/worth/phrase_weights.py [--every N] [--first K …] [--draws D]

Only pieces at even places of the corpus list are read, others than those that the prices were learned from.
The weights are of greatest likelihood: the master's phrase among draws over the same bass, each of which
weighs exp(worth). His notes are taken as plain has its own: none that begin while a note of the line and its
figure go on.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from learn import read_passages
from report import sides

from builder.counterpoint.search import phrase_worth
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import build
from builder.counterpoint.search.phrase_worth import FEATURES, SHORTEST, table

Array = np.ndarray[Any, np.dtype[Any]]
FILE = Path(phrase_worth.__file__).with_name("phrases.yaml")
STRENGTH, SELDOM = 30.0, 0.3
"""How strongly weights are drawn to 0, each by how much its feature varies among draws over one bass, by this
at least."""


def fitted(tables: Sequence[Array], strength: float = STRENGTH) -> Array:
    """Weights of greatest likelihood of the first row of each table among the others, drawn towards 0."""
    from scipy.optimize import minimize

    spread = np.concatenate([t[1:] - t[1:].mean(axis=0) for t in tables]).std(axis=0)
    scale = 1 / np.maximum(spread, SELDOM)
    his = np.stack([t[0] for t in tables]) * scale
    ours = np.stack([t[1:] for t in tables]) * scale

    def loss(w: Array) -> tuple[float, Array]:
        z = ours @ w
        most = z.max(axis=1, keepdims=True)
        p = np.exp(z - most)
        total = p.sum(axis=1, keepdims=True)
        value = (np.log(total) + most).sum() - (his @ w).sum() + strength * (w @ w) / 2
        return float(value), ((p / total)[:, :, None] * ours).sum(axis=(0, 1)) - his.sum(
            axis=0
        ) + strength * w

    done = minimize(loss, np.zeros(his.shape[1]), jac=True, method="L-BFGS-B", options={"maxiter": 500})
    found: Array = done.x * scale
    return found


def gained(tables: Sequence[Array], weights: Array) -> float:
    """By how much the master's phrase is likelier with the weights than as drawn: mean logarithm of the
    ratio."""
    found = []
    for each in tables:
        z = each @ weights
        found.append(z[0] - np.log(np.exp(z[1:] - z[1:].max()).mean()) - z[1:].max())
    return float(np.mean(found))


def tables_of(every: int, first: int, draws: int) -> list[Array]:
    """For each passage of two bars and more what its phrases have: the master's, then ours."""
    found = []
    for n, passage in enumerate(read_passages("palestrina", odd=False, every=every, first=first)):
        if passage.bars < 2:
            continue
        lattice = build(passage.events, Weights.of({}))
        both = sides(passage, lattice, drawn(lattice, (n,), draws), reduced=True)
        if both is not None and len(both[0][0]) >= SHORTEST:
            found.append(table(np.stack([d for d, _ in both]), np.stack([m for _, m in both])))
    return found


def main() -> None:
    """Reads, draws, fits, writes; tells what the last part gives when it is held out."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--every", type=int, default=5, help="of the even pieces every so manieth")
    asked.add_argument("--first", type=int, nargs="*", default=[4, 2, 1], help="from these places on")
    asked.add_argument("--draws", type=int, default=100)
    options = asked.parse_args()
    parts = [tables_of(options.every, first, options.draws) for first in options.first]
    if len(parts) > 1:
        held_out = fitted([t for part in parts[:-1] for t in part])
        print(f"gained where held out {gained(parts[-1], held_out):.3f} ({len(parts[-1])} passages)")
    whole = [t for part in parts for t in part]
    weights = fitted(whole)
    print(f"gained {gained(whole, weights):.3f} ({len(whole)} passages)")
    text = FILE.read_text(encoding="utf-8")
    head, rest = text.split("learned:\n")
    lines = [f"  {name}: {weight:.2f}" for name, weight in zip(FEATURES, weights)]
    FILE.write_text(head + "learned:\n" + "\n".join(lines) + rest[rest.index("\n\n") :], encoding="utf-8")


if __name__ == "__main__":
    main()
