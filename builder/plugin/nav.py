"""The table of contents: a page with generated pages below it becomes a section of them."""

from __future__ import annotations

import posixpath
from collections.abc import Callable, Mapping
from copy import copy
from typing import Any

from mkdocs.structure.files import Files
from mkdocs.structure.nav import Link, Navigation, Section
from mkdocs.utils import nest_paths

from builder.pages.lesson import LessonPage

Sections = Mapping[str, tuple[str, tuple[LessonPage, ...]]]
MOST = 24
"""Entries of a section that every page carries; of a longer one those near the page that is read."""
NEAR = 6
"""Entries before and after it."""


def expanded(nav: Any, files: Files, sections: Sections) -> Any:
    """The navigation of a course with every generated page in its place, in order of study.

    `nav` is what the teacher wrote in `mkdocs.yml`, or None for everything in the order of names.
    """
    if nav is None:
        generated = {page.uri for uri, (_, pages) in sections.items() for page in pages if page.uri != uri}
        kept = sorted(
            f.src_uri
            for f in files.documentation_pages()
            if f.src_uri not in generated and f.inclusion.is_in_nav()
        )
        first = ("index.md", "README.md")
        kept.sort(key=lambda uri: (posixpath.dirname(uri), posixpath.basename(uri) not in first))
        nav = nest_paths(kept)
    return _expand(nav, sections)


def in_order(nav: Any) -> tuple[str, ...]:
    """The pages that a teacher's table of contents names, from the first to the last.

    >>> in_order([{"Start": "index.md"}, {"Versets": ["sixth.md", {"One": "first.md"}]}])
    ('index.md', 'sixth.md', 'first.md')
    """
    if isinstance(nav, str):
        return (nav,)
    inner = nav.values() if isinstance(nav, dict) else nav or ()
    return tuple(page for item in inner for page in in_order(item))


def near(nav: Navigation, rest: Callable[[int], Link] | None) -> Navigation:
    """The navigation as the page that is open carries it: of a long section what is near that page, or its
    beginning, and a link to `rest`, the list of so many; else every page of a large course would carry them
    all."""
    found = copy(nav)
    found.items = _near(nav.items, rest)
    return found


def _near(items: list[Any], rest: Callable[[int], Link] | None) -> list[Any]:
    shown, lesser = items, len(items) > MOST
    if lesser:
        here = next((n for n, item in enumerate(items) if item.active), 0)
        first = min(max(0, here - NEAR), len(items) - 2 * NEAR - 1)
        shown = items[first : first + 2 * NEAR + 1]
    shown = [_lighter(item, rest) if isinstance(item, Section) else item for item in shown]
    return [*shown, rest(len(items))] if lesser and rest else shown


def _lighter(section: Section, rest: Callable[[int], Link] | None) -> Section:
    found = copy(section)
    found.children = _near(section.children, rest)
    return found


def _expand(item: Any, sections: Sections) -> Any:
    if isinstance(item, list):
        return [_expand(each, sections) for each in item]
    if isinstance(item, dict):
        return {title: _section(value, sections) for title, value in item.items()}
    if item in sections and sections[item][0]:
        return {sections[item][0]: _section(item, sections)}
    return item


def _section(value: Any, sections: Sections) -> Any:
    if isinstance(value, str) and value in sections:
        pages = sections[value][1]
        own = [] if any(page.uri == value for page in pages) else [value]
        return own + [{page.title: page.uri} for page in pages]
    return _expand(value, sections)
