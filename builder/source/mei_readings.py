"""What witnesses have, read from the apparatus of an MEI file.

Source: MEI Guidelines 5.1, module critapp. An `app` may stand among the notes and enclose those of its
lemma, or beside the stave: then an `annot` of its `lem` says by `tstamp` and `tstamp2`, or by the notes it
points to, what it stands for. A reading's witnesses are those of its `source`; one without is told as not
kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import VOICES, Clef, Figure, FigureSign, Note, Pitch
from builder.music.pitch import STEPS
from builder.music.time import dotted
from builder.source.encoded import Encoded
from builder.source.lines import CLEFS
from builder.source.mei_provenance import said as text_of
from builder.source.mei_provenance import sigla_by_id
from builder.source.mei_symbols import ALTER, DURATIONS, Wrong, items, stack_of
from builder.source.verset import GivenNote, Loss, Reading, Variant, Verset
from builder.source.xmltree import Element

_STAMP = re.compile(r"[0-9]{1,3}(\.[0-9]{1,9})?")
_UNTIL = re.compile(r"(?:([0-9]{1,5})m\s*\+\s*)?([0-9]{1,3}(?:\.[0-9]{1,9})?)")
_NOTES = ("note", "rest", "space", "mRest", "mSpace")


@dataclass(slots=True)
class Apparatus:
    """What the file has: readings in notes and in words, and the bars of those that name no witness."""

    variants: list[Variant] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    unnamed: list[int] = field(default_factory=list)

    @property
    def lost(self) -> tuple[Loss, ...]:
        return (Loss("reading", tuple(dict.fromkeys(self.unnamed))),) if self.unnamed else ()


@dataclass(slots=True)
class _Places:
    """Where things of the file stand: notes by id, each from and to; what an `app` among notes encloses."""

    times: dict[str, tuple[Fraction, Fraction]] = field(default_factory=dict)
    inside: list[tuple[Element, int, Fraction, Fraction]] = field(default_factory=list)


def apparatus_of(root: Element, verset: Verset, said: Encoded) -> Apparatus:
    """Read every `app`; what does not fit the line is told as faults of the file."""
    words: list[tuple[str, Reading]] = []
    found, places, sigla = Apparatus(), _Places(), sigla_by_id(root)
    measures = list(root.within("measure"))[: len(verset.bars)]
    for measure, bar in zip(measures, verset.bars):
        for layer in (x for staff in measure.all("staff") for x in staff.all("layer")):
            _walk(layer.children, bar.onset, bar.number, bar.length, places)
    for app, number, start, end in places.inside:
        _read(app, number, start, end, sigla, verset, said, found)
    for measure, bar in zip(measures, verset.bars):
        for app in measure.all("app"):
            if _in_words(app):
                words.append((app.get("n").rjust(9), _words(app, bar.number)))
                continue
            start_end = _stands_for(app, bar.number - 1, verset, places)
            if start_end:
                _read(app, bar.number, *start_end, sigla, verset, said, found)
    found.readings += [reading for _, reading in sorted(words, key=lambda numbered: numbered[0])]
    found.variants.sort(key=lambda v: (v.start, v.end, v.sigla))
    return found


def _walk(
    children: Sequence[Element], now: Fraction, number: int, bar: Fraction, places: _Places
) -> Fraction:
    """Go through a layer as it is read, and note where everything stands; the time behind the last."""
    for child in children:
        if child.tag in ("choice", "app"):
            chosen = [c for tag in ("corr", "reg", "lem") for c in child.all(tag)] or child.children
            end = _walk(chosen[0].children if chosen else (), now, number, bar, places)
            if child.tag == "app":
                places.inside.append((child, number, now, end))
            now = end
        elif child.tag in _NOTES:
            length = bar if child.tag in ("mRest", "mSpace") else _length(child) or Fraction(0)
            if child.get("id"):
                places.times[child.get("id")] = (now, now + length)
            now += length
        elif child.children and child.tag != "note":
            now = _walk(child.children, now, number, bar, places)
    return now


def _length(at: Element) -> Fraction | None:
    value, dots = DURATIONS.get(at.get("dur")), at.get("dots") or str(len(at.all("dot")))
    return dotted(value, int(dots)) if value is not None and dots in ("0", "1", "2") else None


def _in_words(app: Element) -> bool:
    notes = any(True for tag in (*_NOTES, "chord") for _ in app.within(tag))
    return not notes and app.get("type").split()[:1] == ["reading"]


def _words(app: Element, number: int) -> Reading:
    voice = app.get("label") if app.get("label") in VOICES else ""
    return Reading(number, text_of(app, "rdg"), text_of(app, "lem"), voice, app.span)


def _stands_for(
    app: Element, index: int, verset: Verset, places: _Places
) -> tuple[Fraction, Fraction] | None:
    """From when to when an `app` beside the stave is meant."""
    for note in (a for lem in app.all("lem") for a in lem.all("annot")):
        start = _time(index, note.get("tstamp"), verset)
        until = _UNTIL.fullmatch(note.get("tstamp2"))
        end = _time(index + int(until[1] or 0), until[2], verset) if until else None
        times = [places.times[r] for r in note.get("plist").replace("#", "").split() if r in places.times]
        if start is None and times:
            start = min(one for one, _ in times)
        if end is None and times:
            end = max(two for _, two in times)
        if start is not None and end is not None and start < end:
            return start, end
    return None


def _time(index: int, beat: str, verset: Verset) -> Fraction | None:
    """The time of a beat of a bar by index; the first beat after the last bar is the end."""
    if not _STAMP.fullmatch(beat):
        return None
    onset = (Fraction(beat).limit_denominator(64) - 1) * verset.metre.beat
    if index < len(verset.bars):
        return verset.bars[index].line + onset
    return verset.end if index == len(verset.bars) and not onset else None


def _read(
    app: Element,
    number: int,
    start: Fraction,
    end: Fraction,
    sigla: dict[str, str],
    verset: Verset,
    said: Encoded,
    found: Apparatus,
) -> None:
    """The readings of one `app`, each held against the line."""
    lemma = [g for g in verset.given if start <= g.note.onset < end]
    fits = lemma and lemma[0].note.onset == start and lemma[-1].note.end == end
    if not fits or any(g.voice != lemma[0].voice for g in lemma):
        expected = "notes as long as those meant, or the beat of the last note meant, as in 2:3-4"
        said.wrong(app, "a reading that ends inside a note", expected, number)
        return

    def wrong(at: Element, met: str, expected: str) -> None:
        said.wrong(at, met, expected, number)

    for reading in app.all("rdg"):
        named = [sigla.get(r.lstrip("#"), "") for r in reading.get("source").split()]
        witnesses = tuple(dict.fromkeys(siglum for siglum in named if siglum))
        if not witnesses:
            found.unnamed.append(number)
            continue
        notes = tuple(_notes(reading, start, lemma[0], verset, wrong))
        remark = " ".join(text_of(a) for a in reading.all("annot"))
        found.variants.append(Variant(lemma[0].voice, start, end, witnesses, notes, remark, app.span))


def _notes(
    reading: Element, start: Fraction, first: GivenNote, verset: Verset, wrong: Wrong
) -> Iterator[GivenNote]:
    clef, now = first.clef, start
    for item in items(reading):
        if item.tag == "clef" and f"{item.get('shape')}{item.get('line')}" in CLEFS:
            clef = Clef.parse(f"{item.get('shape')}{item.get('line')}")
        length = _length(item) if item.tag in ("note", "rest", "space") else None
        if length is None:
            continue
        pitch, editorial = _pitch(item, verset) if item.tag == "note" else (None, False)
        tied = any(mark in item.get("tie") for mark in "im")
        note = Note(now, length, pitch, tied, editorial)
        figures = tuple(_figures(reading, item.get("id"), now, length, wrong)) if item.get("id") else ()
        yield GivenNote(note, first.voice, clef, figures)
        now += length


def _pitch(at: Element, verset: Verset) -> tuple[Pitch | None, bool]:
    step, octave = at.get("pname").upper(), at.get("oct")
    if step not in tuple(STEPS) or not re.fullmatch("[0-9]", octave):
        return None, False
    signs = [at, *at.within("accid")]
    name = next((s.get(key) for s in signs for key in ("accid", "accid.ges") if s.get(key)), "")
    diatonic = int(octave) * 7 + STEPS.index(step)
    alter = ALTER.get(name, verset.signature.alter(diatonic % 7))
    return Pitch(diatonic, alter), any(s.get("func") == "edit" for s in signs)


def _figures(reading: Element, id: str, onset: Fraction, length: Fraction, wrong: Wrong) -> Iterator[Figure]:
    """The stacks over a note: each lasts to the next, the last to the note's end."""
    stacks: list[tuple[Fraction, tuple[FigureSign, ...], bool]] = []
    for harm in reading.all("harm"):
        if harm.get("startid").lstrip("#") != id:
            continue
        later = re.fullmatch(r"[0-9]{1,4}(/[1-9][0-9]{0,3})?", harm.get("n") or "0")
        offset = Fraction(later[0]) if later else Fraction(0)
        stack = next(harm.within("fb"), None)
        signs, dash = stack_of(stack, wrong) if stack else ((), False)
        if offset < length and (signs or dash):
            stacks.append((offset, signs, dash))
    for (offset, signs, dash), after in zip(stacks, [*(s[0] for s in stacks[1:]), length]):
        yield Figure(onset + offset, after - offset, signs, dash)
