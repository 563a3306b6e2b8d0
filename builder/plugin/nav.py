"""The table of contents: each verset's entry becomes a section with its steps."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from typing import Any

from mkdocs.structure.files import Files
from mkdocs.utils import nest_paths

from builder.pages.lesson import Lesson


def expanded(nav: Any, files: Files, lessons: Mapping[str, Lesson]) -> Any:
    """The navigation of a course with every lesson's pages under its title, in order of study.

    `nav` is what the teacher wrote in `mkdocs.yml`, or None for everything in the order of names.
    """
    if nav is None:
        generated = {page.uri for lesson in lessons.values() for page in lesson.pages[1:]}
        kept = sorted(
            f.src_uri
            for f in files.documentation_pages()
            if f.src_uri not in generated and f.inclusion.is_in_nav()
        )
        kept.sort(key=lambda uri: (posixpath.dirname(uri), posixpath.basename(uri) not in ("index.md", "README.md")))
        nav = nest_paths(kept)
    return _expand(nav, lessons)


def _expand(item: Any, lessons: Mapping[str, Lesson]) -> Any:
    if isinstance(item, list):
        return [_expand(each, lessons) for each in item]
    if isinstance(item, dict):
        return {title: _section(value, lessons, title) for title, value in item.items()}
    if item in lessons:
        return {lessons[item].title: _section(item, lessons, "")}
    return item


def _section(value: Any, lessons: Mapping[str, Lesson], title: str) -> Any:
    if isinstance(value, str) and value in lessons:
        return [{page.title: page.uri} for page in lessons[value].pages]
    return _expand(value, lessons)
