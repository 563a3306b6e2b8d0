"""What the rules say of moves, looked up instead of worked out anew for every pair of voicings.

A pitch is coded as one whole number, so that the difference of two codes tells an interval in full (staff
steps and semitones). The tables are filled by putting the rules' own predicates to all intervals, or to moves
of every class that the predicates tell apart (`verdicts` proves on far more moves that the class settles it).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.melody import MELODY_RULES, chromatic
from builder.counterpoint.rules.motion import (
    MOTION_RULES,
    false_relation,
    is_fifth,
    is_octave,
    is_unison,
    overlap,
)
from builder.counterpoint.rules.obligations import entered, left
from builder.counterpoint.rules.rule import ERROR, Move, Tone

Array = np.ndarray[Any, np.dtype[Any]]

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
MOVES = Move(np.int64(28), np.int64(60), _STEPS + 28, _SEMITONES + 60)
"""A move by every interval, in the order of the codes: what predicates are put to."""
STEPS: Array = _STEPS.astype(np.int8)
"""By interval: staff steps, negative when it falls."""
WAY: Array = np.sign(_SEMITONES).astype(np.int8)
"""By interval: 1 up, -1 down, 0 on the same key."""
LEAPS: Array = (abs(_STEPS) > 1).astype(np.int8)
"""By interval: 1 for a leap."""
CHROMATIC: Array = np.asarray(chromatic(MOVES))
"""By interval: whether a move by it is a chromatic step."""

_SIZES = np.array(((0, 0), (1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)))
HARSH: Array = (_SEMITONES[:, None] % 12 != _SIZES[_STEPS % 7]).all(axis=1)
"""By interval between two tones: augmented or diminished, the tritone excepted."""

PAIR = tuple(r for r in MOTION_RULES if r.kind == "motion" and ERROR in r.severity.values())
MELODY = tuple(r for r in MELODY_RULES if r.kind == "melody" and ERROR in r.severity.values())
DUTIES = ("suspension-unprepared", "suspension-unresolved", "dissonance", "leading-note")
NAMES = (*(r.id for r in (*PAIR, *MELODY)), *DUTIES)
"""Rules that forbid a step, in the order of their bits."""
BIT = {name: np.uint32(1 << n) for n, name in enumerate(NAMES)}


def bits(names: Iterable[str]) -> np.uint32:
    """The bits of some rules together; rules that forbid no step have none."""
    found = np.uint32(0)
    for name in names:
        found |= BIT.get(name, np.uint32(0))
    return found


DIRECT = bits(("direct-fifth", "direct-octave"))
HARD = {n: bits(r.id for r in (*PAIR, *MELODY) if r.severity[n] == ERROR) | bits(DUTIES) for n in range(1, 7)}
"""By number of voices: the rules that bind."""
WITH_LOWEST = {
    n: bits(r.id for r in PAIR if r.lowest and r.lowest[n] == ERROR) & ~HARD[n] for n in range(1, 7)
}
"""By number of voices: the rules that bind only pairs with the lowest voice."""


def _bits_of(met: Iterable[tuple[str, Any]], size: int) -> Array:
    found = np.zeros(size, dtype=np.uint32)
    for name, broken in met:
        found |= np.where(broken, BIT[name], np.uint32(0))
    return found


MELODY_BITS: Array = _bits_of(((r.id, r.predicate(MOVES)) for r in MELODY if r.predicate), len(_ALL))
"""By interval: the rules of melody that a move by it breaks."""


def perfect(low: Tone, high: Tone) -> Any:
    """1 for a fifth, 2 for an octave (compound ones too), 3 for a unison, 0 for the rest."""
    return is_fifth(low, high) * 1 + is_octave(low, high) * 2 + is_unison(low, high) * 3


PERFECT: Array = np.asarray(perfect(Tone(MOVES.d0, MOVES.m0), Tone(MOVES.d1, MOVES.m1)), dtype=np.int8)
"""By interval between two voices: as `perfect`."""


def motion_class(before: Any, after: Any, way: Any, leaps: Any) -> Any:
    """Place in `MOTION_BITS`: perfect intervals before and after, the product of the ways that the two voices
    go, and whether the higher leaps."""
    return before * 24 + after * 6 + way * 2 + leaps + 2


def class_of(low: Move, high: Move) -> Any:
    """The class of a pair of moves."""
    before = perfect(Tone(low.d0, low.m0), Tone(high.d0, high.m0))
    after = perfect(Tone(low.d1, low.m1), Tone(high.d1, high.m1))
    way = np.sign(low.semitones) * np.sign(high.semitones)
    return motion_class(before, after, way, (abs(high.steps) > 1) * 1)


def pairs_of_moves(
    intervals: Iterable[tuple[int, int]], moves: Iterable[tuple[int, int]]
) -> tuple[Move, Move]:
    """Every pair of moves between two voices (staff steps and semitones) from every interval, as arrays."""
    between, steps = np.array(list(intervals)), np.array(list(moves))
    i, a, b = (x.ravel() for x in np.indices((len(between), len(steps), len(steps))))
    (d, m), (ld, lm), (hd, hm) = between[i].T, steps[a].T, steps[b].T
    low, high = (np.full(len(i), 28), np.full(len(i), 60)), (28 + d, 60 + m)
    return Move(*low, low[0] + ld, low[1] + lm), Move(*high, high[0] + hd, high[1] + hm)


def _motion() -> Array:
    sizes = (0, 2, 4, 5, 7, 9, 11, 12, 14)
    low, high = pairs_of_moves(
        ((-7, -12), (0, 0), (2, 4), (4, 7), (7, 12), (11, 19)),
        {(s * d, s * (m - less)) for d, m in enumerate(sizes) for s in (1, -1) for less in (0, 1)},
    )
    place = class_of(low, high)
    found = np.zeros(96, dtype=np.uint32)
    for rule in PAIR:
        assert rule.predicate
        found[place[rule.predicate(low, high)]] |= BIT[rule.id]
    return found


MOTION_BITS: Array = _motion()
"""By class of a pair of moves: the rules on two voices that it breaks."""

_CLASSES = ((0, 0), (0, 1), (1, 1), (1, 2), (-1, -2), (2, 3))
_GOES = Move(28, 60, *(np.array(x) + y for x, y in zip(zip(*_CLASSES), (28, 60))))
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


def duty_place(role: Any, then: Any, same_bass: Any, step: Any) -> Any:
    """Place in `DUTY_BITS`: roles of the two tones, whether the given note stays, class of the step."""
    return ((role * len(Role) + then) * 2 + same_bass) * len(_CLASSES) + step


def _duties() -> Array:
    count = len(Role), len(Role), 2, len(_CLASSES)
    role, then, same, step = (x.ravel() for x in np.indices(count))
    move = Move(28, 60, _GOES.d1[step], _GOES.m1[step])
    met = (*left(role, move, then, same == 1), *entered(then, move))
    return _bits_of(met, len(role))


DUTY_BITS: Array = _duties()
"""By roles and step: the duties that a tone, and the one it goes to, do not meet."""


OVERLAP, FALSE_RELATION = 1, 2


def _cross() -> Array:
    still = Move(28, 60, 28, 60)
    # The upper voice comes from afar, so that only the one diagonal speaks.
    comes = Move(np.int64(128), np.int64(260), MOVES.d1, MOVES.m1)
    return np.asarray(
        overlap(still, comes) * OVERLAP + false_relation(still, comes) * FALSE_RELATION, dtype=np.int8
    )


CROSS: Array = _cross()
"""By interval from where one voice was to where the other goes, the lower voice's note first: overlap, false
relation (unless one of the voices makes a chromatic step itself), or both."""
