"""From one event's voicings to the next's: which pairs the rules allow, and what each costs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from builder.counterpoint.costs import LEAP_PRICE, Parts, Weights
from builder.counterpoint.melody import MELODY_RULES, chromatic, diminished, falling_sixth
from builder.counterpoint.motion import (
    MOTION_RULES,
    direct_fifth,
    direct_octave,
    false_relation,
    overlap,
    parallel_fifths,
    parallel_octaves,
)
from builder.counterpoint.rule import ERROR, Move, Rule
from builder.counterpoint.sonority import Role
from builder.counterpoint.voicing import Array, Voicings
from builder.music import VOICES, Pitch

NEUTRAL, HELD, SKIPPED_UP, SKIPPED_DOWN, LEAPT_UP, LEAPT_DOWN = range(6)
KINDS = 6
"""How a voice came to its note: by step or anew, by keeping it, by a third or a wider leap up or down."""


@dataclass(frozen=True, slots=True)
class Joint:
    """What a transition depends on beyond the two sets of voicings."""

    silent: bool = False
    """Silence lies between: no rule on motion applies."""
    hold: bool = False
    """The upper voices keep their notes."""
    same_bass: bool = False
    """The given note goes on sounding, or is struck again."""
    short: bool = False
    """The later event is shorter than a quarter."""
    main: Pitch | None = None
    """The given note before the passing ones just heard."""
    waived: frozenset[str] = frozenset()
    """Rules licensed here."""
    pinned: bool = False
    loose: bool = False
    """Broken rules cost much instead of being refused."""


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


def contexts(upper: int) -> int:
    """Number of melodic contexts kept with each voicing: of both voices when there are two above the
    line, of the highest otherwise."""
    return 1 if upper == 0 else KINDS * KINDS if upper == 2 else KINDS


def moves(a: Voicings, b: Voicings) -> dict[str, Move]:
    """How each voice that sounds in both goes on, as arrays (rows of a) x (rows of b); highest first."""
    found: dict[str, Move] = {}
    before = _columns(a, 0)
    after = _columns(b, 1)
    for voice in VOICES:
        if voice in before and voice in after:
            found[voice] = Move(*before[voice], *after[voice])
    return found


def _columns(v: Voicings, side: int) -> dict[str, tuple[Any, Any]]:
    shape = (-1, 1) if side == 0 else (1, -1)
    found: dict[str, tuple[Any, Any]] = {
        name: (v.d[:, i].reshape(shape), v.m[:, i].reshape(shape)) for i, name in enumerate(v.shape.upper)
    }
    found[v.shape.voice] = (v.shape.bass.diatonic, v.shape.bass.midi)
    return found


def _stacked(found: Mapping[str, Move], names: Sequence[str]) -> Move:
    """The moves of some voices as one, the voices along the first axis."""
    rows = max((np.size(found[v].d0) for v in names), default=1)
    cols = max((np.size(found[v].d1) for v in names), default=1)
    before = [[np.broadcast_to(x, (rows, 1)) for x in (found[v].d0, found[v].m0)] for v in names]
    after = [[np.broadcast_to(x, (1, cols)) for x in (found[v].d1, found[v].m1)] for v in names]
    (d0, m0), (d1, m1) = np.array(before).swapaxes(0, 1), np.array(after).swapaxes(0, 1)
    return Move(d0, m0, d1, m1)


def _pairs(stack: Move, count: int) -> tuple[Move, Move]:
    """The lower and the higher voice of every pair, from the moves of so many voices, highest first."""
    high, low = np.triu_indices(count, 1)
    return Move(*(x[low] for x in stack)), Move(*(x[high] for x in stack))


_PAIR_ERRORS = tuple(r for r in MOTION_RULES if r.kind == "motion" and ERROR in r.severity.values())
_OUTER = ("direct-fifth", "direct-octave")
_MELODY_ERRORS = tuple(r for r in MELODY_RULES if r.kind == "melody" and ERROR in r.severity.values())


def broken(a: Voicings, b: Voicings, joint: Joint) -> Iterator[tuple[Rule | str, Array]]:
    """Each hard rule with the pairs that break it."""
    found = moves(a, b)
    count = len(b.shape.upper) + 1
    shape = (len(a), len(b))
    names = list(found)
    bass = b.shape.voice
    hard = [r for r in (*_PAIR_ERRORS, *_MELODY_ERRORS) if r.severity[count] == ERROR]
    hard = [r for r in hard if r.id not in joint.waived]
    if len(names) > 1:
        low, high = _pairs(_stacked(found, names), len(names))
        for rule in hard:
            if rule.kind == "motion" and rule.id not in _OUTER and rule.predicate:
                yield rule, _any(rule.predicate(low, high), (len(low.d0), *shape))
            elif rule.id in _OUTER and names[-1] == bass and rule.predicate:
                yield rule, np.broadcast_to(rule.predicate(found[bass], found[names[0]]), shape)
    # What the given line sings itself is the source's.
    sung = [v for v in names if not (v == bass and a.shape.voice == bass)]
    if sung:
        stack = _stacked(found, sung)
        for rule in hard:
            if rule.kind == "melody" and rule.predicate:
                yield rule, _any(rule.predicate(stack), (len(sung), *shape))
    for i, voice in enumerate(a.shape.upper):
        if voice in found:
            for name, bad in _left(a.role[:, i].reshape(-1, 1), found[voice], b, voice, joint):
                if name not in joint.waived:
                    yield name, np.broadcast_to(bad, shape)
        else:
            role = a.role[:, i].reshape(-1, 1)
            bound = (role != Role.FREE) & (role != Role.LEADING)
            if "suspension-unresolved" not in joint.waived:
                yield "suspension-unresolved", np.broadcast_to(bound, shape)
    for i, voice in enumerate(b.shape.upper):
        for name, bad in _entered(b.role[:, i].reshape(1, -1), found.get(voice)):
            if name not in joint.waived:
                yield name, np.broadcast_to(bad, shape)


def _any(truth: Array, shape: tuple[int, ...]) -> Array:
    """Where any of the voices or pairs meets a rule."""
    return np.asarray(np.broadcast_to(truth, shape).any(axis=0))


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


def _soft(a: Voicings, b: Voicings, joint: Joint, weights: Weights) -> Parts:
    """Named costs of each pair, already weighted."""
    shape = (len(a), len(b))
    found = moves(a, b)
    parts: Parts = {}

    def add(name: str, value: Any) -> None:
        parts[name] = parts.get(name, np.zeros(shape)) + np.broadcast_to(value, shape) * weights[name]

    names = list(found)
    upper = [v for v in names if v in b.shape.upper]
    if upper:
        stack = _stacked(found, upper)
        shares = np.array([1.0 if n == 0 else 0.85 for n in range(len(upper))])[:, None, None]
        add("leap", (LEAP_PRICE[np.minimum(abs(stack.steps), 8)] * shares).sum(axis=0))
        add("awkward", (falling_sixth(stack) | chromatic(stack) | diminished(stack)).sum(axis=0))
    _stillness(found, upper, joint, len(b.shape.upper), add)
    if not joint.same_bass:
        _together(found, upper, b, add)
    if len(names) > 1:
        low, high = _pairs(_stacked(found, names), len(names))
        add("crossing", overlap(low, high).sum(axis=0))
        add("false-relation", false_relation(low, high).sum(axis=0))
        hidden = direct_fifth(low, high) | direct_octave(low, high)
        share = np.full(len(hidden), 0.3)
        if names[-1] == b.shape.voice:
            # Of the pairs in order that of the highest with the lowest is the last with the highest.
            share[len(names) - 2] = 1.0
        add("direct", (hidden * share[:, None, None]).sum(axis=0))
    if joint.main is not None and b.shape.voice in found:
        covered = Move(joint.main.diatonic, joint.main.midi, b.shape.bass.diatonic, b.shape.bass.midi)
        for voice in upper:
            if voice != b.shape.voice:
                add(
                    "covered",
                    (parallel_fifths(covered, found[voice]) | parallel_octaves(covered, found[voice])) * 1.0,
                )
    if b.shape.closing and upper:
        add("close", (abs(found[upper[0]].steps) > 1) * 0.8)
    return parts


def _stillness(found: dict[str, Move], upper: list[str], joint: Joint, count: int, add: Any) -> None:
    """Repeated notes: each voice a little while the bass moves; all together more."""
    if not upper:
        return
    still = [found[v].moves == False for v in upper]  # noqa: E712
    everyone = still[0]
    for s in still[1:]:
        everyone = everyone & s
    if joint.same_bass:
        if joint.short:
            add("restless", sum((~s) * 1.0 for s in still))
            return
        # Over a held note something may move; in two and three voices something should.
        add("stillness", everyone * (0.9 if count < 3 else 0.35))
        if count > 1:
            moving = sum((~s) * 1.0 for s in still)
            add("stillness", np.maximum(moving - 1, 0) * 0.5)
        return
    if count == 1:
        add("stillness", still[0] * 1.0)
    else:
        add("stillness", everyone * 1.2)
        add("stillness", still[0] * 0.25)


def _together(found: dict[str, Move], upper: list[str], b: Voicings, add: Any) -> None:
    """Outer voices the same way, all voices the same way, chains of parallel thirds and sixths."""
    if not upper or b.shape.voice not in found or b.shape.voice == upper[0]:
        return
    bass, top = found[b.shape.voice], found[upper[0]]
    if bass.semitones == 0:
        return
    same = top.semitones * bass.semitones > 0
    add("similar", same * 1.0)
    if len(upper) > 1:
        all_same = same
        for voice in upper[1:]:
            all_same = all_same & (found[voice].semitones * bass.semitones > 0)
        add("similar", all_same * 2.0)
    for voice in upper:
        move = found[voice]
        kept = ((move.d0 - bass.d0) == (move.d1 - bass.d1)) & move.moves
        add("parallel", kept * 1.0)


def _context(a: Voicings, b: Voicings, weights: Weights) -> tuple[Array, Array]:
    """For each pair and each context before: the context after and the price of the melodic turn."""
    found = moves(a, b)
    tracked = tracked_voices(b.shape.upper)
    before = tracked_voices(a.shape.upper)
    shape = (len(a), len(b), contexts(len(a.shape.upper)))
    after_code = np.zeros(shape, dtype=np.int64)
    price = np.zeros(shape)
    codes = np.arange(shape[2])
    for place, voice in enumerate(tracked):
        came = np.zeros(shape[2], dtype=np.int64)
        if voice in before:
            came = codes // KINDS ** (len(before) - 1 - before.index(voice)) % KINDS
        if voice not in found:
            continue
        steps = np.broadcast_to(found[voice].steps, shape[:2])[:, :, None]
        size = np.broadcast_to(found[voice].semitones, shape[:2])[:, :, None]
        now = np.select(
            [steps == 0, steps > 2, steps < -2, steps == 2, steps == -2],
            [HELD, LEAPT_UP, LEAPT_DOWN, SKIPPED_UP, SKIPPED_DOWN],
            NEUTRAL,
        )
        # A leap is remembered while its note is held.
        now = np.where((now == HELD) & (came >= SKIPPED_UP), came, now)
        on = ((came == LEAPT_UP) & (steps > 0)) | ((came == LEAPT_DOWN) & (steps < 0))
        twice = ((came == SKIPPED_UP) & (steps > 1)) | ((came == SKIPPED_DOWN) & (steps < -1))
        price += weights["recovery"] * on * np.where(abs(steps) > 1, 1.0, 0.35)
        price += weights["recovery"] * twice * np.where(abs(steps) > 2, 0.8, 0.15)
        price += weights["stillness"] * ((came == HELD) & (size == 0)) * 0.8
        after_code += now * KINDS ** (len(tracked) - 1 - place)
    return after_code, price


def tracked_voices(upper: tuple[str, ...]) -> tuple[str, ...]:
    """The voices whose melody is remembered from one sonority to the next."""
    return upper[:2] if len(upper) == 2 else upper[:1]


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
        states = np.arange(n * wide_a)
        return _sorted(states, np.zeros(n * wide_a), states, n * wide_a)
    bad = np.zeros((n, m))
    for _, mask in broken(a, b, joint):
        bad += mask
    soft = sum(_soft(a, b, joint, weights).values(), np.zeros((n, m))) + b.cost[None, :]
    if joint.loose:
        soft = soft + bad * BROKEN
        legal = np.ones((n, m), dtype=bool)
    else:
        legal = bad == 0
    after, price = _context(a, b, weights)
    rows, cols = np.nonzero(legal)
    source = rows[:, None] * wide_a + np.arange(wide_a)[None, :]
    target = cols[:, None] * wide_b + after[rows, cols, :]
    cost = soft[rows, cols][:, None] + price[rows, cols, :]
    return _sorted(source.ravel(), cost.ravel(), target.ravel(), m * wide_b)


def _sorted(source: Array, cost: Array, target: Array, width: int) -> Arcs:
    order = np.argsort(target, kind="stable")
    target = target[order]
    starts = np.flatnonzero(np.diff(target, prepend=-1))
    return Arcs(source[order], cost[order], target, starts, target[starts], width)


def _picked(v: Voicings, row: int) -> Voicings:
    """One voicing alone."""
    one = slice(row, row + 1)
    return Voicings(v.shape, v.d[one], v.m[one], v.role[one], v.number[one], {}, v.cost[one])


def named_costs(
    a: Voicings, b: Voicings, row_a: int, row_b: int, joint: Joint, weights: Weights
) -> dict[str, float]:
    """The named costs of one pair of voicings, for the report."""
    if joint.silent or joint.hold:
        return {}
    parts = _soft(_picked(a, row_a), _picked(b, row_b), joint, weights)
    return {name: float(value[0, 0]) for name, value in parts.items() if value[0, 0]}


def context_price(
    a: Voicings, b: Voicings, row_a: int, row_b: int, context: int, weights: Weights
) -> tuple[int, float]:
    """Context after one pair from a context before, and its price."""
    after, price = _context(_picked(a, row_a), _picked(b, row_b), weights)
    return int(after[0, 0, context]), float(price[0, 0, context])
