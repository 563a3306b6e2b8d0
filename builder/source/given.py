"""Sets the given line in time: bars, onsets, figures, ties, compass."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import Bar, Figure, Metre, Note, Place
from builder.source.errors import Faults, listing
from builder.source.lines import Line
from builder.source.span import Span
from builder.source.stacks import Group, quarters, timed
from builder.source.symbols import Segment, Symbol
from builder.source.verset import Cut, GivenNote

ZERO = Fraction(0)


@dataclass(slots=True)
class Piece:
    """A stretch of a bar that stands in one line; a bar shared by two voices has two."""

    line: Line
    segment: Segment


@dataclass(slots=True)
class Given:
    """The given line in time. `slack` is how many bars more or fewer there may be than counted,
    because some do not add up."""

    bars: tuple[Bar, ...] = ()
    notes: tuple[GivenNote, ...] = ()
    cuts: tuple[Cut, ...] = ()
    slack: int = 0


@dataclass(slots=True)
class _Held:
    """A symbol with its line and its place in time (None when it cannot be told)."""

    line: Line
    symbol: Symbol
    bar: int
    onset: Fraction | None
    place: Place | None


@dataclass(slots=True)
class _State:
    faults: Faults
    metre: Metre
    beyond: Collection[int] = ()
    """Bars in which a note may lie off its stave."""
    held: list[_Held] = field(default_factory=list)
    cuts: list[tuple[Cut, int]] = field(default_factory=list)
    """Cuts with the number of symbols of the whole line before each."""


def set_in_time(
    lines: list[Line], metre: Metre | None, faults: Faults, beyond: Collection[int] = ()
) -> Given:
    """Bars and notes of the given line. Without a metre only the symbols are checked. `beyond` are bars in
    which a licence lets notes lie off their stave."""
    return set_bars(gather_bars(lines, metre), metre, faults, beyond)


def set_bars(
    bars: list[list[Piece]], metre: Metre | None, faults: Faults, beyond: Collection[int] = ()
) -> Given:
    """The same from bars that are known already."""
    state = _State(faults, metre or Metre.parse("C"), beyond)
    slack, counted = 0, []
    for n, pieces in enumerate(bars):
        last = n == len(bars) - 1
        onset = n * state.metre.bar
        length = _check_bar(n + 1, pieces, last, faults, metre) if metre else None
        slack += length is None
        counted.append(Bar(n + 1, onset, length or state.metre.bar))
        _place_symbols(n + 1, onset, pieces, state, sure=metre is not None)
    _check_ties(state)
    _check_cuts(state)
    notes = tuple(_given_notes(state))
    return Given(tuple(counted), notes, tuple(cut for cut, _ in state.cuts), slack)


def gather_bars(lines: list[Line], metre: Metre | None) -> list[list[Piece]]:
    """The stretches of each bar: a line that breaks off inside a bar shares it with the next."""
    bars: list[list[Piece]] = []
    open_bar: list[Piece] | None = None
    for line in lines:
        for segment in line.segments:
            piece = Piece(line, segment)
            if open_bar is not None and metre and _joins(open_bar, segment, metre.bar):
                open_bar.append(piece)
            else:
                open_bar = [piece]
                bars.append(open_bar)
            if segment.closed:
                open_bar = None
    return bars


def _joins(pieces: list[Piece], segment: Segment, bar: Fraction) -> bool:
    """Whether a stretch goes on in the bar that the line before left open. Where lengths cannot
    be told the likelier answer is taken, so that one slip does not shift every bar after it."""
    known = sum((p.segment.known for p in pieces), ZERO)
    unsure = any(p.segment.length is None for p in pieces)
    if known >= bar or segment.known >= bar:
        return False
    return not unsure or known + segment.known <= bar


def _check_bar(number: int, pieces: list[Piece], last: bool, faults: Faults, metre: Metre) -> Fraction | None:
    """The length of a bar when it is right; else None, and the fault is told (unless a symbol
    that could not be read is to blame, which is told already)."""
    if any(p.segment.length is None for p in pieces):
        return None
    total = sum((p.segment.known for p in pieces), ZERO)
    if total == metre.bar or (last and total > metre.bar and _one_note(pieces)):
        return total
    found = f"a bar of {quarters(total)}"
    if len(pieces) > 1:
        found += f" shared by {listing((p.line.voice or '?' for p in pieces), 'and')}"
    expected = f"{quarters(metre.bar)}, as the metre {metre.symbol} has"
    if total < metre.bar:
        end = pieces[-1]
        place = Place(number, total / metre.beat + 1)
        if last:
            expected += "; a last bar is filled with a longer note or with rests"
        elif number == 1:
            expected += "; a first bar begins with rests when the music begins later"
        faults.add(end.line.number, end.segment.end, found, expected, place)
        return None
    if last:
        expected += ", or one note held"
    line, symbol, offset = _overrun(pieces, metre.bar)
    faults.add(line.number, symbol.column, found, expected, Place(number, offset / metre.beat + 1))
    return None


def _one_note(pieces: list[Piece]) -> bool:
    """Whether a bar holds one note, written once or with ties."""
    symbols = [s for p in pieces for s in p.segment.symbols]
    return all(s.kind == "note" and s.pitch == symbols[0].pitch for s in symbols) and all(
        s.tied for s in symbols[:-1]
    )


def _overrun(pieces: list[Piece], bar: Fraction) -> tuple[Line, Symbol, Fraction]:
    """The first symbol that does not fit into its bar, and where it begins."""
    now = ZERO
    for piece in pieces:
        for symbol in piece.segment.symbols:
            length = symbol.duration or ZERO
            if now + length > bar:
                return piece.line, symbol, now
            now += length
    raise AssertionError("the bar is not too long")


def _place_symbols(number: int, onset: Fraction, pieces: list[Piece], state: _State, *, sure: bool) -> None:
    """Give every symbol its onset, and tell its faults with bar and beat."""
    now: Fraction | None = ZERO if sure else None
    for piece in pieces:
        line = piece.line
        for fault in piece.segment.faults:
            state.faults.add(line.number, fault.column, fault.found, fault.expected, None, number)
        for n, symbol in enumerate(piece.segment.symbols):
            _place_cuts(piece, n, onset, now, state)
            place = None if now is None else Place(number, now / state.metre.beat + 1)
            for fault in symbol.faults:
                state.faults.add(line.number, fault.column, fault.found, fault.expected, place, number)
            if symbol.kind == "blank":
                found, expected = "a stretch left open", "a note or a rest: _ belongs to plain and diminished"
                state.faults.add(line.number, symbol.column, found, expected, place, number)
            start = None if now is None else onset + now
            state.held.append(_Held(line, symbol, number, start, place))
            now = None if now is None or symbol.duration is None else now + symbol.duration
        _place_cuts(piece, len(piece.segment.symbols), onset, now, state)
        if piece.segment.unsure:
            now = None


def _place_cuts(piece: Piece, n: int, onset: Fraction, now: Fraction | None, state: _State) -> None:
    """Give the cuts before the symbol `n` of a stretch their time, where it can be told."""
    for before, column in piece.segment.cuts:
        if before == n and now is not None:
            cut = Cut(onset + now, Span(piece.line.number, column))
            state.cuts.append((cut, len(state.held)))


def _check_cuts(state: _State) -> None:
    """A cut stands between two notes, once at a place, and not inside a held note."""
    notes = [n for n, held in enumerate(state.held) if held.symbol.pitch is not None]
    seen: set[int] = set()
    for cut, before in state.cuts:
        held = state.held[before - 1] if before else None
        if not notes or not notes[0] < before <= notes[-1]:
            found, expected = "a cut at the edge of the line", "notes before and after //"
        elif held and held.symbol.tied:
            found, expected = "a cut inside a held note", "// before the note or after it"
        elif before in seen:
            found, expected = "a second cut at one place", "one // at a place"
        else:
            seen.add(before)
            continue
        state.faults.add(cut.span.line, cut.span.column, found, expected, held.place if held else None)


def _check_ties(state: _State) -> None:
    """A tie holds a note into the next one of the same pitch and voice."""
    for held, after in zip(state.held, [*state.held[1:], None]):
        symbol = held.symbol
        if not symbol.tied or symbol.pitch is None:
            continue
        name = symbol.pitch.name
        expected = f"{name} again after the tie, in the same voice"
        if after is None:
            found = f"a tie from {name} to nothing"
        elif after.symbol.kind == "rest":
            found = f"a tie from {name} to a rest"
        elif after.symbol.kind == "blank" or after.symbol.pitch is None:
            continue  # told already
        elif after.symbol.pitch != symbol.pitch:
            found = f"a tie from {name} to {after.symbol.pitch.name}"
        elif held.line.voice and after.line.voice and after.line.voice != held.line.voice:
            found = f"a tie from {held.line.voice} to {after.line.voice}"
        else:
            after.symbol.editorial = symbol.editorial  # a held note keeps the sign it began with
            continue
        column = symbol.column + len(symbol.text) - 1
        state.faults.add(held.line.number, column, found, expected, held.place, held.bar)


def _given_notes(state: _State) -> Iterator[GivenNote]:
    """The notes, with figures in time; those that cannot be placed are left out (and told)."""
    sounding = False
    for held in state.held:
        symbol, line = held.symbol, held.line
        _check_compass(held, state)
        figures: tuple[Figure, ...] = ()
        if symbol.groups and symbol.duration is not None:
            figures = _figures(held, symbol.duration, state)
            if symbol.groups[0].dash and not sounding and symbol.kind == "note":
                group = symbol.groups[0]
                found, expected = "a dash with nothing before it to hold", "figures, or no braces"
                state.faults.add(line.number, group.column, found, expected, held.place, held.bar)
        sounding = symbol.kind != "rest"
        if held.onset is None or symbol.duration is None or line.voice is None or line.clef is None:
            continue
        if symbol.kind == "blank":
            continue
        note = Note(held.onset, symbol.duration, symbol.pitch, symbol.tied, symbol.editorial)
        yield GivenNote(note, line.voice, line.clef, figures, Span(line.number, symbol.column))


def _figures(held: _Held, length: Fraction, state: _State) -> tuple[Figure, ...]:
    lengths = timed(held.symbol.groups, length)
    if isinstance(lengths, tuple):
        column, found, expected = lengths
        state.faults.add(held.line.number, column, found, expected, held.place, held.bar)
        return ()
    if held.onset is None:
        return ()
    return tuple(spread(held.symbol.groups, lengths, held.onset))


def spread(groups: tuple[Group, ...], lengths: list[Fraction], onset: Fraction) -> Iterator[Figure]:
    """Stacks one after another, from a time on, each with its length."""
    for group, length in zip(groups, lengths):
        yield Figure(onset, length, group.signs, group.dash)
        onset += length


def _check_compass(held: _Held, state: _State) -> None:
    """A note far off its stave is a wrong octave or a wrong clef, unless the bar has a licence for it."""
    pitch, clef = held.symbol.pitch, held.line.clef
    if pitch is None or clef is None or {0, held.bar} & {*state.beyond}:
        return
    low, high = clef.compass
    if not low.diatonic <= pitch.diatonic <= high.diatonic:
        found = f"{pitch.name} under the clef {clef.name}"
        expected = (
            f"a note from {low.name} to {high.name}, which that clef holds, or a licence for the rule compass"
        )
        state.faults.add(held.line.number, held.symbol.column, found, expected, held.place, held.bar)
