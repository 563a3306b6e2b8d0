"""MEI for the library: open score (or the given line) with a full header and editorial markup.

Source: MEI Guidelines 5.1, CMN customization. What the editor adds stands in `supplied`: accidentals
above their notes, figures. Critical notes are an apparatus of lemma and reading that points to the notes
they speak of.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from math import lcm

from builder.edition.imprint import UNSIGNED, Imprint
from builder.engraving import clefs_of, given_document, open_document
from builder.engraving.tree import element, text
from builder.music import Score, Version
from builder.music.time import VALUES, dotted
from builder.source import Reading, Verset, carried_text

_EDITOR = "#editor"
_DECLARED = (
    "Accidentals supplied by the editor sound, and are printed above their notes; they hold for one note.",
    "Figures supplied by the editor are printed in brackets.",
    "Figures stand over the given line, which is the lowest sounding voice throughout.",
)


_VALUES = VALUES | {"long": VALUES["longa"]}


def mei(verset: Verset, score: Score, *, by: Imprint = UNSIGNED, tone: int | None = None) -> str:
    """A notated score of a verset as MEI. The version `given` is written on one stave in the clefs of
    its voices, others in open score with the figures under the lowest stave. `tone` is what analysis
    found, if the source names none. `ValueError` when the score is not notated."""
    if score.version == Version.GIVEN:
        root = given_document(verset, score)
    else:
        root = open_document(score, clefs_of(verset), figured=True)
    root[0] = header(verset, score, by, verset.tone or tone)
    _mark_supplied(root)
    _count_lengths(root, score)
    for measure in root.iter("measure"):
        for reading in verset.readings:
            if str(reading.bar) == measure.get("n"):
                measure.append(_apparatus(reading, score))
    ET.indent(root, " ")
    return text(root) + "\n"


def header(verset: Verset, score: Score, by: Imprint, tone: int | None) -> ET.Element:
    """The header: title and responsibility, publication and licence, source, encoding, work."""
    return element(
        "meiHead",
        element(
            "fileDesc",
            element("titleStmt", element("title", text=f"{score.title} ({score.version})"), *_people(by)),
            element("pubStmt", *_published(by)),
            element("sourceDesc", element("source", element("bibl", *_source(verset)), id="source")),
        ),
        element(
            "encodingDesc",
            element("appInfo", element("application", element("name", text="verset-builder"))),
            element("editorialDecl", element("interpretation", *(element("p", text=t) for t in _DECLARED))),
        ),
        element("workList", _work(verset, score, tone)),
        # what MEI has no words for, so that the given line reads back as the same verset
        element("extMeta", text=carried_text(verset)) if score.version == Version.GIVEN else None,
    )


def _people(by: Imprint) -> Iterator[ET.Element]:
    """Every author answers as editor; what the editor adds points to the first."""
    names = by.authors or ("The editor",)
    told = [element("name", text=n, id="editor" if not k else "") for k, n in enumerate(names)]
    yield element("respStmt", element("resp", text="editor"), *told)


def _published(by: Imprint) -> Iterator[ET.Element]:
    if not (by.publisher or by.licence):
        yield element(
            "unpub", text="A file of a course or edition that states neither publisher nor licence."
        )
        return
    if by.publisher:
        yield element("publisher", text=by.publisher)
    if by.licence:
        terms = element("ref", text=by.licence, target=by.licence_url) if by.licence_url else None
        paragraph = element("p", terms, text="" if terms is not None else by.licence)
        yield element("availability", element("useRestrict", paragraph))


def _source(verset: Verset) -> Iterator[ET.Element]:
    yield element("title", text=verset.title)
    yield element("annot", element("p", text=f"Verset source {verset.name}: given line with figures."))


def _work(verset: Verset, score: Score, tone: int | None) -> ET.Element:
    beat, rate = verset.tempo
    symbol = {"C": "common", "C|": "cut"}.get(score.metre.symbol, "")
    organ = element("perfResList", element("perfRes", text="Organ"))
    terms = [element("term", text=f"Tone {tone}", type="tone")] if tone else []
    return element(
        "work",
        element("title", text=score.title),
        element("tempo", text=f"{float(rate):g} beats of {beat} quarter notes a minute"),
        element("meter", count=str(score.metre.count), unit=str(score.metre.unit), sym=symbol),
        element("perfMedium", organ),
        element("classification", element("termList", *terms)) if terms else None,
    )


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
    return element("supplied", what, resp=_EDITOR, reason=reason.replace(" ", "-"))


def _apparatus(reading: Reading, score: Score) -> ET.Element:
    """A critical note: what is adopted and what the source has, both pointing to the notes of its voice
    in its bar. It stands beside the staves and not around the notes, because many readers pass over
    `app` in a layer, and the notes of the lemma would be lost to them."""
    here = " ".join(
        f"#{note.id}"
        for part in score.parts
        for note in part.notes
        if reading.voice in ("", part.voice) and note.pitch and note.id.split("-")[-2] == str(reading.bar)
    )

    def told(text: str) -> ET.Element:
        return element("annot", element("p", text=text), plist=here)

    return element(
        "app",
        element("lem", told(reading.adopted), resp=_EDITOR),
        element("rdg", told(reading.source), source="#source"),
        type="reading",
    )
