"""Everything of an edition that is for printing: the book on two papers, and the single sheets."""

from __future__ import annotations

from collections.abc import Sequence

from builder.edition.book.book import Book, book, service_sheet
from builder.edition.pdf.paper import PAPERS
from builder.edition.pdf.sheet import VERSIONS, single
from builder.edition.pdf.student import student_sheet
from builder.edition.service.plan import Service
from builder.setting.setting import Setting


def prints(settings: Sequence[Setting], front: Book, services: Sequence[Service] = ()) -> dict[str, bytes]:
    """The book and the sheets as PDF, by their path in a release. Versets of one name are numbered."""
    imprint = front.signed
    made = {
        f"book/book-{name}.pdf": book(settings, front, services=services, paper_name=name) for name in PAPERS
    }
    for name, setting in zip(names(settings), settings):
        made[f"sheets/{name}-student.pdf"] = student_sheet(setting, imprint=imprint)
        for version in VERSIONS:
            made[f"sheets/{name}-{version}.pdf"] = single(setting, version, imprint=imprint)
    for service in services:
        made[f"sheets/service-{service.name}.pdf"] = service_sheet(service, imprint=imprint)
    return made


def names(settings: Sequence[Setting]) -> list[str]:
    """A file name for each verset: its own, and a number where another has had it."""
    found: list[str] = []
    for setting in settings:
        name, n = setting.verset.name, 1
        while name in found:
            n += 1
            name = f"{setting.verset.name}-{n}"
        found.append(name)
    return found
