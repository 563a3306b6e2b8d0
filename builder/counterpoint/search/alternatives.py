"""Other good settings of the same verset."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from builder.analysis import Analysis
from builder.counterpoint.check.finding import Realisation
from builder.counterpoint.check.judge import Judge
from builder.counterpoint.search.lattice import Lattice, Path, backward
from builder.counterpoint.search.paths import best_path, k_best, through
from builder.counterpoint.search.realise import judged, lattice_of, setting
from builder.counterpoint.search.step_costs import contexts
from builder.music import bar_at
from builder.source import Verset

LEAST = 3
"""Two settings are different enough when their voicings differ at so many sonorities or more."""


def k_best_settings(
    verset: Verset, analysis: Analysis, count: int, *, tuning: str = "quarter-comma"
) -> tuple[Realisation, ...]:
    """The `count` least costly settings in order of cost, however alike. Exact: no legal setting that is left
    out costs less than the last one given (up to the rounding of binary fractions)."""
    lattice = lattice_of(verset, analysis, tuning=tuning)
    return tuple(setting(verset, lattice, path) for _, path in k_best(lattice, count))


def alternatives(
    verset: Verset, analysis: Analysis, count: int, *, bar: int | None = None, tuning: str = "quarter-comma"
) -> tuple[Realisation, ...]:
    """The best setting and others different enough to be worth hearing, in order of cost.

    Guarantee: each one after the first is the least costly of all legal settings that have some one voicing
    which none of those before it has at that place; it differs from each of them at three sonorities or
    more. With `bar` the places tried are those of that bar. Fewer come back when there are no more.
    """
    lattice = lattice_of(verset, analysis, tuning=tuning)
    chosen: list[Path] = []
    for path in _different(lattice, verset, bar):
        if len(chosen) >= count:
            break
        chosen.append(path)
    found = [setting(verset, lattice, path) for path in chosen]
    judge = Judge(verset, analysis, tuning=tuning, cut=lattice.events)
    return tuple(judged(r, lattice, judge) for r in found)


def _rows(lattice: Lattice, path: Path) -> tuple[int, ...]:
    return tuple(lattice.row(i, state) for i, state in enumerate(path))


def _different(lattice: Lattice, verset: Verset, bar: int | None) -> Iterator[Path]:
    first = best_path(lattice)
    yield first
    taken = [_rows(lattice, first)]
    least = min(LEAST, max(1, sum(len(layer) > 1 for layer in lattice.layers) // 4))
    if bar is not None:
        least = 1
    after = backward(lattice)
    ways: list[tuple[float, int, int]] = []
    for i, layer in enumerate(lattice.layers):
        if bar is not None and bar_at(verset.bars, lattice.events[i].onset).number != bar:
            continue
        if lattice.events[i].hold or not layer.shape.upper:
            continue
        wide = contexts(len(layer.shape.upper))
        total = (lattice.before[i] + after[i]).reshape(-1, wide)
        for row in np.flatnonzero(np.isfinite(total).any(axis=1)).tolist():
            ways.append((round(float(total[row].min()), 9), i, row * wide + int(total[row].argmin())))
    for _, index, state in sorted(ways):
        row = lattice.row(index, state)
        if any(rows[index] == row for rows in taken):
            continue
        path = through(lattice, after, index, state)
        rows = _rows(lattice, path)
        if all(_differences(rows, other) >= least for other in taken):
            taken.append(rows)
            yield path


def _differences(a: tuple[int, ...], b: tuple[int, ...]) -> int:
    return sum(x != y for x, y in zip(a, b))
