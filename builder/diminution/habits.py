"""How voices move, learned from real ones: chances of rhythms and of intervals.

The counts stand in `learned/`, each file with the published music it was counted in;
`tests/bench/learn_lines.py` makes Palestrina's again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from math import log
from typing import Any

WIDEST = 7
"""Intervals beyond the octave are not sung."""
NO_MOVE = 99
"""Stands for the interval before the first note."""
_BEFORE = (*range(-WIDEST, WIDEST + 1), NO_MOVE)


@cache
def learned(name: str) -> Mapping[str, Any]:
    """The counts in a file of `learned/`."""
    text = (files("builder.diminution") / "learned" / f"{name}.json").read_text("utf-8")
    found: Mapping[str, Any] = json.loads(text)
    return found


def length_class(quarters: float) -> str:
    return "small" if quarters <= 0.5 else "quarter" if quarters <= 1 else "long"


Costs = Mapping[int, Mapping[int, float]]
"""Interval before -> interval after -> how unlikely, in nats."""


@cache
def sung(kind: str) -> Costs:
    """How unlikely each move is in a vocal line, by the length of the note between (`small` an eighth,
    `quarter`, `long`)."""
    counts: dict[tuple[int, int], float] = {}
    for key, n in learned("palestrina")["moves"].items():
        if key == "about":
            continue
        length, before, after = key.split(",")
        if length == kind:
            counts[int(before), int(after)] = counts.get((int(before), int(after)), 0) + n
    return _costs(counts)


@cache
def played(values: str) -> Costs:
    """How unlikely each move is in keyboard figures. `values`: `as written` (eighths) or `halved`."""
    counts: dict[tuple[int, int], float] = {}
    for key, n in learned("frescobaldi")[values]["moves"].items():
        before, after = key.split(",")
        counts[int(before), int(after)] = n
    return _costs(counts)


def _costs(counts: Mapping[tuple[int, int], float]) -> Costs:
    """Smoothed towards what follows any interval, and that towards all intervals alike."""
    moves = range(-WIDEST, WIDEST + 1)
    total = sum(counts.values())
    any_before = {k: sum(n for (_, b), n in counts.items() if b == k) for k in moves}
    base = {k: (any_before[k] + 0.5) / (total + 0.5 * len(moves)) for k in moves}
    found: dict[int, dict[int, float]] = {NO_MOVE: {k: -log(base[k]) for k in moves}}
    for before in moves:
        row = {k: counts.get((before, k), 0.0) for k in moves}
        weight = 4.0
        seen = sum(row.values())
        found[before] = {k: -log((row[k] + weight * base[k]) / (seen + weight)) for k in moves}
    return found


@cache
def ends() -> Mapping[tuple[int, int, int, int], float]:
    """The chance that a note ends, by its eighths so far (8: or more), the eighth of four quarters, whether
    the lowest voice strikes, and how many others do (2: or more). Contexts seldom met lean on the place and
    length."""
    raw: dict[tuple[int, int, int, int], list[float]] = {}
    wide: dict[tuple[int, int], list[float]] = {}
    for key, n in learned("palestrina")["ends"].items():
        if key == "about":
            continue
        length, place, low, others, over = map(int, key.split(","))
        raw.setdefault((length, place, low, others), [0.0, 0.0])[over] += n
        wide.setdefault((length, place), [0.0, 0.0])[over] += n
    found = {}
    for length in range(1, 9):
        for place in range(8):
            whole = wide.get((length, place), [1.0, 1.0])
            mean = (whole[1] + 0.5) / (sum(whole) + 1)
            for low in range(2):
                for others in range(3):
                    seen = raw.get((length, place, low, others), [0.0, 0.0])
                    found[length, place, low, others] = (seen[1] + 20 * mean) / (sum(seen) + 20)
    return found


@cache
def cells(values: str) -> tuple[tuple[tuple[float, ...], float], ...]:
    """Rhythms of a quarter in keyboard figures: onsets in it, and how often. A cell that does not begin with
    0 holds the note before over the quarter's beginning."""
    counts: dict[tuple[float, ...], float] = {}
    for key, n in learned("frescobaldi")[values]["cells"].items():
        onsets = tuple(float(x.split(":")[0]) for x in key.split())
        if all(x * 4 == int(x * 4) for x in onsets):
            counts[onsets] = counts.get(onsets, 0.0) + n
    return tuple(sorted(counts.items(), key=lambda i: (-i[1], i[0])))


def bands(level: int) -> Mapping[str, tuple[float, float, float]]:
    """Percentiles (10, 50, 90) of measures of real pieces of like density."""
    return {k: tuple(v) for k, v in learned("frescobaldi")["bands"][str(level)].items()}  # type: ignore[misc]
