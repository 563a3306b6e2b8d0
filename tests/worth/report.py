"""How near drawn plain settings are to the masters', on pieces that nothing was learned from.

    python tests/worth/report.py [--every N] [--first K] [--draws D] [--even]

Prints the rank and likelihood of the master's voicings; how well a classifier tells our settings from his by
features of pitch and by others (area under the curve, mean of several draws; then of the least costly
setting); and rates.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from choices import choices, judged
from features import other_features, pitch_features
from learn import read_passages
from passages import Passage
from told_apart import area

from builder.counterpoint.search.costs import NAMES, Weights
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import Lattice, Path, build
from builder.counterpoint.search.paths import best_path

Array = np.ndarray[Any, np.dtype[Any]]
RATES = {"repeated": 2, "third": 4, "leap": 5, "turns": 7, "contrary": 16, "parallel": 19, "all alike": 26}


def _notes(passage: Passage, rows: Mapping[int, tuple[Sequence[int], Sequence[int]]]) -> tuple[Array, Array]:
    """Staff steps and MIDI numbers, the given line last."""
    basses = [passage.events[i].bass for i in rows]
    d = np.array([[*row[0], b.diatonic] for row, b in zip(rows.values(), basses)])
    m = np.array([[*row[1], b.midi] for row, b in zip(rows.values(), basses)])
    return d, m


def _both(passage: Passage, lattice: Lattice, paths: Sequence[Path]) -> list[tuple[Array, Array]] | None:
    """The master's notes and ours, at the sonorities where his are known."""
    count = len(passage.events[0].upper)
    places = [
        i
        for i, event in enumerate(passage.events)
        if not event.hold and passage.chosen[i] is not None and lattice.layers[i].d.shape[1] == count
    ]
    if len(places) < 6:
        return None
    his = {}
    for i in places:
        pitches = passage.chosen[i] or ()
        his[i] = [p.diatonic for p in pitches], [p.midi for p in pitches]
    found = [_notes(passage, his)]
    for path in paths:
        rows = [lattice.row(i, s) for i, s in enumerate(path)]
        ours = {i: (lattice.layers[i].d[rows[i]], lattice.layers[i].m[rows[i]]) for i in places}
        found.append(_notes(passage, ours))
    return found


def told(some: Sequence[Passage], draws: int, *, cheapest: bool = False) -> None:
    """Prints areas under the curve and rates."""
    groups, long, sides = [], [], []
    for n, passage in enumerate(some):
        lattice = build(passage.events, Weights.of({}))
        paths = [best_path(lattice)] if cheapest else list(drawn(lattice, (n,), draws))
        both = _both(passage, lattice, paths)
        if both is not None:
            groups.append(passage.piece)
            long.append(passage.bars >= 3)
            sides.append(both)
    for name, features in (("pitch", pitch_features), ("other", other_features)):
        table = [np.array([features(*side[k]) for side in sides]) for k in range(len(sides[0]))]
        for words, mask in (("two bars and more", np.ones(len(sides), bool)), ("three", np.array(long))):
            names = [g for g, kept_here in zip(groups, mask) if kept_here]
            areas = [area(table[0][mask], t[mask], names, seed) for seed, t in enumerate(table[1:])]
            print(f"  {name}, {words}: {np.mean(areas):.3f} ({mask.sum()} passages)", flush=True)
        if name == "pitch":
            ours = np.concatenate(table[1:])
            rates = (f"{k} {table[0][:, v].mean():.2f}/{ours[:, v].mean():.2f}" for k, v in RATES.items())
            print(
                "  master's/ours:",
                ", ".join(rates),
                f"peak {table[0][:, -1].mean():.2f}/{ours[:, -1].mean():.2f}",
            )


def main() -> None:
    """Reads, draws, tells."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--every", type=int, default=5)
    asked.add_argument("--first", type=int, default=3)
    asked.add_argument("--draws", type=int, default=5)
    asked.add_argument("--even", action="store_true", help="pieces held out from learning, to decide on")
    options = asked.parse_args()
    read = read_passages("palestrina", odd=not options.even, every=options.every, first=options.first)
    found = [c for passage in read for c in choices(passage)]
    for above in (1, 2, 3):
        own = [c for c in found if c.upper == above]
        prices = np.array([Weights.of({}).above(above)[n] for n in NAMES])
        first, likelihood = judged(own, prices)
        print(f"{above} above: {len(own)} choices, ranked first {first:.3f}, likelihood {likelihood:.3f}")
    some = [passage for passage in read if passage.bars >= 2]
    print("drawn")
    told(some, options.draws)
    print("least costly")
    told(some, 1, cheapest=True)


if __name__ == "__main__":
    main()
