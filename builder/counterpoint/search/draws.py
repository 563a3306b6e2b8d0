"""Paths drawn from a lattice in proportion to their worth.

The least costly path is not what a musician writes: it plays the commonest turn everywhere. A path drawn with
probability exp(-cost) has the turns of those from whom the costs were learned, as often as they. Drawing is
exact for what the lattice knows: a pass backwards sums what every state may still lead to, a pass forwards
draws. On the way forwards each voice's own melody is remembered as well (`Memory`), which the lattice
cannot hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.arcs import Arcs
from builder.counterpoint.search.lattice import Lattice, Path
from builder.music import VOICES

REMEMBERED = (
    *("turning", "shuttle", "back-step", "running"),
    *("standing", "second-peak", "inner-leap", "frozen"),
)
"""The costs that are counted here, by name (see `costs.COSTS`)."""


@dataclass(frozen=True, slots=True, eq=False)
class Memory:
    """What each voice has sung so far: of so many drawn paths (rows) and all `VOICES` (columns), in staff
    steps. The lattice remembers one interval, of one or two voices; a path that is drawn note by note may
    remember more."""

    pitch: Array
    """The note that sounds; 0 for a voice that does not."""
    change: Array
    """Steps of the last change of note; 0 before the first."""
    before: Array
    """The note before the last change."""
    stood: Array
    """Over how many sonorities the note has been repeated or held."""
    peak: Array
    """The highest note so far."""

    @classmethod
    def empty(cls, paths: int) -> Memory:
        return cls(*(np.zeros((paths, len(VOICES)), dtype=np.int64) for _ in range(5)))

    def occurrences(self, upper: Sequence[str], d: Array) -> dict[str, Array]:
        """How often each remembered cost occurs when the voices go on to notes `d` (paths x candidates x
        voices): paths x candidates each."""
        place = [VOICES.index(v) for v in upper]
        pitch, change, before, stood, peak = (
            x[:, None, place] for x in (self.pitch, self.change, self.before, self.stood, self.peak)
        )
        sung = pitch > 0
        move = np.where(sung, d - pitch, 0)
        share = np.where(np.arange(len(place)) == 0, 1.0, 0.5)
        turns = (move * change < 0) & (abs(change) <= 2)
        inner = (abs(change) > 2) & (stood == 0) & (move * change > 0)
        stepped = (abs(change) == 1) & (stood == 0)
        inner = inner * np.where(np.arange(len(place)) == 0, 0.0, 1.0)
        return {
            "turning": (turns * share).sum(axis=2),
            "shuttle": ((move != 0) & sung & (d == before) & (change != 0)).astype(float) @ share,
            "back-step": (stepped & (move == -change)) @ share,
            "running": (stepped & (move == change)) @ share,
            "standing": ((move == 0) & sung & (stood > 0)).astype(float) @ share,
            "second-peak": ((move > 0) & (d == peak)).astype(float)[:, :, 0],
            "inner-leap": inner.sum(axis=2),
            "frozen": ((move == 0) & sung & (stood > 2)).all(axis=2),
        }

    def after(self, upper: Sequence[str], d: Array) -> Memory:
        """What is remembered when the voices have gone on to notes `d` (paths x voices)."""
        place = [VOICES.index(v) for v in upper]
        found = np.zeros((5, len(d), len(VOICES)), dtype=np.int64)
        pitch, change, before, stood, peak = (
            x[:, place] for x in (self.pitch, self.change, self.before, self.stood, self.peak)
        )
        same = pitch == d
        moved = (pitch > 0) & ~same
        found[0][:, place] = d
        found[1][:, place] = np.where(moved, d - pitch, change)
        found[2][:, place] = np.where(moved, pitch, before)
        found[3][:, place] = np.where(same, stood + 1, 0)
        found[4][:, place] = np.maximum(peak, d)
        return Memory(*found)


class _Fan(NamedTuple):
    """The arcs of a step in the order of their sources, and where those of each source begin."""

    arcs: Array
    first: Array

    @classmethod
    def of(cls, step: Arcs, states: int) -> _Fan:
        first = np.concatenate(([0], np.cumsum(np.bincount(step.source, minlength=states))))
        return cls(np.argsort(step.source, kind="stable"), first)


def onward(lattice: Lattice, fans: Sequence[_Fan]) -> tuple[Array, ...]:
    """For each state the logarithm of what all ways on from it weigh together, the state's own cost not
    counted; minus infinity where none leads on."""
    found = [np.zeros(len(lattice.before[-1]))]
    for i in range(len(lattice.steps) - 1, -1, -1):
        step, fan = lattice.steps[i], fans[i]
        value = (found[-1] - lattice.gains[i + 1])[step.target] - step.cost
        total = np.full(len(lattice.before[i]), -np.inf)
        sources = np.flatnonzero(np.diff(fan.first))
        if len(sources):
            value = value[fan.arcs]
            starts = fan.first[sources]
            most = np.maximum.reduceat(value, starts)
            most = np.where(np.isfinite(most), most, 0.0)
            weight = np.exp(value - np.repeat(most, np.diff(fan.first)[sources]))
            with np.errstate(divide="ignore"):
                total[sources] = np.log(np.add.reduceat(weight, starts)) + most
        found.append(total)
    return tuple(reversed(found))


def drawn(
    lattice: Lattice, seed: Sequence[int], count: int, *, length: int | None = None
) -> tuple[Path, ...]:
    """Some paths through a lattice, each drawn with probability exp(-cost) among all (`count` draws, the
    same for the same seed; equal ones are not dropped). `length`: only over so many events."""
    random = np.random.default_rng(seed)
    fans = [_Fan.of(step, len(before)) for step, before in zip(lattice.steps, lattice.before)]
    ahead = onward(lattice, fans)
    states = _pick((ahead[0] - lattice.before[0])[None].repeat(count, axis=0), random)
    memory = Memory.empty(count)
    memory = _remember(lattice, 0, states, memory)
    path = [states]
    for i in range(len(lattice.steps) if length is None else length - 1):
        states = _go_on(lattice, i, fans[i], states, memory, ahead[i + 1], random)
        memory = _remember(lattice, i + 1, states, memory)
        path.append(states)
    return tuple(tuple(states) for states in np.stack(path, axis=1).tolist())


def _remember(lattice: Lattice, index: int, states: Array, memory: Memory) -> Memory:
    layer = lattice.layers[index]
    if index and lattice.joints[index - 1].silent:
        memory = Memory.empty(len(states))
    if lattice.events[index].hold and index:
        return memory
    wide = len(lattice.before[index]) // max(1, len(layer))
    return memory.after(layer.shape.upper, layer.d[states // wide])


def _go_on(
    lattice: Lattice,
    i: int,
    fan: _Fan,
    states: Array,
    memory: Memory,
    ahead: Array,
    random: np.random.Generator,
) -> Array:
    """One state later for each path."""
    step = lattice.steps[i]
    count = fan.first[states + 1] - fan.first[states]
    wide = int(count.max())
    place = np.minimum(fan.first[states][:, None] + np.arange(wide), len(fan.arcs) - 1)
    arcs = fan.arcs[place]
    target = step.target[arcs]
    value = (ahead - lattice.gains[i + 1])[target] - step.cost[arcs]
    layer = lattice.layers[i + 1]
    if not lattice.events[i + 1].hold and layer.shape.upper:
        value = value - _remembered(lattice, i + 1, target, memory)
    value = np.where(np.arange(wide) < count[:, None], value, -np.inf)
    found: Array = target[np.arange(len(states)), _pick(value, random)]
    return found


def _remembered(lattice: Lattice, index: int, target: Array, memory: Memory) -> Array:
    layer = lattice.layers[index]
    weights = lattice.weights.above(len(layer.shape.upper))
    wide = len(lattice.before[index]) // len(layer)
    met = memory.occurrences(layer.shape.upper, layer.d[target // wide])
    found: Array = sum((met[name] * weights[name] for name in REMEMBERED), np.zeros(target.shape))
    return found


def _pick(value: Array, random: np.random.Generator) -> Array:
    """For each row a column, drawn in proportion to the exponential of its value."""
    total = np.cumsum(np.exp(value - value.max(axis=1, keepdims=True)), axis=1)
    mark = random.random(len(value)) * total[:, -1]
    found: Array = np.minimum((total <= mark[:, None]).sum(axis=1), value.shape[1] - 1)
    return found
