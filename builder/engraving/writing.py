"""One voice in one bar: notes with stems, beams and accidentals; rests seen and unseen."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.engraving.accidentals import Sign
from builder.engraving.beams import beams
from builder.engraving.tree import SIGNS, duration, element, pitch
from builder.music import Bar, Metre, Note
from builder.music.time import VALUES

FUNCTIONS = {"editorial": "edit", "reminder": "caution", "plain": ""}


@dataclass(frozen=True, slots=True)
class Voice:
    """How a voice stands in a bar: its notes, its silences (seen as rests or not), its stems."""

    notes: tuple[Note, ...]
    seen: frozenset[Fraction] = frozenset()
    """Onsets of silences that are written as rests; others are blank."""
    stems: str = ""


def layer(voice: Voice, n: int, bar: Bar, metre: Metre, signs: Mapping[str, Sign]) -> ET.Element:
    """The voice as a layer of its stave."""
    items = filled(voice.notes, bar)
    grouped = {n: group for group in beams(items, metre, bar) for n in group}
    made = element("layer", n=str(n))
    if all(item.pitch is None for item in items):
        made.append(element("mRest" if bar.onset in voice.seen else "mSpace"))
        return made
    beam: ET.Element | None = None
    for index, item in enumerate(items):
        if item.pitch is None:
            made.extend(silence(item, bar, seen=item.onset in voice.seen))
            continue
        note = note_element(item, signs.get(item.id), voice.stems)
        if index not in grouped:
            made.append(note)
            continue
        if grouped[index][0] == index or beam is None:
            beam = element("beam")
            made.append(beam)
        beam.append(note)
    return made


def filled(notes: Sequence[Note], bar: Bar) -> tuple[Note, ...]:
    """The notes of a bar with one silence for every gap."""
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


def silence(rest: Note, bar: Bar, *, seen: bool) -> Iterator[ET.Element]:
    """A silence in values that keep the beats of the bar visible."""
    for _, length in rests(rest.onset - bar.onset, rest.duration):
        yield element("rest" if seen else "space", **duration(length))


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


def note_element(note: Note, sign: Sign | None, stems: str = "") -> ET.Element:
    """A note; its accidental is written when there is a sign, else only meant."""
    assert note.pitch is not None
    alter = note.pitch.alter
    written = None
    if sign:
        place = "above" if sign.kind == "editorial" else ""
        written = element("accid", accid=SIGNS[sign.alter], func=FUNCTIONS[sign.kind], place=place)
    return element(
        "note",
        written,
        id=note.id,
        **pitch(note.pitch),
        **duration(note.duration),
        stem_dir=stems if note.duration < 4 else "",
        accid_ges=SIGNS[alter] if alter and not sign else "",
    )
