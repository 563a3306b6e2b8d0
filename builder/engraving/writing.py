"""One voice in one bar: notes with stems, beams and accidentals; rests seen and unseen."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from builder.engraving.accidentals import Sign
from builder.engraving.beams import beams
from builder.engraving.rests import Room
from builder.engraving.tree import SIGNS, duration, element, pitch
from builder.music import Bar, Metre, Note
from builder.music.time import VALUES

FUNCTIONS = {"editorial": "edit", "reminder": "caution", "plain": ""}


Stretch = tuple[Fraction, Fraction]
"""From and to, in quarter notes from the beginning of the piece."""


class Crossing(NamedTuple):
    """The stave to which a note crosses, the way of its stem there, and the id of the note whose stem it
    shares, if it does."""

    staff: str
    stem: str
    mate: str


@dataclass(frozen=True, slots=True)
class Voice:
    """How a voice stands in a bar: its notes, its stems, and where its silences are written as rests
    (everywhere when None); elsewhere they are blank."""

    notes: tuple[Note, ...]
    seen: tuple[Stretch, ...] | None = None
    stems: str = ""
    full: frozenset[str] | None = None
    """Ids of the notes at full size, the others are small; None: all are."""
    crossing: Mapping[str, Crossing] = field(default_factory=dict)
    """The notes that stand on the other stave, by their ids."""
    apart: tuple[Stretch, ...] = ()
    """Where it has no beams: those of another voice would cross them, or its rests stand in them."""
    room: Room | None = None
    """What its rests stand beside; without, the engraver places them."""


def layer(voice: Voice, n: int, bar: Bar, metre: Metre, signs: Mapping[str, Sign]) -> ET.Element:
    """The voice as a layer of its stave."""
    items = filled(voice.notes, bar)
    grouped = {n: group for group in _groups(items, metre, bar, voice.apart) for n in group}
    made = element("layer", n=str(n))
    if all(item.pitch is None for item in items):
        made.extend(empty(bar, metre, seen=voice.seen != ()))
        return made
    beam: ET.Element | None = None
    for index, item in enumerate(items):
        if item.pitch is None:
            made.extend(silence(item, bar, voice.seen, voice.room))
            continue
        small = voice.full is not None and item.id not in voice.full
        crossing = voice.crossing.get(item.id)
        stems = crossing.stem if crossing else voice.stems
        note = note_element(item, signs.get(item.id), stems, small=small)
        if crossing:
            note.set("staff", crossing.staff)
            if crossing.mate:
                note.set("stem.sameas", f"#{crossing.mate}")
        if index not in grouped:
            made.append(note)
            continue
        if grouped[index][0] == index or beam is None:
            beam = element("beam")
            made.append(beam)
        beam.append(note)
    return made


def stretches(notes: Sequence[Note], bar: Bar, metre: Metre) -> Iterator[Stretch]:
    """From the first note of each beam of a voice in a bar to the end of its last one.

    >>> from builder.music import Pitch
    >>> run = [Note(Fraction(n, 2), Fraction(1, 2), Pitch.parse("C5")) for n in range(2)]
    >>> [(str(a), str(b)) for a, b in stretches(run, Bar(1, Fraction(0), Fraction(4)), Metre.parse("C"))]
    [('0', '1')]
    """
    for group in beams(notes, metre, bar):
        yield notes[group[0]].onset, notes[group[-1]].end


def _groups(
    items: Sequence[Note], metre: Metre, bar: Bar, apart: Sequence[Stretch]
) -> Iterator[tuple[int, ...]]:
    for group in beams(items, metre, bar):
        start, end = items[group[0]].onset, items[group[-1]].end
        if not any(a < end and start < b for a, b in apart):
            yield group


def empty(bar: Bar, metre: Metre, *, seen: bool = True) -> list[ET.Element]:
    """What stands in a bar in which a voice is silent: one rest, or rests as long as a bar cut short."""
    if bar.length >= metre.bar:
        return [element("mRest" if seen else "mSpace")]
    return list(silence(Note(bar.onset, bar.length, None), bar, None if seen else ()))


def filled(notes: Sequence[Note], bar: Bar) -> tuple[Note, ...]:
    """The notes of a bar with one silence for every gap.

    >>> from builder.music import Pitch
    >>> bar = Bar(1, Fraction(0), Fraction(4))
    >>> row = filled([Note(Fraction(1), Fraction(1), Pitch.parse("D4"))], bar)
    >>> [(str(n.pitch or "rest"), str(n.onset), str(n.duration)) for n in row]
    [('rest', '0', '1'), ('D4', '1', '1'), ('rest', '2', '2')]
    """
    items: list[Note] = []
    now = bar.onset
    for note in notes:
        if note.pitch is None:
            continue
        if note.onset > now:
            items.append(Note(now, note.onset - now, None))
        items.append(note)
        now = note.end
    if now < bar.end:
        items.append(Note(now, bar.end - now, None))
    return tuple(items)


def silence(
    rest: Note, bar: Bar, seen: Sequence[Stretch] | None, room: Room | None = None
) -> Iterator[ET.Element]:
    """A silence in values that keep the beats of the bar visible; blank where it is not seen. Its rests stand
    where there is `room`, if that is told."""
    cuts = {rest.onset, rest.end} | {t for stretch in seen or () for t in stretch}
    marks = sorted(t for t in cuts if rest.onset <= t <= rest.end)
    for start, end in pairwise(marks):
        shown = seen is None or any(low <= start and end <= high for low, high in seen)
        for offset, length in rests(start - bar.line, end - start):
            step = str(room.step(bar.line + offset, length)) if room and shown else ""
            yield element("rest" if shown else "space", **duration(length), loc=step)


def rests(offset: Fraction, length: Fraction) -> Iterator[tuple[Fraction, Fraction]]:
    """Cut a silence, counted from the barline, into plain values none of which hides a stronger
    beat than its own.

    >>> [(str(a), str(b)) for a, b in rests(Fraction(1), Fraction(3))]
    [('1', '1'), ('2', '2')]
    """
    end = offset + length
    while offset < end:
        value = max(v for v in VALUES.values() if v <= end - offset and offset % v == 0)
        yield offset, value
        offset += value


def note_element(note: Note, sign: Sign | None, stems: str = "", *, small: bool = False) -> ET.Element:
    """A note; its accidental is written when there is a sign, else only meant."""
    assert note.pitch is not None
    alter = note.pitch.alter
    written = None
    if sign:
        brackets = "brack" if sign.kind == "editorial" else ""
        written = element("accid", accid=SIGNS[sign.alter], func=FUNCTIONS[sign.kind], enclose=brackets)
    return element(
        "note",
        written,
        id=note.id,
        **pitch(note.pitch),
        **duration(note.duration),
        stem_dir=stems if note.duration < 4 else "",
        cue="true" if small else "",
        accid_ges=SIGNS[alter] if alter and not sign else "",
    )
