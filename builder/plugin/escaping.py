"""Texts of a course on their way into the theme's own templates, which escape nothing."""

from __future__ import annotations

from collections.abc import Iterable

from jinja2 import Environment
from markupsafe import Markup, escape
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure import StructureItem
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page

_TEXTS = ("title", "description", "author", "subtitle", "status", "icon", "template")
"""What of a page's front matter the theme writes into a page."""


def escape_texts(env: Environment, nav: Navigation, pages: Iterable[Page], config: MkDocsConfig) -> None:
    """Make every title a text that HTML shows as it stands, once all pages are read and before any template
    writes one."""
    env.filters["striptags"] = _without_tags
    for item in nav.items:
        _escape_sections(item)
    for page in pages:
        page.title = _title(page)  # type: ignore[method-assign]
        for name in _TEXTS:
            if isinstance(page.meta.get(name), str):
                page.meta[name] = escape(page.meta[name])
    for name in ("site_name", "site_description", "site_author"):
        if isinstance(config.get(name), str):
            config[name] = escape(config[name])


def _without_tags(html: str) -> Markup:
    """As the filter of that name does; but what was escaped is escaped again."""
    return escape(Markup(html).striptags())


def _title(page: Page) -> Markup:
    """A title from a heading is HTML already; from the table of contents, the front matter or the file's name
    it is text."""
    heading = "title" not in vars(page) and "title" not in page.meta and page._title_from_render
    return Markup(page.title) if heading else escape(page.title or "")


def _escape_sections(item: StructureItem) -> None:
    if not item.is_page and item.title is not None:
        item.title = escape(item.title)
    for child in getattr(item, "children", None) or ():
        _escape_sections(child)


__all__ = ["escape_texts"]
