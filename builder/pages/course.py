"""A whole course: its sources found, read, built side by side and kept."""

from __future__ import annotations

import multiprocessing
import os
import re
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from builder.edition.reading import read_versets
from builder.edition.setting import Defaults
from builder.pages.build import build_lesson
from builder.pages.lesson import Download, Lesson, LessonPage, fill
from builder.pages.pieces import PIECES, Asked, Piece, index
from builder.pages.store import Store
from builder.source import SourceError, is_source

_PIECE = re.compile(r"^<!-- verset:([a-z-]+) -->$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Options:
    """What a course chooses: defaults of its versets, language, which files to make, where finished
    work is kept, and how many versets are built side by side (0: one for each processor)."""

    defaults: Defaults = field(default_factory=Defaults)
    language: str = "en"
    audio: bool = True
    pdf: bool = True
    cache: Path = Path(".cache/verset")
    processes: int = 0


@dataclass(frozen=True, slots=True)
class Course:
    """The finished course: `lessons` by the uri of their source, `pieces` by the uri of the page that
    asks for them and their name."""

    options: Options
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    pieces: Mapping[tuple[str, str], Piece] = field(default_factory=dict)
    source_errors: tuple[SourceError, ...] = ()

    @property
    def pages(self) -> tuple[LessonPage, ...]:
        """Every generated page."""
        lessons = [page for lesson in self.lessons.values() for page in lesson.pages]
        return (*lessons, *(page for piece in self.pieces.values() for page in piece.pages))

    @property
    def sections(self) -> Mapping[str, tuple[str, tuple[LessonPage, ...]]]:
        """For the table of contents: the uri of a page that has generated pages below it, with the title of
        the section and its pages (a lesson's overview is the first of them)."""
        found = {uri: (lesson.title, lesson.pages) for uri, lesson in self.lessons.items()}
        return found | {uri: ("", piece.pages) for (uri, _), piece in self.pieces.items() if piece.pages}

    @property
    def downloads(self) -> tuple[Download, ...]:
        return tuple(each for lesson in self.lessons.values() for each in lesson.downloads)

    @property
    def errors(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.errors)

    @property
    def warnings(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.warnings)

    def expand(self, markdown: str, uri: str) -> str:
        """A page's Markdown with the generated pieces in their places; an unknown name stays."""

        def put(match: re.Match[str]) -> str:
            if match[1] == "index":
                return index(self.lessons, uri, self.options.language)
            piece = self.pieces.get((uri, match[1]))
            return piece.markdown if piece else match[0]

        return _PIECE.sub(put, markdown)

    def fill(self, html: str, uri: str, root: str) -> str:
        """A finished page with music and player in their places."""
        slots: dict[str, str] = {}
        for page in self.pages:
            if page.uri == uri:
                slots.update(page.slots)
        for (asking, _), piece in self.pieces.items():
            if asking == uri:
                slots.update(piece.slots)
        return fill(html, slots, root)


def build_course(folder: Path, options: Options) -> Course:
    """Read and build every verset source below a folder. Errors of sources are in the result, all of
    them; nothing is built when there are any."""
    paths = sources(folder)
    _, errors = read_versets(paths, dict(options.defaults.tunings))
    if errors:
        return Course(options, source_errors=tuple(errors))
    store = Store(options.cache)
    rules = _page_with(folder, "rules")
    lessons: dict[str, Lesson] = {}
    keys: dict[str, str] = {}
    for path in paths:
        uri = path.relative_to(folder).as_posix()
        keys[uri] = store.key(uri, path.read_text("utf-8"), repr(_choices(options)), rules)
    missing = [_Job(folder, uri, keys[uri], options, rules) for uri in keys if store.get(keys[uri]) is None]
    _build(missing)
    for uri, key in keys.items():
        lessons[uri] = store.get(key)  # type: ignore[assignment]
    pieces, used = _pieces(folder, options, store)
    store.prune(frozenset([*keys.values(), *used]))
    return Course(options, lessons, pieces)


def _pieces(folder: Path, options: Options, store: Store) -> tuple[dict[tuple[str, str], Piece], list[str]]:
    """The generated pieces that pages ask for, made once and kept; and the keys they are kept under."""
    found: dict[tuple[str, str], Piece] = {}
    keys = []
    for name, make in PIECES.items():
        uri = _page_with(folder, name)
        if not uri:
            continue
        asked = Asked(options.defaults, options.language, uri)
        key = store.key("piece", name, repr(asked))
        keys.append(key)
        piece = store.get(key)
        if piece is None:
            store.begin(key)
            piece = make(asked)
            store.keep(key, piece)
        found[uri, name] = piece
    return found, keys


def sources(folder: Path) -> list[Path]:
    """The verset sources below a folder, in the order of their names."""
    return [
        path
        for path in sorted(folder.rglob("*.md"))
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and is_source(path.read_text("utf-8", errors="replace"))
    ]


def _choices(options: Options) -> tuple[Any, ...]:
    """The options that shape a lesson (not where or how fast it is made)."""
    return (options.defaults, options.language, options.audio, options.pdf)


@dataclass(frozen=True, slots=True)
class _Job:
    folder: Path
    uri: str
    key: str
    options: Options
    rules: str


def _page_with(folder: Path, name: str) -> str:
    """The page of a course that asks for a generated piece, or nothing."""
    mark = f"<!-- verset:{name} -->"
    for path in sorted(folder.rglob("*.md")):
        if mark in path.read_text("utf-8", errors="replace").splitlines():
            return path.relative_to(folder).as_posix()
    return ""


def _build(jobs: Sequence[_Job]) -> None:
    if not jobs:
        return
    workers = min(len(jobs), jobs[0].options.processes or os.cpu_count() or 1)
    if workers == 1:
        for job in jobs:
            _build_one(job)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        list(pool.map(_build_one, jobs))


def _build_one(job: _Job) -> None:
    store = Store(job.options.cache)
    lesson = build_lesson(
        job.folder / job.uri,
        uri=job.uri,
        work=store.begin(job.key),
        final=store.path(job.key),
        defaults=job.options.defaults,
        language=job.options.language,
        rules_uri=job.rules,
        audio=job.options.audio,
        pdf=job.options.pdf,
    )
    store.keep(job.key, lesson)


__all__ = ["Course", "Options", "build_course", "sources"]
