"""Steps from sonority to sonority: how every voice goes on in them, and what that costs, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.tables import (
    COSTED,
    LEAPS,
    MELODY_BITS,
    MOTION_BITS,
    PERFECT,
    PRIME,
    STEPS,
    TRITONE,
    WARNED,
    WAY,
    across,
    bits,
    interval,
    look,
    motion_class,
    pitch_code,
)
from builder.counterpoint.search.costs import LEAP_PRICE, Parts, Prices, Weights
from builder.counterpoint.search.joints import Conditions, Joint, Order, columns, order
from builder.counterpoint.search.shape import (
    HELD,
    KINDS,
    LEAPT_DOWN,
    LEAPT_UP,
    NEUTRAL,
    SKIPPED_DOWN,
    SKIPPED_UP,
    Meeting,
    Shape,
    contexts,
    tracked_voices,
)
from builder.counterpoint.search.voicing import Voicings


@dataclass(frozen=True, eq=False)
class Steps:
    """Many steps of the same voices: codes of their pitches before and after, voices x steps."""

    meeting: Meeting
    before: Array
    after: Array
    given: Conditions

    @classmethod
    def between(cls, a: Voicings, b: Voicings, joint: Joint, rows: Array, cols: Array) -> Steps:
        """From some voicings to as many others."""
        meeting = Meeting.of(a.shape, b.shape)
        names = order(meeting).names
        given = Conditions.of([joint], [b.shape]).some(np.zeros(len(rows), dtype=np.int64))
        return cls(meeting, columns([a], names)[:, rows], columns([b], names)[:, cols], given)

    @classmethod
    def along(
        cls,
        meeting: Meeting,
        notes: Sequence[tuple[Mapping[str, tuple[int, int]], Mapping[str, tuple[int, int]]]],
        given: Conditions,
    ) -> Steps:
        """From the notes (staff step and MIDI number) that each voice has before and after."""
        names = order(meeting).names
        table = np.array([[(*a[v], *b[v]) for a, b in notes] for v in names], dtype=np.int64)
        d0, m0, d1, m1 = np.moveaxis(table.reshape(len(names), len(notes), 4), 2, 0)
        return cls(meeting, pitch_code(d0, m0), pitch_code(d1, m1), given)

    def __len__(self) -> int:
        return int(self.before.shape[1])

    def some(self, kept: Array) -> Steps:
        """Only some of the steps; what has been worked out of them is kept."""
        before, after = self.before.take(kept, axis=1), self.after.take(kept, axis=1)
        found = Steps(self.meeting, before, after, self.given.some(kept))
        for name in ("moves", "ways", "motion"):
            if name in self.__dict__:
                found.__dict__[name] = self.__dict__[name].take(kept, axis=1)
        return found

    @property
    def order(self) -> Order:
        return order(self.meeting)

    @cached_property
    def moves(self) -> Array:
        """The interval by which each voice moves."""
        return interval(self.before, self.after)

    @cached_property
    def ways(self) -> Array:
        return look(WAY, self.moves)

    @cached_property
    def motion(self) -> Array:
        """Rules on two voices that each pair breaks, pairs x steps, as bits."""
        low, high = self.order.low, self.order.high
        before, after = self.perfect
        leaps = look(LEAPS, self.moves)
        found: Array = motion_class(before, after, self.ways[low] * self.ways[high], leaps[high])
        return MOTION_BITS.take(found)

    @cached_property
    def across(self) -> Array:
        """Rules that each pair breaks from where one voice was to where the other goes, as bits."""
        return across(self.before, self.after, self.order.low, self.order.high, self.moves)

    @cached_property
    def perfect(self) -> tuple[Array, Array]:
        """Perfect intervals of each pair before and after."""
        return perfect_between(self.before, self.order), perfect_between(self.after, self.order)


def perfect_between(codes: Array, order: Order) -> Array:
    """The perfect intervals of every pair of voices (see `tables.PERFECT`), pairs x columns."""
    return look(PERFECT, interval(codes[order.low], codes[order.high]))


_LEAP: Array = LEAP_PRICE[np.minimum(abs(STEPS), 8)]
_AWKWARD: Array = (MELODY_BITS & COSTED["awkward"]) != 0
_SHARES = np.array([1.0, 0.85, 0.85])[:, None]
"""How much a leap counts by the voice's place: the highest is heard most."""
_TRITONE_LEFT = 3.0
"""How many awkward steps it counts that both tones of a tritone leap away: taken only where nothing else
leads on."""
_COVERED = bits(("parallel-fifths", "parallel-octaves"))


def named(steps: Steps, weights: Prices) -> Parts:
    """Named costs of each of some steps, already weighted."""
    parts: Parts = {}

    def add(name: str, value: Any) -> None:
        cost = value * weights[name]
        parts[name] = parts[name] + cost if name in parts else cost

    upper = steps.order.upper
    if upper:
        moves = steps.moves[upper]
        add("leap", (look(_LEAP, moves) * _SHARES[: len(upper)]).sum(axis=0))
        sizes, share = look(STEPS, moves), _SHARES[: len(upper)]
        add("skip", ((abs(sizes) == 2) * share).sum(axis=0))
        add("falling-leap", ((sizes < -1) * share).sum(axis=0))
        add("rising-step", ((sizes == 1) * share).sum(axis=0))
        add("awkward", look(_AWKWARD, moves).sum(axis=0))
        if len(upper) > 1:
            add("awkward", _tritones_left(steps) * _TRITONE_LEFT)
        _stillness(steps, add)
        _together(steps, add)
        add("close", steps.given.closing * (look(LEAPS, moves[0]) * 0.8))
    if len(steps.order.names) > 1:
        _pairs(steps, add)
    if WARNED[len(steps.meeting.then) + 1]:
        _warned(steps, add)
    if (steps.given.main >= 0).any():
        _covered(steps, add)
    return parts


def _tritones_left(steps: Steps) -> Array:
    """Pairs of upper voices a tritone apart that both leap away."""
    upper, moves = steps.order.upper, steps.moves
    found = np.zeros(len(steps), dtype=np.int64)
    for n, high in enumerate(upper):
        for low in upper[n + 1 :]:
            tritone = look(TRITONE, interval(steps.before[low], steps.before[high]))
            found += tritone & (look(LEAPS, moves[low]) * look(LEAPS, moves[high]) > 0)
    return found


def _pairs(steps: Steps, add: Any) -> None:
    """Overlap, false relation, direct fifths and octaves of every pair of voices."""
    outer = steps.order.outer
    for name in ("crossing", "false-relation"):
        add(name, ((steps.across & COSTED[name]) != 0).sum(axis=0))
    hidden = (steps.motion & COSTED["direct"]) != 0
    add("direct", hidden.sum(axis=0) * 0.3)
    if outer is not None:
        add("direct", hidden[outer] * 0.7)


def _warned(steps: Steps, add: Any) -> None:
    """Rules that only warn, and that no other cost counts."""
    warned = WARNED[len(steps.meeting.then) + 1]
    alone = look(MELODY_BITS, steps.moves[steps.order.upper]) & warned
    together = (steps.motion | steps.across) & (steps.order.asked & warned)[:, None]
    add("warned", np.bitwise_count(alone).sum(axis=0) + np.bitwise_count(together).sum(axis=0))


def _covered(steps: Steps, add: Any) -> None:
    """Fifths and octaves between a voice and the main notes on both sides of a passing given note."""
    bass = steps.order.bass
    if bass is None:
        return
    here = np.flatnonzero(steps.given.main >= 0)
    main, low = steps.given.main[here], steps.after[bass, here]
    total = np.zeros(len(steps))
    for voice in steps.order.upper:
        first, then = steps.before[voice, here], steps.after[voice, here]
        before, after = look(PERFECT, interval(main, first)), look(PERFECT, interval(low, then))
        way = look(WAY, interval(main, low)) * look(WAY, interval(first, then))
        total[here] += (MOTION_BITS[motion_class(before, after, way, 0)] & _COVERED) != 0
    add("covered", total)


def _stillness(steps: Steps, add: Any) -> None:
    """Repeated notes: each voice a little while the bass moves; all together more."""
    count = len(steps.meeting.then)
    still = steps.moves[steps.order.upper] == PRIME
    everyone, moving = still.all(axis=0), (~still).sum(axis=0)
    same, short = steps.given.same_bass, steps.given.short
    add("restless", moving * (same & short))
    # Over a held note something may move; in two and three voices something should, where it may.
    long = same & ~short & ~steps.given.still
    add("waiting", everyone & long)
    add("revoicing", (abs(look(STEPS, steps.moves[steps.order.upper])) > 1).sum(axis=0) * same)
    if count > 1:
        add("several", np.maximum(moving - 1, 0) * long)
    add("stillness", (everyone & ~same) * (1.2 if count > 1 else 1.0))
    if count > 1:
        add("stillness", (still[0] & ~same) * 0.25)


def _together(steps: Steps, add: Any) -> None:
    """Outer voices the same way, all voices the same way, chains of parallel thirds and sixths."""
    upper, bass = steps.order.upper, steps.order.bass
    if bass is None or bass == upper[0]:
        return
    fresh = ~steps.given.same_bass
    way, others = steps.ways[bass], steps.ways[upper]
    similar = (others * way > 0) & fresh
    add("similar", similar[0] * 1.0)
    add("contrary", (others[0] * way < 0) & fresh)
    if len(upper) > 1:
        add("similar", similar.all(axis=0) * 2.0)
    sizes = look(STEPS, steps.moves)
    kept = (sizes[upper] == sizes[bass]) & (steps.moves[upper] != PRIME) & ((way != 0) & fresh)
    add("parallel", kept.sum(axis=0))
    for n in range(1, len(upper)):
        alike = (others[:n] * others[n] > 0) & (sizes[upper[:n]] != sizes[upper[n]])
        add("similar-pair", alike.sum(axis=0))
        together = (others[n] != 0) & (sizes[upper[:n]] == sizes[upper[n]])
        add("parallel-pair", together.sum(axis=0))


def melodic(steps: Steps, weights: Prices) -> tuple[Array, Array]:
    """For each step (rows) and each melodic context before it (columns, see `contexts`): the context after
    it, and what the melodic turn costs."""
    names = steps.order.names
    tracked, before = tracked_voices(steps.meeting.then), tracked_voices(steps.meeting.upper)
    wide = contexts(len(steps.meeting.upper))
    after_code = np.zeros((len(steps), wide), dtype=np.int64)
    price = np.zeros((len(steps), wide))
    for place, voice in enumerate(tracked):
        if voice not in names:
            continue
        # A turn depends on little: how the voice came, how far it goes (a third, more), whether it moves.
        digit = len(before) - 1 - before.index(voice) if voice in before else None
        kinds, prices = _turns(wide, digit, weights)
        moves = steps.moves[names.index(voice)]
        row = np.where(steps.given.still & (moves == PRIME), _STAYS, look(_TURN, moves))
        price += prices[row]
        after_code += kinds[row] * KINDS ** (len(tracked) - 1 - place)
    return after_code, price


_STAYS = 14
_TURN: Array = (np.clip(STEPS, -3, 3) + 3 + 7 * (WAY == 0)).astype(np.int64)
"""By interval: the row of `_turns`."""


@lru_cache(maxsize=256)
def _turns(wide: int, digit: int | None, weights: Prices) -> tuple[Array, Array]:
    """For each step of a voice (rows: -3 to 3 staff steps, then the same again for those in which its key on
    the keyboard stays) and each melodic context (columns, `wide` of them, see `contexts`): how the voice has
    come to its note now, and what the turn costs. A context is a number to the base `KINDS`; `digit` is the
    place of this voice in it, None for a voice that is not remembered. The last row is for a voice that
    stays because the given note goes on: it costs nothing, and what is remembered stays as it was."""
    came = np.zeros(wide, dtype=np.int64) if digit is None else np.arange(wide) // KINDS**digit % KINDS
    steps = np.tile(np.arange(-3, 4), 2)[:, None]
    still = (np.arange(14) >= 7)[:, None]
    now = np.select(
        [steps == 0, steps > 2, steps < -2, steps == 2, steps == -2],
        [HELD, LEAPT_UP, LEAPT_DOWN, SKIPPED_UP, SKIPPED_DOWN],
        NEUTRAL,
    )
    # A leap is remembered while its note is held.
    now = np.where((now == HELD) & (came >= SKIPPED_UP), came, now)
    on = ((came == LEAPT_UP) & (steps > 0)) | ((came == LEAPT_DOWN) & (steps < 0))
    twice = ((came == SKIPPED_UP) & (steps > 1)) | ((came == SKIPPED_DOWN) & (steps < -1))
    price = weights["recovery"] * on * np.where(abs(steps) > 1, 1.0, 0.35)
    price = price + weights["recovery"] * twice * np.where(abs(steps) > 2, 0.8, 0.15)
    price = price + weights["stillness"] * ((came == HELD) & still) * 0.8
    return np.vstack((now, came)), np.vstack((price, np.zeros(wide)))


Sung = dict[str, tuple[int, int]]
"""Staff step and MIDI number of each voice that sounds, the given line's among them."""


def along(
    sung: Sequence[Sung], taken: Sequence[tuple[Shape, Shape, Joint, int]], weights: Weights
) -> list[dict[str, float]]:
    """Named costs of each step of a path: `sung` at each event; `taken` for each event but the first the
    shapes before and after, what joins them, and the melodic context before. Steps of the same voices are
    priced together."""
    meetings: dict[Meeting, list[int]] = {}
    for n, (a, b, joint, _) in enumerate(taken):
        if not joint.silent and not joint.hold:
            meetings.setdefault(Meeting.of(a, b), []).append(n)
    found: list[dict[str, float]] = [{} for _ in taken]
    for meeting, places in meetings.items():
        given = Conditions.of([taken[n][2] for n in places], [taken[n][1] for n in places])
        steps = Steps.along(meeting, [(sung[n], sung[n + 1]) for n in places], given)
        prices = weights.above(len(meeting.then))
        _, turns = melodic(steps, prices)
        turned = turns[np.arange(len(places)), [taken[n][3] for n in places]]
        for name, costs in (*named(steps, prices).items(), ("recovery", turned)):
            for n, cost in zip(places, costs.tolist()):
                if cost:
                    found[n][name] = cost
    return found
