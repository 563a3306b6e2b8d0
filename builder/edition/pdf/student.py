"""The sheet for the student: the given line alone, with empty staves above it to write in."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace

from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.chosen import as_printed
from builder.edition.pdf.filling import fullest
from builder.edition.pdf.paper import Paper, chosen_paper, laid_out
from builder.edition.pdf.sheet import Measure, Pictures, Ready, heights_once, sheet, told_verset
from builder.edition.pdf.systems import System, systems
from builder.edition.pdf.typeset import typeset
from builder.engraving.aids import with_aids
from builder.engraving.barlines import barred
from builder.engraving.given import given_mei
from builder.engraving.openscore import clefs_of
from builder.language.texts import edition_texts
from builder.music import Clef, Score, Version
from builder.setting.setting import Setting

_MEI = "http://www.music-encoding.org/ns/mei"
APART = (10, 8, 12, 14, 17)
"""Least distances between staves in half spaces, in the order in which they are tried."""
ROOM_TO_WRITE = 26.0
"""Millimetres by which systems may stand further apart than they need: there is never too much room."""
_ROOM = 1.5
"""How much wider bars are set than in print, to write diminutions in."""


def student_sheet(
    setting: Setting,
    *,
    staves: Sequence[Clef] | None = None,
    paper_name: str = "",
    imprint: Imprint = UNSIGNED,
) -> bytes:
    """Typeset the given line with figures under empty staves, from the highest, for a student to write in.

    `staves` are their clefs; without them each voice but the lowest has a stave in the clef in which it
    enters.

    >>> import pymupdf
    >>> from builder.music import Clef
    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> setting = set_verset(parse(EXAMPLE))
    >>> (page,) = pymupdf.open(stream=student_sheet(setting))
    >>> [line for line in page.get_text().splitlines() if line in ("Cantus", "Altus", "Tenor")]
    ['Cantus', 'Altus']
    """
    printing = setting.verset.provenance.printing
    page, setting = chosen_paper(paper_name, printing), as_printed(setting, printing)
    verset = setting.verset
    clefs = clefs_of(verset)
    empty = [clefs[v] for v in verset.voices[:-1]] if staves is None else list(staves)
    line = setting.scores[Version.GIVEN]
    mei = with_empty_staves(with_aids(given_mei(verset, line), replace(verset, ossias=()), line), empty)
    return sheet_to_write_in(setting, mei, line, page, "student", imprint, room=_ROOM)


def sheet_to_write_in(
    setting: Setting,
    mei: str,
    score: Score,
    page: Paper,
    kind: str,
    imprint: Imprint,
    *heads: str,
    room: float,
) -> bytes:
    """Typeset music with room between its staves, under the verset's title and facts; `heads` go before
    these, in the place of the second. `score` has the notes that are printed; `kind` names the words for who
    cannot see the music; `room` is how much wider than in print bars are set."""

    measure = heights_once()
    music = barred(mei, setting.verset.provenance.printing.barring)

    def made(apart: float) -> Ready:
        drawn = systems(music, width=page.column, space=page.space, apart=int(apart), room=room)
        return _to_write_in(setting, drawn, score, page, kind, imprint, heads, measure)

    best = fullest(made, lambda ready: ready.shares, APART)
    return typeset("sheet.typ", best.data, best.pictures.files)


def _to_write_in(
    setting: Setting,
    drawn: tuple[System, ...],
    score: Score,
    page: Paper,
    kind: str,
    imprint: Imprint,
    heads: Sequence[str],
    measure: Measure,
) -> Ready:
    pictures, w = Pictures(), edition_texts(imprint.lang)
    told = told_verset(setting, page, pictures, (), w)
    if heads:
        told["facts"] = [*heads, *told["facts"][:1], *told["facts"][2:]]
    name = f"1-{kind}"
    pictures.add(name, drawn)
    told["versions"] = [
        {
            "heading": "",
            "note": "",
            "alt": w(f"alt.{kind}"),
            "systems": laid_out(drawn, score, name, w),
        }
    ]
    description = w("description.student")
    return sheet(setting, page, imprint, told, pictures, measure, description, widest=ROOM_TO_WRITE)


def with_empty_staves(mei: str, clefs: Sequence[Clef]) -> str:
    """MEI of one stave, set under empty staves in these clefs; all are joined by a bracket."""
    if not clefs:
        return mei
    ET.register_namespace("", _MEI)
    root = ET.fromstring(mei)
    own = str(len(clefs) + 1)
    for element in root.iter():
        if element.tag in (f"{{{_MEI}}}staff", f"{{{_MEI}}}staffDef") and element.attrib.get("n") == "1":
            element.set("n", own)
        if element.attrib.get("staff") == "1":
            element.set("staff", own)
    for group in root.iter(f"{{{_MEI}}}staffGrp"):
        group.set("symbol", "bracket")
        for n, clef in enumerate(clefs):
            group.insert(n, ET.Element(f"{{{_MEI}}}staffDef", _stave(n + 1, clef)))
    for measure in root.iter(f"{{{_MEI}}}measure"):
        for n in range(len(clefs)):
            staff = ET.Element(f"{{{_MEI}}}staff", {"n": str(n + 1)})
            layer = ET.SubElement(staff, f"{{{_MEI}}}layer", {"n": "1"})
            ET.SubElement(layer, f"{{{_MEI}}}mSpace")
            measure.insert(n, staff)
    return ET.tostring(root, encoding="unicode")


def _stave(n: int, clef: Clef) -> dict[str, str]:
    return {"n": str(n), "lines": "5", "clef.shape": clef.letter, "clef.line": str(clef.line)}
