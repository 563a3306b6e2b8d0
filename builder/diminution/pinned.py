"""Diminutions set by hand: kept as they are, and named when they are a known pattern."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction

from builder.diminution.pattern import Pattern
from builder.diminution.result import Choice
from builder.music import Note, Score, Version
from builder.source import Verset

BY_HAND = "by hand"


def pinned(verset: Verset, plain: Score, table: Sequence[Pattern]) -> tuple[Choice, ...]:
    """One choice for each plain note (or the fewest plain notes together) that a `diminished` block
    covers. Where the hand leaves the plain notes as they are, no choice is made of them."""
    choices: list[Choice] = []
    for pin in verset.pins:
        if pin.version != Version.DIMINISHED or pin.voice not in {p.voice for p in plain.parts}:
            continue
        heard = plain.part(pin.voice).sounding()
        for stretch in _stretches(pin.notes):
            choices += _stretch(pin.voice, stretch, heard, table)
    return tuple(choices)


def _stretches(notes: Sequence[Note]) -> list[list[Note]]:
    """Runs of notes without a gap, ties joined."""
    runs: list[list[Note]] = []
    open_tie = False
    for note in notes:
        if runs and runs[-1][-1].end == note.onset:
            last = runs[-1][-1]
            if open_tie and last.pitch == note.pitch:
                runs[-1][-1] = Note(
                    last.onset, last.duration + note.duration, last.pitch, editorial=last.editorial
                )
            else:
                runs[-1].append(Note(note.onset, note.duration, note.pitch, editorial=note.editorial))
        else:
            runs.append([Note(note.onset, note.duration, note.pitch, editorial=note.editorial)])
        open_tie = note.tied
    return runs


def _stretch(voice: str, notes: list[Note], heard: Sequence[Note], table: Sequence[Pattern]) -> list[Choice]:
    """Cut a run where a plain note and a pinned note begin together."""
    begin, end = notes[0].onset, notes[-1].end
    under = [n for n in heard if n.onset < end and n.end > begin]
    begin = min([begin, *(n.onset for n in under)])
    end = max([end, *(n.end for n in under)])
    # A plain note that the run enters or leaves in its middle sounds on as it was outside the run.
    notes = _fringe(notes, under, begin, end)
    starts = {n.onset for n in notes}
    edges = sorted({begin, *(n.onset for n in under if n.onset in starts), end})
    made = []
    for low, high in itertools.pairwise(edges):
        mine = tuple(n for n in notes if low <= n.onset < high)
        plain = tuple(n for n in under if low <= n.onset < high)
        if not mine or not plain or [(n.onset, n.pitch) for n in mine] == [(n.onset, n.pitch) for n in plain]:
            continue
        after = next((n for n in heard if n.onset == high), None)
        pattern = known(mine, plain[0], after, table) if len(plain) == 1 else None
        made.append(_made(voice, low, high, mine, plain, after, pattern))
    return made


def _made(
    voice: str,
    low: Fraction,
    high: Fraction,
    notes: tuple[Note, ...],
    plain: tuple[Note, ...],
    after: Note | None,
    pattern: Pattern | None,
) -> Choice:
    return Choice(
        voice,
        low,
        high - low,
        pattern.id if pattern else "",
        pattern.figure if pattern else BY_HAND,
        plain[0],
        notes,
        after,
        pattern.late if pattern else Fraction(0),
        True,
        plain,
        pattern.character if pattern else "",
        pattern.source if pattern else "",
    )


def _fringe(notes: list[Note], under: Sequence[Note], begin: Fraction, end: Fraction) -> list[Note]:
    full = list(notes)
    first, last = notes[0], notes[-1]
    if begin < first.onset:
        if first.pitch == under[0].pitch:
            full[0] = Note(begin, first.end - begin, first.pitch, editorial=first.editorial)
        else:
            full.insert(0, Note(begin, first.onset - begin, under[0].pitch))
    last = full[-1]
    if last.end < end:
        if last.pitch == under[-1].pitch:
            full[-1] = Note(last.onset, end - last.onset, last.pitch, editorial=last.editorial)
        else:
            full.append(Note(last.end, end - last.end, under[-1].pitch))
    return full


def known(
    notes: tuple[Note, ...], plain: Note, after: Note | None, table: Sequence[Pattern]
) -> Pattern | None:
    """The table entry that these notes are: the same steps and values, the first note perhaps
    lengthened before it."""
    if plain.pitch is None or any(n.pitch is None for n in notes):
        return None
    steps = tuple(n.pitch.diatonic - plain.pitch.diatonic for n in notes if n.pitch)
    way = after.pitch.diatonic - plain.pitch.diatonic if after and after.pitch else None
    lengths = tuple(n.duration for n in notes)
    for pattern in table:
        if pattern.steps != steps or pattern.interval not in (None, way):
            continue
        if pattern.lengths[1:] == lengths[1:] and pattern.lengths[0] <= lengths[0]:
            return pattern
    return None
