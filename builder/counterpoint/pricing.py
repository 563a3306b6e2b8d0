"""What steps from sonority to sonority cost, by name."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from builder.counterpoint.costs import LEAP_PRICE, Parts, Weights
from builder.counterpoint.melody import chromatic, diminished, falling_sixth
from builder.counterpoint.motion import (
    direct_fifth,
    direct_octave,
    false_relation,
    overlap,
    parallel_fifths,
    parallel_octaves,
)
from builder.counterpoint.rule import Move
from builder.counterpoint.steps import Joint, Steps
from builder.counterpoint.voicing import Array

NEUTRAL, HELD, SKIPPED_UP, SKIPPED_DOWN, LEAPT_UP, LEAPT_DOWN = range(6)
KINDS = 6
"""How a voice came to its note: by step or anew, by keeping it, by a third or a wider leap up or down."""


def contexts(upper: int) -> int:
    """Number of melodic contexts kept with each voicing: of both voices when there are two above the
    line, of the highest otherwise."""
    return 1 if upper == 0 else KINDS * KINDS if upper == 2 else KINDS


def tracked_voices(upper: tuple[str, ...]) -> tuple[str, ...]:
    """The voices whose melody is remembered from one sonority to the next."""
    return upper[:2] if len(upper) == 2 else upper[:1]


def named(steps: Steps, joint: Joint, weights: Weights) -> Parts:
    """Named costs of each of some steps (along one axis), already weighted."""
    parts: Parts = {}

    def add(name: str, value: Any) -> None:
        cost = value * weights[name]
        parts[name] = parts[name] + cost if name in parts else cost

    upper = steps.upper
    if upper:
        stack = steps.of(upper)
        shares = np.array([1.0 if n == 0 else 0.85 for n in range(len(upper))])[:, None]
        add("leap", (LEAP_PRICE[np.minimum(abs(stack.steps), 8)] * shares).sum(axis=0))
        add("awkward", (falling_sixth(stack) | chromatic(stack) | diminished(stack)).sum(axis=0))
    _stillness(steps, joint, add)
    if not joint.same_bass:
        _together(steps, add)
    if len(steps.names) > 1:
        low, high = steps.pairs
        add("crossing", overlap(low, high).sum(axis=0))
        add("false-relation", false_relation(low, high).sum(axis=0))
        hidden = direct_fifth(low, high) | direct_octave(low, high)
        share = np.full(len(hidden), 0.3)
        if steps.names[-1] == steps.bass:
            # Of the pairs in order that of the highest with the lowest is the last with the highest.
            share[len(steps.names) - 2] = 1.0
        add("direct", (hidden * share[:, None]).sum(axis=0))
    if joint.main is not None and steps.bass in steps:
        bass = steps.after.bass
        covered = Move(joint.main.diatonic, joint.main.midi, bass.diatonic, bass.midi)
        for voice in upper:
            twice = parallel_fifths(covered, steps[voice]) | parallel_octaves(covered, steps[voice])
            add("covered", twice * 1.0)
    if steps.after.closing and upper:
        add("close", (abs(steps[upper[0]].steps) > 1) * 0.8)
    return parts


def _stillness(steps: Steps, joint: Joint, add: Any) -> None:
    """Repeated notes: each voice a little while the bass moves; all together more."""
    if not steps.upper:
        return
    count = len(steps.after.upper)
    still = [steps[v].moves == False for v in steps.upper]  # noqa: E712
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


def _together(steps: Steps, add: Any) -> None:
    """Outer voices the same way, all voices the same way, chains of parallel thirds and sixths."""
    upper = steps.upper
    if not upper or steps.bass not in steps or steps.bass == upper[0]:
        return
    bass, top = steps[steps.bass], steps[upper[0]]
    same = top.semitones * bass.semitones > 0
    add("similar", same * 1.0)
    if len(upper) > 1:
        all_same = same
        for voice in upper[1:]:
            all_same = all_same & (steps[voice].semitones * bass.semitones > 0)
        add("similar", all_same * 2.0)
    for voice in upper:
        move = steps[voice]
        kept = ((move.d0 - bass.d0) == (move.d1 - bass.d1)) & move.moves & (bass.semitones != 0)
        add("parallel", kept * 1.0)


def melodic(steps: Steps, weights: Weights) -> tuple[Array, Array]:
    """Steps x contexts before: the context after and the price of the melodic turn."""
    tracked = tracked_voices(steps.after.upper)
    before = tracked_voices(steps.before.upper)
    count = steps.stack.d1.shape[1]
    wide = contexts(len(steps.before.upper))
    after_code = np.zeros((count, wide), dtype=np.int64)
    price = np.zeros((count, wide))
    for place, voice in enumerate(tracked):
        if voice not in steps:
            continue
        # A turn depends on little: how the voice came, how far it goes (a third, more), whether it moves.
        digit = len(before) - 1 - before.index(voice) if voice in before else None
        kinds, prices = _turns(wide, digit, weights)
        move = steps[voice]
        row = np.clip(move.steps, -3, 3) + 3 + 7 * (move.semitones == 0)
        price += prices[row]
        after_code += kinds[row] * KINDS ** (len(tracked) - 1 - place)
    return after_code, price


@lru_cache(maxsize=256)
def _turns(wide: int, digit: int | None, weights: Weights) -> tuple[Array, Array]:
    """For each size of step (-3 to 3 staff steps; then the same again where the key stays) and each context
    (how the voice came stands at a digit of it, if it is known): how it has come now, and the price."""
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
    return now, price


Sung = dict[str, tuple[int, int]]
"""Staff step and MIDI number of each voice that sounds, the given line's among them."""


def along(
    sung: Sequence[Sung], taken: Sequence[tuple[Any, Any, Joint, int]], weights: Weights
) -> list[dict[str, float]]:
    """Named costs of each step of a path: `sung` at each event; `taken` for each event but the first the
    shapes before and after, what joins them, and the melodic context before. Steps of one kind are priced
    together."""
    kinds: dict[Any, list[int]] = {}
    for n, (a, b, joint, _) in enumerate(taken):
        if not joint.silent and not joint.hold:
            over = (joint.main, b.bass) if joint.main else None
            key = a.upper, a.voice, b.upper, b.voice, b.closing, joint.same_bass, joint.short, over
            kinds.setdefault(key, []).append(n)
    found: list[dict[str, float]] = [{} for _ in taken]
    for places in kinds.values():
        a, b, joint, _ = taken[places[0]]
        steps = Steps.along(a, b, [(sung[n], sung[n + 1]) for n in places])
        _, turns = melodic(steps, weights)
        turned = turns[np.arange(len(places)), [taken[n][3] for n in places]]
        for name, costs in (*named(steps, joint, weights).items(), ("recovery", turned)):
            for n, cost in zip(places, costs.tolist()):
                if cost:
                    found[n][name] = cost
    return found
