"""The list of a course's versets, and of its books."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping, Sequence

from builder.language.markup import address, md
from builder.language.texts import page_texts
from builder.pages.lesson import Lesson, relative


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
    """A table of the course's versets, for the page at `uri`.

    >>> index({}, "index.md", "en").splitlines()
    ['| Verset | Tone | Voices | Cadence | Length |', '|---|---|---|---|---|']
    """
    w = page_texts(language)
    columns = ("Verset", "Tone", "Voices", "Cadence", "Length")
    lines = ["| " + " | ".join(w(f"pages.index{c}") for c in columns) + " |", "|---" * len(columns) + "|"]
    for lesson in lessons.values():
        link = address(relative(lesson.uri, uri))
        facts = " | ".join(md(lesson.summary[key]) for key in ("tone", "voices", "cadence", "length"))
        lines.append(f"| [{md(lesson.title)}]({link}) | {facts} |")
    return "\n".join(lines)
