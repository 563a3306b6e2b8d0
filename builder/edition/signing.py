"""What an edition says of itself in print: on the title page, at the foot of every sheet, to catalogues."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from builder.edition.apparatus import composer, people, published
from builder.edition.imprint import Imprint
from builder.language.texts import EditionTexts
from builder.source.provenance import Editor, Provenance

_DATE = re.compile(r"\d{4}(-\d\d(-\d\d)?)?")
"""A date as XMP and Dublin Core write it (ISO 8601); others are words."""


def line_of_sheet(imprint: Imprint, said: Provenance, w: EditionTexts) -> str:
    """Editor, edition, version and licence in a line, for the foot of a sheet; what is not said is left out.

    >>> from builder.language.texts import edition_texts
    >>> from builder.source.provenance import NOTHING_SAID
    >>> signed = Imprint(authors=("Teacher, Anna",), licence="MIT", title="Versets", version="1.0.0")
    >>> line_of_sheet(signed, NOTHING_SAID, edition_texts())
    'Editor: Teacher, Anna · Versets, Edition 1.0.0 · Licence: MIT'
    """
    version = w("label.edition", version=imprint.version) if imprint.version else ""
    edition = ", ".join(text for text in (imprint.title, version) if text)
    licence = w("label.licence", licence=imprint.licence) if imprint.licence else ""
    return " · ".join(text for text in (*by_role(imprint.people(said), w), edition, licence) if text)


def by_role(editors: Sequence[Editor], w: EditionTexts) -> list[str]:
    """Who answers for an edition: a line for each role, without numbers."""
    return [
        w(
            "provenance.person",
            role=w(f"provenance.role.{role}"),
            name="; ".join(e.name for e in editors if e.role == role),
        )
        for role in dict.fromkeys(e.role for e in editors)
    ]


def colophon(imprint: Imprint, said: Provenance, w: EditionTexts) -> list[str]:
    """Who answers, who publishes, the numbers, and the licence: a line each."""
    own = published(said)
    if imprint.publisher and not said.published.publisher:
        own = [imprint.publisher, *own]
    licence = w("label.licence", licence=imprint.licence) if imprint.licence else ""
    if imprint.licence_url:
        licence = f"{licence}, {imprint.licence_url}"
    version = w("label.edition", version=imprint.version) if imprint.version else ""
    edition = ", ".join(text for text in (imprint.title, version) if text)
    return [text for text in (*people(imprint.people(said), w), edition, *own, licence) if text]


def title_page(imprint: Imprint, w: EditionTexts) -> dict[str, Any]:
    """What stands on the title page beside the title: composer, people with their roles, series, and at its
    foot edition and publisher, place and date."""
    said = imprint.said
    own = said.published
    named = list(imprint.authors) if not said.editors else by_role(said.editors, w)
    publisher = own.publisher or imprint.publisher
    return {
        "composer": composer(said.composer, w) if said.composer else "",
        "people": named,
        "series": own.series,
        "edition": w("label.edition", version=imprint.version) if imprint.version else "",
        "foot": ", ".join(text for text in (publisher, own.place, own.date) if text),
    }


def metadata(imprint: Imprint, said: Provenance) -> dict[str, Any]:
    """The same for catalogues, by the elements of Dublin Core: see `builder.edition.pdf.metadata`."""
    own, wrote = said.published, said.composer.name if said.composer else ""
    names = imprint.people(said)
    publisher = own.publisher or imprint.publisher
    return {
        "creator": [wrote] if wrote else [e.name for e in names],
        "contributor": [f"{e.name} ({e.role})" for e in names],
        "publisher": [publisher] if publisher else [],
        "date": [own.date] if _DATE.fullmatch(own.date) else [],
        "identifier": [f"{kind} {number}" for kind, number in own.numbers],
        "relation": [own.series] if own.series else [],
        "source": [f"{w.siglum}: {w.kept}" if w.kept else w.siglum for w in said.witnesses],
        "coverage": [text for text in (said.place, said.date) if text],
        "rights": imprint.licence,
        "licence_url": imprint.licence_url,
    }
