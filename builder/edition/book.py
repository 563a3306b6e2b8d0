"""The book of an edition: title page, contents, preface, notes on performance, versets, services,
critical report, indexes by tone, by number of voices and by service."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from builder.edition.pdf import UNSIGNED, VERSIONS, Imprint, Pictures, document, told_verset
from builder.edition.pdf_data import NUMBERS, ORDINALS, spoken_time
from builder.edition.pdf_paper import paper
from builder.edition.pdf_typeset import typeset
from builder.edition.pdf_words import words
from builder.edition.service import HEADS, Service, service_rows
from builder.edition.setting import Setting

_LABELS = {
    "contents": "Contents",
    "preface": "Preface",
    "performance": "Notes on performance",
    "services": "Services",
    "critical": "Critical report",
    "index": "Index",
    "nothing": "Nothing supplied, changed or licensed in:",
}
_HEAD = 55.0
"""Millimetres that the head of a verset takes, in round numbers."""


@dataclass(frozen=True, slots=True)
class Book:
    """The words of a book, as Markdown where they are long. `performance` empty: notes of our own;
    `imprint` is set on the back of the title page, a line each."""

    title: str
    subtitle: str = "Organ versets: given lines with figures, realisations, diminutions"
    authors: tuple[str, ...] = ()
    version: str = ""
    preface: str = ""
    performance: str = ""
    imprint: tuple[str, ...] = ()
    lang: str = "en"


def book(
    settings: Sequence[Setting],
    front: Book,
    *,
    services: Sequence[Service] = (),
    paper_name: str = "a4",
    versions: Sequence[str] = VERSIONS,
    open_score: bool = False,
) -> bytes:
    """Typeset a book of versets in the order given.

    A version stands on one page where it fits; in a bound book a verset that needs two pages begins on
    a left one, so that it lies open whole. The PDF is tagged, meets PDF/A-2a, and is the same bytes
    for the same input. `ValueError` for an unknown paper or version, or for no verset at all.
    """
    if not settings:
        raise ValueError("a book needs at least one verset")
    page, pictures = paper(paper_name), Pictures()
    told = [
        told_verset(s, page, pictures, versions, open_score=open_score, key=str(n))
        for n, s in enumerate(settings, 1)
    ]
    for piece in told:
        piece["opening"] = _depth(piece) > page.depth
    imprint = Imprint(front.lang, front.authors)
    data = document(front.title, page, imprint, told, front.subtitle)
    notes = front.performance or (
        files("builder.edition").joinpath("templates/performance.md").read_text(encoding="utf-8")
    )
    data |= {
        "subtitle": front.subtitle,
        "edition": f"Edition {front.version}" if front.version else "",
        "imprint": list(front.imprint),
        "preface": words(front.preface),
        "performance": words(notes),
        "services": [told_service(s) for s in services],
        "indexes": list(_indexes(settings, services)),
        "labels": data["labels"] | _LABELS,
    }
    return typeset("book.typ", data, pictures.files)


def service_sheet(service: Service, *, paper_name: str = "a4", imprint: Imprint = UNSIGNED) -> bytes:
    """The plan of one service as a PDF for the desk."""
    data = document(service.title, paper(paper_name), imprint, [], "Plan of a service")
    return typeset("service.typ", data | {"services": [told_service(service)]}, {})


def told_service(service: Service) -> dict[str, Any]:
    """A service as the templates take it."""
    return {
        "title": service.title,
        "intro": words(service.intro),
        "heads": list(HEADS),
        "rows": service_rows(service),
        "total": f"Together about {spoken_time(service.minutes)}.",
        "before": "Before the day",
        "warnings": list(service.warnings),
    }


def _depth(piece: dict[str, Any]) -> float:
    """Millimetres that a verset takes when it is set without a break."""
    music = sum(s["height"] + 3.5 for v in piece["versions"] for s in v["systems"])
    return float(music + 14.0 * len(piece["versions"]) + _HEAD + 25.0)


def _indexes(settings: Sequence[Setting], services: Sequence[Service]) -> Iterable[dict[str, Any]]:
    keyed = [(str(n), s) for n, s in enumerate(settings, 1)]
    tones = [(f"{ORDINALS[n]} tone", [k for k in keyed if k[1].analysis.tone == n]) for n in range(1, 9)]
    yield _index("By tone", tones)
    voices = [(NUMBERS[n], [k for k in keyed if k[1].analysis.voices == n]) for n in range(1, 5)]
    yield _index("By number of voices", voices)
    played = [
        (service.title, [k for k in keyed if any(r.verset == k[1].verset.name for r in service.rows)])
        for service in services
    ]
    if any(found for _, found in played):
        yield _index("By service", played)


def _index(title: str, groups: Iterable[tuple[str, Sequence[tuple[str, Setting]]]]) -> dict[str, Any]:
    return {
        "title": title,
        "groups": [
            {"label": label, "items": [{"key": key, "title": s.verset.title} for key, s in found]}
            for label, found in groups
            if found
        ],
    }
