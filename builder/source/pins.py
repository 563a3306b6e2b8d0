"""Reads pinned notes: what a teacher sets by hand in a `plain` or `diminished` block."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import VOICES, Bar, Metre, Note, Pitch, Place, Version, place
from builder.source.errors import Faults
from builder.source.given import Given
from builder.source.lines import Line
from builder.source.span import Span
from builder.source.stacks import quarters
from builder.source.symbols import Segment, Symbol
from builder.source.verset import GivenNote, Pin

ZERO = Fraction(0)
KEYS = (Pitch.parse("C1"), Pitch.parse("D6"))
"""No organ keyboard goes beyond these (common practice, with room to spare)."""


@dataclass(slots=True)
class _Reading:
    """A line of pins while it is read."""

    line: Line
    faults: Faults
    metre: Metre
    notes: list[Note] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    tie: tuple[Symbol, Place, Fraction] | None = None

    def fault(self, column: int, found: str, expected: str, place: Place | None, bar: int = 0) -> None:
        self.faults.add(self.line.number, column, found, expected, place, bar or None)


def read_pins(
    blocks: list[tuple[Version, list[Line]]],
    given: Given,
    metre: Metre,
    faults: Faults,
    *,
    sure: bool,
    from_start: tuple[str, ...] = (),
) -> tuple[Pin, ...]:
    """The pins of all blocks. `sure`: the given line is without fault, so that what is pinned can
    be held against it; `from_start`: voices that need not enter with the line."""
    pins: list[Pin] = []
    line_of = _GivenLine(given, from_start)
    for version, lines in blocks:
        for line in lines:
            before = len(faults.errors)
            reading = _read(line, given, metre, faults, sure=sure)
            if line.voice is None or line.first is None:
                continue
            pin = Pin(version, line.voice, tuple(reading.notes), tuple(reading.spans), line.beside)
            if sure and len(faults.errors) == before:
                _check_free(pin, pins, line_of, metre, faults)
            pins.append(pin)
    return tuple(p for p in pins if p.notes)


def _bar(given: Given, metre: Metre, number: int) -> Bar:
    if 0 < number <= len(given.bars):
        return given.bars[number - 1]
    return Bar(number, (number - 1) * metre.bar, metre.bar)


def read_line_of_notes(
    line: Line, given: Given, metre: Metre, faults: Faults, *, sure: bool
) -> tuple[Note, ...]:
    """The notes and rests of a line that begins with a voice and a bar; what is left open (`_`) has none.
    `sure`: the given line is without fault, so that bars can be held against it."""
    return tuple(_read(line, given, metre, faults, sure=sure).notes)


def _read(line: Line, given: Given, metre: Metre, faults: Faults, *, sure: bool) -> _Reading:
    reading = _Reading(line, faults, metre)
    first = line.first or 1
    past = False
    for n, segment in enumerate(line.segments):
        number = first + n
        if line.first is not None and number > len(given.bars) + (0 if sure else given.slack) and not past:
            column = (
                line.column if n == 0 else (segment.symbols[0].column if segment.symbols else segment.end)
            )
            found, expected = (
                f"notes pinned in bar {number}",
                f"bars 1 to {len(given.bars)}, which the given line has",
            )
            reading.fault(column, found, expected, None, number)
            past = True
        _read_bar(
            reading, segment, _bar(given, metre, number), sure=sure and line.first is not None and not past
        )
    if reading.tie:
        _bad_tie(reading, "nothing")
    return reading


def _read_bar(reading: _Reading, segment: Segment, bar: Bar, *, sure: bool) -> None:
    metre = reading.metre
    for fault in segment.faults:
        reading.fault(fault.column, fault.found, fault.expected, None, bar.number)
    for _, column in segment.cuts:
        reading.fault(column, "a cut among pinned notes", "// in the given line", None, bar.number)
    now: Fraction | None = ZERO
    over: tuple[Symbol, Fraction] | None = None
    whole = len(segment.symbols) == 1
    for symbol in segment.symbols:
        place = None if now is None else Place(bar.number, now / metre.beat + 1)
        for fault in symbol.faults:
            reading.fault(fault.column, fault.found, fault.expected, place, bar.number)
        if symbol.groups:
            column = symbol.groups[0].column - 1
            reading.fault(
                column, "figures over a pinned note", "figures in the given line", place, bar.number
            )
        length = symbol.duration
        if symbol.kind == "blank" and length is None and not symbol.faults:
            if whole:
                length = bar.length
            else:
                expected = "a value, as in _/2; _ alone leaves the whole bar"
                reading.fault(symbol.column, "_ beside other notes", expected, place, bar.number)
        onset = None if now is None else bar.onset + now
        _hold(reading, symbol, onset, length, place)
        if now is not None and length is not None and now + length > bar.length and over is None:
            over = symbol, now
        now = None if now is None or length is None else now + length
    if sure and now is not None and not segment.unsure and now != bar.length:
        found = f"a bar of {quarters(now)}"
        expected = f"{quarters(bar.length)}, as long as the given line in this bar"
        column = over[0].column if over else segment.end
        reading.fault(column, found, expected, Place(bar.number, (over[1] if over else now) / metre.beat + 1))


def _hold(
    reading: _Reading, symbol: Symbol, onset: Fraction | None, length: Fraction | None, place: Place | None
) -> None:
    """Keep one pinned note or rest, and check the tie into it."""
    if reading.tie:
        tied = reading.tie[0].pitch
        if symbol.kind == "note":
            if symbol.pitch is not None and symbol.pitch != tied:
                _bad_tie(reading, symbol.pitch.name)
            symbol.editorial = reading.tie[0].editorial  # a held note keeps the sign it began with
        else:
            _bad_tie(reading, "a rest" if symbol.kind == "rest" else "a stretch left open")
    reading.tie = None
    if symbol.pitch is not None and not KEYS[0].midi <= symbol.pitch.midi <= KEYS[1].midi:
        expected = f"a note from {KEYS[0].name} to {KEYS[1].name}"
        reading.fault(symbol.column, f"{symbol.pitch.name}, which no keyboard has", expected, place)
    if onset is None or length is None or place is None or symbol.kind == "blank":
        return
    if symbol.tied:
        reading.tie = symbol, place, onset
    reading.notes.append(Note(onset, length, symbol.pitch, symbol.tied, symbol.editorial))
    reading.spans.append(Span(reading.line.number, symbol.column))


def _bad_tie(reading: _Reading, to: str) -> None:
    assert reading.tie is not None
    symbol, place, _ = reading.tie
    name = symbol.pitch.name if symbol.pitch else symbol.text
    column = symbol.column + len(symbol.text) - 1
    reading.fault(column, f"a tie from {name} to {to}", f"{name} again after the tie", place)


class _GivenLine:
    """The given line with what is asked of it for every pin."""

    def __init__(self, given: Given, from_start: tuple[str, ...]) -> None:
        self.bars, self.notes = given.bars, given.notes
        self.entered = dict.fromkeys(from_start, Fraction(0))
        for g in given.notes:
            if g.note.pitch is not None:
                self.entered.setdefault(g.voice, g.note.onset)

    def during(self, note: Note) -> Iterator[GivenNote]:
        """What the line has while a note lasts."""
        start = bisect_right(self.notes, note.onset, key=lambda g: g.note.end)
        for g in self.notes[start:]:
            if g.note.onset >= note.end:
                return
            yield g


def _check_free(pin: Pin, before: list[Pin], given: _GivenLine, metre: Metre, faults: Faults) -> None:
    """Pinned notes may not meet the given line, other pins, or a silent voice; the first note of
    a line that does is told, not every one."""
    for note, span in zip(pin.notes, pin.spans):
        trouble = _met(note, pin, before) or _silent(note, pin.voice, given)
        if trouble:
            faults.add(span.line, span.column, *trouble, place(given.bars, metre, note.onset))
            return


def _met(note: Note, pin: Pin, before: list[Pin]) -> tuple[str, str] | None:
    for other in before:
        if not other.notes or other.notes[-1].end <= note.onset or note.end <= other.notes[0].onset:
            continue
        if (other.version, other.voice) == (pin.version, pin.voice):
            for there, span in zip(other.notes, other.spans):
                if there.onset < note.end and note.onset < there.end:
                    found = f"the {pin.voice} pinned here already, in line {span.line}"
                    return found, "each place of a voice pinned once in a version"
    return None


def _silent(note: Note, voice: str, given: _GivenLine) -> tuple[str, str] | None:
    """Why a voice cannot have a pinned note at a place, if it cannot."""
    for g in given.during(note):
        if g.voice == voice:
            return (
                f"the {voice} pinned where it has the given line",
                "pins in the voices above the given line",
            )
        entered = voice in given.entered and given.entered[voice] <= g.note.onset
        if note.pitch is not None and (trouble := _above(voice, g, entered)):
            return trouble
    return None


def _above(voice: str, given: GivenNote, entered: bool) -> tuple[str, str] | None:
    if given.note.pitch is None:
        return (
            f"the {voice} pinned where the given line rests",
            "_ or a rest: the voices are silent with the line",
        )
    if not entered:
        return (
            f"the {voice} pinned before it has entered",
            "_ or a rest until the given line has brought it in",
        )
    if VOICES.index(voice) > VOICES.index(given.voice):
        found = f"the {voice} pinned below the given line, which the {given.voice} has here"
        return found, "_ or a rest: the given line is the lowest voice"
    return None
