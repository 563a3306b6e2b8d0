"""The given line cut where a sonority may change: at its notes, their figures, and the pinned notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from builder.counterpoint.figured_bass.beats import Beats
from builder.music import Figure
from builder.source import Verset
from builder.source.verset import GivenNote

QUARTER = Fraction(1)


@dataclass(frozen=True, slots=True)
class Slot:
    """A given note, or the part of it under one figure."""

    given: GivenNote
    onset: Fraction
    duration: Fraction
    figure: Figure | None
    part: int
    """0 for the first slot of a note."""
    split: bool = False
    since: Fraction | None = None
    """Onset of the part before it."""
    under: Figure | None = None
    """The figure that still stands over a later part of a note."""


def slots(verset: Verset, times: tuple[Fraction, ...] = ()) -> list[Slot]:
    """All slots of a verset, in time; `times` are others at which to cut."""
    return list(_cut(_slots(verset), times))


def _slots(verset: Verset) -> Iterator[Slot]:
    """Notes cut at their figures; long unfigured ones cut in two, so that the voices above may move."""
    sounding = [g for g in verset.given if g.note.pitch is not None]
    for n, given in enumerate(sounding):
        note = given.note
        last = n == len(sounding) - 1
        pieces = [note.duration] if last else _pieces(note.duration)
        if given.figures:
            figures = given.figures
            if len(figures) == 1 and figures[0].onset == note.onset and not figures[0].dash:
                yield Slot(given, note.onset, pieces[0], figures[0], 0)
                now = note.onset + pieces[0]
                for i, piece in enumerate(pieces[1:]):
                    yield Slot(given, now, piece, None, i + 1, since=now - pieces[i], under=figures[0])
                    now += piece
                continue
            if figures[0].onset > note.onset:
                yield Slot(given, note.onset, figures[0].onset - note.onset, None, 0)
            for i, figure in enumerate(figures):
                end = figures[i + 1].onset if i + 1 < len(figures) else note.end
                first = i if figures[0].onset == note.onset else i + 1
                yield Slot(given, figure.onset, end - figure.onset, figure, first)
            continue
        now = note.onset
        for i, piece in enumerate(pieces):
            since = now - pieces[i - 1] if i else None
            yield Slot(given, now, piece, None, i, split=len(pieces) > 1, since=since)
            now += piece


def _pieces(duration: Fraction) -> list[Fraction]:
    if duration < 2 or duration.denominator != 1:
        return [duration]
    if duration == 2:
        return [QUARTER, QUARTER]
    whole, rest = divmod(duration, 2)
    return [Fraction(2)] * int(whole) + ([Fraction(rest)] if rest else [])


def _cut(slots: Iterator[Slot], times: tuple[Fraction, ...]) -> Iterator[Slot]:
    """Cut slots where a pinned note begins or ends."""
    for slot in slots:
        marks = [t for t in times if slot.onset < t < slot.onset + slot.duration]
        if not marks:
            yield slot
            continue
        starts = [slot.onset, *marks]
        ends = [*marks, slot.onset + slot.duration]
        for i, (start, end) in enumerate(zip(starts, ends)):
            yield replace(slot, onset=start, duration=end - start, part=slot.part + i)


def passes(beats: Beats, slot: Slot, before: GivenNote | None, after: GivenNote | None) -> bool:
    """A short unfigured note between beats that comes by step and goes by step, in one voice."""
    note = slot.given.note
    if slot.figure or before is None or after is None or note.duration > beats.metre.beat / 2:
        return False
    if before.voice != slot.given.voice or after.voice != slot.given.voice:
        return False
    if before.note.end != note.onset or after.note.onset != note.end or beats.weight(note.onset) > 0:
        return False
    here, a, b = note.pitch, before.note.pitch, after.note.pitch
    assert here and a and b
    return abs(here.diatonic - a.diatonic) == 1 and abs(b.diatonic - here.diatonic) == 1
