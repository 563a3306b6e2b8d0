"""Reads the blocks `fingering` and `ossia`: what an editor sets above notes.

A line is a voice, the version where it is not the given line, the number of its first bar, and bars:

    cantus 1 | 3 2 1 _ | 4-3 2
    altus plain 4 | F4/4 E4/8 D4/8 _/2

Fingers go to the notes that the voice strikes, in their order in the bar; `_` leaves a note without. An ossia
is written as pinned notes are: `_` leaves what the music has.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from builder.music import Metre, Version
from builder.source.errors import Faults, listing, shorten
from builder.source.given import Given
from builder.source.lines import Line, read_line
from builder.source.page import Block
from builder.source.pins import read_line_of_notes
from builder.source.span import Span
from builder.source.symbols import Word, words
from builder.source.verset import Fingers, Ossia, Pin

_FINGER = re.compile(r"[1-5](?:-[1-5])?|_")
FINGER = "a finger from 1 to 5, a change such as 4-3, or _ where there is none"
_VERSION = re.compile(r"^(\s*\S+\s+)(plain|diminished)(?=\s)")


def read_fingers(
    blocks: Sequence[Block], given: Given, pins: Sequence[Pin], faults: Faults, *, sure: bool
) -> tuple[Fingers, ...]:
    """The fingers of all blocks. `sure`: the given line is without fault, so that they can be counted against
    its notes."""
    found = []
    for number, text in _lines(blocks):
        version, plain = _versioned(text)
        bar_line = plain.find("|")
        # the beginning is read as that of any line with a bar; fingers are no notes
        head = plain if bar_line < 0 else f"{plain[:bar_line]}| _"
        line = read_line(number, head, False, faults)
        bars = list(_bars(plain, bar_line)) if bar_line >= 0 else []
        told_wrong = [x for n, bar in enumerate(bars) for x in bar if not _is_finger(x, line, n, faults)]
        good = not told_wrong
        if not line.voice or line.first is None or not bars:
            continue
        if sure:
            good &= _has_voice(line, given, faults) and _has_notes(line, version, bars, given, pins, faults)
        told = tuple(tuple(word.text.replace("_", "") for word in bar) for bar in bars)
        if good:
            found.append(Fingers(version, line.voice, line.first, told, Span(number, line.column)))
    return tuple(found)


def read_ossias(
    blocks: Sequence[Block], given: Given, metre: Metre, faults: Faults, *, sure: bool
) -> tuple[Ossia, ...]:
    """The ossias of all blocks; `sure` as of `read_fingers`."""
    found = []
    for number, text in _lines(blocks):
        version, plain = _versioned(text)
        line = read_line(number, plain, False, faults)
        notes = read_line_of_notes(line, given, metre, faults, sure=sure)
        if line.voice and line.first is not None and (not sure or _has_voice(line, given, faults)) and notes:
            found.append(Ossia(version, line.voice, notes, Span(number, line.column)))
    return tuple(found)


def _lines(blocks: Sequence[Block]) -> Iterator[tuple[int, str]]:
    for block in blocks:
        for number, text in block.lines:
            if text.strip() and not text.strip().startswith("%"):
                yield number, text


def _versioned(text: str) -> tuple[Version, str]:
    """The version that a line names, and the line without it, each word in its column."""
    named = _VERSION.match(text)
    if not named:
        return Version.GIVEN, text
    return Version(named[2]), named[1] + " " * len(named[2]) + text[named.end() :]


def _bars(text: str, bar_line: int) -> Iterator[list[Word]]:
    at = bar_line + 1
    parts = text[at:].split("|")
    for n, part in enumerate(parts):
        if part.strip() or n < len(parts) - 1:
            yield words(part, at + 1)
        at += len(part) + 1


def _is_finger(word: Word, line: Line, n: int, faults: Faults) -> bool:
    if _FINGER.fullmatch(word.text):
        return True
    bar = line.first + n if line.first else None
    faults.add(line.number, word.column, f"the finger {shorten(word.text)}", FINGER, None, bar)
    return False


def _has_voice(line: Line, given: Given, faults: Faults) -> bool:
    there = list(dict.fromkeys(g.voice for g in given.notes if g.note.pitch))
    if line.voice in there:
        return True
    found = f"the {line.voice}, which the given line does not bring in"
    faults.add(line.number, 1, found, listing(there))
    return False


def _has_notes(
    line: Line,
    version: Version,
    bars: Sequence[Sequence[Word]],
    given: Given,
    pins: Sequence[Pin],
    faults: Faults,
) -> bool:
    """Whether the bars are there and, in the given line, have a note for each finger."""
    assert line.first is not None
    last = line.first + len(bars) - 1
    if last > len(given.bars):
        found, expected = f"fingers for bar {last}", f"bars 1 to {len(given.bars)}, which the given line has"
        faults.add(line.number, line.column, found, expected)
        return False
    if version is not Version.GIVEN:
        return True
    rows = [g.note for g in given.notes if g.voice == line.voice]
    rows += [note for pin in pins if pin.beside and pin.voice == line.voice for note in pin.notes]
    rows.sort(key=lambda note: note.onset)
    held = {b.onset for a, b in pairwise(rows) if a.tied}
    for n, bar in enumerate(bars):
        here = given.bars[line.first + n - 1]
        count = sum(bool(x.pitch) and here.onset <= x.onset < here.end and x.onset not in held for x in rows)
        if len(bar) > count:
            found = f"{len(bar)} fingers for {count} notes"
            expected = "a finger or _ for each note that is struck"
            faults.add(line.number, bar[count].column, found, expected, None, here.number)
            return False
    return True
