"""Dissonance: which notes clash, and whether each clash is treated as the trade allows.

A clash between two sounding voices is in order when one of the two notes is a passing or neighbouring
note, an anticipation, a cambiata, or a suspension that was prepared and resolves by step down. The looser
manners (échappée, retardation, accented passing note, pedal) are named as what they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

import numpy as np

from builder.counterpoint.rules.context import Array, Number, Truth
from builder.counterpoint.rules.slices import FAR, Grid
from builder.music.consonance import CLASHES


class Treatment(IntEnum):
    """What excuses a clash, the best first."""

    NONE = 0
    SUSPENSION = 1
    PASSING = 2
    NEIGHBOUR = 3
    ANTICIPATION = 4
    CAMBIATA = 5
    CADENTIAL = 6
    ACCENTED = 7
    ESCAPE = 8
    PREPARED = 9
    RETARDATION = 10
    WEAK = 11
    PEDAL = 12
    UNPREPARED = 13
    """Not excused: a held note that falls, but was not prepared."""
    UNRESOLVED = 14
    """Not excused: a held note that does not fall by step."""


UNTREATED = (Treatment.NONE, Treatment.UNPREPARED, Treatment.UNRESOLVED)


@dataclass(frozen=True, eq=False)
class Clashes:
    """Pairs of voices x onsets: where two voices clash, and how that is treated."""

    clash: Array
    treatment: Array


def steps_through(*, came: Number, goes: Number) -> Truth:
    """Reached and left by step (staff steps): a passing or a neighbouring note, where its part of the bar is
    light.

    >>> steps_through(came=1, goes=1), steps_through(came=2, goes=-1)
    (True, False)
    """
    return (abs(came) == 1) & (abs(goes) == 1)


def lighter(*, here: Number, before: Number, after: Number) -> Truth:
    """A note begins on a lighter part than the note before or after it (metrical weights).

    >>> lighter(here=1, before=2, after=1), lighter(here=1, before=1, after=1)
    (True, False)
    """
    return (here < before) | (here < after)


def bears_a_suspension(*, here: Number, after: Number) -> Truth:
    """A suspension is struck on a part at least as strong as the one it falls on (metrical weights).

    >>> bears_a_suspension(here=2, after=1), bears_a_suspension(here=0, after=1)
    (True, False)
    """
    return here >= after


_DISSONANT = np.array(CLASHES).ravel()
"""Every size of interval, not over the lowest note and over it."""


@lru_cache(maxsize=4)
def clashes(grid: Grid) -> Clashes:
    """All clashes of a score with their treatment; those of the last few are kept."""
    low, high = grid.pairs
    if not len(low) or not len(grid.ticks):
        empty = np.zeros((len(low), len(grid.ticks)), dtype=np.int64)
        return Clashes(empty.astype(bool), empty)
    low_m, high_m = grid.m[low], grid.m[high]
    turned = low_m > high_m
    steps, size = grid.d[high] - grid.d[low], high_m - low_m
    steps, size = np.where(turned, -steps, steps), abs(size)
    both = grid.sounds[low] & grid.sounds[high]
    bass = grid.m[grid.lowest, np.arange(len(grid.ticks))]
    is_bass = np.where(turned, high_m, low_m) == bass
    clash = both & _DISSONANT[is_bass * 84 + steps % 7 * 12 + size % 12]
    return Clashes(clash, _treat(grid, clash, is_bass))


@dataclass(frozen=True, eq=False)
class _Manners:
    """Voices x onsets: how each sounding note was reached and how it is left."""

    came: Array
    goes: Array
    passing: Array
    neighbour: Array
    weak: Array
    """On a lighter part than the note before or after."""
    ornamented: Array
    """Falls by step after one or two notes between."""
    resolves: Array
    held: Array

    @classmethod
    def of(cls, grid: Grid) -> _Manners:
        own, peak = grid.weights
        weights = [grid.shifted(own, places) for places in (1, 2, 3)]
        # Ornamented: other notes come between, but the fall still comes on a weaker part.
        near = np.array([grid.near(places) for places in (-1, 1, 2, 3)])
        between = (near[1] != FAR) & (abs(near[1]) <= 4)
        falls = [np.where(between & (near[n + 1] == -1), weights[n], 9) for n in (1, 2)]
        by_note = np.array((near[0], near[1], own, weights[0], grid.shifted(peak, -1), np.minimum(*falls)))
        came, goes, began, after, before, late = by_note[:, grid.place]
        here = grid.weight[None, :]
        # A light note does not outlast a stronger moment than the one it began on.
        light = grid.struck | (here <= began)
        by_step = steps_through(came=came, goes=goes) & light
        ornamented = late < here
        return cls(
            came,
            goes,
            by_step & (came == goes),
            by_step & (came == -goes),
            light & lighter(here=began, before=before, after=after),
            ornamented,
            ((goes == -1) & bears_a_suspension(here=here, after=after)) | ornamented,
            ~grid.struck,
        )


def excused(grid: Grid) -> Array:
    """Voices x onsets: notes that pass or neighbour on a weaker part while the others keep still, or are held
    and then fall by step."""
    manners = _Manners.of(grid)
    alone = (grid.struck.sum(axis=0) == 1)[None, :]
    found: Array = (manners.passing | manners.neighbour) & manners.weak & grid.struck & alone
    return found | (manners.held & manners.resolves)


@dataclass(frozen=True, eq=False)
class _Cells:
    """Some clashes: pair and column of each; `voice` and `other` hold their two notes, both ways round
    (2 x clashes)."""

    pair: Array
    column: Array
    voice: Array
    other: Array

    @classmethod
    def of(cls, grid: Grid, pair: Array, column: Array) -> _Cells:
        low, high = grid.pairs
        voice = np.array((low[pair], high[pair]))
        return cls(pair, column, voice, voice[::-1])

    def of_voice(self, values: Array) -> Array:
        found: Array = values[self.voice, self.column]
        return found

    def of_other(self, values: Array) -> Array:
        found: Array = values[self.other, self.column]
        return found


def _treat(grid: Grid, clash: Array, is_bass: Array) -> Array:
    found = np.zeros(clash.shape, dtype=np.int64)
    manners = _Manners.of(grid)
    cells = _Cells.of(grid, *np.nonzero(clash))
    ready = _ready(grid, clash, manners)
    found[cells.pair, cells.column] = _best(_strict(grid, clash, manners, ready, cells), len(cells.pair))
    # The looser manners are asked only of what no good one excuses.
    cells = _Cells.of(grid, *np.nonzero(clash & (found == 0)))
    if not len(cells.pair):
        return found
    found[cells.pair, cells.column] = _best(_loose(grid, is_bass, manners, ready, cells), len(cells.pair))
    _go_on(grid, clash, manners.held, found)
    cells = _Cells.of(grid, *np.nonzero(clash & (found == 0)))
    held, settles = cells.of_voice(manners.held), cells.of_voice(manners.resolves | (manners.goes == -1))
    one_held = held[0] != held[1]
    reason = np.where(
        np.where(held[0], settles[0], settles[1]), int(Treatment.UNPREPARED), int(Treatment.UNRESOLVED)
    )
    found[cells.pair, cells.column] = np.where(one_held, reason, int(Treatment.NONE))
    return found


_Excuses = list[tuple[Treatment, Array]]
"""Manners of treatment, the best first, with the notes (2 x clashes) that they excuse."""


def _best(excuses: _Excuses, count: int) -> Array:
    found = np.zeros(count, dtype=np.int64)
    for kind, truth in reversed(excuses):
        found[truth.any(axis=0)] = kind
    return found


def _ready(grid: Grid, clash: Array, manners: _Manners) -> Array:
    """Both ways round x pairs x onsets: one voice holds a note that was in order, the other strikes.
    Just before, the two did not clash, or only because one of them passed by."""
    voice = np.array(grid.pairs)
    other = voice[::-1]
    found: Array = manners.held[voice] & grid.struck[other]
    passes = (manners.passing | manners.neighbour) & manners.weak
    # What came by step and sounds already is prepared, though it was a dissonance before.
    began = grid.weights[0][grid.place]
    weaker = manners.weak[:, :-1] | (began[:, :-1] < grid.weight[None, 1:])
    sounds = (abs(manners.came) == 1) & ((manners.goes == -1) | manners.resolves)
    sounds = sounds[:, :-1] & weaker
    found[:, :, 1:] &= ~clash[:, :-1] | passes[other][:, :, :-1] | sounds[voice]
    # Prepared once, a note stays so while it clashes with one struck note after another, until it falls.
    falls = manners.goes[voice] == -1
    found |= _carry(found & falls, clash & manners.held[voice]) & grid.struck[other]
    return found


def _strict(grid: Grid, clash: Array, manners: _Manners, ready: Array, cells: _Cells) -> _Excuses:
    voice = np.array(grid.pairs)
    held = manners.held[voice]
    # Once struck as a suspension a clash stays one while it is held, whatever the other voice strikes then.
    suspended = _carry(ready & manners.resolves[voice], clash & held)
    came, goes, weak = (cells.of_voice(x) for x in (manners.came, manners.goes, manners.weak))
    return [
        (Treatment.SUSPENSION, suspended[:, cells.pair, cells.column]),
        (Treatment.PASSING, cells.of_voice(manners.passing) & weak),
        (Treatment.NEIGHBOUR, cells.of_voice(manners.neighbour) & weak),
        (Treatment.ANTICIPATION, (abs(came) == 1) & (goes == 0) & weak),
        (Treatment.CAMBIATA, (came == -1) & (goes == -2) & weak),
    ]


def _loose(grid: Grid, is_bass: Array, manners: _Manners, ready: Array, cells: _Cells) -> _Excuses:
    came, goes, weak = (cells.of_voice(x) for x in (manners.came, manners.goes, manners.weak))
    held, length = cells.of_voice(manners.held), cells.of_voice(grid.length)
    down, step_in = goes == -1, abs(came) == 1
    bass = is_bass[cells.pair, cells.column]
    short = length <= float(grid.score.metre.beat)
    long = length >= 1.5 * float(grid.score.metre.bar)
    lower = np.array([True, False])[:, None]
    # What is held and falls while the other note goes on has been a suspension, wherever that goes then.
    end = grid.all_notes.end[grid.place]
    prepared = ready[:, cells.pair, cells.column] & down
    settled = prepared & (cells.of_voice(end) < cells.of_other(end))
    return [
        (Treatment.CADENTIAL, _cadential(grid, manners, cells) & bass),
        (Treatment.ACCENTED, (cells.of_voice(manners.passing) | cells.of_voice(manners.neighbour)) & short),
        (Treatment.WEAK, settled),
        (Treatment.ESCAPE, step_in & (goes != FAR) & weak),
        (Treatment.PREPARED, (down | cells.of_voice(manners.ornamented)) & ~held & (came == 0)),
        (Treatment.RETARDATION, held & (goes == 1) & cells.of_other(grid.struck)),
        (Treatment.WEAK, prepared),
        (Treatment.PEDAL, held & long & bass & lower),
    ]


def _go_on(grid: Grid, clash: Array, held: Array, found: Array) -> None:
    """A clash that merely goes on while both notes are held is judged once, where it was struck."""
    low, high = grid.pairs
    going_on = clash[:, 1:] & clash[:, :-1] & held[low][:, 1:] & held[high][:, 1:]
    for column in np.flatnonzero((going_on & (found[:, 1:] == 0)).any(axis=0)).tolist():
        fades = (found[:, column] >= int(Treatment.PASSING)) & (grid.weight[column + 1] > grid.weight[column])
        same = going_on[:, column] & (found[:, column + 1] == 0) & ~fades
        found[same, column + 1] = np.where(
            found[same, column] == 0, int(Treatment.SUSPENSION), found[same, column]
        )


def _carry(start: Array, through: Array) -> Array:
    """Spread a mark over the following columns as long as `through` holds."""
    if not through.any():
        return start
    columns = np.arange(start.shape[-1])
    begun = np.maximum.accumulate(np.where(start, columns, -1), axis=-1)
    broken = np.maximum.accumulate(np.where(through | start, -1, columns), axis=-1)
    found: Array = (begun >= 0) & (broken < begun)
    return found


def _cadential(grid: Grid, manners: _Manners, cells: _Cells) -> Array:
    """A fourth over a bass that keeps its note from the fourth's entry to its fall: it came by step, is held
    on the stronger part and falls by step."""
    steps = cells.of_voice(grid.d) - cells.of_other(grid.d)
    size = cells.of_voice(grid.m) - cells.of_other(grid.m)
    kept = cells.of_other(grid.first) <= cells.of_voice(grid.first)
    by_step = abs(cells.of_voice(manners.came)) <= 1
    fourth = (steps > 0) & (steps % 7 == 3) & (size % 12 == 5)
    found: Array = fourth & by_step & kept & cells.of_voice(manners.resolves)
    return found
