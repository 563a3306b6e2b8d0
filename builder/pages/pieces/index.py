"""The list of a course's versets, and of its books."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping, Sequence
from html import escape

from builder.language.markup import address, md
from builder.language.texts import page_texts
from builder.pages.lesson import ROOT, Lesson, relative, slot
from builder.pages.pieces.piece import with_shared_signs

FIRST_SYSTEM = 690
"""Pixels: the width of a first system in the list, as the style sheet has it."""


def book_links(files: Sequence[str], uri: str, language: str) -> str:
    """Links to the book on each paper, for the page at `uri`.

    >>> book_links(["book-a4.pdf"], "index.md", "en")
    '- [The book, A4](book-a4.pdf)'
    """
    w = page_texts(language)
    books = [file for file in files if posixpath.basename(file).startswith("book-")]
    names = {file: w(f"pages.bookOn.{posixpath.basename(file)[5:-4]}") for file in books}
    return "\n".join(f"- [{names[file]}]({address(relative(file, uri))})" for file in books)


def index(lessons: Mapping[str, Lesson], uri: str, language: str) -> str:
    """A course's versets, each with what it is and the place of its first system, for the page at `uri`.

    >>> index({}, "index.md", "en")
    ''
    """
    w = page_texts(language)
    rows = []
    for lesson in lessons.values():
        link = address(relative(lesson.uri, uri))
        told = {key: lesson.summary[key] for key in ("tone", "voices", "cadence", "length")}
        names = {key: w(f"pages.index{key.capitalize()}") for key in ("voices", "cadence")}
        facts = " · ".join(
            f"{names[key]}: {md(fact)}" if key in names else md(fact) for key, fact in told.items() if fact
        )
        rows.append(f"**[{md(lesson.title)}]({link})**<br>{facts}\n\n{slot(place(lesson))}")
    return "\n\n".join(rows)


def place(lesson: Lesson) -> str:
    """The name of the slot in which a list shows a verset."""
    return f"shelf-{lesson.uri}"


def shelf(lessons: Mapping[str, Lesson], language: str) -> dict[str, str]:
    """HTML for each verset of a list, by its slot; the signs of all music stand in the first.

    >>> shelf({}, "en")
    {}
    """
    shown = {place(x): _shown(x, language) for x in lessons.values() if x.summary.get("line")}
    return with_shared_signs(shown)


def _shown(lesson: Lesson, language: str) -> str:
    w, line = page_texts(language), lesson.summary["line"]
    sounds = [d.uri for d in lesson.downloads if d.uri.endswith(".mp3")]
    label = escape(w("pages.hear", title=lesson.title))
    sound = "".join(
        f'<audio controls preload="none" aria-label="{label}" src="{ROOT}{escape(uri)}"></audio>'
        for uri in sounds[:1]
    )
    told, work = escape(w("pages.stepsBegun", n="{n}", steps="{steps}")), escape(lesson.summary["work"])
    return (
        f'<div class="verset-shelf"><div class="verset-first" style="height:{_height(line)}px">{line}</div>'
        f'<div class="verset-row">{sound}<span data-work="{work}" data-told="{told}"></span></div></div>'
    )


def _height(line: str) -> float:
    """Pixels of height of a first system: it is drawn only when it comes into sight, and has its room before.

    >>> _height('<svg viewBox="0 -30 6900 1234"></svg>')
    123.4
    """
    box = re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', line)
    assert box, "every picture of the engraver has its box"
    return round(FIRST_SYSTEM * float(box[4]) / float(box[3]), 1)
