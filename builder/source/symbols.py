"""Reads one line of music into symbols: notes, rests, figures, bar lines.

Every symbol keeps its column, and its faults until the bar and beat it stands on are known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import Pitch
from builder.music.pitch import STEPS
from builder.music.time import LENGTHS, VALUES
from builder.source.errors import listing, nearest, shorten
from builder.source.stacks import Group, read_groups

PITCH = "a pitch such as D5, Bb4, F#3 or F(#)4"
_NOTE = re.compile(r"([A-G])(\((?:##|#|bb|b|n)\)|##|#|bb|b)?([0-9])$")
_ALTER = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2, "n": 0}
_MARKS = re.compile(r"[{}|]")
_WORD = re.compile(r"[^\s{|]+")
CUT = "//"
"""Divides the lesson, between two notes of the given line."""
SIGNS = "♯♭♮𝄪𝄫"
OVER_A_REST = (
    "figures only over a note: where the chord sounds in the rest, write the note that bears it, or give the "
    "note before it the figures with their values, as in {5:4 6:4}"
)
ASCII = "the plain signs # b n"


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a symbol; the bar and beat are added when they are known."""

    column: int
    found: str
    expected: str


@dataclass(slots=True)
class Symbol:
    """One symbol of a line. `kind`: `note`, `rest`, or `blank` (left to the engine).

    `duration` is None where it cannot be told: a fault, or a blank that takes its whole bar.
    """

    kind: str
    column: int
    text: str
    duration: Fraction | None = None
    pitch: Pitch | None = None
    tied: bool = False
    editorial: bool = False
    groups: tuple[Group, ...] = ()
    faults: list[Fault] = field(default_factory=list)


@dataclass(slots=True)
class Segment:
    """What stands in one line between two bar lines. `closed` by a bar line; `end` is the column
    where it stops. `unsure` when part of it could not be read. `cuts` are the places where the lesson is
    divided: how many symbols stand before each, and its column."""

    symbols: list[Symbol] = field(default_factory=list)
    end: int = 1
    closed: bool = False
    unsure: bool = False
    faults: list[Fault] = field(default_factory=list)
    cuts: list[tuple[int, int]] = field(default_factory=list)

    @property
    def length(self) -> Fraction | None:
        """In quarter notes; None when a symbol's length cannot be told."""
        if self.unsure or any(s.duration is None for s in self.symbols):
            return None
        return self.known

    @property
    def known(self) -> Fraction:
        return sum((s.duration for s in self.symbols if s.duration), Fraction(0))


@dataclass(frozen=True, slots=True)
class Word:
    """A run of characters and its column."""

    text: str
    column: int


def words(text: str, column: int) -> list[Word]:
    """
    >>> words("cantus C1", 1)
    [Word(text='cantus', column=1), Word(text='C1', column=8)]
    """
    return [Word(m[0], m.start() + column) for m in re.finditer(r"\S+", text)]


def read_bars(text: str, start: int) -> list[Segment]:
    """The bars of a line from a column (counted from 0) on."""
    segments = [Segment(end=start + 1)]
    at = start
    mark = _MARKS.search(text, at)
    while at < len(text):
        char, now = text[at], segments[-1]
        if mark and mark.start() < at:
            mark = _MARKS.search(text, at)
        if char.isspace():
            at += 1
            continue
        if char == "|":
            _close(now, at + 1)
            segments.append(Segment(end=at + 1))
            at += 1
        elif char == "{":
            at = _brace(text, at, now)
        elif mark and mark[0] == "}":
            at = _unopened(text, at, mark.start(), now)
        else:
            word = _WORD.match(text, at)
            assert word
            if word[0] == CUT:
                now.cuts.append((len(now.symbols), at + 1))
            else:
                now.symbols.append(read_symbol(word[0], at + 1))
            at = word.end()
            now.end = at + 1
    if len(segments) > 1 and not segments[-1].symbols and not segments[-1].faults:
        last = segments.pop()
        # a cut behind the last bar line stands at the end of the bar before it
        segments[-1].cuts += [(len(segments[-1].symbols), column) for _, column in last.cuts]
    return segments


def _close(segment: Segment, column: int) -> None:
    segment.closed, segment.end = True, column
    if not segment.symbols and not segment.faults:
        segment.unsure = True
        segment.faults.append(
            Fault(column, "an empty bar", "notes, or a rest such as R/1, between bar lines")
        )


def _unopened(text: str, at: int, end: int, segment: Segment) -> int:
    """Read up to a closing brace that nothing opened: one mistake, whatever the figures before it
    look like without their brace."""
    read = [read_symbol(word.text, word.column) for word in words(text[at:end], at + 1)]
    segment.symbols += [symbol for symbol in read if not symbol.faults]
    segment.unsure = True
    segment.faults.append(Fault(end + 1, "a brace that was not opened", "{ before the figures"))
    segment.end = end + 2
    return end + 1


def _brace(text: str, at: int, segment: Segment) -> int:
    """Read figures in braces and hang them on the note before; give where to go on."""
    stop = _MARKS.search(text, at + 1)
    end = stop.start() if stop else len(text)
    column = at + 1
    if not stop or stop[0] != "}":
        # what follows may be figures or notes: nobody can tell, so the bar is not counted
        segment.unsure = True
        segment.faults.append(Fault(column, "a brace that is never closed", "} after the figures"))
        return end
    note = segment.symbols[-1] if segment.symbols else None
    if note is None:
        segment.faults.append(Fault(column, "figures before any note of the bar", "a note, then its figures"))
    elif note.kind == "blank" or (note.kind == "rest" and not note.faults):
        segment.faults.append(Fault(column, "figures over a rest", OVER_A_REST))
    elif note.groups:
        segment.faults.append(Fault(column, "a second brace over one note", "all its figures in one brace"))
    else:
        groups, faults = read_groups(text[at + 1 : end], column + 1)
        note.groups = groups
        note.faults += [Fault(*fault) for fault in faults]
    segment.end = end + 2
    return end + 1


def read_symbol(text: str, column: int) -> Symbol:
    """One note, rest or blank.

    >>> read_symbol("F(#)4/4.", 1).pitch, read_symbol("F(#)4/4.", 1).duration
    (Pitch('F#4'), Fraction(3, 2))
    >>> [f.found for f in read_symbol("H4/2", 1).faults]
    ['the pitch "H4"']
    """
    head, slash, tail = text.partition("/")
    kind = {"R": "rest", "_": "blank"}.get(head, "note")
    symbol = Symbol(kind, column, text)
    if text.startswith("%"):
        symbol.faults.append(Fault(column, "a comment after music", "% at the beginning of a line"))
        return symbol
    if slash:
        _value(symbol, tail, column + len(head) + 1)
    elif kind == "rest" or (kind == "note" and _NOTE.match(head)):
        symbol.faults.append(Fault(column, f"{shorten(text)} without a value", f"a value, as in {head}/2"))
        return symbol
    if kind == "note":
        _pitch(symbol, head, column)
    return symbol


def _value(symbol: Symbol, tail: str, column: int) -> None:
    """The value after the slash, with its dots and its tie."""
    match = re.fullmatch(r"([^.~]*)(\.*)(~?)", tail)
    name, dots, tie = match.groups() if match else (tail, "", "")
    duration = LENGTHS.get((name, len(dots)))
    if duration is None:
        known = f"{listing(VALUES)}, with at most two dots, then ~ for a tie"
        hint = nearest(name, ("breve", "longa")) if name.isalpha() else ""
        symbol.faults.append(Fault(column, f"the value {shorten(tail)}", known + hint))
        return
    symbol.duration = duration
    symbol.tied = bool(tie)
    if tie and symbol.kind != "note":
        what = "a rest" if symbol.kind == "rest" else "a stretch left open"
        symbol.tied = False
        symbol.faults.append(Fault(column + len(tail) - 1, f"a tie from {what}", "a tie between two notes"))


def _pitch(symbol: Symbol, head: str, column: int) -> None:
    match = _NOTE.match(head)
    if match:
        letter, sign, octave = match.groups()
        symbol.editorial = bool(sign) and sign.startswith("(")
        symbol.pitch = Pitch(int(octave) * 7 + STEPS.index(letter), _ALTER[(sign or "").strip("()")])
        return
    symbol.faults.append(Fault(column, f"the pitch {shorten(head)}" if head else "no pitch", _hint(head)))


def _hint(head: str) -> str:
    """What to write instead of a pitch that is none."""
    if set(head) & set(SIGNS):
        return f"{ASCII} in a pitch, such as F#4 or Bb4"
    if re.fullmatch(r"[a-g].*", head) and _NOTE.match(head[0].upper() + head[1:]):
        return f"a capital letter: {head[0].upper()}{head[1:]}"
    if re.fullmatch(r"r|rest|r\d*", head.lower()):
        return "R/ and a value for a rest, such as R/2"
    if re.fullmatch(r"[A-G](#|b|\(.*\))?", head):
        return f"an octave after the letter, such as {head}4"
    if match := re.fullmatch(r"([A-G])(\d)(##|#|bb|b)", head):
        return f"the accidental before the octave: {match[1]}{match[3]}{match[2]}"
    if match := re.fullmatch(r"([A-G])n(\d)", head):
        plain = f"{match[1]}{match[2]}"
        return f"no sign for a natural: {plain}, or {match[1]}(n){match[2]} when the editor adds it"
    return PITCH
