"""One bar of a MusicXML part: attributes, notes, figured bass."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.engraving.accidentals import Sign
from builder.engraving.beams import beams
from builder.engraving.given import Change
from builder.engraving.writing import filled, rests
from builder.music import Bar, Clef, Figure, FigureSign, Note, Pitch, Score, written
from builder.music.pitch import STEPS

_TYPES = {
    "longa": "long",
    "breve": "breve",
    "1": "whole",
    "2": "half",
    "4": "quarter",
    "8": "eighth",
    "16": "16th",
    "32": "32nd",
    "64": "64th",
}
_ACCIDENTALS = {1: "sharp", -1: "flat", 0: "natural", 2: "double-sharp", -2: "flat-flat"}
_PREFIXES = {"#": "sharp", "b": "flat", "n": "natural", "##": "double-sharp", "bb": "flat-flat"}
_SYMBOLS = {"C": "common", "C|": "cut"}


@dataclass(frozen=True, slots=True)
class Writer:
    """What a part is written with: the score and its divisions of a quarter note, which accidentals are
    written, which notes are held from the one before, the figures of this part, a tempo for its first
    bar, and where the line changes voice and clef (the first change is where it begins)."""

    score: Score
    divisions: int
    signs: Mapping[str, Sign]
    continued: frozenset[str]
    figures: tuple[Figure, ...]
    tempo: tuple[Fraction, Fraction] | None = None
    changes: tuple[Change, ...] = ()

    def length(self, quarters: Fraction) -> str:
        return str(int(quarters * self.divisions))


def add(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    """Append an element; underscores in attribute names stand for hyphens.

    >>> root = ET.Element("part-list")
    >>> ET.tostring(add(root, "beam", "begin", number="1")).decode()
    '<beam number="1">begin</beam>'
    """
    made = ET.SubElement(parent, tag, {k.replace("_", "-"): v for k, v in attributes.items() if v})
    made.text = text or None
    return made


def bar_element(writer: Writer, n: int, notes: Sequence[Note], clef: Clef | None) -> ET.Element:
    """The bar with index `n`; `clef` when the part begins with it."""
    score, bar = writer.score, writer.score.bars[n]
    made = ET.Element("measure", number=str(bar.number))
    if clef:
        attributes(made, writer, (clef,))
        if writer.tempo:
            tempo_direction(made, *writer.tempo)
    items = filled(notes, bar)
    levels = _beam_levels(items, writer, bar)
    for index, item in enumerate(items):
        _arrivals(made, writer, item, first=clef is not None and item.onset == bar.onset)
        for figured in _figured(writer, item):
            made.append(figured)
        if item.pitch is None:
            _silence(made, writer, bar, item)
        else:
            _note(made, writer, item, levels.get(index, ()))
    if bar is score.bars[-1] and score.closed:
        add(add(made, "barline", location="right"), "bar-style", "light-heavy")
    return made


def attributes(made: ET.Element, writer: Writer, clefs: Sequence[Clef]) -> None:
    """Signature, metre and the clef of each stave, from the highest."""
    score = writer.score
    made = add(made, "attributes")
    add(made, "divisions", str(writer.divisions))
    add(add(made, "key"), "fifths", str(score.signature.fifths))
    time = add(made, "time", symbol=_SYMBOLS.get(score.metre.symbol, ""))
    add(time, "beats", str(score.metre.count))
    add(time, "beat-type", str(score.metre.unit))
    if len(clefs) > 1:
        add(made, "staves", str(len(clefs)))
    for n, clef in enumerate(clefs, 1):
        _clef(made, clef, n if len(clefs) > 1 else 0)


def _clef(at: ET.Element, clef: Clef, number: int = 0) -> None:
    made = add(at, "clef", number=str(number) if number else "")
    add(made, "sign", clef.letter)
    add(made, "line", str(clef.line))


def tempo_direction(made: ET.Element, beat: Fraction, rate: Fraction) -> None:
    """The metronome mark over the first note."""
    value, dots = written(beat) or ("4", 0)
    direction = add(made, "direction", placement="above")
    metronome = add(add(direction, "direction-type"), "metronome")
    add(metronome, "beat-unit", _TYPES[value])
    for _ in range(dots):
        add(metronome, "beat-unit-dot")
    add(metronome, "per-minute", f"{float(rate):g}")
    add(direction, "sound", tempo=f"{float(beat * rate):g}")


def _arrivals(made: ET.Element, writer: Writer, item: Note, *, first: bool) -> None:
    """A change of clef before a note, and the name of a voice that enters with it."""
    for n, change in enumerate(writer.changes):
        begins = first and n == 0
        if item.pitch is None or not (begins or change.onset == item.onset):
            continue
        before = writer.changes[n - 1] if n else None
        if before and before.clef != change.clef:
            _clef(add(made, "attributes"), change.clef)
        if not before or before.voice != change.voice:
            direction = add(made, "direction", placement="above")
            add(add(direction, "direction-type"), "words", change.voice.capitalize(), font_style="italic")


def _silence(made: ET.Element, writer: Writer, bar: Bar, item: Note) -> None:
    if item.duration == bar.length:
        note = add(made, "note")
        add(note, "rest", measure="yes")
        add(note, "duration", writer.length(item.duration))
        add(note, "voice", "1")
        return
    for _, length in rests(item.onset - bar.onset, item.duration):
        note = add(made, "note")
        add(note, "rest")
        add(note, "duration", writer.length(length))
        add(note, "voice", "1")
        _value(note, length)


def _note(made: ET.Element, writer: Writer, item: Note, levels: Sequence[str]) -> None:
    """Children in the order the schema asks for."""
    assert item.pitch is not None
    note = add(made, "note", id=item.id)
    _pitch(note, item.pitch)
    add(note, "duration", writer.length(item.duration))
    tied = [kind for kind, held in _ties(writer, item) if held]
    for kind in tied:
        add(note, "tie", type=kind)
    add(note, "voice", "1")
    _value(note, item.duration)
    sign = writer.signs.get(item.id)
    if sign:
        doubtful = {
            "editorial": {"editorial": "yes", "parentheses": "yes"},
            "reminder": {"cautionary": "yes"},
        }
        add(note, "accidental", _ACCIDENTALS[sign.alter], **doubtful.get(sign.kind, {}))
    for n, state in enumerate(levels, 1):
        add(note, "beam", state, number=str(n))
    if tied:
        notations = add(note, "notations")
        for kind in tied:
            add(notations, "tied", type=kind)


def _pitch(note: ET.Element, pitch: Pitch) -> None:
    made = add(note, "pitch")
    add(made, "step", STEPS[pitch.step])
    if pitch.alter:
        add(made, "alter", str(pitch.alter))
    add(made, "octave", str(pitch.octave))


def _ties(writer: Writer, item: Note) -> tuple[tuple[str, bool], ...]:
    return ("stop", item.id in writer.continued), ("start", item.tied and item.end < writer.score.end)


def _value(note: ET.Element, length: Fraction) -> None:
    found = written(length)
    if found is None:
        raise ValueError(f"no single value writes {length} quarter notes: notate the score first")
    add(note, "type", _TYPES[found[0]])
    for _ in range(found[1]):
        add(note, "dot")


def _beam_levels(items: Sequence[Note], writer: Writer, bar: Bar) -> dict[int, tuple[str, ...]]:
    """For each beamed note what every one of its beams does there."""
    found: dict[int, tuple[str, ...]] = {}
    for group in beams(items, writer.score.metre, bar):
        counts = [_flags(items[n].duration) for n in group]
        for k, n in enumerate(group):
            found[n] = tuple(_state(counts, k, level) for level in range(1, counts[k] + 1))
    return found


def _flags(length: Fraction) -> int:
    value, _ = written(length) or ("8", 0)
    return int(value).bit_length() - 3


def _state(counts: Sequence[int], k: int, level: int) -> str:
    """One beam at one note of a group whose notes have `counts` beams.

    >>> [_state([1, 2, 2], k, 2) for k in (1, 2)], _state([1, 2], 1, 2)
    (['begin', 'end'], 'backward hook')
    """
    before = k > 0 and counts[k - 1] >= level
    after = k + 1 < len(counts) and counts[k + 1] >= level
    if before:
        return "continue" if after else "end"
    if after:
        return "begin"
    return "forward hook" if k == 0 else "backward hook"


def _figured(writer: Writer, item: Note) -> Iterator[ET.Element]:
    """The figures over one note, in time: each lasts to the next. One that begins later than the note
    is led up to by an empty one, which is not printed. Over the given line alone they stand above the
    stave, in a setting below it, as in print."""
    placed = {"placement": "above" if writer.changes else "below"}
    here = [f for f in writer.figures if item.onset <= f.onset < item.end]
    if here and here[0].onset > item.onset:
        empty = ET.Element("figured-bass", {"print-object": "no"})
        add(add(empty, "figure"), "figure-number")
        add(empty, "duration", writer.length(here[0].onset - item.onset))
        yield empty
    for figure in here:
        made = ET.Element("figured-bass", placed | ({"parentheses": "yes"} if figure.editorial else {}))
        if figure.dash:
            add(add(made, "figure"), "extend", type="continue")
        for sign in figure.signs:
            _figure(made, sign, alone=figure.editorial)
        add(made, "duration", writer.length(min(figure.onset + figure.duration, item.end) - figure.onset))
        yield made


def _figure(made: ET.Element, sign: FigureSign, *, alone: bool) -> None:
    figure = add(made, "figure")
    if sign.sign:
        add(figure, "prefix", _PREFIXES[sign.sign])
    if not sign.lone:
        add(figure, "figure-number", str(sign.number))
    if sign.editorial and not alone:
        add(figure, "level", "supplied by the editor", parentheses="yes")
