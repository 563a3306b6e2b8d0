"""The sheet for the student: the given line alone, with empty staves above it to write in."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence

from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.paper import GAP, TITLE, Paper, fits, laid_out, paper
from builder.edition.pdf.sheet import Pictures, document, told_verset
from builder.edition.pdf.systems import System, systems
from builder.edition.pdf.typeset import typeset
from builder.engraving.given import given_mei
from builder.engraving.openscore import clefs_of
from builder.language.texts import edition_texts
from builder.music import Clef, Version
from builder.setting.setting import Setting

_MEI = "http://www.music-encoding.org/ns/mei"
_ROOM = 1.5
"""How much wider bars are set than in print, to write diminutions in."""


def student_sheet(
    setting: Setting,
    *,
    staves: Sequence[Clef] | None = None,
    paper_name: str = "a4",
    imprint: Imprint = UNSIGNED,
) -> bytes:
    """Typeset the given line with figures under empty staves, from the highest.

    `staves` are their clefs; without them each voice but the lowest has a stave in the clef in which
    it enters.
    """
    page, verset = paper(paper_name), setting.verset
    clefs = clefs_of(verset)
    empty = [clefs[v] for v in verset.voices[:-1]] if staves is None else list(staves)
    mei = with_empty_staves(given_mei(verset, setting.scores[Version.GIVEN]), empty)
    drawn = systems(mei, width=page.column, space=page.space, apart=10, room=_ROOM)
    return sheet_to_write_in(setting, drawn, page, "student", imprint)


def sheet_to_write_in(
    setting: Setting, drawn: tuple[System, ...], page: Paper, kind: str, imprint: Imprint, *heads: str
) -> bytes:
    """Typeset systems with room between them, under the verset's title and facts; `heads` go before these, in
    the place of the second. `kind` names the words for who cannot see the music."""
    pictures, w = Pictures(), edition_texts(imprint.lang)
    told = told_verset(setting, page, pictures, (), w) | {"gap": 2 * GAP}
    if heads:
        told["facts"] = [*heads, *told["facts"][:1], *told["facts"][2:]]
    name = f"1-{kind}"
    pictures.add(name, drawn)
    told["versions"] = [
        {
            "heading": "",
            "note": "",
            "alt": w(f"alt.{kind}"),
            "keep": fits(drawn, page, 2 * GAP, TITLE),
            "pages": 1,
            "systems": laid_out(drawn, page, 1, name, w, gap=2 * GAP, head=TITLE),
        }
    ]
    data = document(setting.verset.title, page, imprint, [told], w("description.student"))
    return typeset("sheet.typ", data, pictures.files)


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
