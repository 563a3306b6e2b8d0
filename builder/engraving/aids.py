"""What an editor sets above notes: the tempo, fingers, and other notes that may be played (ossia)."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.engraving.accidentals import signs
from builder.engraving.sheet import Sheet, sheet
from builder.engraving.tempo import tempo_element
from builder.engraving.tree import NAMESPACE, XML_ID, element, text
from builder.engraving.writing import Voice, layer
from builder.music import Bar, Note, Score
from builder.source import Verset


def fingers(verset: Verset, score: Score) -> dict[str, str]:
    """The finger of each note of a notated score that has one, by the note's id: those that the source gives
    for this version. A note that is held from the one before is not struck, and takes none.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE + "\\n```fingering\\ncantus 1 | 3 _ 2-1\\n```\\n")
    >>> fingers(verset, notated(verset.score()))
    {'given-cantus-1-1': '3', 'given-cantus-1-3': '2-1'}
    """
    of = sheet(score)
    found: dict[str, str] = {}
    for each in verset.fingers:
        if each.version != score.version or each.voice not in of.bars:
            continue
        for n, row in enumerate(each.bars, each.first - 1):
            struck = [note for note in of.bars[each.voice][n] if note.id not in of.continued]
            found |= {note.id: finger for note, finger in zip(struck, row) if finger}
    return found


def with_aids(mei: str, verset: Verset, score: Score) -> str:
    """MEI of a version, or of an excerpt of it, with the metronome mark over the first bar,
    and with fingers and ossias that the source gives for it. `score`
    is the whole version.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE + "\\n```ossia\\ncantus 2 | C5/2 _/2\\n```\\n")
    >>> score = notated(verset.score())
    >>> with_aids(given_mei(verset, score), verset, score).count("<oStaff ")
    1
    """
    root = ET.fromstring(mei.replace(f' xmlns="{NAMESPACE}"', "", 1))
    add_aids(root, verset, score)
    root.set("xmlns", NAMESPACE)
    return text(root)


def add_aids(root: ET.Element, verset: Verset, score: Score) -> None:
    """Add metronome mark, fingers and ossias to a document of `score`, in place.

    >>> from builder.engraving.given import given_document
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE + "\\n```fingering\\ncantus 1 | 3 _ 2-1\\n```\\n")
    >>> score = notated(verset.score())
    >>> root = given_document(verset, score)
    >>> add_aids(root, verset, score)
    >>> [finger.text for finger in root.iter("fing")]
    ['3', '2-1']
    """
    measures = {measure.get("n", ""): measure for measure in root.iter("measure")}
    asked = fingers(verset, score)
    if first := measures.get(str(verset.bars[0].number)):
        first.append(tempo_element(verset))
    for measure in measures.values():
        for staff in measure.findall("staff"):
            _set_fingers(measure, staff, asked)
    of = sheet(score) if verset.ossias else None
    for number, ossia in enumerate(verset.ossias, 1):
        if of is None or ossia.version != score.version or ossia.voice not in of.bars:
            continue
        for n, bar in enumerate(score.bars):
            other = [note for note in ossia.notes if bar.onset <= note.onset < bar.end]
            own = of.bars[ossia.voice][n]
            there = measures.get(str(bar.number))
            if other and there is not None and not _cut(there, bar, score):
                _set_ossia(there, of, bar, list(_row(other, own, f"ossia-{number}-{bar.number}")), own)


def _set_fingers(measure: ET.Element, staff: ET.Element, asked: dict[str, str]) -> None:
    """The lowest of several voices of a stave has its fingers below, all others above; a note that crosses to
    the other stave has them towards its own."""
    layers = staff.findall("layer")
    for n, voice in enumerate(layers):
        place = "below" if n and n == len(layers) - 1 else "above"
        for note in voice.iter("note"):
            if finger := asked.get(note.get(XML_ID, "")):
                there = note.get("staff", "")
                over = {"1": "below", "2": "above"}.get(there, place)
                at = f"#{note.get(XML_ID)}"
                measure.append(element("fing", text=finger, startid=at, staff=there, place=over))


def _cut(measure: ET.Element, bar: Bar, score: Score) -> bool:
    """Whether an excerpt has only a part of a whole bar."""
    return measure.get("metcon") == "false" and bar.length == score.metre.bar


def _row(other: Sequence[Note], own: Sequence[Note], id: str) -> Iterator[Note]:
    """The notes of a bar with other ones in the place of some."""
    kept = [n for n in own if not any(o.onset < n.end and n.onset < o.end for o in other)]
    for k, note in enumerate(sorted((*other, *kept), key=lambda n: n.onset)):
        yield replace(note, id=f"{id}-{k}", tied=note.tied and note in other)


def _set_ossia(measure: ET.Element, of: Sheet, bar: Bar, row: Sequence[Note], own: Sequence[Note]) -> None:
    """Put a small stave above the one on which the voice stands."""
    ids = {note.id for note in own}
    staves = measure.findall("staff")
    staff = next((s for s in staves if any(note.get(XML_ID) in ids for note in s.iter("note"))), None)
    if staff is None:
        return
    written = signs([row], of.score.signature, frozenset())
    voice = layer(Voice(tuple(row)), 1, bar, of.score.metre, written)
    at = list(measure).index(staff)
    measure.remove(staff)
    measure.insert(at, element("ossia", element("oStaff", voice, n=staff.get("n", "1")), staff))
