"""The printed edition of one verset: an edition sheet, or a single sheet for the desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from builder.edition import pdf_data
from builder.edition.pdf_incipit import incipit
from builder.edition.pdf_music import System, systems
from builder.edition.pdf_paper import GAP, HEADING, TITLE, Paper, fits, height, laid_out, paper
from builder.edition.pdf_typeset import typeset
from builder.edition.setting import Setting
from builder.engraving.given import given_mei
from builder.engraving.keyboard import keyboard_mei
from builder.engraving.openscore import clefs_of, open_mei
from builder.music import Score

VERSIONS = ("given", "plain", "diminished")
_HEADINGS = {"given": "Given line", "plain": "Plain", "diminished": "Diminished"}
_ALTS = {
    "given": "Given line with figures, in its original clefs",
    "plain": "Plain realisation on two staves",
    "diminished": "Diminished realisation on two staves",
    "plain-open": "Plain realisation in open score, in the original clefs",
    "diminished-open": "Diminished realisation in open score, in the original clefs",
}
SIZES = (0.94, 0.88)
"""Sizes of the stave that are tried before a page is turned inside a version; the smallest is 6.2 mm."""
_LABELS = {"practice": "For the player", "cautions": "Cautions"}


@dataclass(frozen=True, slots=True)
class Imprint:
    """What a course says of its edition: language (a BCP 47 tag), authors, and the line at the end."""

    lang: str = "en"
    authors: tuple[str, ...] = ()
    colophon: str = ""


UNSIGNED = Imprint()


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
    paper_name: str = "a4",
    versions: Sequence[str] = VERSIONS,
    open_score: bool = False,
    imprint: Imprint = UNSIGNED,
) -> bytes:
    """The edition of one verset: head with incipit, the versions asked for, notes for the player,
    critical report, cautions.

    `open_score` sets the realisations in open score instead of on two staves. The incipit shows the
    written pitch, also of a verset that is moved. The PDF is tagged,
    meets PDF/A-2a, has bookmarks, and is the same bytes for the same input. `ValueError` for an
    unknown paper or version.
    """
    page, pictures = paper(paper_name), Pictures()
    told = told_verset(setting, page, pictures, versions, open_score=open_score)
    data = document(setting.verset.title, page, imprint, [told])
    return typeset("verset.typ", data, pictures.files)


def single(setting: Setting, version: str, *, paper_name: str = "a4", imprint: Imprint = UNSIGNED) -> bytes:
    """One version on a sheet of its own, with its title and nothing else to read."""
    page, pictures = paper(paper_name), Pictures()
    told = told_verset(setting, page, pictures, (version,), head=TITLE) | {"gap": GAP}
    told["facts"] = [_HEADINGS[version], *told["facts"][::2]]
    told["versions"][0]["heading"] = ""
    data = document(setting.verset.title, page, imprint, [told])
    return typeset("sheet.typ", data, pictures.files)


def document(
    title: str, page: Paper, imprint: Imprint, told: Sequence[dict[str, Any]], description: str = ""
) -> dict[str, Any]:
    """The data that every template asks for."""
    return {
        "lang": imprint.lang,
        "title": title,
        "authors": list(imprint.authors),
        "description": description or "Organ verset: given line with figures, realisation, diminution",
        "keywords": ["organ", "verset", "figured bass", "counterpoint"],
        "paper": {
            "width": page.width,
            "height": page.height,
            "margin": page.margin,
            "openings": page.openings,
        },
        "versets": list(told),
        "labels": _LABELS,
        "cautions": list(pdf_data.CAUTIONS),
        "colophon": imprint.colophon,
    }


def told_verset(
    setting: Setting,
    page: Paper,
    pictures: Pictures,
    versions: Sequence[str],
    *,
    open_score: bool = False,
    head: float = HEADING,
    key: str = "1",
) -> dict[str, Any]:
    """A verset as the templates take it; its pictures are added to `pictures`. `head` is the height in
    millimetres of what stands over a version; `key` tells the versets of a document apart."""
    verset = setting.verset
    written = setting.original or verset
    first = incipit(written)
    pictures.add(f"{key}-incipit", [first])
    return {
        "key": key,
        "title": verset.title,
        "facts": pdf_data.facts(setting),
        "intro": pdf_data.intro(verset),
        "incipit": {
            "file": f"{key}-incipit-1.svg",
            "width": first.width,
            "height": first.height,
            "left": first.left,
            "right": first.right,
            "alt": pdf_data.incipit_alt(written),
        },
        "versions": [
            _version(setting, v, page, pictures, open_score=open_score, head=head, key=key) for v in versions
        ],
        "practice": pdf_data.practice(setting),
        "critical": pdf_data.critical(setting),
    }


def _version(
    setting: Setting,
    version: str,
    page: Paper,
    pictures: Pictures,
    *,
    open_score: bool,
    head: float,
    key: str,
) -> dict[str, Any]:
    if version not in VERSIONS:
        raise ValueError(f"version {version!r} is unknown; known are {', '.join(VERSIONS)}")
    score = setting.scores[version]
    kind = f"{version}-open" if open_score and version != "given" else version
    if version == "given":
        mei = given_mei(setting.verset, score)
    else:
        mei = open_mei(score, clefs_of(setting.verset)) if open_score else keyboard_mei(score)
    drawn = _drawn(mei, page, head)
    name = f"{key}-{kind}"
    pictures.add(name, drawn)
    rows = laid_out(drawn, page, score.bars[0].number, name, head=head)
    return {
        "heading": _HEADINGS[version],
        "note": _note(score) if version == "given" else "",
        "alt": _ALTS[kind],
        "keep": fits(drawn, page, head=head),
        "pages": 1 + sum(row["turn"] for row in rows),
        "systems": rows,
    }


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


def _note(score: Score) -> str:
    """What a reader must know of the signs: said only where they occur."""
    told = []
    if any(n.editorial for p in score.parts for n in p.notes):
        told.append("accidentals above the notes")
    if any(s.editorial for f in score.figures for s in f.signs):
        told.append("figures in brackets")
    return f"{' and '.join(told)[0].upper()}{' and '.join(told)[1:]} are the editor’s." if told else ""
