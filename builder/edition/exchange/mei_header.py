"""The header of an MEI file: title and responsibility, publication, witnesses, encoding, work.

Source: MEI Guidelines 5.1, the MEI header. What an edition does not say is nowhere invented.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

from builder.edition.imprint import Imprint
from builder.edition.pdf.typeset import NO_DATE, release_date
from builder.engraving.tree import element
from builder.music import Score, Version
from builder.source import Verset, carried_text
from builder.source.mei_provenance import NOT_NAMED
from builder.source.provenance import NOTHING_SAID, Composer, Editor, Publication, Witness

EDITOR = "#editor"
_DECLARED = (
    "Accidentals supplied by the editor sound, and are printed above their notes; they hold for one note.",
    "Figures supplied by the editor are printed in brackets.",
    "Figures stand over the given line, which is the lowest sounding voice throughout.",
)
_REALISED = "Notes with the attribute resp are the editor's realisation; all others stand in the given line."


def header(verset: Verset, score: Score, by: Imprint, tone: int | None) -> ET.Element:
    """The whole header. The given line carries its source, for what MEI has no words for."""
    said = verset.provenance
    composer = [_composer(said.composer)] if said.composer else []
    title = element("title", text=f"{score.title} ({score.version})")
    sources = [_source(witness, copy_text=witness is said.copy_text) for witness in said.witnesses]
    relation = element("annot", element("p", text=said.relation), type="relation") if said.relation else None
    return element(
        "meiHead",
        element(
            "fileDesc",
            element("titleStmt", title, *composer, *_people(said.editors, by)),
            element("editionStmt", element("edition", text=by.version)) if by.version else None,
            element("pubStmt", *_published(said.published, by)),
            element("seriesStmt", element("title", text=said.published.series))
            if said.published.series
            else None,
            element("notesStmt", relation) if relation is not None else None,
            element("sourceDesc", *sources) if sources else None,
        ),
        element(
            "encodingDesc",
            element(
                "appInfo", element("application", element("name", text="verset-builder"), isodate=_day())
            ),
            element("editorialDecl", *_declared(score, said.method)),
        ),
        element("workList", _work(verset, score, tone)),
        element("extMeta", text=carried_text(verset)) if score.version == Version.GIVEN else None,
    )


def _day() -> str:
    """The day of encoding where `SOURCE_DATE_EPOCH` gives one, and nothing else."""
    day = release_date()
    return day.date().isoformat() if day != NO_DATE else ""


def source_id(siglum: str) -> str:
    """The id of a witness: a siglum may begin with a digit, or have signs that an id may not.

    >>> source_id("Bc'2")
    'source-Bc-27-2'
    """
    safe = "".join(c if c.isalnum() or c in "._" else f"-{ord(c):x}-" for c in siglum)
    return f"source-{safe}"


def sources(sigla: tuple[str, ...]) -> str:
    """References to witnesses."""
    return " ".join(f"#{source_id(siglum)}" for siglum in sigla)


def _composer(composer: Composer) -> ET.Element:
    name = element("persName", text=composer.name) if composer.name else None
    return element(
        "composer",
        name,
        text="" if composer.name else "Anonymous",
        type="attributed" if composer.attributed else "",
    )


def _people(editors: tuple[Editor, ...], by: Imprint) -> Iterator[ET.Element]:
    """Who answers, a statement for each role; what the editor adds points to the first."""
    named = editors or by.people(NOTHING_SAID)
    known = named or (Editor("The editor"),)
    numbered = [("editor" if not n else "", editor) for n, editor in enumerate(known)]
    for role in dict.fromkeys(editor.role for editor in known):
        names = [_person(id, editor, named=bool(named)) for id, editor in numbered if editor.role == role]
        yield element("respStmt", element("resp", text=role), *names)


def _person(id: str, editor: Editor, *, named: bool) -> ET.Element:
    made = element("name", text=editor.name, id=id, codedval=editor.orcid, type="" if named else NOT_NAMED)
    if editor.orcid:
        made.set("auth", "ORCID")
        made.set("auth.uri", "https://orcid.org/")
    return made


def _published(own: Publication, by: Imprint) -> Iterator[ET.Element]:
    publisher = own.publisher or by.publisher
    if not (publisher or own.place or own.date or own.numbers or by.licence):
        yield element(
            "unpub", text="A file of a course or edition that states neither publisher nor licence."
        )
        return
    for tag, text in (("publisher", publisher), ("pubPlace", own.place), ("date", own.date)):
        if text:
            yield element(tag, text=text)
    for kind, number in own.numbers:
        yield element("identifier", text=number, type=kind)
    if by.licence:
        terms = element("ref", text=by.licence, target=by.licence_url) if by.licence_url else None
        paragraph = element("p", terms, text="" if terms is not None else by.licence)
        yield element("availability", element("useRestrict", paragraph))


def _source(witness: Witness, *, copy_text: bool) -> ET.Element:
    """A witness, with what is known of it."""
    shelfmark = element("identifier", text=witness.shelfmark, type="shelfmark") if witness.shelfmark else None
    library = element("corpName", text=witness.library) if witness.library else None
    kept = element("repository", library, shelfmark)
    parts = [
        element("title", text=witness.siglum, type="siglum"),
        kept if len(kept) else None,
        element("biblScope", text=witness.folio, unit="folio") if witness.folio else None,
        element("date", text=witness.date) if witness.date else None,
        element("annot", element("p", text=witness.description)) if witness.description else None,
        element("ptr", target=witness.link) if witness.link else None,
    ]
    return element(
        "source",
        element("bibl", *parts),
        id=source_id(witness.siglum),
        label=witness.siglum,
        type="copy-text" if copy_text else "",
    )


def _declared(score: Score, method: str) -> Iterator[ET.Element]:
    told = [*_DECLARED, *([_REALISED] if score.version != Version.GIVEN else [])]
    own = [element("p", text=method, label="method")] if method else []
    yield element("interpretation", *own, *(element("p", text=text) for text in told))


def _work(verset: Verset, score: Score, tone: int | None) -> ET.Element:
    beat, rate = verset.tempo
    said, stops = verset.provenance, verset.settings.registration
    symbol = {"C": "common", "C|": "cut"}.get(score.metre.symbol, "")
    organ = element("perfResList", element("perfRes", text="Organ"))
    terms = [element("term", text=f"Tone {tone}", type="tone")] if tone else []
    made = [
        element("date", text=said.date) if said.date else None,
        element("geogName", text=said.place) if said.place else None,
    ]
    return element(
        "work",
        element("title", text=score.title),
        _composer(said.composer) if said.composer else None,
        element("tempo", text=f"{float(rate):g} beats of {beat} quarter notes a minute"),
        element("meter", count=str(score.metre.count), unit=str(score.metre.unit), sym=symbol),
        element("creation", *made) if said.date or said.place else None,
        element("perfMedium", organ),
        element("notesStmt", element("annot", element("p", text=stops), type="registration"))
        if stops
        else None,
        element("classification", element("termList", *terms)) if terms else None,
    )
