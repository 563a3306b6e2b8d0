"""The rules on two voices put to a score: together, from each sonority to the next, from beat to beat."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from builder.counterpoint.check.hit import Hit, ends, note_at, pitch_at
from builder.counterpoint.rules.context import VOICES, Array, Intervals, Of, When, Where
from builder.counterpoint.rules.rule import Rule
from builder.counterpoint.rules.rulebook import RULES, asked
from builder.counterpoint.rules.slices import Grid, natural
from builder.counterpoint.rules.tables import (
    LEAPS,
    MOTION_BITS,
    PERFECT,
    WAY,
    across,
    interval,
    look,
    motion_class,
    named,
    pitch_code,
)
from builder.language.texts import Phrase
from builder.music import Pitch, Tuning
from builder.music.temperament import TUNINGS

_TOGETHER = asked(When.ONSET, *VOICES)
_FROM_BEAT_TO_BEAT = asked(When.BEAT, *VOICES)


def motion(grid: Grid) -> Iterator[Hit]:
    """Rules on two voices from one sonority to the next."""
    low, high = grid.pairs
    if not len(low) or len(grid.ticks) < 2:
        return
    both = grid.joined[low] & grid.joined[high] & (grid.struck[low] | grid.struck[high])[:, 1:]
    codes = pitch_code(grid.d, grid.m)
    before, after = codes[:, :-1], codes[:, 1:]
    moves = interval(before, after)
    perfect, ways, leaps = (
        look(PERFECT, interval(codes[low], codes[high])),
        look(WAY, moves),
        look(LEAPS, moves),
    )
    place = motion_class(perfect[:, :-1], perfect[:, 1:], ways[low] * ways[high], leaps[high])
    met = np.where(both, MOTION_BITS.take(place) | across(before, after, low, high, moves), 0)
    asked_of: dict[Of, Array] = {}
    for pair, column in np.argwhere(met).tolist():
        for rule in _named(int(met[pair, column])):
            if rule.of not in asked_of:
                asked_of[rule.of] = _is(grid, rule.of)
            if all(asked_of[rule.of][pair, c] for c in _where_asked(rule, column)):
                yield _step(grid, rule, int(low[pair]), int(high[pair]), column, column + 1)


@lru_cache(maxsize=1024)
def _named(found: int) -> tuple[Rule, ...]:
    return tuple(RULES[name] for name in named(found))


def _where_asked(rule: Rule, column: int) -> tuple[int, ...]:
    """Onsets at which two voices that move must be those that the rule is asked of."""
    return (column, column + 1) if rule.of is Of.OUTER else (column + 1,)


def from_beat_to_beat(grid: Grid) -> Iterator[Hit]:
    """Rules on two voices from one beat to the next, where something sounds between them."""
    low, high = grid.pairs
    columns = np.flatnonzero(grid.weight > 0)
    if not _FROM_BEAT_TO_BEAT or not len(low) or len(columns) < 2:
        return
    first, then = columns[:-1], columns[1:]
    codes = pitch_code(grid.d, grid.m)
    before, after = codes[:, first], codes[:, then]
    ways, leaps = look(WAY, interval(before, after)), look(LEAPS, interval(before, after))
    moved = grid.sounds[:, first] & grid.sounds[:, then] & (ways != 0)
    struck = np.cumsum(grid.struck, axis=1)
    between = struck[:, then - 1] > struck[:, first]
    both = moved[low] & moved[high] & (between[low] | between[high])
    known = {
        "before": look(PERFECT, interval(before[low], before[high])),
        "after": look(PERFECT, interval(after[low], after[high])),
        "motion": ways[low] * ways[high],
        "leaps": leaps[high],
    }
    for rule in _FROM_BEAT_TO_BEAT:
        met = both & rule.predicate(**{name: known[name] for name in rule.features})
        met &= _is(grid, rule.of)[:, then]
        for pair, n in np.argwhere(met).tolist():
            yield _step(grid, rule, int(low[pair]), int(high[pair]), int(first[n]), int(then[n]))


def _step(grid: Grid, rule: Rule, low: int, high: int, first: int, then: int) -> Hit:
    """A rule met by two voices between two onsets."""
    voices = grid.voices[high], grid.voices[low]
    before, after = ((pitch_at(grid, low, c), pitch_at(grid, high, c)) for c in (first, then))
    detail = Phrase.of(rule.says or "steps", high=voices[0], low=voices[1], before=before, after=after)
    lowest = grid.lowest[first] == grid.lowest[then] and grid.lowest[first] in (low, high)
    return Hit(rule.id, grid.time(then), int(grid.count[then]), voices, detail, bool(lowest))


def together(grid: Grid, tuning: Tuning, keyboard: bool) -> Iterator[Hit]:
    """Rules on two voices at one moment, wherever one of them strikes; those of the instrument at a keyboard
    only."""
    low, high = grid.pairs
    if not len(low):
        return
    struck = grid.struck[low] | grid.struck[high]
    both = grid.sounds[low] & grid.sounds[high] & struck
    known = _Known(grid, tuning)
    for rule in _TOGETHER:
        if rule.of_instrument and not keyboard:
            continue
        met = both & rule.predicate(**{name: known[name] for name in rule.features})
        if not met.any():
            continue
        met &= _is(grid, rule.of) & (grid.count >= rule.least)[None, :]
        for where in rule.where:
            met &= _PLACES[where](grid)
        for pair, column in np.argwhere(met).tolist():
            a, b = int(low[pair]), int(high[pair])
            detail = _detail(rule, note_at(grid, b, column), note_at(grid, a, column), tuning)
            voices = grid.voices[b], grid.voices[a]
            yield Hit(rule.id, grid.time(column), int(grid.count[column]), voices, detail)


def pair_rules(*, raised: bool, wolf: bool) -> tuple[Rule, ...]:
    """The rules on two notes together that they meet by signature and tuning.

    >>> [r.id for r in pair_rules(raised=False, wolf=True)]
    ['wolf']
    """
    rules = (r for r in _TOGETHER if {"raised", "wolf"} >= {*r.features})
    known = {"raised": raised, "wolf": wolf}
    return tuple(r for r in rules if r.predicate(**{name: known[name] for name in r.features}))


def _detail(rule: Rule, upper: tuple[str, Pitch], lower: tuple[str, Pitch], tuning: Tuning) -> Phrase:
    if rule.says == "wolf":
        return Phrase.of("wolf", upper=upper, lower=lower, tuning=tuning.name)
    if rule.says == "doubled":
        return Phrase.of("doubled", letter=lower[1].letter, voices=(upper[0], lower[0]))
    return Phrase.of(rule.says or "pair", upper=upper, lower=lower)


def _is(grid: Grid, of: Of) -> Array:
    """Pairs x onsets: whether two voices are what a rule is asked of."""
    low, high = grid.pairs
    if of is Of.OUTER:
        found: Array = (grid.lowest[None, :] == low[:, None]) & (grid.highest[None, :] == high[:, None])
        return found
    if of is Of.UPPER:
        over = (grid.lowest[None, :] != low[:, None]) & (grid.count > 2)[None, :]
        between: Array = grid.beside & over
        return between
    return grid.beside if of is Of.NEIGHBOURS else np.ones_like(grid.beside)


def _both_strike(grid: Grid) -> Array:
    low, high = grid.pairs
    found: Array = grid.struck[low] & grid.struck[high]
    return found


_PLACES: Mapping[Where, Callable[[Grid], Array]] = {
    Where.INSIDE: lambda grid: ~ends(grid)[None, :],
    Where.BEAT: lambda grid: (grid.weight > 0)[None, :],
    Where.STRUCK: _both_strike,
    Where.FIRM: lambda grid: _both_strike(grid) | (grid.weight >= 2)[None, :],
}


class _Known:
    """Features of two voices at one moment, pairs x onsets, each worked out when a rule asks for it."""

    def __init__(self, grid: Grid, tuning: Tuning) -> None:
        self.grid, self.tuning = grid, tuning
        self.found: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self.found:
            self.found[name] = getattr(self, f"_{name}")()
        return self.found[name]

    def _interval(self) -> Intervals:
        low, high = self.grid.pairs
        d, m = self.grid.d, self.grid.m
        return Intervals(d[high] - d[low], m[high] - m[low])

    def _raised(self) -> Array:
        """The same letter, raised in both voices against the signature."""
        grid, (low, high) = self.grid, self.grid.pairs
        signature = np.array([max(0, grid.score.signature.alter(step)) for step in range(7)])
        raised = grid.sounds & (grid.m - natural(grid.d) > signature[grid.d % 7])
        found: Array = raised[low] & raised[high] & (grid.d[low] % 7 == grid.d[high] % 7)
        return found

    def _wolf(self) -> Array:
        grid, (low, high) = self.grid, self.grid.pairs
        found = np.zeros((len(low), len(grid.ticks)), dtype=bool)
        keys = self.tuning
        if keys.enharmonic:
            return found
        # Only notes far out on the line of fifths meet a wolf: the letter's place plus seven for each sharp.
        place = np.array((0, 2, 4, -1, 1, 3, 5))[grid.d % 7] + 7 * (grid.m - natural(grid.d))
        # Another order of keys (split ones, a changed note, a list of cents) is tried whole.
        far = ((place > 5) | (place < -2) | (keys.name not in TUNINGS)) & grid.sounds
        struck = grid.struck[low] | grid.struck[high]
        both = grid.sounds[low] & grid.sounds[high] & (far[low] | far[high]) & struck
        for pair, c in np.argwhere(both).tolist():
            one, other = pitch_at(grid, int(low[pair]), c), pitch_at(grid, int(high[pair]), c)
            found[pair, c] = _howls(self.tuning, *sorted((one, other), key=lambda p: p.midi))
        return found


@lru_cache(maxsize=20_000)
def _howls(tuning: Tuning, low: Pitch, high: Pitch) -> bool:
    return tuning.wolf(low, high, spelled=True)
