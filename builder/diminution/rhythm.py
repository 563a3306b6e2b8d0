"""Draws rhythms: where the notes of a stretch begin."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from random import Random

from builder.diminution.habits import cells, ends
from builder.diminution.weave import SILENT, Weave

AFTER_A_QUARTER = 0.25
"""How readily an eighth follows a quarter, against other notes (Palestrina, even files: one in a hundred
pairs)."""


def places(weave: Weave) -> list[int]:
    """Of each tick the eighth of four quarters in which it stands, counted from the bar line; in a bar of
    three halves the second and third count as the weaker half."""
    half = weave.unit // 2
    bar = int(weave.score.metre.bar * weave.unit)
    found = []
    for t in range(weave.size):
        n = t % bar // half if bar else 0
        found.append(n if n < 4 else 4 + n % 4)
    return found


def vocal(
    weave: Weave,
    place: Sequence[int],
    voice: int,
    given: int,
    start: int,
    end: int,
    busy: float,
    dice: Random,
) -> list[int]:
    """Onsets on the eighth grid, note by note, from the chance that a note ends here; `busy` multiplies the
    odds. `given`: the voice that has the given line."""
    table, half = ends(), weave.unit // 2
    found = [start]
    t = start + half
    while t < end:
        others = low = 0
        for v in range(len(weave.voices)):
            if v != voice and weave.on[v][t] == t:
                if v == given:
                    low = 1
                else:
                    others += 1
        chance = table[min(8, (t - found[-1]) // half), place[t], low, min(2, others)]
        odds = busy * chance / max(1e-9, 1 - chance)
        if t - found[-1] == half and len(found) > 1 and found[-1] - found[-2] == weave.unit:
            odds *= AFTER_A_QUARTER
        if dice.random() < odds / (1 + odds):
            found.append(t)
        t += half
    # A lone eighth before the stretch's last stroke on a beat drags; it is held on.
    if len(found) > 1 and end - found[-1] == half and found[-1] % weave.unit == 0:
        found.pop()
    return found


def figured(
    weave: Weave,
    start: int,
    end: int,
    values: str,
    kept: Sequence[int],
    dice: Random,
    sixteenths: float = 1.0,
) -> list[int]:
    """Onsets from cells of a quarter as keyboard figures have them; `kept`: onsets that stay. `sixteenths`
    multiplies the odds of cells that have them."""
    unit = weave.unit
    table = cells(values)
    found = set(kept) | {start}
    for quarter in range(start // unit * unit, end, unit):
        # Of the cells those that have every note that stays; a cell that begins late holds the note before.
        own = {(t - quarter) / unit for t in found if quarter <= t < quarter + unit}
        fit = [(onsets, n) for onsets, n in table if own <= set(onsets)]
        if not fit:
            continue
        weights = [n * (sixteenths if any((x * 4) % 2 for x in onsets) else 1.0) for onsets, n in fit]
        onsets, _ = dice.choices(fit, weights)[0]
        found.update(t for x in onsets if start <= (t := quarter + round(x * unit)) < end)
    return _unsyncopated(sorted(found), set(kept) | {start}, end, unit // 2)


def _unsyncopated(onsets: list[int], kept: set[int], end: int, eighth: int) -> list[int]:
    """Without notes that begin between eighths and last longer than one: they stumble."""
    bounds = [*onsets, end]
    return [
        t for t, after in itertools.pairwise(bounds) if t in kept or t % eighth == 0 or after - t <= eighth
    ]


def silent(weave: Weave, voice: int, start: int, end: int) -> bool:
    """Whether a voice rests somewhere in a stretch."""
    return SILENT in weave.d[voice][start:end]
