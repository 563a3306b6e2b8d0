"""MEI for the library: open score (or the given line) with a full header and editorial markup.

Source: MEI Guidelines 5.1, CMN customization. What the editor adds stands in `supplied`: accidentals
above their notes, figures; the notes of a realisation have him in `resp`. What witnesses have is an
apparatus of lemma and reading (`mei_apparatus`).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from math import lcm

from builder.edition.exchange.mei_apparatus import add_apparatus
from builder.edition.exchange.mei_facsimile import add_facsimile
from builder.edition.exchange.mei_header import EDITOR, header
from builder.edition.imprint import UNSIGNED, Imprint
from builder.engraving import clefs_of, given_document, keyboard_document, open_document
from builder.engraving.aids import add_aids
from builder.engraving.given import given_notes
from builder.engraving.tree import XML_ID, element, text
from builder.music import Score, Version
from builder.music.time import VALUES, dotted
from builder.source import Verset

_VALUES = VALUES | {"long": VALUES["longa"]}


def mei(
    verset: Verset,
    score: Score,
    *,
    by: Imprint = UNSIGNED,
    tone: int | None = None,
    keyboard: bool = False,
) -> str:
    """A notated score of a verset as MEI. The version `given` is written on one stave in the clefs of
    its voices, others in open score with the figures under the lowest stave. `tone` is what analysis
    found, if the source names none. `keyboard`: others on two staves. `ValueError` when the
    score is not notated."""
    if score.version == Version.GIVEN:
        root = given_document(verset, score)
    else:
        if keyboard:
            root = keyboard_document(score, figured=True)
        else:
            root = open_document(score, clefs_of(verset), figured=True)
        given = {note.id for _, note in given_notes(verset, score)}
        for note in root.iter("note"):
            if note.get(XML_ID) not in given:
                note.set("resp", EDITOR)
    add_aids(root, verset, score)
    root[0] = header(verset, score, by, verset.tone or tone)
    _mark_supplied(root)
    _count_lengths(root, score)
    add_apparatus(root, verset, score)
    add_facsimile(root, verset)
    ET.indent(root, " ")
    return text(root) + "\n"


def _count_lengths(root: ET.Element, score: Score) -> None:
    """Say every length also in parts of a quarter note: not every reader counts two dots alike."""
    parts = lcm(16, *(n.duration.denominator for part in score.parts for n in part.notes))
    for staff in root.iter("staffDef"):
        staff.set("ppq", str(parts))
    for symbol in root.iter():
        if symbol.tag in ("note", "rest", "space") and symbol.get("dur"):
            length = dotted(_VALUES[symbol.get("dur", "")], int(symbol.get("dots", "0")))
            symbol.set("dur.ppq", str(int(length * parts)))


def _mark_supplied(root: ET.Element) -> None:
    """Wrap what the editor adds."""
    for note in root.iter("note"):
        for n, child in enumerate(note):
            if child.tag == "accid" and child.get("func") == "edit":
                note[n] = _supplied(child, "accidental required by the counterpoint")
                note.set("accid.ges", child.get("accid", ""))  # readers that pass over `supplied`
    for stack in root.iter("fb"):
        for n, figure in enumerate(stack):
            if (figure.text or "").startswith("["):
                stack[n] = _supplied(figure, "figure missing in the source")


def _supplied(what: ET.Element, reason: str) -> ET.Element:
    return element("supplied", what, resp=EDITOR, reason=reason.replace(" ", "-"))
