"""The rules put to a score as arrays: motion, melody, sonority, dissonance, hands and tuning."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.rules.dissonances import OF_TREATMENT
from builder.counterpoint.rules.keyboard import HIGHEST, LOWEST, SHORT, beyond_tenth, ninth, scale
from builder.counterpoint.rules.melody import MELODY_RULES
from builder.counterpoint.rules.phrases import Phrase
from builder.counterpoint.rules.rule import Move, Rule, Tone
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.rules.slices import Grid, natural
from builder.counterpoint.rules.tables import (
    BIT,
    CHROMATIC,
    CROSS,
    FALSE_RELATION,
    LEAPS,
    MOTION_BITS,
    OVERLAP,
    PAIR,
    PERFECT,
    WAY,
    interval,
    look,
    motion_class,
    pitch_code,
)
from builder.counterpoint.rules.treatment import UNPREPARED, UNRESOLVED, Treatment, clashes, excused
from builder.counterpoint.search.voicing import Array
from builder.counterpoint.search.voicing_costs import hand_spans
from builder.music import KEYBOARD, Pitch
from builder.music.temperament import TUNINGS


class Hit(NamedTuple):
    """A rule met: when, how many voices sound, which voices it concerns (highest first) and what is seen."""

    rule: str
    onset: Fraction
    sounding: int
    voices: tuple[str, ...]
    detail: Phrase
    lowest: bool = False
    """Whether one of two voices that move is the lowest, before and after."""


_OUTER = ("direct-fifth", "direct-octave")
_NEIGHBOURS = ("overlap", "crossing", "wide")


def _pitch(grid: Grid, voice: int, column: int) -> Pitch:
    return _spelled(int(grid.d[voice, column]), int(grid.m[voice, column]))


@lru_cache(maxsize=1024)
def _spelled(d: int, m: int) -> Pitch:
    return Pitch(d, m - Pitch(d).midi)


def _note(grid: Grid, voice: int, column: int) -> tuple[str, Pitch]:
    return grid.voices[voice], _pitch(grid, voice, column)


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
    met = np.where(both, MOTION_BITS.take(place), 0)
    for pair, column in np.argwhere(met).tolist():
        a, b = int(low[pair]), int(high[pair])
        for rule in PAIR:
            if met[pair, column] & BIT[rule.id] and (rule.id not in _OUTER or _outer(grid, a, b, column)):
                yield _motion_hit(grid, rule, a, b, column)
    crossed = look(CROSS, interval(before[low], after[high])) | look(
        CROSS, interval(after[low], before[high])
    )
    own = look(CHROMATIC, moves)
    overlaps = both & grid.beside[:, 1:] & ((crossed & OVERLAP) != 0)
    false = both & ((crossed & FALSE_RELATION) != 0) & ~own[low] & ~own[high]
    for name, found in (("overlap", overlaps), ("false-relation", false)):
        for pair, column in np.argwhere(found).tolist():
            yield _motion_hit(grid, RULES[name], int(low[pair]), int(high[pair]), column)


def _outer(grid: Grid, low: int, high: int, column: int) -> bool:
    return all(grid.lowest[c] == low and grid.highest[c] == high for c in (column, column + 1))


def _motion_hit(grid: Grid, rule: Rule, low: int, high: int, column: int) -> Hit:
    voices = grid.voices[high], grid.voices[low]
    before, after = ((_pitch(grid, low, c), _pitch(grid, high, c)) for c in (column, column + 1))
    detail = Phrase.of("steps", high=voices[0], low=voices[1], before=before, after=after)
    lowest = grid.lowest[column] == grid.lowest[column + 1] and grid.lowest[column] in (low, high)
    return Hit(rule.id, grid.time(column + 1), int(grid.count[column + 1]), voices, detail, bool(lowest))


def sonority(grid: Grid) -> Iterator[Hit]:
    """Rules on two voices at one moment, and on the sonority as a whole."""
    low, high = grid.pairs
    if not len(low):
        return
    struck = grid.struck[low] | grid.struck[high]
    both = grid.sounds[low] & grid.sounds[high] & struck
    lows, highs = Tone(grid.d[low], grid.m[low]), Tone(grid.d[high], grid.m[high])
    beside = grid.beside
    for name in ("crossing", "unison", "wide"):
        rule = RULES[name]
        assert rule.predicate
        met = both & rule.predicate(lows, highs)
        if name == "unison":
            firm = grid.struck[low] & grid.struck[high] | (grid.weight >= 2)[None, :]
            met = met & firm & ~_ends(grid)[None, :]
        else:
            met = met & beside
        if name == "wide":
            met = met & (grid.lowest[None, :] != low[:, None]) & (grid.count > 2)[None, :]
        for pair, column in zip(*np.nonzero(met)):
            a, b, c = int(low[pair]), int(high[pair]), int(column)
            detail = Phrase.of("pair", upper=_note(grid, b, c), lower=_note(grid, a, c))
            yield Hit(name, grid.time(c), int(grid.count[c]), (grid.voices[b], grid.voices[a]), detail)
    yield from _thirds(grid)


def _ends(grid: Grid) -> Array:
    """First and last onsets, and those where a voice enters or the number of voices changes."""
    count = grid.count
    found = np.zeros(len(count), dtype=bool)
    if len(count):
        found[0] = found[-1] = True
        found[1:] |= count[1:] != count[:-1]
    return found


def _thirds(grid: Grid) -> Iterator[Hit]:
    columns = np.arange(len(grid.ticks))
    bass = grid.d[grid.lowest, columns]
    steps = np.where(grid.sounds, (grid.d - bass[None, :]) % 7, 0)
    bare = ((steps == 0) | (steps == 4)).all(axis=0) & (grid.count > 2) & (grid.weight > 0)
    bare &= ~_ends(grid) & (grid.struck.sum(axis=0) > 1)
    for column in np.flatnonzero(bare).tolist():
        up = np.flatnonzero(grid.sounds[:, column]).tolist()
        detail = Phrase.of("bare", pitches=tuple(_pitch(grid, v, column) for v in up))
        yield Hit("third-missing", grid.time(column), len(up), tuple(grid.voices[v] for v in up), detail)


def augmented(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Augmented triads that no figure asks for (`cut`: the events of a given line) and of which no tone
    passes or is suspended."""
    # On the line of fifths a major third is four places up.
    place = np.array((0, 2, 4, -1, 1, 3, 5))[grid.d % 7] + 7 * (grid.m - natural(grid.d))
    columns = np.flatnonzero((grid.count > 2) & grid.struck.any(axis=0))
    found = []
    for column in columns.tolist():
        up = np.flatnonzero(grid.sounds[:, column])
        there = {int(p): int(v) for p, v in zip(place[up, column], up)}
        found += [(column, p, there) for p in there if {p + 4, p + 8} <= there.keys()]
    if not found:
        return
    bound = excused(grid)
    for column, p, there in found:
        voices = [v for q, v in sorted(there.items()) if q in (p, p + 4, p + 8)]
        notes = sorted((_note(grid, v, column) for v in voices), key=lambda n: -n[1].midi)
        time = grid.time(column)
        asked = any(e.onset <= time < e.end and _writes(e, [n[1] for n in notes]) for e in cut)
        if not asked and not bound[voices, column].any():
            detail = Phrase.of("row", pitches=tuple(pitch for _, pitch in notes))
            yield Hit("augmented-triad", time, int(grid.count[column]), tuple(v for v, _ in notes), detail)


def _writes(event: Event, tones: Sequence[Pitch]) -> bool:
    """Whether one reading of an event has all of some tones."""
    return any(
        {(t.step, t.alter) for t in tones}
        <= {
            (event.bass.step, event.bass.alter),
            *(((event.bass.diatonic + m.offset) % 7, m.alter) for m in variant.members),
        }
        for variant in event.variants
    )


def melody(grid: Grid) -> Iterator[Hit]:
    """Rules on one voice's melody: all voices one after another, with a break between."""
    line = grid.all_notes
    if len(line.notes) < 3:
        return
    moves = Move(line.d[:-1], line.m[:-1], line.d[1:], line.m[1:])
    joined = line.gap[1:] == line.gap[:-1]
    # A second, and a note struck again, meet no rule; leaps begin what two moves may meet.
    steps, size = abs(moves.steps), abs(moves.semitones)
    single = np.flatnonzero(joined & ((steps > 1) | (size > 2) | ((steps == 0) & (size != 0))))
    double = np.flatnonzero(joined[:-1] & joined[1:] & (steps[:-1] > 1))
    sizes = np.array((moves.steps, moves.semitones))
    alone, twice = sizes[:, single].T.tolist(), np.concatenate((sizes[:, double], sizes[:, double + 1])).T
    for count, starts, sung in ((2, single, alone), (3, double, twice.tolist())):
        for start, step in zip(starts.tolist(), sung):
            for rule in _sung(*step):
                yield _melody_hit(grid, rule, start, count)


@lru_cache(maxsize=20_000)
def _sung(steps: int, size: int, then_steps: int | None = None, then_size: int = 0) -> tuple[Rule, ...]:
    """The rules on melody that one move meets, or two after one another."""
    first = Move(0, 0, steps, size)
    if then_steps is None:
        return tuple(r for r in MELODY_RULES if r.kind == "melody" and r.predicate and r.predicate(first))
    second = Move(steps, size, steps + then_steps, size + then_size)
    return tuple(r for r in MELODY_RULES if r.kind == "line" and r.predicate and r.predicate(first, second))


def _melody_hit(grid: Grid, rule: Rule, start: int, count: int) -> Hit:
    """A rule met from one of all the notes on, over so many of them."""
    line = grid.all_notes
    notes = line.notes[start : start + count]
    pitches = tuple(n.pitch for n in notes)
    column = int(grid.ticks.searchsorted(line.start[start + count - 1]))
    name = grid.voice_of(start)
    return Hit(
        rule.id,
        notes[-1].onset,
        int(grid.count[column]),
        (name,),
        Phrase.of("sung", voice=name, pitches=pitches),
    )


def dissonance(grid: Grid) -> Iterator[Hit]:
    """Every clash that is not in order, and those in order only in a looser manner."""
    found = clashes(grid)
    low, high = grid.pairs
    reported: set[tuple[int, int]] = set()
    bad = found.clash & ((found.treatment == 0) | (found.treatment >= int(Treatment.CADENTIAL)))
    columns, pairs = np.nonzero(bad.T)
    for pair, c in zip(pairs.tolist(), columns.tolist()):
        a, b = int(low[pair]), int(high[pair])
        kind = Treatment(int(found.treatment[pair, c]))
        why = int(found.why[pair, c])
        if kind is Treatment.NONE:
            name = {UNPREPARED: "suspension-unprepared", UNRESOLVED: "suspension-unresolved"}.get(
                why, "dissonance"
            )
        else:
            name = OF_TREATMENT[kind]
        # One clash, one finding: a note that clashes with two others at once is told once.
        guilty = _guilty(grid, a, b, c)
        if (guilty, c) in reported:
            continue
        reported.add((guilty, c))
        lower, upper = _note(grid, a, c), _note(grid, b, c)
        detail = Phrase.of("clash", upper=upper, lower=lower, interval=(lower[1], upper[1]))
        if kind is not Treatment.NONE:
            detail = Phrase("clash-treated", (*detail.values, ("treatment", kind.name.lower())))
        yield Hit(name, grid.time(c), int(grid.count[c]), (upper[0], lower[0]), detail)


def _guilty(grid: Grid, low: int, high: int, column: int) -> int:
    """The voice that strikes, or the upper one."""
    if grid.struck[low, column] and not grid.struck[high, column]:
        return low
    return high


def instrument(grid: Grid, tuning: str) -> Iterator[Hit]:
    """Keyboard, hands, compass and tuning."""
    yield from _keys(grid, tuning)
    yield from _hands(grid)
    yield from _wolves(grid, tuning)


def _keys(grid: Grid, tuning: str) -> Iterator[Hit]:
    for voice, line in zip(grid.voices, grid.lines):
        codes = pitch_code(line.d, line.m)
        # A voice has few different notes: each is judged once.
        for code, first in zip(*np.unique(codes, return_index=True)):
            pitch = line.notes[first].pitch
            assert pitch is not None
            for rule, detail in _key_faults(tuning, voice, pitch):
                for place in np.flatnonzero(codes == code):
                    yield Hit(rule, line.notes[place].onset, 1, (voice,), detail)


@lru_cache(maxsize=10_000)
def _key_faults(tuning: str, voice: str, pitch: Pitch) -> tuple[tuple[str, Phrase], ...]:
    """What is wrong with a key for a voice."""
    return tuple(_faults_of_key(tuning, voice, pitch))


def _faults_of_key(tuning: str, voice: str, pitch: Pitch) -> Iterator[tuple[str, Phrase]]:
    low, high = KEYBOARD.get(voice, (Pitch.parse("C2"), Pitch.parse("C6")))
    keys, note = scale(tuning), (voice, pitch)
    if not LOWEST <= pitch.midi <= HIGHEST:
        yield "off-keyboard", Phrase.of("off-keyboard", note=note)
    elif pitch.midi in SHORT:
        yield "short-octave", Phrase.of("one", note=note)
    elif not low.diatonic <= pitch.diatonic <= high.diatonic:
        yield "compass", Phrase.of("compass", note=note, low=low, high=high)
    if not keys.has(pitch):
        instead = keys.sounds_as(pitch)
        yield "not-in-tuning", Phrase.of("not-in-tuning", note=note, tuning=keys.name, instead=instead)


def _hands(grid: Grid) -> Iterator[Hit]:
    spans = _spans(grid)
    stretched = ninth(spans) | beyond_tenth(spans)
    # Told once, where it begins.
    for column in np.flatnonzero(stretched & ~np.append(False, stretched[:-1])).tolist():
        up = np.flatnonzero(grid.sounds[:, column]).tolist()
        voices = tuple(grid.voices[v] for v in up)
        name = "out-of-reach" if beyond_tenth(spans[column]) else "hand-stretch"
        pitches = tuple(_pitch(grid, v, column) for v in up)
        detail = Phrase.of("hand", pitches=pitches, count=int(spans[column]) + 1)
        yield Hit(name, grid.time(column), len(up), voices, detail)


def _spans(grid: Grid) -> Array:
    """At each onset the wider of the two hands' stretches, in staff steps."""
    found = np.zeros(len(grid.ticks), dtype=np.int64)
    # Silent voices sort below all others.
    notes = -np.sort(-np.where(grid.sounds, grid.d, -1), axis=0)
    for count in range(2, len(grid.voices) + 1):
        here = np.flatnonzero(grid.count == count)
        if len(here):
            found[here] = hand_spans(notes[: count - 1, here].T, notes[count - 1, here])
    return found


@lru_cache(maxsize=20_000)
def _howls(tuning: str, low: Pitch, high: Pitch) -> bool:
    return scale(tuning).wolf(low, high, spelled=True)


def _wolves(grid: Grid, tuning: str) -> Iterator[Hit]:
    keys = scale(tuning)
    if keys.enharmonic:
        return
    # Only notes far out on the line of fifths meet a wolf: the letter's place plus seven for each sharp.
    place = np.array((0, 2, 4, -1, 1, 3, 5))[grid.d % 7]
    natural = np.array((0, 2, 4, 5, 7, 9, 11))[grid.d % 7] + 12 * (grid.d // 7 + 1)
    place = place + 7 * (grid.m - natural)
    # Another order of keys (split ones, a changed note, a list of cents) is tried whole.
    far = ((place > 5) | (place < -2) | (keys.name not in TUNINGS)) & grid.sounds
    low, high = grid.pairs
    if not len(low):
        return
    both = (
        grid.sounds[low] & grid.sounds[high] & (far[low] | far[high]) & (grid.struck[low] | grid.struck[high])
    )
    for pair, column in zip(*np.nonzero(both)):
        a, b, c = int(low[pair]), int(high[pair]), int(column)
        bottom, top = sorted((_pitch(grid, a, c), _pitch(grid, b, c)), key=lambda p: p.midi)
        if _howls(tuning, bottom, top):
            upper, lower = _note(grid, b, c), _note(grid, a, c)
            detail = Phrase.of("wolf", upper=upper, lower=lower, tuning=keys.name)
            yield Hit("wolf", grid.time(c), int(grid.count[c]), (grid.voices[b], grid.voices[a]), detail)
