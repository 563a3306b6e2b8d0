"""From what an encoded file (MusicXML, MEI) says to a `Verset`: voices from names or clefs, figures
hung on their notes, bars checked as those of a source are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from builder.music import VOICES, Clef, FigureSign, Metre, Pitch, Place, Signature, written
from builder.music.score import split
from builder.music.time import LENGTHS, Bar
from builder.source.barring import starts_of
from builder.source.carried import Carried, joined, read_carried
from builder.source.errors import Faults, SourceErrors, named, visible
from builder.source.front import playable
from builder.source.given import Piece, set_bars
from builder.source.lines import CLEFS, Line
from builder.source.parse import TEMPO
from builder.source.stacks import Group
from builder.source.symbols import Fault, Segment, Symbol
from builder.source.verset import Verset
from builder.source.write import tempo_text
from builder.source.xmltree import Element

SINGLE = "values with at most two dots, and no tuplets"
NAMES = {
    **{voice: voice for voice in VOICES},
    **{"canto": "cantus", "soprano": "cantus", "superius": "cantus", "discantus": "cantus"},
    **{"alto": "altus", "contralto": "altus", "tenore": "tenor", "basso": "bassus", "bass": "bassus"},
}
"""Names by which a file may call a voice."""
NATURAL = {
    **{"G1": "cantus", "G2": "cantus", "C1": "cantus", "C2": "altus", "C3": "altus"},
    **{"C4": "tenor", "C5": "bassus", "F3": "bassus", "F4": "bassus", "F5": "bassus"},
}
HIGH = {**NATURAL, "C2": "altus", "C3": "tenor", "C4": "bassus"}


@dataclass(slots=True)
class Event:
    """One note or rest of a file, with the clef it stands in and the voice named at it, if any."""

    at: Element
    length: Fraction | None
    pitch: Pitch | None = None
    rest: bool = False
    tied: bool = False
    editorial: bool = False
    clef: Clef | None = None
    named: str = ""


@dataclass(frozen=True, slots=True)
class Stack:
    """Figures at a time within a bar (in quarter notes); `duration` where the file gives one."""

    at: Element
    offset: Fraction
    signs: tuple[FigureSign, ...]
    dash: bool = False
    duration: Fraction | None = None


@dataclass(slots=True)
class Encoded:
    """What a file says. `front` is what it carries of its source, when this project wrote it."""

    path: str
    root: Element
    faults: Faults
    title: str = ""
    metre: Metre | None = None
    signature: Signature | None = None
    tempo: tuple[Fraction, Fraction] | None = None
    bars: list[list[Event]] = field(default_factory=list)
    stacks: list[list[Stack]] = field(default_factory=list)
    front: Element | None = None
    upbeat: bool = False
    """Whether the first bar was filled, so that the last may be short."""

    def signature_so_far(self, *, first: bool) -> Signature | None:
        """The signature that was said; behind the `first` bar one without signs, where none was."""
        return self.signature or (None if first else Signature())

    def wrong(
        self,
        at: Element,
        found: str,
        expected: str,
        bar: int | None = None,
        offset: Fraction | None = None,
    ) -> None:
        """Note an error; with the beat where `offset` (quarter notes) says where in its bar it stands."""
        place = None
        if bar and offset is not None and self.metre:
            place = Place(bar, 1 + offset / self.metre.beat)
        self.faults.add(at.line, at.column, found, expected, place, bar)


def voice_named(text: str) -> str:
    """The voice that a word on the page names, or nothing.

    >>> voice_named("Tenore."), voice_named("dolce")
    ('tenor', '')
    """
    return NAMES.get(text.strip(" .:").lower(), "")


def voices_of_clefs(clefs: Iterable[str]) -> dict[str, str]:
    """Which voice each clef stands for: high clefs when a file has C2, or G2 without C1 and F4.

    >>> voices_of_clefs(["C1", "C3", "C4", "F4"])["C3"], voices_of_clefs(["G2", "C2", "C3", "F3"])["C3"]
    ('altus', 'tenor')
    """
    found = set(clefs)
    high = "C1" not in found and "F4" not in found and bool(found & {"G2", "C2"})
    return HIGH if high else NATURAL


def verset(said: Encoded) -> Verset:
    """The verset of a file, or `SourceErrors` with all that is wrong with it."""
    faults = said.faults
    carried = _carried(said)
    if said.metre is None and not faults.errors:
        said.wrong(said.root, "no metre", "a time signature in the first bar")
    _fill_bars(said)
    said.bars = [
        [part for event in _under_figures(bar, stacks) for part in _divided(event)]
        for bar, stacks in zip(said.bars, said.stacks)
    ]
    voices = _voices(said)
    bars = [
        [_piece(event, voice) for event, voice in zip(bar, named)] for bar, named in zip(said.bars, voices)
    ]
    for n, (events, pieces, stacks) in enumerate(zip(said.bars, bars, said.stacks), 1):
        _hang(n, events, pieces, stacks, said)
    given = set_bars(bars, said.metre, faults)
    if not faults.errors and not any(g.note.pitch for g in given.notes):
        said.wrong(said.root, "no notes", "a given line")
    faults.stop()
    assert said.metre is not None
    name = Path(said.path).name.split(".")[0]
    line = Verset(
        name=name,
        path=said.path,
        title=carried.front.title or visible(said.title) or name,
        metre=said.metre,
        signature=said.signature or Signature(),
        bars=given.bars,
        given=given.notes,
        tempo=said.tempo or TEMPO,
    )
    return _joined(line, carried, said)


def fill_upbeat(at: Element, said: Encoded, events: list[Event], stacks: list[Stack]) -> None:
    """Put rests before a first bar that begins later than at its bar line."""
    lengths = [event.length for event in events]
    total = sum((length for length in lengths if length), Fraction(0))
    if said.metre is None or None in lengths or total >= said.metre.bar:
        return
    missing = said.metre.bar - total
    rests = [d for _, d in split(Fraction(0), missing, (Bar(1, Fraction(0), said.metre.bar),))]
    said.upbeat = True
    clef, named = events[0].clef, events[0].named
    events[:0] = [Event(at, d, rest=True, clef=clef, named=named) for d in rests]
    stacks[:] = [replace(s, offset=s.offset + missing) for s in stacks]


def _fill_bars(said: Encoded) -> None:
    """Make whole bars of short ones: two that a repeat divides become one, and after a pick-up the last
    bar is filled with rests. What fits in no such way is left, and told with its bar."""
    lengths = [sum((e.length for e in bar if e.length), Fraction(0)) for bar in said.bars]
    unsure = any(e.length is None for bar in said.bars for e in bar)
    if said.metre is None or unsure or all(n == said.metre.bar for n in lengths):
        return
    whole = said.metre.bar
    starts = starts_of(lengths, whole)
    if isinstance(starts, int) or starts[0]:
        return
    bars: list[list[Event]] = []
    stacks: list[list[Stack]] = []
    for start, events, over in zip(starts, said.bars, said.stacks):
        within = start % whole
        if not within:
            bars.append([])
            stacks.append([])
        bars[-1] += events
        stacks[-1] += [replace(s, offset=s.offset + within) for s in over]
    missing = -(starts[-1] + lengths[-1]) % whole
    if missing and (said.upbeat or len(bars) < len(said.bars)):
        last = bars[-1][-1]
        bars[-1].append(Event(last.at, missing, rest=True, clef=last.clef))
    said.bars, said.stacks = bars, stacks


def _under_figures(events: list[Event], stacks: list[Stack]) -> Iterator[Event]:
    """The notes of a bar; one over which figures begin only later is divided there, and held."""
    start = Fraction(0)
    for n, event in enumerate(events):
        if event.length is None:
            yield from events[n:]
            return
        end = start + event.length
        here = sorted(s.offset for s in stacks if start <= s.offset < end)
        if here and here[0] > start and event.pitch is not None:
            for length in _values(here[0] - start):
                yield replace(event, length=length, tied=True)
            rest = _values(end - here[0])
            for k, length in enumerate(rest, 1):
                yield replace(event, length=length, tied=event.tied or k < len(rest))
        else:
            yield event
        start = end


def _divided(event: Event) -> list[Event]:
    """A rest of a whole bar may have a length that no value has: as several rests."""
    if not event.rest or event.length is None:
        return [event]
    return [replace(event, length=length) for length in _values(event.length)]


def _carried(said: Encoded) -> Carried:
    """What a file carries of its source; its metre and signature must be those of the music."""
    if said.front is None:
        return Carried()
    try:
        return read_carried(said.front.raw(), said.metre, said.signature or Signature())
    except SourceErrors as wrong:
        _blame(said.front, wrong, said)
        return Carried()


def _joined(line: Verset, carried: Carried, said: Encoded) -> Verset:
    """Music and what is carried beside it as one verset."""
    if said.front is None:
        return line
    try:
        return joined(line, carried, said.front.span)
    except SourceErrors as wrong:
        _blame(said.front, wrong, said)
    said.faults.stop()
    raise AssertionError("what does not fit is an error")


def _blame(at: Element, wrong: SourceErrors, said: Encoded) -> None:
    for error in wrong.errors:
        said.wrong(at, error.found, error.expected, error.bar)


def _voices(said: Encoded) -> list[list[str | None]]:
    """The voice of every event: as named, from one name to the next; else by clef."""
    events = [event for bar in said.bars for event in bar]
    by_clef = voices_of_clefs(event.clef.name for event in events if event.clef)
    now = ""
    found: list[list[str | None]] = []
    for bar in said.bars:
        found.append([])
        for event in bar:
            now = event.named or now
            found[-1].append(now or (by_clef.get(event.clef.name) if event.clef else None))
    return found


def _piece(event: Event, voice: str | None) -> Piece:
    kind = "rest" if event.rest else "note"
    symbol = Symbol(kind, event.at.column, ".", event.length, event.pitch, event.tied, event.editorial)
    if event.length is not None and written(event.length) is None:
        symbol.faults.append(Fault(event.at.column, f"a length of {event.length} quarters", SINGLE))
    line = Line(event.at.line, voice, event.clef, None, event.at.column)
    return Piece(line, Segment([symbol], event.at.column, unsure=bool(symbol.faults)))


def _hang(number: int, events: list[Event], pieces: list[Piece], stacks: list[Stack], said: Encoded) -> None:
    """Hang the figures of one bar on its notes."""
    start = Fraction(0)
    left = sorted(stacks, key=lambda s: s.offset)
    for event, piece in zip(events, pieces):
        if event.length is None:
            return
        end = start + event.length
        here = [s for s in left if start <= s.offset < end]
        left = [s for s in left if s not in here]
        if here and event.rest:
            said.wrong(here[0].at, "figures over a rest", "figures only over a note", number)
        elif here:
            piece.segment.symbols[0].groups = _groups(number, here, start, end, said)
        start = end
    for stack in left:
        said.wrong(stack.at, "figures over no note", "figures within the bar's notes", number)


def _groups(
    number: int, stacks: list[Stack], start: Fraction, end: Fraction, said: Encoded
) -> tuple[Group, ...]:
    """The stacks over one note: each lasts to the next, the last to the note's end."""
    groups: list[Group] = []
    for stack, after in zip(stacks, [*(s.offset for s in stacks[1:]), end]):
        if after == stack.offset:
            said.wrong(stack.at, "two stacks of figures at one time", "one stack at a time", number)
            return ()
        if stack.duration is not None and stack.offset + stack.duration > end:
            said.wrong(stack.at, "figures that outlast their note", "figures within one note", number)
            return ()
        first, *more = _values(after - stack.offset)
        groups.append(Group(stack.at.column, "", stack.signs, stack.dash, first))
        # a length that no value has goes on as a dash: what sounded is held
        groups += [Group(stack.at.column, "-", (), True, length) for length in more]
    return tuple(groups)


def _values(length: Fraction) -> list[Fraction]:
    """A length as values that can be written, longest first (or as it is, when none can)."""
    if written(length) is not None or 16 % length.denominator:
        return [length]
    first = max(v for (_, dots), v in LENGTHS.items() if dots < 2 and v <= length)
    return [first, *_values(length - first)]


def usable_tempo(beat: Fraction, rate: str) -> tuple[Fraction, Fraction] | None:
    """A tempo when it is a number within reason; what a file says in words ("lively") is passed over."""
    try:
        number = Fraction(rate).limit_denominator(1000)
        tempo = beat, Fraction(round(number * 1000), 1000)
        tempo_text(tempo)
    except (ValueError, ZeroDivisionError):
        return None
    return tempo if playable(*tempo) else None


def clef_of(sign: str, line: str, at: Element, said: Encoded, bar: int | None = None) -> Clef | None:
    """A clef of a file, or None (and an error) when voices are not written in it."""
    name = f"{sign.strip().upper()}{line.strip()}"
    if name in CLEFS:
        return Clef.parse(name)
    said.wrong(at, f"the clef {named(name) if name else 'without a sign'}", ", ".join(CLEFS), bar)
    return None


def signature_of(fifths: int) -> Signature:
    """The signature with so many sharps, or flats below nought; `ValueError` beyond seven.

    >>> str(signature_of(-2)), str(signature_of(0))
    ('Bb Eb', 'none')
    """
    if abs(fifths) > 7:
        raise ValueError(f"{fifths} accidentals")
    return Signature.of_fifths(fifths)
