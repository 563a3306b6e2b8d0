"""Dissonance: which notes clash, and whether each clash is treated as the trade allows.

A clash between two sounding voices is in order when one of the two notes is a passing or neighbouring
note, an anticipation, a cambiata, or a suspension that was prepared and resolves by step down. The looser
manners (échappée, retardation, accented passing note, pedal) are named as what they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from builder.counterpoint.grid import FAR, Grid
from builder.counterpoint.voicing import Array


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


WORDS = {
    Treatment.SUSPENSION: "suspension",
    Treatment.PASSING: "passing note",
    Treatment.NEIGHBOUR: "neighbouring note",
    Treatment.ANTICIPATION: "anticipation",
    Treatment.CAMBIATA: "cambiata",
    Treatment.CADENTIAL: "fourth of a cadence, struck by step over a held bass",
    Treatment.ACCENTED: "passing note on the stronger part",
    Treatment.ESCAPE: "échappée, left by leap",
    Treatment.PREPARED: "prepared note struck again",
    Treatment.RETARDATION: "suspension that rises",
    Treatment.WEAK: "suspension on the weaker part",
    Treatment.PEDAL: "held bass",
}

UNPREPARED, UNRESOLVED = 1, 2
"""Why a held note is no suspension."""


@dataclass(frozen=True, eq=False)
class Clashes:
    """Pairs of voices x onsets: where two voices clash, what excuses it, and for held notes why not."""

    clash: Array
    treatment: Array
    why: Array


def dissonant(low_d: Array, low_m: Array, high_d: Array, high_m: Array, bass: Array) -> Array:
    """Whether an interval is dissonant; `bass` where the lower note is the lowest of all (a fourth is then
    dissonant; between upper voices fourths and tritones pass as part of the sonority)."""
    steps, size = (high_d - low_d) % 7, (high_m - low_m) % 12
    second = (steps == 1) | (steps == 6)
    fourth = (steps == 3) & bass
    fifth = (steps == 4) & (size != 7) & (bass | (size != 6))
    altered = ((steps == 2) & (size != 3) & (size != 4)) | ((steps == 5) & (size != 8) & (size != 9))
    octave = (steps == 0) & (size != 0)
    found: Array = second | fourth | fifth | altered | octave
    return found


def clashes(grid: Grid) -> Clashes:
    """All clashes of a score with their treatment."""
    low, high = grid.pairs
    if not len(low) or not len(grid.ticks):
        empty = np.zeros((len(low), len(grid.ticks)), dtype=np.int64)
        return Clashes(empty.astype(bool), empty, empty)
    under = np.where(grid.m[low] <= grid.m[high], low[:, None], high[:, None])
    over = np.where(grid.m[low] <= grid.m[high], high[:, None], low[:, None])
    columns = np.arange(len(grid.ticks))[None, :]
    both = grid.sounds[low] & grid.sounds[high]
    is_bass = grid.m[under, columns] == grid.m[grid.lowest, columns[0]][None, :]
    clash = both & dissonant(
        grid.d[under, columns], grid.m[under, columns], grid.d[over, columns], grid.m[over, columns], is_bass
    )
    treatment, why = _treat(grid, clash, low, high, is_bass)
    return Clashes(clash, treatment, why)


def _treat(grid: Grid, clash: Array, low: Array, high: Array, is_bass: Array) -> tuple[Array, Array]:
    came, goes = grid.near(-1), grid.near(1)
    came = np.where(came == FAR, FAR, -came)
    later = grid.near(2)
    third = grid.near(3)
    began = grid.weight[grid.first]
    after = grid.weight_of_notes(1)
    before = grid.weight_before
    # A light note does not outlast a stronger moment than the one it began on.
    light = grid.struck | (grid.weight[None, :] <= began)
    weak = light & ((began < after) | (began < before))
    step_in, step_out = abs(came) == 1, abs(goes) == 1
    passing = step_in & step_out & (came == goes) & light
    neighbour = step_in & step_out & (came == -goes) & light
    single: list[tuple[Treatment, Array]] = [
        (Treatment.PASSING, passing & weak),
        (Treatment.NEIGHBOUR, neighbour & weak),
        (Treatment.ANTICIPATION, step_in & (goes == 0) & weak),
        (Treatment.CAMBIATA, (came == -1) & (goes == -2) & weak),
        (Treatment.ACCENTED, (passing | neighbour) & (grid.length <= float(grid.score.metre.beat))),
        (Treatment.ESCAPE, step_in & (goes != FAR) & weak),
    ]
    held = ~grid.struck
    # A suspension is struck on a part at least as strong as the one it falls on.
    down = goes == -1
    falls = down & (grid.weight[None, :] >= after)
    # Ornamented: other notes come between, but the fall still comes on a weaker part.
    here = grid.weight[None, :]
    ornamented = (goes != FAR) & (abs(goes) <= 4)
    ornamented &= ((later == -1) & (grid.weight_of_notes(2) < here)) | (
        (third == -1) & (grid.weight_of_notes(3) < here)
    )
    resolves = falls | ornamented
    again = grid.struck & (came == 0)
    found = np.zeros(clash.shape, dtype=np.int64)
    why = np.zeros(clash.shape, dtype=np.int64)

    def excuse(kind: Treatment, a: Array, b: Array) -> None:
        np.copyto(found, int(kind), where=clash & (found == 0) & (a | b))

    light_step = (passing | neighbour) & weak
    ready = [
        _prepared(clash, light_step[w]) & held[v] & grid.struck[w] for v, w in ((low, high), (high, low))
    ]
    # Once struck as a suspension a clash stays one while both notes are held.
    held_on = [_carry(r & resolves[v], clash & held[low] & held[high]) for r, v in zip(ready, (low, high))]
    excuse(Treatment.SUSPENSION, held_on[0], held_on[1])
    for kind, truth in single[:4]:
        excuse(kind, truth[low], truth[high])
    excuse(
        Treatment.CADENTIAL,
        *(_cadential(grid, came, v, w, is_bass, resolves) for v, w in ((low, high), (high, low))),
    )
    for kind, truth in single[4:]:
        excuse(kind, truth[low], truth[high])
    steps_off = (down | ornamented) & again
    excuse(Treatment.PREPARED, steps_off[low], steps_off[high])
    up = held & (goes == 1)
    excuse(Treatment.RETARDATION, up[low] & grid.struck[high], up[high] & grid.struck[low])
    late = [r & down[v] for r, v in zip(ready, (low, high))]
    excuse(Treatment.WEAK, *late)
    pedal = held & (grid.length >= 1.5 * float(grid.score.metre.bar))
    excuse(Treatment.PEDAL, pedal[low] & is_bass, np.zeros_like(clash))
    # A clash that merely goes on while both notes are held is judged once, where it was struck.
    going_on = clash[:, 1:] & clash[:, :-1] & held[low][:, 1:] & held[high][:, 1:]
    for column in np.flatnonzero((going_on & (found[:, 1:] == 0)).any(axis=0)).tolist():
        fades = (found[:, column] >= int(Treatment.PASSING)) & (grid.weight[column + 1] > grid.weight[column])
        same = going_on[:, column] & (found[:, column + 1] == 0) & ~fades
        found[same, column + 1] = np.where(
            found[same, column] == 0, int(Treatment.SUSPENSION), found[same, column]
        )
    one_held = (held[low] & grid.struck[high]) | (held[high] & grid.struck[low])
    settles = resolves | down
    holder_resolves = np.where(held[low], settles[low], settles[high])
    why[(found == 0) & clash & one_held & holder_resolves] = UNPREPARED
    why[(found == 0) & clash & one_held & ~holder_resolves] = UNRESOLVED
    return found, why


def _carry(start: Array, through: Array) -> Array:
    """Spread a mark over the following columns as long as `through` holds."""
    columns = np.arange(start.shape[1])[None, :]
    begun = np.maximum.accumulate(np.where(start, columns, -1), axis=1)
    broken = np.maximum.accumulate(np.where(through | start, -1, columns), axis=1)
    found: Array = (begun >= 0) & (broken < begun)
    return found


def _prepared(clash: Array, other_passes: Array) -> Array:
    """Pairs x onsets: just before, the two did not clash, or only because the other voice passed by."""
    found = np.ones(clash.shape, dtype=bool)
    found[:, 1:] = ~clash[:, :-1] | other_passes[:, :-1]
    return found


def _cadential(grid: Grid, came: Array, voice: Array, other: Array, is_bass: Array, resolves: Array) -> Array:
    """A fourth over a bass that keeps its note from the fourth's entry to its fall: it came by step, is held
    on the stronger part and falls by step."""
    steps = (grid.d[voice] - grid.d[other]) % 7
    kept = grid.first[other] <= grid.first[voice]
    found: Array = (
        (steps == 3)
        & ((grid.m[voice] - grid.m[other]) % 12 == 5)
        & is_bass
        & (abs(came[voice]) <= 1)
        & resolves[voice]
        & kept
        & (grid.d[voice] > grid.d[other])
    )
    return found
