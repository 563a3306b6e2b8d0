"""The rules as tables: what a search or a check that judges thousands of steps looks up.

A pitch is coded as one whole number, so that the difference of two codes tells an interval in full (staff
steps and semitones). Each table is filled by putting the predicates to every value of the features that they
depend on; a rule's verdicts are one bit of the entries.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import Any

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import (
    FEATURES,
    VOICES,
    Array,
    Intervals,
    Of,
    When,
)
from builder.counterpoint.rules.melody import chromatic
from builder.counterpoint.rules.motion import perfect
from builder.counterpoint.rules.obligations import entered, left
from builder.counterpoint.rules.rule import ERROR, WARNING, Move, Rule
from builder.counterpoint.rules.rulebook import asked

_WIDTH, _WIDEST = 256, 63
PRIME = _WIDEST * _WIDTH + _WIDTH // 2
"""Code of the interval from a note to itself."""


def pitch_code(d: Any, m: Any) -> Array:
    """Codes of pitches, from staff steps above C0 and MIDI numbers."""
    found: Array = np.asarray(d, dtype=np.int64) * _WIDTH + m
    return found


def interval(low: Array, high: Array) -> Array:
    """Codes of the intervals from pitches to others (both as codes).

    >>> int(look(STEPS, interval(pitch_code(28, 60), pitch_code(32, 67))))
    4
    """
    found: Array = high - low + PRIME
    return found


def look(table: Array, codes: Array) -> Array:
    """Entries of a table; an interval wider than any keyboard counts as the widest there is."""
    found: Array = table.take(codes, mode="clip")
    return found


_ALL = np.arange(2 * PRIME + 1) - PRIME
_STEPS = (_ALL + _WIDTH // 2) // _WIDTH
_SEMITONES = _ALL - _STEPS * _WIDTH
INTERVALS = Intervals(_STEPS, _SEMITONES)
"""Every interval, in the order of the codes: what predicates are put to."""
STEPS: Array = _STEPS.astype(np.int8)
"""By interval: staff steps, negative when it falls."""
WAY: Array = np.sign(_SEMITONES).astype(np.int8)
"""By interval: 1 up, -1 down, 0 on the same key."""
LEAPS: Array = (abs(_STEPS) > 1).astype(np.int8)
"""By interval: 1 for a leap."""
TRITONE: Array = _SEMITONES % 12 == 6
"""By interval: whether it is an augmented fourth or a diminished fifth, compound ones too."""
CHROMATIC: Array = np.asarray(chromatic(INTERVALS))
"""By interval: whether a move by it is a chromatic step."""
PERFECT: Array = np.asarray(perfect(INTERVALS), dtype=np.int8)
"""By interval between two voices: the perfect interval it is."""

_SIZES = np.array(((0, 0), (1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)))
HARSH: Array = (_SEMITONES[:, None] % 12 != _SIZES[_STEPS % 7]).all(axis=1)
"""By interval between two tones: augmented or diminished, the tritone excepted."""

STEP_RULES = asked(When.STEP, *VOICES)
"""Rules on two voices from one sonority to the next."""
MELODY = asked(When.STEP, Of.MELODY)
TURNS = asked(When.STEP, Of.TURN)
OBLIGATIONS = ("suspension-unprepared", "suspension-unresolved", "dissonance", "leading-note")
"""Rules that tell when a tone of a figure does not come from where it must, or not go where it must."""
NAMES = (*(r.id for r in (*STEP_RULES, *MELODY)), *OBLIGATIONS)
"""Rules on steps, in the order of their bits."""
Bits = np.uint32
if len(NAMES) > np.iinfo(Bits).bits:
    raise TypeError(f"the tables have room for {np.iinfo(Bits).bits} rules on steps")
BIT = {name: Bits(1 << n) for n, name in enumerate(NAMES)}


def bits(names: Iterable[str]) -> np.uint32:
    """The bits of some rules together; rules on anything but steps have none."""
    found = Bits(0)
    for name in names:
        found |= BIT.get(name, Bits(0))
    return found


def named(found: int) -> tuple[str, ...]:
    """The rules of some bits.

    >>> named(int(bits(["direct-fifth", "parallel-fifths"])))
    ('parallel-fifths', 'direct-fifth')
    """
    return tuple(name for name, bit in BIT.items() if found & int(bit))


ASKED_OF = {of: bits(r.id for r in STEP_RULES if r.of is of) for of in VOICES}
"""By context: the rules on steps that are asked of such pairs of voices only."""
HARD = {
    n: bits(r.id for r in (*STEP_RULES, *MELODY) if r.severity[n] == ERROR) | bits(OBLIGATIONS)
    for n in range(1, 7)
}
"""By number of voices: the rules that bind."""
WITH_LOWEST = {
    n: bits(r.id for r in STEP_RULES if r.lowest and r.lowest[n] == ERROR) & ~HARD[n] for n in range(1, 7)
}
"""By number of voices: the rules that bind only pairs with the lowest voice."""
COSTED = {
    cost: bits(r.id for r in (*STEP_RULES, *MELODY) if r.cost == cost)
    for cost in dict.fromkeys(r.cost for r in (*STEP_RULES, *MELODY) if r.cost)
}
"""By named cost of the search: the rules on steps that it counts."""
WARNED = {
    n: bits(r.id for r in (*STEP_RULES, *MELODY) if not r.cost and r.severity[n] == WARNING)
    for n in range(1, 7)
}
"""By number of voices: the rules on steps that only warn, and that no named cost counts."""


def _bits_of(met: Iterable[tuple[str, Any]], size: int) -> Array:
    found = np.zeros(size, dtype=Bits)
    for name, broken in met:
        found |= np.where(broken, BIT[name], Bits(0))
    return found


def _on(rules: Sequence[Rule], *features: str) -> Iterator[Rule]:
    """Rules that depend on some of these features, and nothing else."""
    return (r for r in rules if set(r.features) <= set(features))


def _pick(rule: Rule, values: dict[str, Any]) -> dict[str, Any]:
    return {name: values[name] for name in rule.features}


MELODY_BITS: Array = _bits_of(((r.id, r.predicate(move=INTERVALS)) for r in MELODY), len(_ALL))
"""By interval: the rules of melody that a move by it breaks."""

_CLASS = ("before", "after", "motion", "leaps")
_PLACES = dict(zip(_CLASS, np.array(list(product(*(FEATURES[name] or () for name in _CLASS)))).T))


def motion_class(before: Any, after: Any, way: Any, leaps: Any) -> Any:
    """Place in `MOTION_BITS`: perfect intervals before and after, the product of the ways that the two voices
    go, and whether the higher leaps."""
    return before * 24 + after * 6 + way * 2 + leaps + 2


MOTION_BITS: Array = _bits_of(
    ((r.id, r.predicate(**_pick(r, _PLACES))) for r in _on(STEP_RULES, *_CLASS)), len(_PLACES["before"])
)
"""By class of a pair of moves: the rules on two voices that it breaks."""

_ACROSS = [
    _bits_of(
        (
            (r.id, r.predicate(**_pick(r, {"across": INTERVALS, "chromatic": own})))
            for r in _on(STEP_RULES, "across", "chromatic")
        ),
        len(_ALL),
    )
    for own in (0, 1)
]
ACROSS_RULES = bits(r.id for r in _on(STEP_RULES, "across", "chromatic"))
ACROSS_BITS: Array = np.concatenate(_ACROSS)
"""By interval from where one voice was to where the other goes, the lower voice's note first: the rules that
it breaks; then the same again for pairs of which a voice makes a chromatic step itself."""


def across(before: Array, after: Array, low: Any, high: Any, moves: Array) -> Array:
    """Rules that pairs of voices break on either diagonal; codes before and after, voices first, and the
    intervals by which the voices move."""
    own = look(CHROMATIC, moves)
    again = (own[low] | own[high]) * len(_ALL)
    up, down = interval(before[low], after[high]), interval(after[low], before[high])
    found: Array = ACROSS_BITS.take(up + again, mode="clip") | ACROSS_BITS.take(down + again, mode="clip")
    return found


def _turns_from() -> Array:
    """Whether two moves in a row may break a rule, by the first of them."""
    small = np.arange(-9, 10)
    sizes = [(d, m) for d in small.tolist() for m in range(12 * d // 7 - 3, 12 * d // 7 + 5)]
    steps, semitones = np.array(list(product(sizes, repeat=2))).transpose(2, 1, 0)
    two = {"first": Intervals(steps[0], semitones[0]), "second": Intervals(steps[1], semitones[1])}
    hit = np.any([np.asarray(rule.predicate(**_pick(rule, two))) for rule in TURNS], axis=0)
    found = np.ones(len(_ALL), dtype=bool)
    codes = pitch_code(steps[0], semitones[0]) + PRIME
    found[codes] = False
    found[codes[hit]] = True
    return found


TURNS_FROM: Array = _turns_from()
"""By interval: whether two moves in a row that begin with it may break a rule."""

_CLASSES = ((0, 0), (0, 1), (1, 1), (1, 2), (-1, -2), (2, 3))
STEP_CLASS: Array = np.select(
    [
        (_STEPS == 0) & (_SEMITONES == 0),
        _STEPS == 0,
        (_STEPS == 1) & (_SEMITONES == 1),
        _STEPS == 1,
        _STEPS == -1,
    ],
    range(5),
    5,
).astype(np.int16)
"""By interval: held, chromatic, a semitone up, another step up, a step down, anything wider."""


def obligation_place(role: Any, then: Any, same_bass: Any, step: Any) -> Any:
    """Place in `OBLIGATION_BITS`: roles of the two tones, whether the given note stays, class of the step."""
    return ((role * len(Role) + then) * 2 + same_bass) * len(_CLASSES) + step


def _obligations() -> Array:
    count = len(Role), len(Role), 2, len(_CLASSES)
    role, then, same, step = (x.ravel() for x in np.indices(count))
    steps, semitones = np.array(_CLASSES)[step].T
    move = Move(28, 60, 28 + steps, 60 + semitones)
    met = (*left(role, move, then, same == 1), *entered(then, move))
    return _bits_of(met, len(role))


OBLIGATION_BITS: Array = _obligations()
"""By roles and step: the obligations that a tone, and the one it goes to, do not meet."""
