"""The book of an edition: title page, contents, preface, notes on performance, versets, services,
critical report, indexes by tone, by number of voices and by service."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.casting import layout, turns
from builder.edition.pdf.data import spoken_time
from builder.edition.pdf.filling import SMALLER, empty_shares, fullest
from builder.edition.pdf.markdown import words as told_words
from builder.edition.pdf.paper import chosen_paper, paper
from builder.edition.pdf.sheet import Pictures, Ready, document, heights_once, told_verset
from builder.edition.pdf.typeset import typeset
from builder.edition.service.plan import Service, service_heads, service_rows
from builder.edition.signing import title_page
from builder.language.texts import EditionTexts, edition_texts
from builder.music import VERSIONS, Version
from builder.setting.setting import Setting
from builder.source.provenance import NOTHING_SAID, Provenance

_HALF = 0.5
"""The share of a page that a verset may leave empty without being tried in other sizes; a turn inside a
version weighs as much."""


@dataclass(frozen=True, slots=True)
class Book:
    """The words of a book, as Markdown where they are long. `subtitle` and `performance` empty: words of
    our own; `imprint` is set on the back of the title page, a line each; `papers` are those that it is made
    for. For a release: `name` is short, for file names; `licence` an SPDX identifier, and `licence_file`
    where the whole of it stands."""

    title: str
    subtitle: str = ""
    authors: tuple[str, ...] = ()
    version: str = ""
    preface: str = ""
    performance: str = ""
    imprint: tuple[str, ...] = ()
    publisher: str = ""
    licence: str = ""
    licence_file: str = ""
    name: str = ""
    papers: tuple[str, ...] = ("a4", "tablet")
    lang: str = "en"
    said: Provenance = NOTHING_SAID
    """What the course says of sources and edition of all its versets."""

    @property
    def signed(self) -> Imprint:
        """What every file of the edition says of it."""
        return Imprint(
            self.lang, self.authors, self.publisher, self.licence, self.title, self.version, self.said
        )


@dataclass(frozen=True, slots=True)
class Chapter:
    """A verset of a book on one paper, made ready by itself, so that a book is bound from chapters made side
    by side and kept. `told` is what the template takes, `pictures` are its systems by file name; both are for
    key `0`, until the book gives the verset its number."""

    name: str
    title: str
    tone: int
    voices: int
    told: Mapping[str, Any]
    pictures: Mapping[str, str]


def chapter(
    setting: Setting, front: Book, *, paper_name: str = "a4", versions: Sequence[Version] = VERSIONS
) -> Chapter:
    """A verset made ready for a book in the language of `front`: its words, and a picture for each system.
    `ValueError` for an unknown paper, version or language.

    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> made = chapter(set_verset(parse(EXAMPLE)), Book("First versets"), versions=(Version.GIVEN,))
    >>> made.title, made.tone, made.voices, [name for name in made.pictures if "given" in name]
    ('Two voices', 1, 2, ['0-given-1.svg'])
    """
    page = chosen_paper(paper_name, setting.verset.provenance.printing)
    measure, w = heights_once(), edition_texts(front.lang)

    def made(size: float) -> Ready:
        own, pictures = replace(page, space=page.space * size), Pictures()
        told = told_verset(setting, own, pictures, versions, w, key="0")
        data = document(setting.verset.title, own, front.signed, [told])
        measure(data, pictures)
        rows = layout([told], own, first=1, even=True)
        inside = sum(row["turn"] and row["kind"] == "system" and row["system"] > 0 for row in rows)
        return Ready(data, pictures, [*empty_shares(rows, page.depth), *[_HALF] * inside])

    # In openings the next verset begins where this one ends; pages read one by one it mostly has for itself.
    best = fullest(made, lambda ready: ready.shares, SMALLER[:1] if page.openings else SMALLER, _HALF)
    analysis = setting.analysis
    return Chapter(
        setting.verset.name,
        setting.verset.title,
        analysis.tone,
        analysis.voices,
        best.data["versets"][0],
        best.pictures.files,
    )


def book(
    settings: Sequence[Setting],
    front: Book,
    *,
    services: Sequence[Service] = (),
    paper_name: str = "a4",
    versions: Sequence[Version] = VERSIONS,
) -> bytes:
    """Typeset a book of versets in the order given: its chapters made and bound."""
    made = [chapter(setting, front, paper_name=paper_name, versions=versions) for setting in settings]
    return bind(made, front, services=services, paper_name=paper_name)


def bind(
    chapters: Sequence[Chapter], front: Book, *, services: Sequence[Service] = (), paper_name: str = "a4"
) -> bytes:
    """Typeset a book of chapters made for this paper, in the order given.

    Pages are cast off over the whole book (`builder.edition.pdf.casting`): none is left half empty, and
    nobody turns inside a version, where that can be. The PDF is tagged, made as PDF/A-2a, and is the same
    bytes for the same input. `ValueError` for an unknown paper or language, or for no verset at all.

    >>> import pymupdf
    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> front = Book("First versets", authors=("Teacher, Anna",))
    >>> made = chapter(set_verset(parse(EXAMPLE)), front, versions=(Version.GIVEN,))
    >>> printed = pymupdf.open(stream=bind([made], front))
    >>> printed.metadata["title"], printed.metadata["author"]
    ('First versets', 'Teacher, Anna')
    >>> [heading for level, heading, page in printed.get_toc() if level == 1][:3]
    ['Notes on performance', 'Two voices', 'Critical report']
    """
    if not chapters:
        raise ValueError("a book needs at least one verset")
    w = edition_texts(front.lang)
    subtitle = front.subtitle or w("description.book")
    told = [_numbered(each.told, str(n)) for n, each in enumerate(chapters, 1)]
    page = paper(paper_name)
    data = document(front.title, page, front.signed, told, subtitle)
    sides = [layout(told, page, first=side, even=True) for side in (0, 1)]
    data |= {
        "subtitle": subtitle,
        "imprint": list(front.imprint),
        "preface": told_words(front.preface),
        "performance": told_words(front.performance or edition_texts(front.lang)("performance")),
        "services": [told_service(s) for s in services],
        "indexes": list(_indexes(chapters, services, w)),
        "layouts": sides,
        # the title stands once more before the music only where that saves a turn
        "waits": page.openings and turns(sides[1], first=1) > turns(sides[0], first=0),
        "front": title_page(front.signed, w),
    }
    pictures = {
        f"{n}{name[1:]}": svg for n, each in enumerate(chapters, 1) for name, svg in each.pictures.items()
    }
    return typeset("book.typ", data, pictures)


def _numbered(told: Any, number: str) -> Any:
    """A chapter's data with the verset's number in the place of key `0`."""
    if isinstance(told, list):
        return [_numbered(each, number) for each in told]
    if not isinstance(told, Mapping):
        return told
    made = {key: _numbered(value, number) for key, value in told.items()}
    if "file" in made:
        made["file"] = f"{number}{made['file'][1:]}"
    return made | {"key": number} if "key" in made else made


def service_sheet(service: Service, *, paper_name: str = "a4", imprint: Imprint = UNSIGNED) -> bytes:
    """The plan of one service as a PDF for the organ's desk.

    >>> import pymupdf
    >>> (page,) = pymupdf.open(stream=service_sheet(Service("evening", "Evening canticle", (), ())))
    >>> page.get_text().splitlines()[0]
    'Evening canticle'
    """
    w = edition_texts(imprint.lang)
    data = document(service.title, paper(paper_name), imprint, [], w("description.service"))
    return typeset("service.typ", data | {"services": [told_service(service)]}, {})


def told_service(service: Service) -> dict[str, Any]:
    """A service as the templates take it."""
    w = edition_texts(service.lang)
    return {
        "title": service.title,
        "intro": told_words(service.intro),
        "heads": service_heads(service),
        "rows": service_rows(service),
        "total": w("service.together", time=spoken_time(service.minutes)),
        "before": w("service.before"),
        "warnings": list(service.warnings),
    }


def _indexes(
    chapters: Sequence[Chapter], services: Sequence[Service], w: EditionTexts
) -> Iterable[dict[str, Any]]:
    keyed = [(str(n), each) for n, each in enumerate(chapters, 1)]
    tones = [(w(f"tone.{n}"), [k for k in keyed if k[1].tone == n]) for n in range(1, 9)]
    yield _index(w("index.tone"), tones)
    voices = [(w(f"number.{n}"), [k for k in keyed if k[1].voices == n]) for n in range(1, 5)]
    yield _index(w("index.voices"), voices)
    played = [
        (service.title, [k for k in keyed if any(r.verset == k[1].name for r in service.rows)])
        for service in services
    ]
    if any(found for _, found in played):
        yield _index(w("index.service"), played)


def _index(title: str, groups: Iterable[tuple[str, Sequence[tuple[str, Chapter]]]]) -> dict[str, Any]:
    return {
        "title": title,
        "groups": [
            {"label": label, "items": [{"key": key, "title": each.title} for key, each in found]}
            for label, found in groups
            if found
        ],
    }
