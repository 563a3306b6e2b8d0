"""The given line alone: one stave, in the clef of whichever voice has it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.engraving import tree
from builder.engraving.accidentals import signs
from builder.engraving.figures import figures
from builder.engraving.sheet import Sheet, by_bar, entry_name, sheet, tie_elements
from builder.engraving.tree import clef, element
from builder.engraving.writing import Voice, layer
from builder.music import Bar, Clef, Note, Score
from builder.source import GivenNote, Verset


def given_notes(verset: Verset, score: Score) -> Iterator[tuple[GivenNote, Note]]:
    """The notes of a score that stand in the given line, each with the note that the line has there; all
    others are a realisation.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> len(list(given_notes(verset, notated(verset.score()))))
    12
    """
    for part in score.parts:
        written = (*verset.given, *verset.beside)
        line = sorted(
            (g for g in written if g.voice == part.voice and g.note.pitch), key=lambda g: g.note.onset
        )
        at = 0
        for note in part.notes:
            while at < len(line) and line[at].note.end <= note.onset:
                at += 1
            if at < len(line) and line[at].note.onset <= note.onset and line[at].note.pitch == note.pitch:
                yield line[at], note


def line_and_beside(verset: Verset, score: Score) -> tuple[list[Note], list[Note]]:
    """The notes of a notated `verset.score()` in time: those of the given line, and those beside it.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> [len(notes) for notes in line_and_beside(verset, notated(verset.score()))]
    [12, 0]
    """
    found: tuple[list[Note], list[Note]] = ([], [])
    for part in score.parts:
        for note in part.notes:
            if note.pitch is not None:
                line = verset.given_at(note.onset)
                found[line is None or line.voice != part.voice].append(note)
    for notes in found:
        notes.sort(key=lambda note: note.onset)
    return found


@dataclass(frozen=True, slots=True)
class Change:
    """From `onset` on the line is in another clef or voice."""

    onset: Fraction
    voice: str
    clef: Clef


def given_mei(
    verset: Verset, score: Score, *, figured: bool = True, slashed: bool = False, signed: bool = False
) -> str:
    """The given line of a notated `verset.score()` (or an excerpt of one) as MEI: original clefs,
    the voice's name above each of its entries, figures above the line. `slashed` prints raised
    numbers with a stroke instead of a sharp before them. `signed` sets the number of each reading of the
    witnesses under the note at which it begins.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> given_mei(verset, score).count("<note ")
    12
    """
    return tree.text(given_document(verset, score, figured=figured, slashed=slashed, signed=signed))


def given_document(
    verset: Verset, score: Score, *, figured: bool = True, slashed: bool = False, signed: bool = False
) -> ET.Element:
    """The same as a tree of elements.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> [part.tag for part in given_document(verset, score)]
    ['meiHead', 'music']
    """
    of = sheet(score)
    line, beside = line_and_beside(verset, score)
    bars, above = by_bar(line, score.bars), by_bar(beside, score.bars)
    both = [(*lower, *upper) for lower, upper in zip(bars, above, strict=True)]
    written = signs(both, score.signature, of.continued)
    changed = changes(verset, score)
    inside = score.bars[0].onset > verset.bars[0].onset
    staff = element("staffDef", n="1", lines="5", **clef(changed[0].clef))
    measures = []
    for bar, notes, upper in zip(score.bars, bars, above, strict=True):
        layers = [layer(Voice(notes, stems="down" if upper else ""), 1, bar, score.metre, written)]
        if upper:
            layers.append(layer(Voice(upper, (), "up"), 2, bar, score.metre, written))
            layers[-1].set("type", BESIDE)
        parts = [element("staff", *layers, n="1"), *tie_elements(of, bar)]
        parts += figures(score, bar, slashed=slashed) if figured else ()
        parts += [
            entry_name(score, bar, note, change.voice)
            for change, note in _entries(changed, line, inside=inside)
            if bar.onset <= note.onset < bar.end
        ]
        parts += _signs_of_readings(verset, score, bar) if signed else ()
        measures.append(tree.measure(score, bar, parts))
    _set_clefs(measures, of, bars, changed)
    return tree.document(
        score, tree.score_definition(score.metre, score.signature, element("staffGrp", staff)), measures
    )


BESIDE = "beside"
"""The type of the layer of a voice that the source writes at once with the line."""
SIGN = "reading-sign"
"""The type of the number of a reading, and with a stroke and the number its id."""


def _signs_of_readings(verset: Verset, score: Score, bar: Bar) -> Iterator[ET.Element]:
    """The numbers of the readings that begin in a bar; those of one place stand together."""
    found: dict[Fraction, list[str]] = {}
    for n, variant in enumerate(verset.variants, 1):
        if bar.onset <= variant.start < bar.end:
            found.setdefault(variant.start, []).append(str(n))
    for onset, numbers in found.items():
        yield element(
            "dir",
            text=" ".join(numbers),
            id=f"{SIGN}-{numbers[0]}",
            type=SIGN,
            staff="1",
            tstamp=tree.beats(score.metre, bar, onset),
            place="below",
        )


def changes(verset: Verset, score: Score) -> tuple[Change, ...]:
    """Where the line goes to another voice or clef; the first is what the sheet begins with.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> for change in changes(verset, notated(verset.score())):
    ...     print(change.onset, change.voice, change.clef)
    0 cantus C1
    8 altus C3
    """
    found: list[Change] = []
    for given in verset.given:
        if given.note.pitch is None or given.note.onset >= score.end:
            continue
        new = Change(given.note.onset, given.voice, given.clef)
        if given.note.onset <= score.bars[0].onset:
            found = [new]
        elif not found or (found[-1].voice, found[-1].clef) != (new.voice, new.clef):
            found.append(new)
    first = verset.given[0]
    return tuple(found) or (Change(first.note.onset, first.voice, first.clef),)


def _entries(changed: Sequence[Change], line: Sequence[Note], *, inside: bool) -> list[tuple[Change, Note]]:
    """Each change with the first note on the sheet that follows it. In an excerpt that begins `inside` the
    line, a single note that leads in from the voice before has no name, which would run into the next."""
    found: list[tuple[Change, Note]] = []
    before = ""
    for change in changed:
        if change.voice != before:
            found += [(change, note) for note in line if note.onset >= change.onset][:1]
        before = change.voice
    leads = inside and len(found) > 1 and line[1] is found[1][1]
    return found[1:] if leads else found


def _set_clefs(
    measures: Sequence[ET.Element], of: Sheet, bars: Sequence[Sequence[Note]], changed: Sequence[Change]
) -> None:
    """Put each later clef before its note; at the beginning of a bar it stands before the barline."""
    now = changed[0].clef
    for change in changed[1:]:
        if change.clef == now:
            continue
        now = change.clef
        place = next(n for n, bar in enumerate(of.score.bars) if change.onset < bar.end)
        new = element("clef", shape=now.letter, line=str(now.line))
        note = next(n for n in bars[place] if n.onset >= change.onset)
        if change.onset == of.score.bars[place].onset and place:
            _layer(measures[place - 1]).append(new)
        else:
            _before(_layer(measures[place]), note.id, new)


def _layer(measure: ET.Element) -> ET.Element:
    found = measure.find("staff/layer")
    assert found is not None
    return found


def _before(layer: ET.Element, id: str, new: ET.Element) -> None:
    """Insert an element before a note, inside its beam when it is in one and not the first."""
    for parent in layer.iter():
        for index, child in enumerate(parent):
            if child.get(tree.XML_ID) == id:
                if parent.tag == "beam" and index == 0:
                    layer.insert(list(layer).index(parent), new)
                else:
                    parent.insert(index, new)
                return
