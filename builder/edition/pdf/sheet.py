"""The printed edition of one verset: an edition sheet, or a single sheet for the desk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from typing import Any

from builder.edition.apparatus import origin
from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf import data as pdf_data
from builder.edition.pdf import filling
from builder.edition.pdf.casting import WIDEST, layout, sheet_layout
from builder.edition.pdf.chosen import as_printed
from builder.edition.pdf.chosen import told as choices_told
from builder.edition.pdf.filling import empty_shares, fullest
from builder.edition.pdf.incipit import incipit
from builder.edition.pdf.markdown import words as told_words
from builder.edition.pdf.paper import HEADING, TITLE, Paper, chosen_paper, fits, height, laid_out
from builder.edition.pdf.plates import plates
from builder.edition.pdf.systems import System, systems
from builder.edition.pdf.typeset import measured, typeset
from builder.edition.signing import colophon, line_of_sheet, metadata
from builder.engraving.aids import with_aids
from builder.engraving.barlines import barred
from builder.engraving.given import given_mei, given_notes
from builder.engraving.keyboard import keyboard_mei
from builder.engraving.openscore import clefs_of, open_mei
from builder.language.texts import EditionTexts, edition_texts, opened
from builder.music import VERSIONS, Score, Version
from builder.plan import picture as plan_picture
from builder.plan import told as plan_told
from builder.setting.setting import Setting
from builder.source.provenance import Provenance

AIR = 9.0
"""Millimetres between the music of a verset and the words that follow."""
SIZES = (0.94, 0.88)
"""Sizes of the stave that are tried before a page is turned inside a version; the smallest is 6.2 mm."""


@dataclass(slots=True)
class Pictures:
    """The pictures of a document by file name, as they are drawn."""

    files: dict[str, str] = field(default_factory=dict)

    def add(self, name: str, drawn: Sequence[System]) -> None:
        for n, system in enumerate(drawn):
            self.files[f"{name}-{n + 1}.svg"] = system.svg


def pdf(
    setting: Setting,
    *,
    paper_name: str = "",
    versions: Sequence[Version] = VERSIONS,
    imprint: Imprint = UNSIGNED,
) -> bytes:
    """The edition of one verset: head with incipit, the versions asked for, notes for the player,
    critical report, cautions.

    The paper is the one named, else the one that the editor chose, else A4. The incipit shows the written
    pitch, also of a verset that is moved. The PDF is tagged, made as PDF/A-2a, has bookmarks, and is the same
    bytes for the same input. `ValueError` for an unknown paper, version or language.

    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> pdf(set_verset(parse(EXAMPLE)))[:5]
    b'%PDF-'
    """
    page, w = chosen_paper(paper_name, setting.verset.provenance.printing), edition_texts(imprint.lang)
    measure = heights_once()

    def made(size: float) -> Ready:
        own, pictures = replace(page, space=page.space * size), Pictures()
        told = told_verset(setting, own, pictures, versions, w)
        data = document(setting.verset.title, own, imprint, [told], said=setting.verset.provenance)
        measure(data, pictures)
        tail = told["heights"]["tail"] + AIR
        rows = layout([told], own, first=1, tail=tail)
        return Ready(data | {"layout": rows}, pictures, empty_shares(rows, page.depth, tail))

    best = fullest(made, lambda ready: ready.shares, tried(page))
    return typeset("verset.typ", best.data, best.pictures.files)


def single(setting: Setting, version: Version, *, paper_name: str = "", imprint: Imprint = UNSIGNED) -> bytes:
    """One version on a sheet of its own, with its title and nothing else to read.

    >>> import pymupdf
    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> (page,) = pymupdf.open(stream=single(set_verset(parse(EXAMPLE)), Version.GIVEN))
    >>> title, facts, *_ = page.get_text().splitlines()
    >>> title, facts.split(" · ")[0]
    ('Two voices', 'Given line')
    """
    page, w = chosen_paper(paper_name, setting.verset.provenance.printing), edition_texts(imprint.lang)
    measure = heights_once()

    def made(size: float) -> Ready:
        own, pictures = replace(page, space=page.space * size), Pictures()
        told = told_verset(setting, own, pictures, (version,), w, head=TITLE, signed=False)
        told["facts"] = [w.version(version), *told["facts"][:1], *told["facts"][2:]]
        told["versions"][0]["heading"] = ""
        return sheet(setting, own, imprint, told, pictures, measure)

    best = fullest(made, lambda ready: ready.shares, tried(page))
    return typeset("sheet.typ", best.data, best.pictures.files)


def tried(page: Paper) -> tuple[float, ...]:
    """The sizes of music that are tried on a sheet.

    >>> from builder.edition.pdf.paper import paper
    >>> max(tried(paper("a4"))), max(tried(paper("tablet")))
    (1.12, 1.0)
    """
    return filling.SIZES if page.openings else filling.SMALLER


@dataclass(frozen=True, slots=True)
class Ready:
    """A document to typeset, with the share of each of its pages that is left empty."""

    data: dict[str, Any]
    pictures: Pictures
    shares: list[float]


def sheet(
    setting: Setting,
    page: Paper,
    imprint: Imprint,
    told: dict[str, Any],
    pictures: Pictures,
    measure: Measure,
    description: str = "",
    *,
    widest: float = WIDEST,
) -> Ready:
    """A verset's title and one version, cast off; systems stand up to `widest` millimetres further apart than
    they need, so that the last of a page is at its foot."""
    title, said = setting.verset.title, setting.verset.provenance
    data = document(title, page, imprint, [told], description, said=said)
    measure(data, pictures)
    rows = sheet_layout(told, page, widest=widest)
    return Ready(data | {"layout": rows}, pictures, empty_shares(rows, page.depth))


Measure = Callable[[dict[str, Any], "Pictures"], None]


def heights_once() -> Measure:
    """`with_heights` for one document in several sizes of music: its words are as high in each."""
    found: dict[str, Any] = {}

    def measure(data: dict[str, Any], pictures: Pictures) -> None:
        if not found:
            with_heights(data, pictures)
            found.update(data["versets"][0]["heights"])
        data["versets"][0]["heights"] = found

    return measure


def with_heights(data: dict[str, Any], pictures: Pictures) -> None:
    """Put how high the words of a document's one verset are into what is told of it."""
    data["versets"][0]["heights"] = measured("heights.typ", data, pictures.files, "heights")


def document(
    title: str,
    page: Paper,
    imprint: Imprint,
    told: Sequence[dict[str, Any]],
    description: str = "",
    *,
    said: Provenance | None = None,
) -> dict[str, Any]:
    """The data that every template asks for. `said` is what is known of the sources and edition of what is
    printed; without it, what the imprint says of all."""
    w, said = edition_texts(imprint.lang), imprint.said if said is None else said
    known = metadata(imprint, said)
    return {
        "lang": imprint.lang,
        "title": title,
        "authors": known["creator"],
        "metadata": known,
        "description": description or w("description.verset"),
        "keywords": ["organ", "verset", "figured bass", "counterpoint"],
        "paper": {
            "width": page.width,
            "height": page.height,
            "margin": page.margin,
            "column": page.column,
            "openings": page.openings,
        },
        "versets": list(told),
        "labels": w.section("label"),
        "cautions": list(w.section("caution").values()),
        "colophon": colophon(imprint, said, w),
        "signed": line_of_sheet(imprint, said, w),
    }


def told_verset(
    setting: Setting,
    page: Paper,
    pictures: Pictures,
    versions: Sequence[Version],
    w: EditionTexts,
    *,
    head: float = HEADING,
    key: str = "1",
    signed: bool = True,
) -> dict[str, Any]:
    """A verset as the templates take it; its pictures are added to `pictures`. `head` is the height in
    millimetres of what stands over a version; `key` tells the versets of a document apart; `signed`: the
    given line has the numbers of readings, as the document has the report."""
    verset, printing = setting.verset, setting.verset.provenance.printing
    written = setting.original or verset
    first = incipit(written)
    shown = as_printed(setting, printing)
    told = [_version(shown, v, page, pictures, w, head=head, key=key, signed=signed) for v in versions]
    pictures.add(f"{key}-incipit", [first])
    seen = _plates(setting, key, pictures, w) if signed else []
    diminution = setting.diminution
    sentences = plan_told(diminution.plan, w.language) if Version.DIMINISHED in versions else ()
    drawn = plan_picture(diminution.plan, verset, setting.analysis, "")
    # Print has no text around it whose colour it could take.
    pictures.files[f"{key}-plan.svg"] = drawn.replace("currentColor", "black")
    return {
        "key": key,
        "title": verset.title,
        "facts": [
            *pdf_data.facts(setting, w),
            *([chosen] if (chosen := choices_told(printing, w)) else []),
        ],
        "intro": _intro(setting, w),
        "beside": printing.words != "below",
        "incipit": {
            "file": f"{key}-incipit-1.svg",
            "width": first.width,
            "height": first.height,
            "left": first.left,
            "right": first.right,
            "alt": pdf_data.incipit_alt(written, w),
        },
        "versions": told,
        "plan": list(sentences),
        "practice": pdf_data.practice(setting, w),
        "origin": origin(verset.provenance, w),
        "critical": pdf_data.critical(setting, w),
        "plates": seen,
        "signed": signed and Version.GIVEN in versions,
    }


def _plates(setting: Setting, key: str, pictures: Pictures, w: EditionTexts) -> list[dict[str, Any]]:
    """The plates of the witnesses as the templates take them."""
    told = []
    for n, plate in enumerate(plates(setting.verset, w), 1):
        file = f"{key}-plate-{n}.svg"
        pictures.files[file] = plate.svg
        told.append({"file": file, "width": plate.width, "height": plate.height, "caption": plate.caption})
    return told


def _intro(setting: Setting, w: EditionTexts) -> list[Any]:
    """The commentary before the first heading; over that of a moved verset it says which pitch is meant."""
    intro = setting.verset.intro
    warning = pdf_data.written_pitch(setting, w) if intro else ""
    # what stands over the music is cast off with it, so that its notes stay beside it
    return told_words(f"*{warning}*\n\n{intro}" if warning else intro, foot=False)


def _version(
    setting: Setting,
    version: Version,
    page: Paper,
    pictures: Pictures,
    w: EditionTexts,
    *,
    head: float,
    key: str,
    signed: bool,
) -> dict[str, Any]:
    if version not in setting.scores:
        raise ValueError(f"version {version!r} is unknown; known are {', '.join(setting.scores)}")
    score, printing = setting.scores[version], setting.verset.provenance.printing
    base, open_score = version.partition("-")[0], printing.open_score
    figured = version == Version.PLAIN and printing.figures != "line"
    kind = f"{base}-open" if open_score and version != Version.GIVEN else base
    if version == Version.GIVEN:
        mei = given_mei(setting.verset, score, signed=signed)
    else:
        full = frozenset(n.id for _, n in given_notes(setting.verset, score)) if setting.small else None
        clefs = clefs_of(setting.verset)
        write = partial(open_mei, score, clefs) if open_score else partial(_on_two_staves, score)
        mei = write(full=full, figured=figured)
    mei = barred(with_aids(mei, setting.verset, score), printing.barring)
    drawn = _drawn(mei, page, head)
    name = f"{key}-{version}"
    pictures.add(name, drawn)
    rows = laid_out(drawn, score, name, w)
    rows[0]["bars"] = f"{pdf_data.tempo(setting.verset, w)}. {rows[0]['bars']}"
    return {
        "heading": w.version(version),
        "note": _note(score, w) if version == Version.GIVEN else "",
        "alt": w(f"alt.{kind}"),
        "systems": rows,
    }


@lru_cache(maxsize=8)
def _on_two_staves(score: Score, *, full: frozenset[str] | None, figured: bool) -> str:
    """A version's MEI, which is the same in all sizes of the music."""
    return keyboard_mei(score, full=full, figured=figured)


def _drawn(mei: str, page: Paper, head: float) -> tuple[System, ...]:
    """The systems at the paper's own size, or a little smaller when that saves a page turn."""
    drawn = systems(mei, width=page.column, space=page.space)
    for size in SIZES:
        # Both the staves and their number shrink, so that the height goes with the square.
        if fits(drawn, page, head=head) or height(drawn, head=head) * size**2 > page.depth:
            continue
        smaller = systems(mei, width=page.column, space=page.space * size)
        if fits(smaller, page, head=head):
            return smaller
    return drawn


def _note(score: Score, w: EditionTexts) -> str:
    """What a reader must know of the signs: said only where they occur."""
    told = []
    if any(n.editorial for p in score.parts for n in p.notes):
        told.append(w("supplied.accidentals"))
    if any(s.editorial for f in score.figures for s in f.signs):
        told.append(w("supplied.figures"))
    return opened(w("supplied.note", what=w.listing(told))) if told else ""
