"""While a course is served, pages whose words have not changed are not made into HTML again, nor the theme's
templates compiled: a save waits for the page that was written and not for all others."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from jinja2.bccache import Bucket, BytecodeCache
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import Files
from mkdocs.structure.pages import Page
from mkdocs.utils import CountHandler

_OWN = """abbr admonition attr_list codehilite def_list fenced_code footnotes md_in_html nl2br sane_lists
    smarty tables toc"""
_MORE = """betterem caret critic details emoji highlight inlinehilite keys mark smartsymbols superfences
    tabbed tasklist tilde"""
_PLAIN = frozenset((*_OWN.split(), *(f"pymdownx.{name}" for name in _MORE.split())))
"""Extensions of Markdown that look at a page's own text alone. With any other nothing is remembered."""


@dataclass(frozen=True, slots=True)
class _Rendered:
    content: str | None
    toc: Any
    title: str | None
    anchors: set[str] | None
    links: Mapping[str, dict[str, str]] | None
    """Links to anchors in other files, by the uri of the file."""


class _Templates(BytecodeCache):
    """Templates of the theme as they were compiled."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if code := self._kept.get((bucket.key, bucket.checksum)):
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.bytecode_to_string()


class Rendered:
    """What rendering made of each page, with what it was made from: the text, the extensions and the files
    that links may lead to. What was told of a page is told again, so that such a page is made anew."""

    def __init__(self) -> None:
        self.templates = _Templates()
        self._kept: dict[str, tuple[Any, _Rendered]] = {}
        self._course: Any = None

    def begin(self, config: MkDocsConfig, files: Files) -> None:
        """A build begins, of a course with these files."""
        plain = _PLAIN.issuperset(config.markdown_extensions)
        here = tuple((file.src_uri, file.url, file.inclusion) for file in files)
        self._course = (sorted(config.markdown_extensions), repr(config.mdx_configs), here) if plain else None

    def attend(self, page: Page) -> None:
        """Let a page be rendered only where it must be."""
        render = page.render

        def rendered(config: MkDocsConfig, files: Files) -> None:
            uri, made_from = page.file.src_uri, (page.markdown, self._course)
            kept = self._kept.get(uri)
            if self._course and kept and kept[0] == made_from:
                _put(kept[1], page, files)
                return
            told = CountHandler()
            log = logging.getLogger("mkdocs")
            log.addHandler(told)
            try:
                render(config, files)
            finally:
                log.removeHandler(told)
            self._kept.pop(uri, None)
            if not told.counts:
                self._kept[uri] = made_from, _taken(page)

        page.render = rendered  # type: ignore[method-assign]


def _taken(page: Page) -> _Rendered:
    links = page.links_to_anchors
    by_uri = None if links is None else {file.src_uri: found for file, found in links.items()}
    return _Rendered(
        page.content, deepcopy(page.toc), page._title_from_render, page.present_anchor_ids, by_uri
    )


def _put(kept: _Rendered, page: Page, files: Files) -> None:
    page.content, page.toc, page._title_from_render = kept.content, deepcopy(kept.toc), kept.title
    page.present_anchor_ids = kept.anchors
    if kept.links is not None:
        found = ((files.get_file_from_path(uri), links) for uri, links in kept.links.items())
        page.links_to_anchors = {file: links for file, links in found if file}
