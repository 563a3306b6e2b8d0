"""From one event's voicings to the next's: which pairs the rules allow, and what each costs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.obligations import bound
from builder.counterpoint.rules.tables import (
    ACROSS_RULES,
    BIT,
    HARD,
    MELODY_BITS,
    OBLIGATION_BITS,
    STEP_CLASS,
    WITH_LOWEST,
    bits,
    interval,
    look,
    obligation_place,
)
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.joints import Conditions, Joint, columns, order
from builder.counterpoint.search.shape import Meeting, contexts
from builder.counterpoint.search.step_costs import Steps, melodic, named, perfect_between
from builder.counterpoint.search.voicing import Voicings


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """All steps from states to states, sorted by target. A state is row * contexts + context."""

    source: Array
    cost: Array
    target: Array
    starts: Array
    """Where the arcs of each target begin."""
    targets: Array
    width: int
    """Number of states of the later event."""


class Crossing(NamedTuple):
    """Two events' voicings and what joins them."""

    a: Voicings
    b: Voicings
    joint: Joint


BROKEN = 1000.0
"""Cost of a broken rule where no legal way is open."""
GIVEN_LOWEST = "given-not-lowest"
STILL = "still"
"""What a voice breaks that moves while the given note goes on: no rule, but what plain means."""
_AT_ONCE = 10_000
"""So many pairs of voicings are judged at once: their arrays stay near the processor."""


def broken(a: Voicings, b: Voicings, joint: Joint) -> Iterator[tuple[str, Array]]:
    """Each hard rule with the pairs (rows of a) x (rows of b) that break it."""
    if joint.hold:
        yield GIVEN_LOWEST, np.broadcast_to(_passed(a, b, joint)[:, None], (len(a), len(b)))
        return
    pairs = _Pairs([Crossing(a, b, joint)])
    found = (pairs.alone() | pairs.together(pairs.steps())).reshape(len(a), len(b))
    if joint.still:
        yield STILL, pairs.restless().reshape(len(a), len(b))
    for name, bit in BIT.items():
        mask = (found & bit) != 0
        if mask.any():
            yield name, mask


def _passed(a: Voicings, b: Voicings, joint: Joint) -> Array:
    """Voicings that a passing given note would go above, were they held."""
    if GIVEN_LOWEST in joint.waived:
        return np.zeros(len(a), dtype=bool)
    found: Array = np.asarray((a.m < b.shape.bass.midi).any(axis=1))
    return found


class _Pairs:
    """Every pair of voicings of some crossings of the same voices, one crossing after another, each in the
    order of its rows, and the rules that bind them. What each voice does by itself is judged first: half the
    pairs need no more."""

    def __init__(self, crossings: Sequence[Crossing]) -> None:
        self.crossings = crossings
        a, b, _ = crossings[0]
        self.meeting = Meeting.of(a.shape, b.shape)
        self.order = order(self.meeting)
        self.before = columns([x.a for x in crossings], self.order.names)
        self.after = columns([x.b for x in crossings], self.order.names)
        n, m = np.array([len(x.a) for x in crossings]), np.array([len(x.b) for x in crossings])
        self.first_row, self.first_col = np.cumsum(n) - n, np.cumsum(m) - m
        count = n * m
        self.crossing = np.repeat(np.arange(len(crossings)), count)
        place = np.arange(len(self.crossing)) - np.repeat(np.cumsum(count) - count, count)
        wide = m[self.crossing]
        row = place // wide
        self.rows = row + self.first_row[self.crossing]
        self.cols = place - row * wide + self.first_col[self.crossing]
        # Licences lift a rule; rules that only warn of so many voices never bind.
        self.lowest_only = WITH_LOWEST[len(b.shape.upper) + 1]
        binding = HARD[len(b.shape.upper) + 1] | self.lowest_only
        each = [binding & ~bits(x.joint.waived) for x in crossings]
        self.binding = np.array(each, dtype=np.uint32)

    def keep(self, kept: Array) -> None:
        """Only some of the pairs."""
        self.crossing, self.rows, self.cols = (x.take(kept) for x in (self.crossing, self.rows, self.cols))

    def steps(self) -> Steps:
        before, after = self.before.take(self.rows, axis=1), self.after.take(self.cols, axis=1)
        given = Conditions.of([x.joint for x in self.crossings], [x.b.shape for x in self.crossings])
        found = Steps(self.meeting, before, after, given.some(self.crossing))
        # Intervals are as many as voicings, not as pairs of them.
        found.__dict__["perfect"] = (
            perfect_between(self.before, self.order).take(self.rows, axis=1),
            perfect_between(self.after, self.order).take(self.cols, axis=1),
        )
        return found

    def alone(self) -> Array:
        """Rules that bind each voice by itself and that a pair breaks, as bits."""
        names, upper, then = self.order.names, self.meeting.upper, self.meeting.then
        found = np.zeros(len(self.rows), dtype=np.uint32)
        same = np.repeat([x.joint.same_bass for x in self.crossings], [len(x.a) for x in self.crossings])
        for voice in dict.fromkeys((*names, *upper, *then)):
            left = self._roles("a", voice)
            entered = self._roles("b", voice)
            if voice not in names:
                # Out of silence, or into it.
                role, rows = (left, self.rows) if voice in upper else (entered, self.cols)
                stray = np.asarray(bound(role))[rows]
                rule = "suspension-unresolved" if voice in upper else "suspension-unprepared"
                found |= np.where(stray, BIT[rule], np.uint32(0))
                continue
            n, owes = names.index(voice), left.any() or entered.any()
            if owes or n in self.order.sung:
                move = interval(self.before[n].take(self.rows), self.after[n].take(self.cols))
            if n in self.order.sung:
                found |= look(MELODY_BITS, move)
            if owes:
                before, after = obligation_place(left, 0, same, 0), obligation_place(0, entered, 0, 0)
                found |= OBLIGATION_BITS.take(
                    before.take(self.rows) + after.take(self.cols) + look(STEP_CLASS, move)
                )
        return found & self.binding.take(self.crossing)

    def restless(self) -> Array:
        """Pairs in which a voice moves, though it falls from no suspension, where it should stay."""
        still = np.array([x.joint.still for x in self.crossings])
        found = np.zeros(len(self.rows), dtype=bool)
        if not still.any():
            return found
        held = still.take(self.crossing)
        for n, voice in enumerate(self.order.names):
            if voice not in self.meeting.upper or voice not in self.meeting.then:
                continue
            own = np.array([voice not in dict(x.b.shape.pins) for x in self.crossings]).take(self.crossing)
            bound = self._roles("a", voice).take(self.rows) == Role.SUSPENDED
            found |= own & held & ~bound & (self.before[n].take(self.rows) != self.after[n].take(self.cols))
        return found

    def _roles(self, side: str, voice: str) -> Array:
        """The part that a voice plays in each voicing before (a) or after (b); the given line is free."""
        found = [getattr(x, side) for x in self.crossings]
        upper = found[0].shape.upper
        if voice not in upper:
            return np.zeros(sum(map(len, found)), dtype=np.int64)
        return np.concatenate([v.role[:, upper.index(voice)] for v in found])

    def together(self, steps: Steps) -> Array:
        """Rules that bind two voices and that a pair breaks, as bits."""
        if len(self.order.names) < 2:
            return np.zeros(len(steps), dtype=np.uint32)
        asked = self.order.asked
        if self.lowest_only:
            asked = np.where(self.order.low == self.order.bass, asked, asked & ~self.lowest_only)
        met = steps.motion
        if (self.binding & ACROSS_RULES).any():
            met = met | steps.across
        found: Array = np.bitwise_or.reduce(met & asked[:, None], axis=0)
        return found & self.binding.take(self.crossing)

    def arcs(self, weights: Weights) -> list[Arcs]:
        """The legal steps of each crossing, with their costs."""
        alone = self.alone()
        if self.crossings[0].joint.loose:
            steps = self.steps()
            faults = np.bitwise_count(alone | self.together(steps))
        else:
            self.keep(np.flatnonzero((alone == 0) & ~self.restless()))
            steps = self.steps()
            kept = np.flatnonzero(self.together(steps) == 0)
            self.keep(kept)
            steps, faults = steps.some(kept), np.zeros(len(kept))
        wide, wide_then = contexts(len(self.meeting.upper)), contexts(len(self.meeting.then))
        standing = np.concatenate([x.b.cost for x in self.crossings])
        prices = weights.above(len(self.meeting.then))
        soft = sum(named(steps, prices).values(), standing.take(self.cols)) + faults * BROKEN
        target, cost = melodic(steps, prices)
        cost += soft[:, None]
        target += ((self.cols - self.first_col.take(self.crossing)) * wide_then)[:, None]
        row = self.rows - self.first_row.take(self.crossing)
        source = (row * wide)[:, None] + np.arange(wide)
        ends = np.searchsorted(self.crossing, np.arange(len(self.crossings)), side="right") * wide
        widths = [len(x.b) * wide_then for x in self.crossings]
        return _sorted(source.ravel(), cost.ravel(), target.ravel(), ends, widths)


_MEMO: OrderedDict[Any, tuple[Voicings, Voicings, Arcs]] = OrderedDict()
_MEMO_SIZE = 1500


def arcs(a: Voicings, b: Voicings, joint: Joint, weights: Weights) -> Arcs:
    """The arcs from one event's states to the next's."""
    return all_arcs([Crossing(a, b, joint)], weights)[0]


def all_arcs(crossings: Sequence[Crossing], weights: Weights) -> list[Arcs]:
    """The arcs of many crossings, all that are new worked out together; remembered by shape."""
    keys = [(id(a), id(b), joint, weights) for a, b, joint in crossings]
    fresh = {key: crossing for key, crossing in zip(keys, crossings) if key not in _MEMO}
    made = dict(zip(fresh, _made(list(fresh.values()), weights)))
    found = []
    for key, (a, b, _) in zip(keys, crossings):
        if key in made:
            found.append(made[key])
            # The voicings are kept beside the arcs, so that their identities stay theirs.
            _MEMO[key] = (a, b, made[key])
        else:
            found.append(_MEMO[key][2])
            _MEMO.move_to_end(key)
    while len(_MEMO) > _MEMO_SIZE:
        _MEMO.popitem(last=False)
    return found


def _made(crossings: Sequence[Crossing], weights: Weights) -> list[Arcs]:
    found: dict[int, Arcs] = {}
    alike: dict[tuple[Meeting, bool], list[int]] = {}
    for n, (a, b, joint) in enumerate(crossings):
        if joint.silent or joint.hold or not len(a) or not len(b):
            found[n] = _unmoved(a, b, joint)
        else:
            alike.setdefault((Meeting.of(a.shape, b.shape), joint.loose), []).append(n)
    for places in alike.values():
        for some in _portions(places, [len(crossings[n].a) * len(crossings[n].b) for n in places]):
            found.update(zip(some, _Pairs([crossings[n] for n in some]).arcs(weights)))
    return [found[n] for n in range(len(crossings))]


def _portions(places: Sequence[int], sizes: Sequence[int]) -> Iterator[list[int]]:
    portion: list[int] = []
    total = 0
    for place, size in zip(places, sizes):
        if portion and total + size > _AT_ONCE:
            yield portion
            portion, total = [], 0
        portion.append(place)
        total += size
    yield portion


def _unmoved(a: Voicings, b: Voicings, joint: Joint) -> Arcs:
    """The arcs of a crossing to which no rule on motion applies: over a silence, or while the voices above
    are held."""
    n, m = len(a), len(b)
    wide_a, wide_b = contexts(len(a.shape.upper)), contexts(len(b.shape.upper))
    if joint.hold and not joint.silent and n and m:
        over = np.zeros(n, dtype=bool) if joint.loose else _passed(a, b, joint)
        states = np.flatnonzero(np.repeat(~over, wide_a))
        width = n * wide_a
        return _sorted(states, np.zeros(len(states)), states, np.array([len(states)]), [width])[0]
    # What is bound cannot end in silence.
    ends = np.repeat(~np.asarray(bound(a.role)).any(axis=1) | joint.loose, wide_a)
    rows, cols = np.nonzero(np.broadcast_to(ends[:, None], (n * wide_a, m)))
    return _sorted(rows, b.cost[cols], cols * wide_b, np.array([len(rows)]), [m * wide_b])[0]


def _sorted(source: Array, cost: Array, target: Array, ends: Array, widths: Sequence[int]) -> list[Arcs]:
    """Arcs of crossings one after another (each up to its end), sorted by target and told apart."""
    width = np.array(widths)
    first = np.cumsum(width) - width
    begin = np.concatenate(([0], ends[:-1]))
    key = target + np.repeat(first, ends - begin)
    # Sorting by small whole numbers is several times as fast.
    order = np.argsort(key.astype(np.uint16) if first[-1] + width[-1] < 1 << 16 else key, kind="stable")
    source, cost, target, key = source[order], cost[order], target[order], key[order]
    fresh = np.ones(len(key), dtype=bool)
    fresh[1:] = key[1:] != key[:-1]
    starts = np.flatnonzero(fresh)
    cut = np.searchsorted(starts, np.concatenate((begin, ends[-1:])))
    found = []
    for n in range(len(widths)):
        i, j = int(begin[n]), int(ends[n])
        here = starts[cut[n] : cut[n + 1]] - i
        found.append(Arcs(source[i:j], cost[i:j], target[i:j], here, target[i:j][here], int(width[n])))
    return found
