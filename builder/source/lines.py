"""Reads the lines of a block of music: a voice, then a clef or the number of a bar, then bars."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from builder.music import VOICES, Clef, Version
from builder.source.errors import Faults, listing, nearest, shorten
from builder.source.page import Block
from builder.source.symbols import Fault, Segment, Word, read_bars, read_symbol, words

CLEFS = ("G1", "G2", "C1", "C2", "C3", "C4", "C5", "F3", "F4", "F5")
"""The clefs in which voices are written."""


@dataclass(slots=True)
class Line:
    """A line of music. `clef` in a given block, `first` (a bar) in a pinned one; None when wrong. A line of a
    given block that names a bar stands `beside` the given line, above it."""

    number: int
    voice: str | None = None
    clef: Clef | None = None
    first: int | None = None
    column: int = 1
    beside: bool = False
    segments: list[Segment] = field(default_factory=list)


def read_lines(block: Block, faults: Faults) -> list[Line]:
    """The lines of a block; faults of their beginnings are told at once, those of their symbols
    when their place is known."""
    found = []
    for number, text in block.lines:
        bare = text.strip()
        if bare and not bare.startswith("%"):
            found.append(read_line(number, text, block.kind is Version.GIVEN, faults))
    return found


def read_line(number: int, text: str, given: bool, faults: Faults) -> Line:
    """One line: of a `given` block, or one that begins with a voice and a bar."""
    bar_line = text.find("|")
    head = words(text if bar_line < 0 else text[:bar_line], 1)
    line = Line(number, column=head[0].column if head else 1)
    second = "clef" if given else "number of its first bar"
    if not head:
        faults.add(number, 1, "a line without a voice", f"a voice, a {second}, then bars")
        line.segments = read_bars(text, bar_line + 1)
        return line
    begin = _beginning(head)
    for fault in _voice(line, head[0], head[:begin], given):
        faults.add(number, fault.column, fault.found, fault.expected)
    if len(head) > begin:
        # music where the first bar line should stand: read it all the same
        fault = Fault(head[begin].column, shorten(head[begin].text), f"a bar line | after the {second}")
        faults.add(number, fault.column, fault.found, fault.expected)
        line.segments = read_bars(text, head[begin].column - 1)
    elif bar_line < 0:
        faults.add(
            number,
            len(text.rstrip()) + 1,
            "the end of the line",
            f"a bar line | and music after the {second}",
        )
    else:
        line.segments = read_bars(text, bar_line + 1)
        if not any(s.symbols or s.faults for s in line.segments):
            faults.add(number, bar_line + 1, "a line without music", "notes after the first bar line")
    return line


def _is_music(word: Word) -> bool:
    symbol = read_symbol(word.text, word.column)
    return bool(symbol.duration) or "{" in word.text


def _beginning(head: list[Word]) -> int:
    """How many words belong to the beginning of a line, before its music."""
    for n, word in enumerate(head[:2]):
        if _is_music(word):
            return n
    return 2


def _voice(line: Line, first: Word, begin: list[Word], given: bool) -> list[Fault]:
    """Read voice and clef (or bar), the words before the music, into the line; give what is wrong with
    them. `first`: the first word of all."""
    if begin and begin[0].text not in VOICES and len(begin) == 1 and _second(line, begin[0], given) is None:
        return [
            Fault(
                begin[0].column, f"{shorten(begin[0].text)} without a voice", f"{listing(VOICES)} before it"
            )
        ]
    if not begin:
        return [Fault(first.column, "music without a voice", f"{listing(VOICES)} before it")]
    faults = []
    if begin[0].text in VOICES:
        line.voice = begin[0].text
    else:
        hint = nearest(begin[0].text, VOICES)
        faults.append(Fault(begin[0].column, f"the voice {shorten(begin[0].text)}", listing(VOICES) + hint))
    if len(begin) < 2:
        if not faults:
            second = f"a clef such as {listing(CLEFS)}" if given else "the number of its first bar"
            end = begin[0].column + len(begin[0].text)
            faults.append(Fault(end, f"{begin[0].text} and no {'clef' if given else 'bar'}", second))
    elif fault := _second(line, begin[1], given):
        faults.append(fault)
    return faults


def _second(line: Line, word: Word, given: bool) -> Fault | None:
    """Read the clef of a given line, or the first bar of a pinned one."""
    if given and word.text in CLEFS:
        line.clef = Clef.parse(word.text)
        return None
    if re.fullmatch(r"[0-9]{1,5}", word.text) and int(word.text):
        line.first, line.column, line.beside = int(word.text), word.column, given
        return None
    if given:
        return Fault(word.column, f"the clef {shorten(word.text)}", f"{listing(CLEFS)}")
    return Fault(word.column, f"the bar {shorten(word.text)}", "the number of the first bar pinned, from 1")
