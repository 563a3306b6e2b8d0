"""Sections of a verset and the steps in which it is taught."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil

from builder.analysis.findings import Cadence, Entry, Step
from builder.analysis.line import Sung, rises, weight_of
from builder.music import VOICES, Place, bar_at, clipped
from builder.source import Cut, Verset

STRETCH = 3
"""Bars that each half of a last section must last, for the section to be taught in two steps."""


def steps(
    verset: Verset, notes: Sequence[Sung], entries: Sequence[Entry], cadences: Sequence[Cadence]
) -> tuple[Step, ...]:
    """One step for each entry, then the last section, in as many steps as the teacher or an inner cadence
    divides it into. Each begins with the note on which the one before it ends."""
    starts = _entry_starts(verset, notes, entries)
    names = _entry_names([entry for entry, _ in starts])
    edges = [onset for _, onset in starts]
    cuts = _closing_cuts(verset, notes, entries, edges[-1], cadences)
    names += [f"cadence-{n + 1}" for n in range(len(cuts))] if len(cuts) > 1 else ["cadence"] * len(cuts)
    edges += [*cuts, verset.end]
    return tuple(_step(verset, notes, name, onset, end) for name, onset, end in zip(names, edges, edges[1:]))


def useless_cuts(verset: Verset, found: Sequence[Step]) -> tuple[Cut, ...]:
    """The teacher's cuts that divide no step, because entries begin steps of their own before and after."""
    begun = {step.onset for step in found}
    return tuple(cut for cut in verset.cuts if cut.onset not in begun)


def _step(verset: Verset, notes: Sequence[Sung], name: str, onset: Fraction, end: Fraction) -> Step:
    kind = "cadence" if name.startswith("cadence") else "entry"
    start = _note_before(notes, onset) if onset > verset.bars[0].onset else onset
    sounding = {v for n in notes if n.onset < end and n.end > onset for v in (n.voice, *n.above)}
    voices = tuple(v for v in VOICES if v in sounding)
    last = clipped(verset.bars, start, end)[-1]
    beat = ceil((last.end - last.line) / verset.metre.beat)
    return Step(
        name, kind, start, onset, end, voices, verset.place(start), Place(last.number, Fraction(beat))
    )


def _note_before(notes: Sequence[Sung], onset: Fraction) -> Fraction:
    """Where the last note begins that reaches to a time; the time itself where silence stands before it."""
    return next((n.onset for n in notes if n.end == onset), onset)


def _entry_names(entries: Sequence[Entry]) -> list[str]:
    seen: Counter[str] = Counter()
    names = []
    for entry in entries:
        seen[entry.voice] += 1
        times = seen[entry.voice]
        names.append(entry.voice if times == 1 else f"{entry.voice}-{times}")
    return names


def _entry_starts(
    verset: Verset, notes: Sequence[Sung], entries: Sequence[Entry]
) -> list[tuple[Entry, Fraction]]:
    """The entries that have a step, and where it begins: where the voice takes the line, or for a voice
    above the line with the note that the line then has. Of two at one place the first has it."""
    starts = [(entries[0], verset.bars[0].onset)]
    for entry in entries[1:]:
        onset = max((n.onset for n in notes if n.onset <= entry.taken), default=entry.taken)
        if onset > starts[-1][1]:
            starts.append((entry, onset))
    return starts


def _closing_cuts(
    verset: Verset,
    notes: Sequence[Sung],
    entries: Sequence[Entry],
    last: Fraction,
    cadences: Sequence[Cadence],
) -> list[Fraction]:
    """Where the parts of the last section begin: at the teacher's cuts behind the beginning of the last
    entry, or else at the end of an inner cadence."""
    own = [cut.onset for cut in verset.cuts if cut.onset > last]
    closing = _closing_start(verset, notes, entries[-1], last, cadences)
    if own:
        return own if closing is None or own[0] <= closing else [closing, *own]
    if closing is None:
        return []
    half = _halfway(verset, notes, closing, cadences)
    return [closing] if half is None else [closing, half]


def _closing_start(
    verset: Verset, notes: Sequence[Sung], entry: Entry, last: Fraction, cadences: Sequence[Cadence]
) -> Fraction | None:
    """Where the last section begins: on the first beat that a note begins after the last entry has had its
    theme, before the formula of the last cadence at the latest; where the entry is free, before that formula
    in any case. None when nothing is left to cut."""
    formula = cadences[-1].start if cadences else notes[-1].onset
    beats = [n.onset for n in notes if weight_of(verset, n.onset) > 0]
    theme = entry.end if entry.matched else entry.onset
    ends = next((n.onset for n in notes if n.onset >= theme), notes[-1].onset)
    after = next((onset for onset in beats if onset >= entry.end), notes[-1].onset)
    later = next((onset for onset in beats if onset > max(last, entry.onset)), notes[-1].onset)
    for start in (min(after, max(formula, ends)), later, formula, notes[-1].onset):
        if max(last, entry.onset) < start <= notes[-1].onset:
            return start
    return None


def _halfway(
    verset: Verset, notes: Sequence[Sung], closing: Fraction, cadences: Sequence[Cadence]
) -> Fraction | None:
    """Where the last section falls in two: behind an inner cadence that leaves some bars to either side,
    the one nearest to the middle."""
    possible = []
    least = STRETCH * verset.metre.bar
    for cadence in cadences[:-1]:
        goal = next((n for n in notes if n.onset == cadence.onset), None)
        if goal is None or cadence.onset <= closing or goal is notes[-1]:
            continue
        wide = goal.end - closing >= least and verset.end - goal.end >= least
        if wide and cadences[-1].start >= goal.end:
            possible.append(next(n.onset for n in notes if n.onset >= goal.end))
    middle = (closing + verset.end) / 2
    return min(possible, key=lambda onset: (abs(onset - middle), onset), default=None)


def sections(
    verset: Verset, notes: Sequence[Sung], cadences: Sequence[Cadence], found: Sequence[Step]
) -> tuple[tuple[Fraction, Fraction], ...]:
    """The verset cut where a phrase has closed and silence follows, where the lower voices fall
    silent and a higher one begins again, and where the last section begins."""
    closes = {c.onset for c in cadences}
    edges = {verset.bars[0].onset, *(s.onset for s in found if s.kind == "cadence")}
    for before, after in pairwise(notes):
        closed = before.before_rest and before.onset in closes
        if closed or rises(before, after):
            line = bar_at(verset.bars, after.onset).onset
            edges.add(line if line >= before.end else after.onset)
    ordered = [*sorted(edges), verset.end]
    return tuple(pairwise(ordered))
