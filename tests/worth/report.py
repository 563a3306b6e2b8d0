"""How near drawn plain settings are to the masters', on pieces that nothing was learned from.

    python tests/worth/report.py [--every N] [--first K] [--draws D] [--even]

Prints the rank and likelihood of the master's voicings; how well a classifier tells our settings from his by
features of pitch and by others (area under the curve, mean of several draws): as drawn, as a verset first
tries them, and the least costly; and rates. `reduced`: measured where plain may move; his voices also move
while a note of the line and its figure go on, ours never, and by that alone he is told from himself.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from choices import choices, judged
from features import other_features, pitch_features
from learn import read_passages
from passages import Passage
from told_apart import area

from builder.analysis import analyse
from builder.counterpoint.search.choosing import candidates
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


def sides(
    passage: Passage, lattice: Lattice, paths: Sequence[Path], *, reduced: bool
) -> list[tuple[Array, Array]] | None:
    """The master's notes and ours, at the sonorities where his are known; `reduced`: none where plain keeps
    its notes while a note of the line and its figure go on. None where there are too few."""
    count = len(passage.events[0].upper)
    places = [
        i
        for i, event in enumerate(passage.events)
        if not event.hold and passage.chosen[i] is not None and lattice.layers[i].d.shape[1] == count
        if not (reduced and event.still)
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


def told(some: Sequence[Passage], draws: int, way: str, *, reduced: bool) -> None:
    """Prints areas under the curve and rates of settings taken in one of `WAYS`."""
    groups, long, found = [], [], []
    for n, passage in enumerate(some):
        lattice = build(passage.events, Weights.of({}))
        both = sides(passage, lattice, WAYS[way](passage, lattice, n, draws), reduced=reduced)
        if both is not None:
            groups.append(passage.piece)
            long.append(passage.bars >= 3)
            found.append(both)
    print(f"{way}{', reduced' if reduced else ''}", flush=True)
    _areas(groups, np.array(long), found)


def _areas(groups: Sequence[str], long: Array, found: Sequence[Sequence[tuple[Array, Array]]]) -> None:
    for name, features in (("pitch", pitch_features), ("other", other_features)):
        table = [np.array([features(*side[k]) for side in found]) for k in range(len(found[0]))]
        for words, mask in (("two bars and more", np.ones(len(found), bool)), ("three", long)):
            names = [g for g, kept_here in zip(groups, mask) if kept_here]
            areas = [area(table[0][mask], t[mask], names, seed) for seed, t in enumerate(table[1:])]
            print(f"  {name}, {words}: {np.mean(areas):.3f} ({mask.sum()} passages)", flush=True)
        if name == "pitch":
            ours = np.concatenate(table[1:])
            rates = (f"{k} {table[0][:, v].mean():.2f}/{ours[:, v].mean():.2f}" for k, v in RATES.items())
            print(
                "  master's/other side's:",
                ", ".join(rates),
                f"peak {table[0][:, -1].mean():.2f}/{ours[:, -1].mean():.2f}",
            )


def _taken(passage: Passage, lattice: Lattice, n: int, draws: int) -> list[Path]:
    """The path that a verset tries first, with so many seeds."""
    analysis, found = analyse(passage.verset), []
    for seed in range(draws):
        verset = replace(passage.verset, settings=replace(passage.verset.settings, seed=seed))
        found.append(next(candidates(lattice, verset, analysis)))
    return found


WAYS: Mapping[str, Callable[[Passage, Lattice, int, int], Sequence[Path]]] = {
    "drawn": lambda passage, lattice, n, draws: drawn(lattice, (n,), draws),
    "tried first": _taken,
    "least costly": lambda passage, lattice, n, draws: [best_path(lattice)],
}
"""Ways to take settings of a passage."""


def floor(some: Sequence[Passage]) -> None:
    """Prints how well the master is told from himself when none of his voices moves while a note of the line
    and its figure go on: no plain setting can come nearer to him as he wrote."""
    groups, long, found = [], [], []
    for passage in some:
        both = sides(passage, build(passage.events, Weights.of({})), [], reduced=False)
        if both is None:
            continue
        d, m = both[0]
        kept = [e for e, c in zip(passage.events, passage.chosen) if not e.hold and c is not None]
        if len(kept) != len(d):
            continue
        still = np.array([e.still for e in kept])
        before = np.maximum.accumulate(np.where(still, 0, np.arange(len(d))))
        groups.append(passage.piece)
        long.append(passage.bars >= 3)
        found.append([(d, m), (d[before], m[before])])
    print("the master, reduced")
    _areas(groups, np.array(long), found)


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
    floor(some)
    for way in WAYS:
        for reduced in (True, False):
            told(some, options.draws, way, reduced=reduced)


if __name__ == "__main__":
    main()
