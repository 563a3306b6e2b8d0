"""The folder of a course, read: its pages, the sources of its versets, and what cannot be read. Nothing is
built here."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator, Sequence
from functools import cached_property, partial
from pathlib import Path

from builder.edition.service.order import is_order
from builder.pages.trouble import Failure, tried
from builder.source import is_source, page_front, parts_of
from builder.source.errors import Faults, listing, nearest, shorten

ASKED_FOR = re.compile(r"^<!-- verset:(?P<name>[a-z-]+)(?: (?P<number>[0-9]{1,6}))? -->$", re.MULTILINE)
"""What a page writes for a generated piece: its name and, where the piece takes one, a number."""
HEAR = re.compile(r"^<!-- verset:hear (?P<name>\S+) -->$", re.MULTILINE)
"""What a page writes to let a verset of the course be heard whole: its name."""
LESSONS = (".musicxml", ".mxl", ".mei")
"""Endings of files of music that become lessons."""


class CourseFolder:
    """What lies in the folder of a course: `texts`, its pages by their uri, and `encoded`, the sources in
    MusicXML or MEI by the uri of the page that each becomes. `failures`: by the uri of a page, why it cannot
    be read. `order`: the pages in the order of study."""

    def __init__(self, folder: Path, order: Sequence[str] = ()) -> None:
        self.folder, self.order = folder, order
        self.failures: dict[str, Failure] = {}
        self.texts: dict[str, str] = {}
        for path in _markdown(folder):
            text, uri = tried(str(path), partial(_text, path)), path.relative_to(folder).as_posix()
            if isinstance(text, Failure):
                self.failures[uri] = text
            self.texts[uri] = "" if isinstance(text, Failure) else text
        self.encoded = dict(self._encoded())

    @property
    def uris(self) -> tuple[str, ...]:
        """The uri of every page, and of every score that becomes one."""
        return (*self.texts, *self.encoded)

    def _encoded(self) -> Iterator[tuple[str, Path]]:
        """Files of music that hold one part, unless a page of the same name says otherwise. A score of
        several parts is no source, and stays a file."""
        for path in sorted(self.folder.rglob("*")):
            within = path.relative_to(self.folder)
            if path.suffix.lower() not in LESSONS or any(part.startswith(".") for part in within.parts):
                continue
            uri = within.with_suffix(".md").as_posix()
            if uri in self.texts or not path.is_file():
                continue
            parts = tried(str(path), partial(parts_of, path))
            if isinstance(parts, Failure):
                self.failures[uri] = parts
            elif parts == 1:
                yield uri, path

    def sources(self, known: Container[str] = ()) -> list[str]:
        """The sources of versets, in the order of study. Of a page that is `known` to be one nothing is read
        to see it."""
        found = [uri for uri, text in self.texts.items() if uri in known or is_source(text)]
        return sorted([*found, *self.encoded], key=_place_in(self.order))

    def source(self, uri: str) -> Path:
        """The file that a lesson is made from."""
        return self.encoded.get(uri, self.folder / uri)

    def asking(self, name: str) -> str:
        """The page of the course that asks for a generated piece, or nothing."""
        return self.asking_with(name)[0]

    def asking_with(self, name: str) -> tuple[str, int]:
        """The page that asks for a generated piece, and the number behind its name, 0 where there is none."""
        return self._asked.get(name, ("", 0))

    @cached_property
    def _asked(self) -> dict[str, tuple[str, int]]:
        """By the name of a piece the first page that asks for it, and the number there: every verset wants
        to know, and the pages of a large course are many."""
        found: dict[str, tuple[str, int]] = {}
        for uri, text in self.texts.items():
            for asked in ASKED_FOR.finditer(text):
                found.setdefault(asked["name"], (uri, int(asked["number"] or 0)))
        return found

    def check_heard(self, sources: Sequence[str]) -> None:
        """Pages that want a verset to be heard which the course does not have are refused."""
        known = {Path(uri).stem for uri in sources}
        for uri, text in self.texts.items():
            faults = Faults(str(self.folder / uri))
            for asked in HEAR.finditer(text):
                if asked["name"] not in known:
                    there = listing(sorted(known)) if known else "a verset of the course, and there is none"
                    column = asked.start("name") - asked.start() + 1
                    hint = nearest(asked["name"], known)
                    line = text.count("\n", 0, asked.start()) + 1
                    faults.add(line, column, f"the verset {shorten(asked['name'])}", there + hint)
            refused = tried(str(self.folder / uri), faults.stop)
            if isinstance(refused, Failure):
                self.failures.setdefault(uri, refused)

    def check_fronts(self, sources: Sequence[str]) -> None:
        """What is wrong with the front matter of pages that are no versets: the site generator reads it
        next, and bounds nothing."""
        for uri, text in self.texts.items():
            if uri not in sources and uri not in self.failures:
                path, dated = str(self.folder / uri), not is_order(text)
                checked = tried(path, partial(page_front, text, path, dates=dated))
                if isinstance(checked, Failure):
                    self.failures[uri] = checked


def _place_in(order: Sequence[str]) -> Callable[[str], int]:
    """For sorting: pages in this order first, then all others as they were."""
    places = {uri: n for n, uri in reversed(list(enumerate(order)))}
    return lambda uri: places.get(uri, len(order))


def _markdown(folder: Path) -> Iterator[Path]:
    """The pages below a folder, in the order of their names."""
    for path in sorted(folder.rglob("*.md")):
        if not path.is_dir() and not any(part.startswith(".") for part in path.relative_to(folder).parts):
            yield path


def _text(path: Path) -> str:
    return path.read_text("utf-8", errors="replace")
