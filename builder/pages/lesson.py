"""What a verset becomes on a course site: pages with places for music, and files to download."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

_OPENS, _CLOSES = '<div data-verset-slot="', '"></div>'
ROOT = "verset-root:"
"""Stands, in the HTML of a slot, for the relative way from the page to the root of the site."""


def relative(uri: str, start: str) -> str:
    """The way from one page to another file of the course.

    >>> relative("versets/first/altus.md", "versets/first.md")
    'first/altus.md'
    """
    return posixpath.relpath(uri, posixpath.dirname(start) or ".")


def slot(name: str) -> str:
    """The mark in a page's Markdown that the named piece of HTML takes the place of, after Markdown
    and search have run, so that neither carries the engraving."""
    return f"{_OPENS}{name}{_CLOSES}"


def fill(html: str, slots: Mapping[str, str], root: str) -> str:
    """Put the pieces into a finished page; `root` is the relative way to the root of the site.

    >>> fill('<p>' + slot("music") + '</p>', {"music": '<a href="verset-root:x.pdf">'}, "../")
    '<p><a href="../x.pdf"></p>'
    """
    before, *places = html.split(_OPENS)
    found = [before]
    for place in places:
        name, closes, after = place.partition(_CLOSES)
        found += (slots.get(name, "").replace(ROOT, root), after) if closes else (_OPENS, place)
    return "".join(found)


@dataclass(frozen=True, slots=True)
class LessonPage:
    """A generated page: where it goes (`versets/first/altus.md`), its title, Markdown and the HTML of
    its slots."""

    uri: str
    title: str
    markdown: str
    slots: Mapping[str, str] = field(default_factory=dict)


FORMATS = (".pdf", ".musicxml", ".mei", ".mid", ".mp3", ".flac", ".brf", ".json")
"""Endings of the files of an edition, in the order in which a page offers them."""


@dataclass(frozen=True, slots=True)
class Download:
    """A file of the edition: where it goes on the site, and where it lies now."""

    uri: str
    path: Path


@dataclass(frozen=True, slots=True)
class Lesson:
    """All that one verset puts on a site. `pages` starts with the overview; `errors` and `warnings`
    are lines for the builder's log; `summary` is what an index of the course tells of it; `chapters` are its
    chapters of the book by paper, where the course has one; `later` are the uris of files that are made only
    when they are asked for."""

    uri: str
    title: str
    tone: int
    pages: tuple[LessonPage, ...]
    downloads: tuple[Download, ...]
    errors: tuple[str, ...]
    warnings: tuple[str, ...]
    summary: Mapping[str, str]
    chapters: Mapping[str, Path] = field(default_factory=dict)
    later: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The name of its source, by which the order of a service calls it."""
        return posixpath.basename(self.uri).rpartition(".")[0]
