"""The rules on one voice, one note and all that sounds put to a score; and those on dissonance."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from builder.counterpoint.check.hit import Hit, ends, note_at, sounding
from builder.counterpoint.rules.context import Array, Intervals, Of, Tone, When, Where
from builder.counterpoint.rules.keyboard import hand_spans
from builder.counterpoint.rules.rule import Rule, Severity
from builder.counterpoint.rules.rulebook import asked, met
from builder.counterpoint.rules.slices import Grid
from builder.counterpoint.rules.tables import MELODY_BITS, TURNS_FROM, interval, look, pitch_code
from builder.counterpoint.rules.treatment import UNTREATED, Treatment, clashes
from builder.language.texts import Phrase
from builder.music import KEYBOARD, Pitch, Tuning
from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY

_SONORITY = asked(When.ONSET, Of.SONORITY)
_HAND = asked(When.ONSET, Of.HAND)


def sonority(grid: Grid) -> Iterator[Hit]:
    """Rules on all that sounds together."""
    if not len(grid.ticks):
        return
    columns = np.arange(len(grid.ticks))
    for rule in _SONORITY:
        known = {name: _over_the_lowest(grid, name) for name in rule.features}
        found = (grid.count >= rule.least) & rule.predicate(**known)
        if Where.INSIDE in rule.where:
            found &= ~ends(grid)
        if Where.BEAT in rule.where:
            found &= grid.weight > 0
        if Where.STRUCK in rule.where or Where.FIRM in rule.where:
            strong = (grid.weight >= 2) & (Where.FIRM in rule.where)
            found &= (grid.struck.sum(axis=0) > 1) | strong
        found &= grid.struck.any(axis=0)
        for column in columns[found].tolist():
            voices, pitches = sounding(grid, column)
            detail = Phrase.of(rule.says or "bare", pitches=pitches)
            yield Hit(rule.id, grid.time(column), len(voices), voices, detail)


def _over_the_lowest(grid: Grid, feature: str) -> Array:
    """What sounds over the lowest note of each onset, a bit for each staff step or each semitone."""
    columns = np.arange(len(grid.ticks))
    heights, size = (grid.d, 7) if feature == "numbers" else (grid.m, 12)
    above = (heights - heights[grid.lowest, columns][None, :]) % size
    found: Array = np.bitwise_or.reduce(np.where(grid.sounds, 1 << above, 0), axis=0)
    return found


def melody(grid: Grid) -> Iterator[Hit]:
    """Rules on one voice's melody: all voices one after another, with a break between."""
    line = grid.all_notes
    if len(line.notes) < 2:
        return
    codes = pitch_code(line.d, line.m)
    moves = interval(codes[:-1], codes[1:])
    joined = line.gap[1:] == line.gap[:-1]
    single = np.flatnonzero(joined & (look(MELODY_BITS, moves) != 0))
    double = np.flatnonzero(joined[:-1] & joined[1:] & look(TURNS_FROM, moves[:-1]))
    sizes = np.array((np.diff(line.d), np.diff(line.m)))
    alone, twice = sizes[:, single].T.tolist(), np.concatenate((sizes[:, double], sizes[:, double + 1])).T
    for count, starts, sung in ((2, single, alone), (3, double, twice.tolist())):
        for start, step in zip(starts.tolist(), sung):
            for rule in _sung(*step):
                yield _melody_hit(grid, rule, start, count)


@lru_cache(maxsize=20_000)
def _sung(steps: int, size: int, then_steps: int | None = None, then_size: int = 0) -> tuple[Rule, ...]:
    """The rules on melody that one move meets, or two after one another."""
    first = Intervals(steps, size)
    if then_steps is None:
        return met(When.STEP, Of.MELODY, move=first)
    return met(When.STEP, Of.TURN, first=first, second=Intervals(then_steps, then_size))


def _melody_hit(grid: Grid, rule: Rule, start: int, count: int) -> Hit:
    """A rule met from one of all the notes on, over so many of them."""
    line = grid.all_notes
    notes = line.notes[start : start + count]
    pitches = tuple(n.pitch for n in notes)
    column = int(grid.ticks.searchsorted(line.start[start + count - 1]))
    name = grid.voice_of(start)
    detail = Phrase.of(rule.says or "sung", voice=name, pitches=pitches)
    return Hit(rule.id, notes[-1].onset, int(grid.count[column]), (name,), detail)


_OF_MANNER = tuple(met(When.ONSET, Of.CLASH, manner=int(manner)) for manner in Treatment)
"""By treatment of a clash: the rules on it."""
_TOLD: Array = np.array([bool(rules) for rules in _OF_MANNER])


def dissonance(grid: Grid) -> Iterator[Hit]:
    """Every clash that is not in order, and those in order only in a looser manner."""
    found = clashes(grid)
    low, high = grid.pairs
    reported: set[tuple[int, int]] = set()
    columns, pairs = np.nonzero((found.clash & _TOLD[found.treatment]).T)
    for pair, c in zip(pairs.tolist(), columns.tolist()):
        a, b = int(low[pair]), int(high[pair])
        manner = Treatment(int(found.treatment[pair, c]))
        # One clash, one finding: a note that clashes with two others at once is told once.
        guilty = _guilty(grid, a, b, c)
        if (guilty, c) in reported:
            continue
        reported.add((guilty, c))
        lower, upper = note_at(grid, a, c), note_at(grid, b, c)
        detail = Phrase.of("clash", upper=upper, lower=lower, interval=(lower[1], upper[1]))
        if manner not in UNTREATED:
            detail = Phrase("clash-treated", (*detail.values, ("treatment", manner.name.lower())))
        for rule in _OF_MANNER[manner]:
            yield Hit(rule.id, grid.time(c), int(grid.count[c]), (upper[0], lower[0]), detail)


def _guilty(grid: Grid, low: int, high: int, column: int) -> int:
    """The voice that strikes, or the upper one."""
    if grid.struck[low, column] and not grid.struck[high, column]:
        return low
    return high


def notes(grid: Grid, tuning: Tuning) -> Iterator[Hit]:
    """Rules on one note: keyboard, compass and tuning."""
    for voice, line in zip(grid.voices, grid.lines):
        codes = pitch_code(line.d, line.m)
        # A voice has few different notes: each is judged once.
        for code, first in zip(*np.unique(codes, return_index=True)):
            pitch = line.notes[first].pitch
            assert pitch is not None
            for rule, detail in _faults(tuning, voice, pitch):
                for place in np.flatnonzero(codes == code):
                    yield Hit(rule, line.notes[place].onset, 1, (voice,), detail)


def note_rules(tuning: Tuning, voice: str, pitch: Pitch) -> tuple[Rule, ...]:
    """The rules on one note that a voice's pitch meets.

    >>> from builder.music import TUNINGS
    >>> [r.id for r in note_rules(TUNINGS["quarter-comma"], "tenor", Pitch.parse("D#5"))]
    ['compass', 'not-in-tuning']
    """
    low, high = _compass(voice)
    return met(
        When.ONSET,
        Of.NOTE,
        pitch=Tone(pitch.diatonic, pitch.midi),
        beyond=not low.diatonic <= pitch.diatonic <= high.diatonic,
        tuned=tuning.has(pitch),
    )


def _compass(voice: str) -> tuple[Pitch, Pitch]:
    return KEYBOARD.get(voice, (LOWEST_KEY, HIGHEST_KEY))


@lru_cache(maxsize=10_000)
def _faults(tuning: Tuning, voice: str, pitch: Pitch) -> tuple[tuple[str, Phrase], ...]:
    note = (voice, pitch)
    found = []
    for rule in note_rules(tuning, voice, pitch):
        detail = Phrase.of(rule.says or "one", note=note)
        if rule.says == "compass":
            low, high = _compass(voice)
            detail = Phrase.of("compass", note=note, low=low, high=high)
        elif rule.says == "not-in-tuning":
            detail = Phrase.of(rule.says, note=note, tuning=tuning.name, instead=tuning.sounds_as(pitch))
        found.append((rule.id, detail))
    return tuple(found)


def hands(grid: Grid) -> Iterator[Hit]:
    """Rules on the stretch of the hands, told where it begins and where it becomes worse."""
    spans = _spans(grid)
    for rule in _HAND:
        stretched, worse = (
            np.any([np.asarray(r.predicate(span=spans)) for r in rules], axis=0)
            for rules in ((rule,), _as_grave(rule))
        )
        for column in np.flatnonzero(stretched & ~np.append(False, worse[:-1])).tolist():
            voices, pitches = sounding(grid, column)
            detail = Phrase.of(rule.says or "hand", pitches=pitches, count=int(spans[column]) + 1)
            yield Hit(rule.id, grid.time(column), len(voices), voices, detail)


def _as_grave(rule: Rule) -> tuple[Rule, ...]:
    """The rules on the hands that are as grave as one of them, or graver."""
    order = list(Severity)
    return tuple(r for r in _HAND if order.index(r.severity[2]) <= order.index(rule.severity[2]))


def _spans(grid: Grid) -> Array:
    """At each onset the wider of the two hands' stretches, in staff steps."""
    found = np.zeros(len(grid.ticks), dtype=np.int64)
    # Silent voices sort below all others.
    heights = -np.sort(-np.where(grid.sounds, grid.d, -1), axis=0)
    for count in range(2, len(grid.voices) + 1):
        here = np.flatnonzero(grid.count == count)
        if len(here):
            found[here] = hand_spans(heights[: count - 1, here].T, heights[count - 1, here])
    return found
