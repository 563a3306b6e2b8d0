"""What a repository asks of an edition that is deposited there, as files.

Sources (published): DataCite Metadata Schema 4.5 (kernel-4; order of elements, contributor types, standard
values for what is unknown: appendix 3, from memory); Dublin Core Metadata Element Set 1.1 (ISO 15836-1) in
the wrapping of the OAI protocol (`oai_dc`); language by BCP 47.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.source.provenance import NOTHING_SAID, Editor, Provenance

KERNEL = "http://datacite.org/schema/kernel-4"
OAI = "http://www.openarchives.org/OAI/2.0/oai_dc/"
DC = "http://purl.org/dc/elements/1.1/"
XML = "http://www.w3.org/XML/1998/namespace"
UNKNOWN, LATER = "(:unav)", "(:tba)"
"""What DataCite writes for a value that is not available, and for one that will be given later."""
_ROLES = {"editor": "Editor", "transcriber": "DataCurator", "translator": "Other", "reviewer": "Other"}
_SUBJECTS = ("organ music", "versets", "figured bass", "counterpoint")


@dataclass(frozen=True, slots=True)
class Deposit:
    """What is deposited. `year` empty: the release is not dated; `people` answer for the edition."""

    title: str
    version: str
    licence: str
    licence_url: str
    lang: str
    people: tuple[Editor, ...] = ()
    abstract: str = ""
    publisher: str = ""
    year: str = ""
    said: Provenance = NOTHING_SAID


def files(deposit: Deposit) -> dict[str, str]:
    """The files by their path in the archive. DataCite asks for a year: without one its file is left out.

    >>> sorted(files(Deposit("Versets", "1.0.0", "MIT", "", "en")))
    ['metadata/dublin-core.xml']
    """
    made = {"metadata/dublin-core.xml": _text(_dublin_core(deposit))}
    if deposit.year:
        made["metadata/datacite.xml"] = _text(_datacite(deposit))
    return made


def _text(root: ET.Element) -> str:
    ET.indent(root, "  ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _add(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    made = ET.SubElement(parent, tag, attributes)
    made.text = text or None
    return made


def _datacite(d: Deposit) -> ET.Element:
    published = d.said.published
    root = ET.Element("resource", {"xmlns": KERNEL})
    _add(root, "identifier", published.doi or LATER, identifierType="DOI")
    creators = _add(root, "creators")
    for name, orcid in _creators(d):
        _person(_add(creators, "creator"), "creatorName", name, orcid)
    title = _add(_add(root, "titles"), "title", d.title)
    title.set(f"{{{XML}}}lang", d.lang)
    _add(root, "publisher", published.publisher or d.publisher or UNKNOWN)
    _add(root, "publicationYear", d.year)
    _add(root, "resourceType", "Edition of music", resourceTypeGeneral="Collection")
    subjects = _add(root, "subjects")
    for subject in _SUBJECTS:
        _add(subjects, "subject", subject)
    if d.people:
        contributors = _add(root, "contributors")
        for person in d.people:
            kind = _ROLES.get(person.role, "Other")
            one = _add(contributors, "contributor", contributorType=kind)
            _person(one, "contributorName", person.name, person.orcid)
    _add(root, "language", d.lang)
    if numbers := [(kind, number) for kind, number in published.numbers if kind != "DOI"]:
        others = _add(root, "alternateIdentifiers")
        for kind, number in numbers:
            _add(others, "alternateIdentifier", number, alternateIdentifierType=kind)
    _add(root, "version", d.version)
    rights = _add(_add(root, "rightsList"), "rights", d.licence)
    if d.licence_url:
        rights.set("rightsURI", d.licence_url)
        rights.set("rightsIdentifier", d.licence)
        rights.set("rightsIdentifierScheme", "SPDX")
    if d.abstract:
        told = _add(_add(root, "descriptions"), "description", d.abstract, descriptionType="Abstract")
        told.set(f"{{{XML}}}lang", d.lang)
    return root


def _creators(d: Deposit) -> Iterator[tuple[str, str]]:
    """The composer, where there is one; else the people of the edition."""
    if d.said.composer and d.said.composer.name:
        yield d.said.composer.name, ""
        return
    yield from [(person.name, person.orcid) for person in d.people] or [(UNKNOWN, "")]


def _person(parent: ET.Element, tag: str, name: str, orcid: str) -> None:
    family, comma, given = name.partition(",")
    _add(parent, tag, name, **({"nameType": "Personal"} if comma or orcid else {}))
    if comma:
        _add(parent, "givenName", given.strip())
        _add(parent, "familyName", family.strip())
    if orcid:
        scheme = {"nameIdentifierScheme": "ORCID", "schemeURI": "https://orcid.org"}
        _add(parent, "nameIdentifier", f"https://orcid.org/{orcid}", **scheme)


def _dublin_core(d: Deposit) -> ET.Element:
    root = ET.Element("oai_dc:dc", {"xmlns:oai_dc": OAI, "xmlns:dc": DC})
    for name, values in _elements(d):
        for value in values:
            if value:
                _add(root, f"dc:{name}", value)
    return root


def _elements(d: Deposit) -> Iterator[tuple[str, Sequence[str]]]:
    """The elements of the set that say something, in the order in which the standard lists them."""
    published = d.said.published
    named = d.said.composer.name if d.said.composer else ""
    own = [f"{person.name} ({person.role})" for person in d.people]
    yield "title", [d.title]
    yield "creator", [named] if named else [person.name for person in d.people]
    yield "subject", _SUBJECTS
    yield "description", [d.abstract]
    yield "publisher", [published.publisher or d.publisher]
    yield "contributor", own if named else []
    yield "date", [d.year]
    yield "type", ["Collection"]
    yield "format", ["application/zip"]
    yield "identifier", [f"{kind} {number}" for kind, number in published.numbers]
    yield "source", [f"{w.siglum}: {w.kept}" if w.kept else w.siglum for w in d.said.witnesses]
    yield "language", [d.lang]
    yield "coverage", [d.said.place, d.said.date]
    yield "rights", [d.licence, d.licence_url]
