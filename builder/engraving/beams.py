"""Which short notes share a beam (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from builder.music import Bar, Metre, Note

QUARTER = Fraction(1)


def window(metre: Metre) -> Fraction:
    """The stretch of a bar inside which eighths share a beam: half a bar of C, a half note in
    metres of halves, a quarter in metres of three quarters, a dotted quarter of eighths."""
    if metre.unit == 8:
        return Fraction(3, 2) if metre.count % 3 == 0 else QUARTER
    if metre.unit >= 4:
        return Fraction(2) if metre.count % 4 == 0 else QUARTER
    return Fraction(2)


def beams(notes: Sequence[Note], metre: Metre, bar: Bar) -> tuple[tuple[int, ...], ...]:
    """Indices of the notes of one voice in one bar that share beams. Notes shorter than an eighth
    go by the quarter.

    >>> half = [Note(Fraction(n, 2), Fraction(1, 2), None) for n in range(4)]
    >>> from builder.music import Pitch
    >>> run = [Note(n.onset, n.duration, Pitch.parse("C5")) for n in half]
    >>> beams(run, Metre.parse("C"), Bar(1, Fraction(0), Fraction(4)))
    ((0, 1, 2, 3),)
    """
    wide = window(metre)
    runs: list[list[int]] = []
    for n, note in enumerate(notes):
        if note.pitch is None or note.duration >= QUARTER:
            continue
        place = (note.onset - bar.line) // wide
        last = notes[runs[-1][-1]] if runs else None
        joins = last and last.end == note.onset and (last.onset - bar.line) // wide == place
        if joins:
            runs[-1].append(n)
        else:
            runs.append([n])
    found: list[tuple[int, ...]] = []
    for run in runs:
        if all(notes[n].duration == QUARTER / 2 for n in run):
            found.append(tuple(run))
        else:
            found += _by_quarter(run, notes, bar)
    return tuple(run for run in found if len(run) > 1)


def _by_quarter(run: Sequence[int], notes: Sequence[Note], bar: Bar) -> list[tuple[int, ...]]:
    groups: dict[int, list[int]] = {}
    for n in run:
        groups.setdefault(int((notes[n].onset - bar.line) // QUARTER), []).append(n)
    return [tuple(group) for _, group in sorted(groups.items())]
