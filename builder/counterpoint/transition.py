"""From one event's voicings to the next's: which pairs the rules allow, and what each costs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from builder.counterpoint.costs import Weights
from builder.counterpoint.melody import MELODY_RULES
from builder.counterpoint.motion import MOTION_RULES
from builder.counterpoint.pricing import contexts, melodic, named
from builder.counterpoint.rule import ERROR, Move, Rule
from builder.counterpoint.sonority import Role
from builder.counterpoint.steps import Joint as Joint
from builder.counterpoint.steps import Steps
from builder.counterpoint.voicing import Array, Voicings


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


BROKEN = 1000.0
"""Cost of a broken rule where no legal way is open."""


_PAIR_ERRORS = tuple(r for r in MOTION_RULES if r.kind == "motion" and ERROR in r.severity.values())
_OUTER = ("direct-fifth", "direct-octave")
_MELODY_ERRORS = tuple(r for r in MELODY_RULES if r.kind == "melody" and ERROR in r.severity.values())


def broken(a: Voicings, b: Voicings, joint: Joint) -> Iterator[tuple[Rule | str, Array]]:
    """Each hard rule with the pairs (rows of a) x (rows of b) that break it."""
    for rule, mask in _forbidden(a, b, joint, Steps.all(a, b)):
        yield rule, np.broadcast_to(mask, (len(a), len(b)))


def _passed(a: Voicings, b: Voicings, joint: Joint) -> Array:
    """Voicings that a passing given note would go above, were they held."""
    if "given-not-lowest" in joint.waived:
        return np.zeros(len(a), dtype=bool)
    found: Array = np.asarray((a.m < b.shape.bass.midi).any(axis=1))
    return found


def _forbidden(a: Voicings, b: Voicings, joint: Joint, steps: Steps) -> Iterator[tuple[Rule | str, Array]]:
    if joint.hold:
        yield "given-not-lowest", _passed(a, b, joint)[:, None]
        return
    count, names, bass = len(b.shape.upper) + 1, steps.names, b.shape.voice
    hard = [r for r in (*_PAIR_ERRORS, *_MELODY_ERRORS) if r.severity[count] == ERROR]
    hard = [r for r in hard if r.id not in joint.waived]
    if len(names) > 1:
        low, high = steps.pairs
        for rule in hard:
            if rule.kind == "motion" and rule.id not in _OUTER and rule.predicate:
                yield rule, rule.predicate(low, high).any(axis=0)
            elif rule.id in _OUTER and names[-1] == bass and rule.predicate:
                yield rule, rule.predicate(steps[bass], steps[names[0]])
    # What the given line sings itself is the source's.
    sung = [v for v in names if not (v == bass and a.shape.voice == bass)]
    if sung:
        stack = steps.of(sung)
        for rule in hard:
            if rule.kind == "melody" and rule.predicate:
                yield rule, rule.predicate(stack).any(axis=0)
    for i, voice in enumerate(a.shape.upper):
        role = a.role[:, i].reshape(-1, 1)
        bound = (role != Role.FREE) & (role != Role.LEADING)
        if voice in steps:
            if (role != Role.FREE).any():
                for name, bad in _left(role, steps[voice], b, voice, joint):
                    if name not in joint.waived:
                        yield name, bad
        elif "suspension-unresolved" not in joint.waived:
            yield "suspension-unresolved", bound
    for i, voice in enumerate(b.shape.upper):
        role = b.role[:, i].reshape(1, -1)
        if (role != Role.FREE).any():
            for name, bad in _entered(role, steps.get(voice)):
                if name not in joint.waived:
                    yield name, bad


def _entered(role: Array, came: Move | None) -> Iterator[tuple[str, Array]]:
    """Bound tones that do not come from where they must."""
    if came is None:
        yield "suspension-unprepared", (role != Role.FREE) & (role != Role.LEADING)
        return
    held = came.moves == False  # noqa: E712 - arrays too
    step = abs(came.steps) == 1
    yield "suspension-unprepared", (role == Role.SUSPENDED) & ~held
    stray = ((role == Role.STEPWISE) | (role == Role.PEDAL)) & ~(held | step)
    stray = (
        stray | ((role == Role.RISING) & (came.steps != 1)) | ((role == Role.FALLING) & (came.steps != -1))
    )
    yield "dissonance", stray


def _left(role: Array, move: Move, b: Voicings, voice: str, joint: Joint) -> Iterator[tuple[str, Array]]:
    """Bound tones that do not go where they must. A dissonance may be held on only while it stays one."""
    held = move.moves == False  # noqa: E712
    down = move.steps == -1
    step = abs(move.steps) == 1
    still = held & (
        (b.role[:, b.shape.upper.index(voice)].reshape(1, -1) != Role.FREE)
        if voice in b.shape.upper
        else False
    )
    yield (
        "suspension-unresolved",
        (((role == Role.SUSPENDED) | (role == Role.STEPWISE)) & ~(down | still))
        | ((role == Role.PEDAL) & ~(step | held)),
    )
    yield "dissonance", ((role == Role.RISING) & (move.steps != 1)) | ((role == Role.FALLING) & ~down)
    # Inside the formula, over one bass note, the raised third may be kept.
    up = (move.steps == 1) & (move.semitones == 1)
    kept = held & joint.same_bass
    if voice in b.shape.upper:
        kept = kept | (held & (b.role[:, b.shape.upper.index(voice)].reshape(1, -1) == Role.LEADING))
    yield "leading-note", (role == Role.LEADING) & ~(up | kept)


_MEMO: OrderedDict[Any, tuple[Voicings, Voicings, Arcs]] = OrderedDict()
_MEMO_SIZE = 1500


def arcs(a: Voicings, b: Voicings, joint: Joint, weights: Weights) -> Arcs:
    """The arcs from one event's states to the next's; remembered by shape."""
    key = (id(a), id(b), joint, weights)
    memo = _MEMO.get(key)
    if memo is not None:
        _MEMO.move_to_end(key)
        return memo[2]
    made = _make(a, b, joint, weights)
    # The voicings are kept beside the arcs, so that their identities stay theirs.
    _MEMO[key] = (a, b, made)
    if len(_MEMO) > _MEMO_SIZE:
        _MEMO.popitem(last=False)
    return made


def _make(a: Voicings, b: Voicings, joint: Joint, weights: Weights) -> Arcs:
    n, m = len(a), len(b)
    wide_a, wide_b = contexts(len(a.shape.upper)), contexts(len(b.shape.upper))
    if joint.silent or not n or not m:
        # What is bound cannot end in silence.
        ends = np.repeat(((a.role == Role.FREE) | (a.role == Role.LEADING)).all(axis=1) | joint.loose, wide_a)
        rows, cols = np.nonzero(np.broadcast_to(ends[:, None], (n * wide_a, m)))
        return _sorted(rows, b.cost[cols], cols * wide_b, m * wide_b)
    if joint.hold:
        over = np.zeros(n, dtype=bool) if joint.loose else _passed(a, b, joint)
        states = np.flatnonzero(np.repeat(~over, wide_a))
        return _sorted(states, np.zeros(len(states)), states, n * wide_a)
    steps = Steps.all(a, b)
    bad = np.zeros((n, m), dtype=np.int64)
    for _, mask in _forbidden(a, b, joint, steps):
        bad += mask
    rows, cols = np.nonzero(np.ones((n, m), dtype=bool) if joint.loose else bad == 0)
    some = steps.some(rows, cols)
    soft = sum(named(some, joint, weights).values(), np.zeros(len(rows))) + b.cost[cols]
    if joint.loose:
        soft = soft + bad[rows, cols] * BROKEN
    after, price = melodic(some, weights)
    source = rows[:, None] * wide_a + np.arange(wide_a)[None, :]
    target = cols[:, None] * wide_b + after
    cost = soft[:, None] + price
    return _sorted(source.ravel(), cost.ravel(), target.ravel(), m * wide_b)


def _sorted(source: Array, cost: Array, target: Array, width: int) -> Arcs:
    order = np.argsort(target, kind="stable")
    target = target[order]
    starts = np.flatnonzero(np.diff(target, prepend=-1))
    return Arcs(source[order], cost[order], target, starts, target[starts], width)
