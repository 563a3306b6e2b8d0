"""What the header and the facsimile of an MEI file say of sources and edition.

Source: MEI Guidelines 5.1, the MEI header, module facsimile. What the file does not say is not made up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from builder.source import identifiers
from builder.source.bibliography import PICTURES, SIGLUM
from builder.source.errors import visible
from builder.source.provenance import (
    ROLES,
    Composer,
    Editor,
    Facsimile,
    Provenance,
    Publication,
    Witness,
    Zone,
)
from builder.source.xmltree import Element

NOT_NAMED = "unnamed"
"""The type of the name that a file has for an editor whom nobody has named."""


def said(at: Element | None, *path: str) -> str:
    """The text at a path, with a sign in the place of what would steer a terminal or turn a line's order."""
    return visible(at.text(*path)) if at is not None else ""


def provenance_of(root: Element) -> Provenance:
    """All of it; empty where the header says nothing."""
    head = root.first("meiHead")
    if head is None:
        return Provenance()
    title, work = head.first("fileDesc", "titleStmt"), head.first("workList", "work")
    creation = work.first("creation") if work else None
    return Provenance(
        composer=_composer(title),
        place=said(creation, "geogName"),
        date=said(creation, "date"),
        witnesses=tuple(_witnesses(root, head)),
        relation=next((said(a) for a in head.within("annot") if a.get("type") == "relation"), ""),
        method=next((said(p) for p in head.within("p") if p.get("label") == "method"), ""),
        editors=tuple(_editors(title)) if title else (),
        published=_published(head),
    )


def sigla_by_id(root: Element) -> dict[str, str]:
    """The siglum of every witness of the header by the id of its `source`."""
    found = {source.get("id"): _siglum(source) for source in root.within("source") if source.get("id")}
    return {id: siglum for id, siglum in found.items() if siglum}


def _siglum(source: Element) -> str:
    """A witness's siglum: its label, its title of that type, or its id; empty where none of them would do."""
    titles = [t.text() for t in source.within("title") if t.get("type") == "siglum"]
    named = (source.get("label"), *titles, source.get("id").removeprefix("source-"))
    return next((text for text in named if SIGLUM.fullmatch(text)), "")


def _composer(title: Element | None) -> Composer | None:
    found = title.first("composer") if title else None
    if found is None:
        return None
    name = said(found)
    return Composer("" if name.lower() == "anonymous" else name, found.get("type") == "attributed")


def _editors(title: Element) -> Iterator[Editor]:
    for statement in title.all("respStmt"):
        role = statement.text("resp").lower()
        for name in (*statement.all("name"), *statement.all("persName")):
            if name.get("type") != NOT_NAMED and name.text():
                orcid = _checked(identifiers.orcid, name.get("codedval"))
                yield Editor(said(name), role if role in ROLES else ROLES[0], orcid)


def _published(head: Element) -> Publication:
    stated = head.first("fileDesc", "pubStmt")
    if stated is None:
        return Publication()
    numbers = {each.get("type"): each.text() for each in stated.all("identifier")}
    return Publication(
        publisher=said(stated, "publisher"),
        place=said(stated, "pubPlace"),
        date=said(stated, "date"),
        series=said(head, "fileDesc", "seriesStmt", "title"),
        isbn=_checked(identifiers.isbn, numbers.get("ISBN", "")),
        ismn=_checked(identifiers.ismn, numbers.get("ISMN", "")),
        doi=_checked(identifiers.doi, numbers.get("DOI", "")),
    )


def _checked(read: object, text: str) -> str:
    """A number that is right; another one is left out: the file is not ours to correct."""
    assert callable(read)
    try:
        return (read(text) or "") if text else ""
    except ValueError:
        return ""


def _witnesses(root: Element, head: Element) -> Iterator[Witness]:
    sources = [s for desc in head.within("sourceDesc") for s in desc.all("source") if _siglum(s)]
    for source in sources:
        books = source.all("bibl") or [source]
        kept, *_ = [*books[0].all("repository"), *source.within("repository"), None]
        pointers = [p.get("target") for p in source.within("ptr")]
        yield Witness(
            siglum=_siglum(source),
            library=said(kept, "corpName") or said(kept, "name"),
            shelfmark=said(kept, "identifier"),
            folio=next((said(s) for s in source.within("biblScope") if s.get("unit") == "folio"), ""),
            date=said(books[0], "date"),
            description=said(books[0], "annot"),
            link=next((t for t in pointers if re.fullmatch(r"https?://[^\s<>\"]+", t)), ""),
            copy_text=len(sources) > 1 and source.get("type") == "copy-text",
            pictures=tuple(_pictures(root, source.get("id"))),
            span=source.span,
        )


def _pictures(root: Element, source: str) -> Iterator[Facsimile]:
    """The pictures of a witness. A zone belongs to the bars that point to it, else to those in its name."""
    shown: dict[str, list[int]] = {}
    for number, measure in enumerate(root.within("measure"), 1):
        for reference in measure.get("facs").split():
            shown.setdefault(reference.lstrip("#"), []).append(number)
    for surface in root.within("surface"):
        graphic = surface.first("graphic")
        if graphic is None or source not in surface.get("corresp").replace("#", "").split():
            continue
        file = graphic.get("target")
        if not file.lower().endswith(PICTURES) or re.search(r"[\\:?#%]|^/|(^|/)\.{0,2}(/|$)", file):
            continue
        told = {seg.get("type"): said(seg) for seg in surface.within("seg")}
        licence = told.get("licence") or said(surface, "figDesc")
        zones = tuple(z for zone in surface.all("zone") if (z := _zone(zone, shown)))
        yield Facsimile(file, licence, told.get("credit", ""), zones, surface.span)


def _zone(zone: Element, shown: dict[str, list[int]]) -> Zone | None:
    corners = [zone.get(name) for name in ("ulx", "uly", "lrx", "lry")]
    if not all(corner.isdecimal() for corner in corners):
        return None
    left, top, right, foot = map(int, corners)
    named = re.fullmatch(r"(\d{1,5})(?:-(\d{1,5}))?", zone.get("n"))
    bars = shown.get(zone.get("id")) or ([int(named[1]), int(named[2] or named[1])] if named else [])
    if not bars or right <= left or foot <= top:
        return None
    return Zone(min(bars), max(bars), (left, top, right - left, foot - top), zone.span)
