"""Reads the block `readings`: what witnesses have for notes of the given line.

A line is a voice, a place, witnesses, a bar line, and their notes, then the editor's remark in quotes:

    altus 2:3-4 B C | F4/4 E4/4 "the copyist began a new line here"

The place is bar and beat, of the first note meant and of the last where the witnesses' notes do not say
how far it goes. A clef before the sigla is the witnesses' own. `_` says that they have nothing there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from builder.music import VOICES, Clef, Metre, Note, Place
from builder.source.errors import Faults, listing, nearest, shorten
from builder.source.given import Given, spread
from builder.source.lines import CLEFS
from builder.source.page import Block
from builder.source.provenance import Provenance
from builder.source.span import Span
from builder.source.stacks import timed
from builder.source.symbols import Symbol, Word, read_bars, words
from builder.source.verset import GivenNote, Variant, Verset

PLACE = (
    "bar and beat of the first note meant, such as 2:3, and of the last where it must be said, as in 2:3-4"
)
_BEAT = r"[0-9]{1,3}(?:\.[0-9]{1,4}|/[1-9][0-9]?)?"
_PLACE = re.compile(rf"([0-9]{{1,5}})(?::({_BEAT}))?(?:-(?:([0-9]{{1,5}}):)?({_BEAT}))?")


@dataclass(slots=True)
class _Line:
    """One line of the block while it is read."""

    number: int
    column: int
    faults: Faults
    voice: str = ""
    clef: Clef | None = None
    sigla: tuple[str, ...] = ()

    def wrong(self, column: int, found: str, expected: str, place: Place | None = None, bar: int = 0) -> None:
        self.faults.add(self.number, column, found, expected, place, bar or None)


def read_variants(
    blocks: Sequence[Block], given: Given, metre: Metre, provenance: Provenance, faults: Faults, *, sure: bool
) -> tuple[Variant, ...]:
    """The variants of all blocks in the order of the line. `sure`: the given line is without fault, so that
    places can be held against it."""
    found: list[Variant] = []
    for block in blocks:
        for number, text in block.lines:
            bare = text.strip()
            if bare and not bare.startswith("%"):
                found += _read_line(number, text, given, metre, provenance, faults, sure=sure)
    return tuple(sorted(found, key=lambda v: (v.start, v.end, v.sigla)))


def _read_line(
    number: int, text: str, given: Given, metre: Metre, provenance: Provenance, faults: Faults, *, sure: bool
) -> Iterator[Variant]:
    before = len(faults.errors)
    remark = re.search(r'"(.*)"\s*$', text)
    music = text[: remark.start()] if remark else text
    bar_line = music.find("|")
    head = words(music if bar_line < 0 else music[:bar_line], 1)
    line = _Line(number, head[0].column if head else 1, faults)
    if bar_line < 0:
        line.wrong(len(music.rstrip()) + 1, "the end of the line", "a bar line | and what the witnesses have")
        return
    if len(head) < 2:
        line.wrong(line.column, "a reading without a place", f"a voice, {PLACE}, then the witnesses")
        return
    _voice(line, head[0])
    place = _PLACE.fullmatch(head[1].text)
    if not place:
        line.wrong(head[1].column, f"the place {shorten(head[1].text)}", PLACE)
    _witnesses(line, head[2:], head[1].column + len(head[1].text) + 1, provenance)
    symbols = _symbols(line, music, bar_line, bar=int(place[1]) if place else 0)
    if place and sure and len(faults.errors) == before:
        said = " ".join(remark[1].split()) if remark else ""
        yield from _placed(line, head[1], place, symbols, said, given, metre)


def _voice(line: _Line, word: Word) -> None:
    if word.text in VOICES:
        line.voice = word.text
    else:
        hint = nearest(word.text, VOICES)
        line.wrong(word.column, f"the voice {shorten(word.text)}", listing(VOICES) + hint)


def _witnesses(line: _Line, head: Sequence[Word], column: int, provenance: Provenance) -> None:
    if head and head[0].text in CLEFS:
        line.clef = Clef.parse(head[0].text)
        head = head[1:]
    known = provenance.sigla
    if not head:
        line.wrong(column, "a reading without a witness", "the siglum of a witness before the bar line")
    for word in head:
        if word.text in known:
            if word.text in line.sigla:
                line.wrong(word.column, f"the siglum {shorten(word.text)} a second time", "each witness once")
            line.sigla += (word.text,)
        elif known:
            line.wrong(word.column, f"the witness {shorten(word.text)}", f"one of {', '.join(known)}")
        else:
            expected = "witnesses in the front matter, each with its siglum"
            line.wrong(word.column, f"the witness {shorten(word.text)}", expected)


def _symbols(line: _Line, music: str, bar_line: int, bar: int) -> list[Symbol]:
    """The notes and rests of the witnesses; none where they have nothing."""
    segments = read_bars(music, bar_line + 1)
    found = [symbol for segment in segments for symbol in segment.symbols]
    for segment in segments:
        for fault in segment.faults:
            line.wrong(fault.column, fault.found, fault.expected, None, bar)
        for _, column in segment.cuts:
            line.wrong(column, "a cut among readings", "// in the given line", None, bar)
    for symbol in found:
        for fault in symbol.faults:
            line.wrong(fault.column, fault.found, fault.expected, None, bar)
        if symbol.kind == "blank" and (len(found) > 1 or symbol.duration is not None):
            expected = "notes and rests, or _ alone where the witnesses have nothing"
            line.wrong(symbol.column, "_ beside other notes", expected, None, bar)
    if not found and not any(segment.faults for segment in segments):
        line.wrong(bar_line + 1, "a line without music", "notes, or _ where the witnesses have nothing")
    return [symbol for symbol in found if symbol.kind != "blank"]


def _placed(
    line: _Line,
    word: Word,
    place: re.Match[str],
    symbols: Sequence[Symbol],
    remark: str,
    given: Given,
    metre: Metre,
) -> Iterator[Variant]:
    """The variant in time, held against the line."""
    start = _time(place[1], place[2] or "1", given, metre)
    last = _time(place[3] or place[1], place[4], given, metre) if place[4] else None
    if start is None or (place[4] and last is None):
        found = f"a reading for {word.text}"
        line.wrong(word.column, found, f"bars 1 to {len(given.bars)}, and beats that they have")
        return
    row = [g for g in given.notes if g.note.onset == start]
    if not row or row[0].voice != line.voice:
        whose = f"no note of the {line.voice} that begins there"
        line.wrong(word.column, whose, "the voice, bar and beat of a note or rest of the given line")
        return
    lemma = _lemma(start, last, symbols, given)
    if not lemma or any(g.voice != line.voice for g in lemma):
        expected = "notes as long as those meant, or the beat of the last note meant, as in 2:3-4"
        line.wrong(
            symbols[0].column if symbols else word.column, "a reading that ends inside a note", expected
        )
        return
    notes = tuple(_notes(line, symbols, lemma[0], int(place[1])))
    span = Span(line.number, line.column)
    yield Variant(line.voice, start, lemma[-1].note.end, line.sigla, notes, remark, span)


def _time(bar: str, beat: str, given: Given, metre: Metre) -> Fraction | None:
    """The time of a bar and beat; None where the line does not go."""
    if not 0 < int(bar) <= len(given.bars):
        return None
    here = given.bars[int(bar) - 1]
    time = here.onset + (Fraction(beat) - 1) * metre.beat
    return time if here.onset <= time < here.end else None


def _lemma(
    start: Fraction, last: Fraction | None, symbols: Sequence[Symbol], given: Given
) -> list[GivenNote]:
    """The notes of the line that a reading stands for: to the note named as the last, else as many as last
    as long as the reading; the note alone where it has nothing."""
    onsets = {g.note.onset: g for g in given.notes}
    if last is not None:
        end = onsets[last].note.end if last in onsets and last >= start else None
    elif symbols:
        end = start + sum((s.duration or Fraction(0) for s in symbols), Fraction(0))
    else:
        end = onsets[start].note.end
    found = [g for g in given.notes if end is not None and start <= g.note.onset < end]
    return found if found and found[-1].note.end == end else []


def _notes(line: _Line, symbols: Sequence[Symbol], first: GivenNote, bar: int) -> Iterator[GivenNote]:
    now = first.note.onset
    clef = line.clef or first.clef
    for symbol in symbols:
        length = symbol.duration or Fraction(0)
        lengths = timed(symbol.groups, length) if symbol.groups else []
        if isinstance(lengths, tuple):
            column, found, expected = lengths
            line.wrong(column, found, expected, None, bar)
            lengths = []
        note = Note(now, length, symbol.pitch, symbol.tied, symbol.editorial)
        figures = tuple(spread(symbol.groups, lengths, now))
        yield GivenNote(note, line.voice, clef, figures)
        now += length


KINDS = ("missing", "clef", "pitch", "accidental", "value", "figure")
"""In what a variant may differ from the line."""


def kinds(verset: Verset, variant: Variant) -> tuple[str, ...]:
    """In what a variant differs from the line: `KINDS`, in their order; none where it is the same.

    >>> from builder.source import parse
    >>> front = "---\\ntitle: A\\nverset: {metre: C, signature: none, witnesses: [{siglum: B}]}\\n---\\n"
    >>> fence = chr(96) * 3
    >>> line = f"{fence}given\\ncantus C1 | D5/2 F#5/2\\n{fence}\\n"
    >>> verset = parse(f"{front}{line}{fence}readings\\ncantus 1:3 B | F5/2\\n{fence}")
    >>> kinds(verset, verset.variants[0])
    ('accidental',)
    """
    lemma = verset.lemma(variant)
    if not variant.notes:
        return ("missing",)
    here, there = [g.note for g in lemma], [g.note for g in variant.notes]
    pairs = list(zip(here, there))
    steps = [[n.pitch.diatonic if n.pitch else None for n in row] for row in (here, there)]
    if len(here) != len(there):  # a note struck once more is another value, not another pitch
        steps = [[step for step, _ in groupby(row)] for row in steps]
    found = {
        "clef": variant.notes[0].clef != lemma[0].clef,
        "pitch": steps[0] != steps[1],
        "accidental": any(a.pitch and b.pitch and _other_sign(a, b) for a, b in pairs),
        "value": [(n.duration, n.tied) for n in here] != [(n.duration, n.tied) for n in there],
        "figure": _figures(lemma) != _figures(variant.notes),
    }
    return tuple(kind for kind in KINDS if found.get(kind))


def _other_sign(one: Note, other: Note) -> bool:
    assert one.pitch and other.pitch
    same_step = one.pitch.diatonic == other.pitch.diatonic
    return same_step and (one.pitch.alter, one.editorial) != (other.pitch.alter, other.editorial)


def _figures(notes: Sequence[GivenNote]) -> list[object]:
    """The figures of the notes that have some, each stack with its share of the note."""
    return [
        [(f.signs, f.dash, (f.onset - g.note.onset) / g.note.duration) for f in g.figures]
        for g in notes
        if g.figures
    ]
