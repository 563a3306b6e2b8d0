"""What a setting owes to its source: the given line, the figures, the cadences, the pins."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from builder.analysis import Analysis
from builder.counterpoint.dissonance import Treatment, clashes
from builder.counterpoint.events import Event
from builder.counterpoint.grid import Grid
from builder.counterpoint.judging import Hit
from builder.counterpoint.keyboard import scale
from builder.counterpoint.sonority import Variant, leading_letter
from builder.music import Pitch, Score
from builder.music.pitch import SEMITONES
from builder.source import Verset


def given(grid: Grid, verset: Verset) -> Iterator[Hit]:
    """The given line is there, unchanged, and is the lowest voice."""
    places = {voice: v for v, voice in enumerate(grid.voices)}
    for g in verset.given:
        pitch = g.note.pitch
        if pitch is None:
            continue
        now = grid.at(places[g.voice], g.note.onset) if g.voice in places else None
        # Diminution divides a given note, but begins with it.
        whole = now is not None and (now.end >= g.note.end or grid.score.version == "diminished")
        if now is None or now.pitch != pitch or not whole:
            found = f"{now.pitch}" if now else "nothing"
            detail = f"{g.voice} should have {pitch} and has {found}"
            yield Hit("given-changed", g.note.onset, 1, (g.voice,), detail)
        for voice, v in places.items():
            if voice == g.voice:
                continue
            for other in grid.during(v, g.note.onset, g.note.end):
                if other.pitch and other.pitch.midi < pitch.midi:
                    onset = max(other.onset, g.note.onset)
                    detail = f"{voice} {other.pitch} lies below the given {pitch}"
                    yield Hit("given-not-lowest", onset, 2, (voice, g.voice), detail)


def pins(grid: Grid, verset: Verset) -> Iterator[Hit]:
    """Notes set by hand are kept."""
    version = grid.score.version if grid.score.version in ("plain", "diminished") else "plain"
    for pin in verset.pins:
        if pin.version != version:
            continue
        for note in pin.notes:
            now = grid.at(grid.voices.index(pin.voice), note.onset) if pin.voice in grid.voices else None
            found = now.pitch if now else None
            if found != note.pitch:
                detail = f"{pin.voice} should have {note.pitch or 'a rest'} and has {found or 'a rest'}"
                yield Hit("pin-changed", note.onset, 1, (pin.voice,), detail)


def figures(grid: Grid, cut: Sequence[Event]) -> Iterator[Hit]:
    """Every figure sounds, and nothing contradicts it."""
    excused = _excused(grid)
    for event in cut:
        if event.hold or event.figure is None or not event.upper:
            continue
        heard = _heard(grid, event)
        upper = {v: ps for v, ps in heard.items() if v in event.upper}
        yield from _missing(event, upper)
        yield from _foreign(event, grid, excused)


def _heard(grid: Grid, event: Event) -> dict[str, list[Pitch]]:
    """What each voice sounds during an event."""
    return {
        voice: [n.pitch for n in grid.during(v, event.onset, event.end) if n.pitch]
        for v, voice in enumerate(grid.voices)
    }


def _classes(variant: Variant, bass: Pitch) -> set[tuple[int, int]]:
    found = {((bass.diatonic + m.offset) % 7, m.alter) for m in variant.members}
    return found | {(bass.step, bass.alter)}


def _missing(event: Event, upper: dict[str, list[Pitch]]) -> Iterator[Hit]:
    sounding = {(p.step, p.alter) for ps in upper.values() for p in ps}
    voices = sum(1 for ps in upper.values() if ps)
    best: list[str] | None = None
    for variant in event.variants:
        numbers = variant.must(voices)
        lacking = [
            _name(event.bass, m.number, m.alter)
            for m in variant.members
            if m.number in numbers and ((event.bass.diatonic + m.offset) % 7, m.alter) not in sounding
        ]
        if best is None or len(lacking) < len(best):
            best = lacking
    if best and voices:
        detail = f"over {event.bass} with {event.figure} {', '.join(best)} should sound"
        yield Hit("figure-not-sounded", event.onset, voices + 1, tuple(upper), detail)


def _name(bass: Pitch, number: int, alter: int) -> str:
    return f"{Pitch(bass.diatonic + (number - 1) % 7, alter).letter} ({number})"


def _excused(grid: Grid) -> dict[tuple[str, Fraction], bool]:
    """Notes (voice, onset) that clash with something, but in order."""
    found = clashes(grid)
    low, high = grid.pairs
    result: dict[tuple[str, Fraction], bool] = {}
    for pair, column in zip(*found.clash.nonzero()):
        kind = Treatment(int(found.treatment[pair, column]))
        for v in (int(low[pair]), int(high[pair])):
            key = (grid.voices[v], grid.time(int(grid.first[v, column])))
            result[key] = result.get(key, True) and kind is not Treatment.NONE
    return result


def _foreign(event: Event, grid: Grid, excused: dict[tuple[str, Fraction], bool]) -> Iterator[Hit]:
    allowed = [_classes(v, event.bass) for v in event.variants]
    for v, voice in enumerate(grid.voices):
        if voice not in event.upper:
            continue
        now = grid.at(v, event.onset)
        if now is None or now.pitch is None or now.duration * 2 <= event.duration:
            continue
        if any((now.pitch.step, now.pitch.alter) in classes for classes in allowed):
            continue
        if excused.get((voice, now.onset)):
            continue
        detail = f"{voice} {now.pitch} does not belong to {event.figure} over {event.bass}"
        yield Hit("against-figures", event.onset, len(event.upper) + 1, (voice,), detail)


def cadences(grid: Grid, analysis: Analysis, tuning: str) -> Iterator[Hit]:
    """Leading notes raised, single, and rising; a major third at the close."""
    for cadence in analysis.cadences:
        if cadence.kind not in ("semplice", "composta", "doppia"):
            continue
        yield from _leading(grid, cadence.onset, cadence.degree, tuning)
    yield from _close(grid, analysis)


def _leading(grid: Grid, close: Fraction, degree: str, tuning: str) -> Iterator[Hit]:
    column = grid.column(close)
    if not column:
        return
    final = Pitch.parse(f"{degree}4")
    step = leading_letter(degree)
    for v, voice in enumerate(grid.voices):
        if not grid.sounds[v, column - 1] or grid.lowest[column - 1] == v:
            continue
        pitch = _grid_pitch(grid, v, column - 1)
        if pitch.step != step:
            continue
        upward = (final.midi - pitch.midi) % 12
        where = grid.time(int(grid.first[v, column - 1]))
        count = int(grid.count[column - 1])
        if upward != 1:
            bass = _grid_pitch(grid, int(grid.lowest[column - 1]), column - 1)
            raised = Pitch(pitch.diatonic, pitch.alter + upward - 1)
            if upward == 2 and not scale(tuning).has(raised):
                # Nobody can play what the tuning does not have: the cadence keeps its natural note.
                continue
            if (bass.diatonic - final.diatonic) % 7 == 4 or (bass.diatonic - final.diatonic) % 7 == 1:
                yield Hit(
                    "leading-note-not-raised", where, count, (voice,), f"{voice} {pitch} before {degree}"
                )
            continue
        if not grid.sounds[v, column]:
            continue
        after = _grid_pitch(grid, v, column)
        if after.midi - pitch.midi != 1:
            yield Hit("leading-note", close, count, (voice,), f"{voice} {pitch} goes to {after}")


def _close(grid: Grid, analysis: Analysis) -> Iterator[Hit]:
    column = len(grid.ticks) - 1
    if column < 0:
        return
    bass = _grid_pitch(grid, int(grid.lowest[column]), column)
    for v, voice in enumerate(grid.voices):
        if not grid.sounds[v, column]:
            continue
        pitch = _grid_pitch(grid, v, column)
        if (pitch.diatonic - bass.diatonic) % 7 == 2 and (pitch.midi - bass.midi) % 12 == 3:
            yield Hit("minor-close", grid.time(column), int(grid.count[column]), (voice,), f"{voice} {pitch}")


def _grid_pitch(grid: Grid, voice: int, column: int) -> Pitch:
    d = int(grid.d[voice, column])
    return Pitch(d, int(grid.m[voice, column]) - Pitch(d).midi)


def doubled(grid: Grid, score: Score) -> Iterator[Hit]:
    """Two voices on one raised note (raised against the signature)."""
    low, high = grid.pairs
    if not len(low):
        return
    signature = np.array([max(0, score.signature.alter(step)) for step in range(7)])
    natural = np.array(SEMITONES)[grid.d % 7] + 12 * (grid.d // 7 + 1)
    raised = grid.sounds & (grid.m - natural > signature[grid.d % 7])
    same = raised[low] & raised[high] & (grid.d[low] % 7 == grid.d[high] % 7)
    for pair, column in zip(*np.nonzero(same & (grid.struck[low] | grid.struck[high]))):
        names = grid.voices[high[pair]], grid.voices[low[pair]]
        letter = _grid_pitch(grid, int(low[pair]), int(column)).letter
        detail = f"{letter} sounds in {' and '.join(names)}"
        yield Hit("doubled-leading-note", grid.time(column), int(grid.count[column]), names, detail)
