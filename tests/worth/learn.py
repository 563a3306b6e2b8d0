"""Learns the prices of a plain setting from the masters and writes `prices.yaml`.

    python tests/worth/learn.py [--every N] [--first K …] [--matched]

Only pieces at even places of the corpus list are read. First the prices of greatest likelihood: the master's
voicing among all lawful ones that follow the one before it. Then, since a setting is drawn as a whole, each
price is moved until settings drawn over his basses make every turn as often as he does. Prices set by ear
stay. `--matched`: the second part alone, from the prices in use. Pieces and passages are kept in
`.cache/worth` once they are read; reading them takes most of the time.
"""

from __future__ import annotations

import argparse
import pickle
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from choices import EACH, UNIT, Choice, choices, fitted, judged, row_of
from passages import Passage, passages, pieces

from builder.counterpoint.search import costs
from builder.counterpoint.search.costs import NAMES, Prices, Weights
from builder.counterpoint.search.draws import Memory, drawn
from builder.counterpoint.search.lattice import Lattice, build
from builder.counterpoint.search.step_costs import Steps, melodic, named

Array = np.ndarray[Any, np.dtype[Any]]
ROOT = Path(__file__).parents[2]
FILE = Path(costs.__file__).with_name("prices.yaml")
ROUNDS, LAST, MOST, PASSAGES, DRAWS = 8, 3, 0.4, 180, 2
"""Rounds of matching, of how many at the end the prices are averaged, the most a price moves in one, how many
passages of each number of voices are drawn, and how often in each round."""


def kept(composer: str, *, odd: bool, every: int, first: int) -> list[tuple[str, Any]]:
    """Pieces of a composer, read once."""
    path = ROOT / ".cache/worth" / f"{composer}-{int(odd)}-{every}-{first}.pickle"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(pickle.dumps(list(pieces(composer, odd=odd, every=every, first=first))))
    found: list[tuple[str, Any]] = pickle.loads(path.read_bytes())
    return found


def read_passages(composer: str, *, odd: bool, every: int, first: int) -> list[Passage]:
    """Passages of a composer's pieces, of a bar and more, cut once."""
    path = ROOT / ".cache/worth" / f"{composer}-{int(odd)}-{every}-{first}-passages.pickle"
    if not path.exists():
        some = kept(composer, odd=odd, every=every, first=first)
        path.write_bytes(pickle.dumps([p for name, score in some for p in passages(name, score, 4)]))
    found: list[Passage] = pickle.loads(path.read_bytes())
    return found


def occurrences(lattice: Lattice, rows: Sequence[int | None], used: set[int]) -> tuple[Array, int]:
    """How often each cost occurs along rows of a lattice built with unit prices, over the steps that are
    used."""
    total, many = np.zeros(len(NAMES)), 0
    memory, context = Memory.empty(1), 0
    for i in range(1, len(rows)):
        before, after = rows[i - 1], rows[i]
        if lattice.joints[i - 1].hold:
            continue
        if i not in used or before is None or after is None:
            memory, context = Memory.empty(1), 0
            continue
        a, b = lattice.layers[i - 1], lattice.layers[i]
        if not memory.pitch.any():
            memory = memory.after(a.shape.upper, a.d[[before]])
        steps = Steps.between(a, b, lattice.joints[i - 1], np.array([before]), np.array([after]))
        for name, values in named(steps, EACH).items():
            total[NAMES.index(name)] += float(np.ravel(values)[0])
        for name, values in b.parts.items():
            total[NAMES.index(name)] += float(values[after])
        for name in ("recovery", "stillness"):
            only = Prices(tuple(float(n == name) for n in NAMES))
            total[NAMES.index(name)] += float(melodic(steps, only)[1][0, context])
        for name, values in memory.occurrences(b.shape.upper, b.d[[after]][None]).items():
            total[NAMES.index(name)] += float(values[0, 0])
        memory = memory.after(b.shape.upper, b.d[[after]])
        context = int(melodic(steps, EACH)[0][0, context])
        many += 1
    return total, many


def matched(
    some: Sequence[Passage], prices: Array, above: int, spread: Array, fixed: Array, start: Sequence[Array]
) -> Array:
    """Prices with which drawn settings make each turn as often as the master."""
    known = []
    total, many = np.zeros(len(NAMES)), 0
    for passage in some:
        lattice = build(passage.events, UNIT)
        rows = [row_of(lattice, i, pitches) for i, pitches in enumerate(passage.chosen)]
        for i in range(1, len(rows)):
            rows[i] = rows[i - 1] if lattice.joints[i - 1].hold else rows[i]
        pairs = ((i, rows[i - 1], rows[i]) for i in range(1, len(rows)) if not lattice.joints[i - 1].silent)
        used = {i for i, a, b in pairs if a is not None and b is not None}
        found, count = occurrences(lattice, rows, used)
        total, many = total + found, many + count
        known.append((passage, lattice, used))
    wanted = total / many
    last = []
    for turn in range(ROUNDS):
        each = [*start]
        each[above - 1] = prices
        weights = Weights(tuple(Prices(tuple(x.tolist())) for x in each))
        total, many = np.zeros(len(NAMES)), 0
        for n, (passage, lattice, used) in enumerate(known):
            priced = build(passage.events, weights)
            for path in drawn(priced, (n, turn), DRAWS):
                found, count = occurrences(lattice, [priced.row(i, s) for i, s in enumerate(path)], used)
                total, many = total + found, many + count
        off = total / many - wanted
        print(f"  {above} above, round {turn}: off by {abs(off).sum():.3f} a sonority", flush=True)
        rate = 1 / (1 + turn / 4)
        prices = prices + np.where(fixed, 0, np.clip(rate * off / spread, -MOST, MOST))
        last.append(prices)
    found_prices: Array = np.mean(last[-LAST:], axis=0)
    return found_prices


def main() -> None:
    """Reads, fits, matches, writes."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--every", type=int, default=5, help="of the even pieces every so manieth")
    asked.add_argument("--first", type=int, nargs="*", default=[0, 3], help="from these places on")
    asked.add_argument("--matched", action="store_true", help="only match, from the prices in use")
    options = asked.parse_args()
    parts = [read_passages("palestrina", odd=False, every=options.every, first=n) for n in options.first]
    read = [passage for part in parts for passage in part]
    found: list[Choice] = [c for passage in read for c in choices(passage)]
    print(f"{len(read)} passages, {len(found)} choices")
    text = FILE.read_text(encoding="utf-8")
    by_ear = yaml.safe_load(text)["by-ear"]
    now = [np.array([p[n] for n in NAMES]) for p in costs.read_prices(text)]
    fixed = np.array([name in by_ear for name in NAMES])
    common = np.mean(now, axis=0)
    if not options.matched:
        common, _ = fitted(found, common, fixed=fixed)
    start = []
    for above in (1, 2, 3):
        own = [c for c in found if c.upper == above]
        start.append(now[above - 1] if options.matched else fitted(own, common, 3.0, fixed=fixed)[0])
        first, likelihood = judged(own, start[-1])
        print(f"{above} above: ranked first {first:.3f}, likelihood {likelihood:.3f}", flush=True)
    learned = []
    for above in (1, 2, 3):
        own = [c for c in found if c.upper == above]
        long = [
            passage
            for part in parts
            for passage in [p for p in part if p.bars >= 1.75 and len(p.events[0].upper) == above][
                : PASSAGES // len(parts)
            ]
        ]
        spread = np.concatenate([c.counts for c in own]).var(axis=0) + 0.02
        learned.append(matched(long, start[above - 1], above, spread, fixed, start))
    head, rest = text.split("learned:\n")
    tail = rest[rest.index("\n#") :]
    lines = [
        f"  {name}: [{', '.join(f'{prices[NAMES.index(name)]:.2f}' for prices in learned)}]"
        for name in sorted(NAMES)
        if name not in by_ear
    ]
    FILE.write_text(head + "learned:\n" + "\n".join(lines) + "\n" + tail, encoding="utf-8")


if __name__ == "__main__":
    main()
