"""Sections of a verset and the steps in which it is taught."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from builder.analysis.findings import Cadence, Entry, Step
from builder.analysis.line import Sung, bar_start, next_bar, rises
from builder.music import VOICES, bar_at
from builder.source import Verset

STRETCH = 3
"""Bars that each half of a last section must have, for the section to be taught in two steps."""


def steps(
    verset: Verset, notes: Sequence[Sung], entries: Sequence[Entry], cadences: Sequence[Cadence]
) -> tuple[Step, ...]:
    """One step for each entry, then the last section, in one step or two; without a gap, on whole
    bars wherever two steps do not share one."""
    starts = _entry_starts(verset, entries)
    names = _entry_names(entries)
    closing = closing_start(verset, notes, entries[-1], cadences)
    cuts = [] if closing is None else [closing]
    if closing is not None:
        half = _halfway(verset, notes, closing, cadences)
        cuts += [] if half is None else [half]
        numbered = [f"cadence-{n + 1}" for n in range(len(cuts))]
        names += numbered if len(cuts) > 1 else ["cadence"]
    edges = [*starts, *cuts, verset.end]
    return tuple(_step(verset, notes, name, start, end) for name, start, end in zip(names, edges, edges[1:]))


def _step(verset: Verset, notes: Sequence[Sung], name: str, start: Fraction, end: Fraction) -> Step:
    kind = "cadence" if name.startswith("cadence") else "entry"
    sounding = {v for n in notes if n.onset < end and n.end > start for v in (n.voice, *n.above)}
    bars = [b.number for b in verset.bars if b.onset < end and b.end > start]
    return Step(name, kind, start, end, tuple(v for v in VOICES if v in sounding), bars[0], bars[-1])


def _entry_names(entries: Sequence[Entry]) -> list[str]:
    seen: Counter[str] = Counter()
    names = []
    for entry in entries:
        seen[entry.voice] += 1
        times = seen[entry.voice]
        names.append(entry.voice if times == 1 else f"{entry.voice}-{times}")
    return names


def _entry_starts(verset: Verset, entries: Sequence[Entry]) -> list[Fraction]:
    """Each at the bar line before its entry; at the entry itself when that bar is taken."""
    starts = [verset.bars[0].onset]
    for entry in entries[1:]:
        line = bar_start(verset.bars, entry.onset)
        starts.append(line if line > starts[-1] else entry.onset)
    return starts


def closing_start(
    verset: Verset, notes: Sequence[Sung], entry: Entry, cadences: Sequence[Cadence]
) -> Fraction | None:
    """Where the last section begins: at the first bar line after the last entry has had its theme,
    before the formula of the last cadence at the latest. None when nothing is left to cut."""
    formula = cadences[-1].start if cadences else notes[-1].onset
    wanted = min(next_bar(verset.bars, entry.end), bar_start(verset.bars, formula))
    for start in (wanted, next_bar(verset.bars, entry.onset + Fraction(1, 64)), formula, notes[-1].onset):
        if entry.onset < start <= notes[-1].onset:
            return start
    return None


def _halfway(
    verset: Verset, notes: Sequence[Sung], closing: Fraction, cadences: Sequence[Cadence]
) -> Fraction | None:
    """Where the last section falls in two: the bar line after an inner cadence that leaves some
    bars to either side, the one nearest to the middle."""
    possible = []
    for cadence in cadences[:-1]:
        goal = next((n for n in notes if n.onset == cadence.onset), None)
        if goal is None or cadence.onset <= closing:
            continue
        line = next_bar(verset.bars, goal.end)
        before = sum(closing <= b.onset < line for b in verset.bars)
        after = sum(b.onset >= line for b in verset.bars)
        if min(before, after) >= STRETCH and cadences[-1].start >= line:
            possible.append(line)
    middle = (closing + verset.end) / 2
    return min(possible, key=lambda line: (abs(line - middle), line), default=None)


def sections(
    verset: Verset, notes: Sequence[Sung], cadences: Sequence[Cadence], found: Sequence[Step]
) -> tuple[tuple[Fraction, Fraction], ...]:
    """The verset cut where a phrase has closed and silence follows, where the lower voices fall
    silent and a higher one begins again, and where the last section begins."""
    closes = {c.onset for c in cadences}
    edges = {verset.bars[0].onset, *(s.start for s in found if s.kind == "cadence")}
    for before, after in pairwise(notes):
        closed = before.before_rest and before.onset in closes
        if closed or rises(before, after):
            line = bar_at(verset.bars, after.onset).onset
            edges.add(line if line >= before.end else after.onset)
    ordered = [*sorted(edges), verset.end]
    return tuple(pairwise(ordered))
