"""What a setting owes to its source: the given line, the figures, the cadences, the pins."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

import numpy as np

from builder.analysis import Analysis
from builder.counterpoint.check.hit import Hit, note_at, pitch_at
from builder.counterpoint.figured_bass.events import Event
from builder.counterpoint.figured_bass.sonority import Variant, leading_letter
from builder.counterpoint.rules.context import Of, When
from builder.counterpoint.rules.rulebook import met
from builder.counterpoint.rules.slices import Grid, Line, natural
from builder.counterpoint.rules.treatment import UNTREATED, clashes, excused
from builder.language.texts import Phrase
from builder.music import Note, Pitch, Tuning, Version
from builder.source import Verset
from builder.source.verset import GivenNote


def given(grid: Grid, due: Sequence[GivenNote]) -> Iterator[Hit]:
    """The given line is there, unchanged, and is the lowest voice."""
    notes = [g for g in due if g.note.pitch is not None]
    pitches = [g.note.pitch for g in notes if g.note.pitch is not None]
    own = np.array([grid.voices.index(g.voice) if g.voice in grid.voices else -1 for g in notes])
    d, m = np.array([(p.diatonic, p.midi) for p in pitches], dtype=np.int64).reshape(-1, 2).T
    start, end = grid.spans([g.note for g in notes])
    kept, above = np.zeros(len(notes), dtype=bool), np.ones(len(notes), dtype=bool)
    for v, line in enumerate(grid.lines):
        first, last = line.during(start, end)
        there = first < last
        place = np.minimum(first, len(line.d) - 1)
        same = there & (line.start[place] <= start) & (line.d[place] == d) & (line.m[place] == m)
        # Diminution divides a given note, but begins with it.
        same &= (line.end[place] >= end) | (grid.score.version.kind == Version.DIMINISHED)
        kept |= same & (own == v)
        above &= (own == v) | ~there | (line.least(first, last) >= m)
    for n in np.flatnonzero(~kept):
        now = grid.at(own[n], notes[n].note.onset) if own[n] >= 0 else None
        found = (now and now.pitch) or Phrase("nothing")
        detail = Phrase.of("given-changed", voice=notes[n].voice, due=pitches[n], found=found)
        for rule in met(When.ONSET, Of.GIVEN, changed=1):
            yield Hit(rule.id, notes[n].note.onset, 1, (notes[n].voice,), detail)
    for n in np.flatnonzero(~above):
        yield from _below(grid, notes[n], pitches[n])


def _below(grid: Grid, given: GivenNote, pitch: Pitch) -> Iterator[Hit]:
    """The notes that lie below a given one."""
    for v, voice in enumerate(grid.voices):
        if voice == given.voice:
            continue
        for other in grid.during(v, given.note.onset, given.note.end):
            if other.pitch and other.pitch.midi < pitch.midi:
                onset = max(other.onset, given.note.onset)
                detail = Phrase.of("given-not-lowest", note=(voice, other.pitch), given=pitch)
                for rule in met(When.ONSET, Of.GIVEN, undercut=1):
                    yield Hit(rule.id, onset, 2, (voice, given.voice), detail)


def pins(grid: Grid, verset: Verset, start: Fraction, end: Fraction) -> Iterator[Hit]:
    """Notes set by hand are kept, from one time up to another."""
    graced = grid.score.version.kind is Version.DIMINISHED
    for pin in verset.pins:
        if (pin.version is Version.DIMINISHED) != graced:
            continue
        for note in pin.notes:
            if not start <= note.onset < end:
                continue
            now = grid.at(grid.voices.index(pin.voice), note.onset) if pin.voice in grid.voices else None
            found = now.pitch if now else None
            if found != note.pitch:
                rest = Phrase("rest")
                detail = Phrase.of(
                    "pin-changed", voice=pin.voice, due=note.pitch or rest, found=found or rest
                )
                for rule in met(When.ONSET, Of.PIN, changed=1):
                    yield Hit(rule.id, note.onset, 1, (pin.voice,), detail)


def figures(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Every figure sounds, and nothing contradicts it."""
    yield from _alone(grid, cut)
    asked = [e for e in cut if not e.hold and e.figure is not None and e.upper]
    start, end = grid.spans(asked)
    heard = []
    for line in grid.lines:
        first, last = line.during(start, end)
        heard.append(list(zip(first.tolist(), last.tolist())))
    classes = [_spelled(line) for line in grid.lines]
    for n, event in enumerate(asked):
        upper = {
            voice: classes[v][slice(*heard[v][n])]
            for v, voice in enumerate(grid.voices)
            if voice in event.upper
        }
        yield from _missing(event, upper)
        allowed = set().union(*(_classes(variant, event.bass) for variant in event.variants))
        for v, voice in enumerate(grid.voices):
            first, last = heard[v][n]
            if voice not in upper or first == last or classes[v][first] in allowed:
                continue
            note = grid.heard[v][first]
            if _long(grid.lines[v], first, int(start[n]), int(end[n])) and not _excused(grid, v, note):
                detail = Phrase.of(
                    "against-figures", note=(voice, note.pitch), figure=event.figure, bass=event.bass
                )
                for rule in met(When.ONSET, Of.FIGURE, foreign=1):
                    yield Hit(rule.id, event.onset, len(event.upper) + 1, (voice,), detail)


def _alone(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Figures above which no voice sounds, each stretch of them told once."""
    figured = [e for e in cut if e.figure is not None and not e.figure.dash]
    for alone, stretch in groupby(figured, key=lambda e: not e.upper and not _accompanied(grid, e)):
        lost = list(stretch)
        if alone:
            first = lost[0]
            key = "figures-alone" if len(lost) > 1 else "figure-alone"
            detail = Phrase.of(key, bass=first.bass, figure=first.figure, count=len(lost))
            for rule in met(When.ONSET, Of.FIGURE, alone=1):
                yield Hit(rule.id, first.onset, 1, (first.voice,), detail)


def _accompanied(grid: Grid, event: Event) -> bool:
    return any(
        grid.at(v, event.onset) is not None for v, voice in enumerate(grid.voices) if voice != event.voice
    )


def doubts(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Tones that begin over a figure and that another reader might alter otherwise."""
    for event in cut:
        if not event.doubts or event.hold:
            continue
        for v, voice in enumerate(grid.voices):
            note = grid.at(v, event.onset) if voice in event.upper else None
            if note is None or note.pitch is None:
                continue
            for doubt in event.doubts:
                # What is only held was told where it began.
                begins = note.onset == event.onset or doubt.why == "interval"
                if begins and (note.pitch.step, note.pitch.alter) == (doubt.step, doubt.alter):
                    detail = Phrase.of(
                        f"doubt-{doubt.why}",
                        note=(voice, note.pitch),
                        bass=event.bass,
                        tone=note.pitch.letter,
                        other=Pitch(doubt.step, doubt.other).letter,
                        number=(note.pitch.diatonic - event.bass.diatonic - 1) % 7 + 2,
                        interval=(event.bass, note.pitch),
                    )
                    for rule in met(When.ONSET, Of.FIGURE, doubtful=1):
                        yield Hit(rule.id, event.onset, len(event.upper) + 1, (voice,), detail)


def augmented(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Augmented triads that no figure asks for (`cut`: the events of a given line) and of which no tone
    passes or is suspended."""
    # On the line of fifths a major third is four places up.
    place = np.array((0, 2, 4, -1, 1, 3, 5))[grid.d % 7] + 7 * (grid.m - natural(grid.d))
    there = np.bitwise_or.reduce(np.where(grid.sounds, 1 << np.clip(place + 24, 0, 62), 0), axis=0)
    triads = there & (there >> 4) & (there >> 8)
    columns = np.flatnonzero((triads != 0) & (grid.count > 2) & grid.struck.any(axis=0))
    found = []
    for column in columns.tolist():
        up = np.flatnonzero(grid.sounds[:, column])
        voices_at = {int(p): int(v) for p, v in zip(place[up, column], up)}
        found += [(column, p, voices_at) for p in voices_at if {p + 4, p + 8} <= voices_at.keys()]
    if not found:
        return
    bound = excused(grid)
    for column, p, voices_at in found:
        voices = [v for q, v in sorted(voices_at.items()) if q in (p, p + 4, p + 8)]
        notes = sorted((note_at(grid, v, column) for v in voices), key=lambda n: -n[1].midi)
        time = grid.time(column)
        event = bisect_right(cut, time, key=lambda e: e.onset) - 1
        asked = event >= 0 and time < cut[event].end and _writes(cut[event], [n[1] for n in notes])
        if asked or bound[voices, column].any():
            continue
        detail = Phrase.of("row", pitches=tuple(pitch for _, pitch in notes))
        for rule in met(When.ONSET, Of.FIGURE, augmented=1):
            yield Hit(rule.id, time, int(grid.count[column]), tuple(v for v, _ in notes), detail)


def _writes(event: Event, tones: Sequence[Pitch]) -> bool:
    """Whether one reading of an event has all of some tones."""
    wanted = {(t.step, t.alter) for t in tones}
    return any(wanted <= _classes(variant, event.bass) for variant in event.variants)


def _spelled(line: Line) -> list[_Class]:
    """Letter and alteration of each note of a voice."""
    return list(zip((line.d % 7).tolist(), (line.m - natural(line.d)).tolist()))


def _long(line: Line, place: int, start: int, end: int) -> bool:
    """Whether a note sounds at the beginning of an event and longer than half of it."""
    return bool(line.start[place] <= start and (line.end[place] - line.start[place]) * 2 > end - start)


_Class = tuple[int, int]


def _classes(variant: Variant, bass: Pitch) -> set[tuple[int, int]]:
    found = {((bass.diatonic + m.offset) % 7, m.alter) for m in variant.members}
    return found | {(bass.step, bass.alter)}


def _missing(event: Event, upper: dict[str, list[_Class]]) -> Iterator[Hit]:
    sounding = {tone for tones in upper.values() for tone in tones}
    voices = sum(1 for tones in upper.values() if tones)
    best: tuple[tuple[str, int], ...] | None = None
    for variant in event.variants:
        numbers = variant.must(voices)
        lacking = tuple(
            (Pitch(event.bass.diatonic + (m.number - 1) % 7, m.alter).letter, m.number)
            for m in variant.members
            if m.number in numbers and ((event.bass.diatonic + m.offset) % 7, m.alter) not in sounding
        )
        if best is None or len(lacking) < len(best):
            best = lacking
    if best and voices:
        key = "figure-not-sounded" if len(best) == 1 else "figures-not-sounded"
        detail = Phrase.of(key, bass=event.bass, figure=event.figure, tones=best)
        for rule in met(When.ONSET, Of.FIGURE, lacking=1):
            yield Hit(rule.id, event.onset, voices + 1, tuple(upper), detail)


def _excused(grid: Grid, voice: int, note: Note) -> bool:
    """Whether a note clashes with something, but always in order."""
    found = clashes(grid)
    low, high = grid.pairs
    column = grid.column(note.onset)
    mine = ((low == voice) | (high == voice))[:, None] & (grid.first[voice] == column) & found.clash
    return bool(mine.any() and not np.isin(found.treatment[mine], UNTREATED).any())


def cadences(grid: Grid, analysis: Analysis, tuning: Tuning, start: Fraction) -> Iterator[Hit]:
    """Leading notes raised, single, and rising, in the cadences that close from a time on; a major third at
    the close."""
    for cadence in analysis.cadences:
        if cadence.onset < start or cadence.kind not in ("semplice", "composta", "doppia"):
            continue
        yield from _leading(grid, cadence.onset, cadence.degree, tuning)
    yield from _close(grid, analysis)


def _leading(grid: Grid, close: Fraction, degree: str, tuning: Tuning) -> Iterator[Hit]:
    column = grid.column(close)
    if not column:
        return
    final = Pitch.parse(f"{degree}4")
    step = leading_letter(degree)
    for v, voice in enumerate(grid.voices):
        if not grid.sounds[v, column - 1] or grid.lowest[column - 1] == v:
            continue
        pitch = pitch_at(grid, v, column - 1)
        if pitch.step != step:
            continue
        upward = (final.midi - pitch.midi) % 12
        where = grid.time(int(grid.first[v, column - 1]))
        count = int(grid.count[column - 1])
        if upward != 1:
            bass = pitch_at(grid, int(grid.lowest[column - 1]), column - 1)
            raised = Pitch(pitch.diatonic, pitch.alter + upward - 1)
            if upward == 2 and not tuning.has(raised):
                # Nobody can play what the tuning does not have: the cadence keeps its natural note.
                continue
            if (bass.diatonic - final.diatonic) % 7 == 4 or (bass.diatonic - final.diatonic) % 7 == 1:
                detail = Phrase.of("not-raised", note=(voice, pitch), degree=degree)
                for rule in met(When.ONSET, Of.CADENCE, unraised=1):
                    yield Hit(rule.id, where, count, (voice,), detail)
            continue
        if not grid.sounds[v, column]:
            continue
        after = pitch_at(grid, v, column)
        if after.midi - pitch.midi != 1:
            detail = Phrase.of("goes-to", note=(voice, pitch), after=after)
            for rule in met(When.ONSET, Of.CADENCE, astray=1):
                yield Hit(rule.id, close, count, (voice,), detail)


def _close(grid: Grid, analysis: Analysis) -> Iterator[Hit]:
    column = len(grid.ticks) - 1
    if column < 0:
        return
    bass = pitch_at(grid, int(grid.lowest[column]), column)
    for v, voice in enumerate(grid.voices):
        if not grid.sounds[v, column]:
            continue
        pitch = pitch_at(grid, v, column)
        if (pitch.diatonic - bass.diatonic) % 7 == 2 and (pitch.midi - bass.midi) % 12 == 3:
            detail = Phrase.of("one", note=(voice, pitch))
            for rule in met(When.ONSET, Of.CADENCE, minor=1):
                yield Hit(rule.id, grid.time(column), int(grid.count[column]), (voice,), detail)
