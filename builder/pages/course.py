"""A whole course: its sources found, read, built side by side and kept."""

from __future__ import annotations

import multiprocessing
import os
import re
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

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
    lessons = {job.name: job for job in _lesson_jobs(folder, paths, options, store)}
    pieces = {(job.asked.uri, job.name): job for job in _piece_jobs(folder, options, store)}
    jobs: list[_Job] = [*pieces.values(), *lessons.values()]
    _run_all([job for job in jobs if store.get(job.key) is None], options.processes)
    store.prune(frozenset(job.key for job in jobs))
    return Course(
        options,
        {uri: _lesson(store, job) for uri, job in lessons.items()},
        {asking: store.value(job.key) for asking, job in pieces.items()},
    )


@dataclass(frozen=True, slots=True)
class _LessonJob:
    """A lesson to build, from nothing that another process could not see."""

    key: str
    cache: Path
    name: str
    path: Path
    options: Options
    rules: str

    def make(self, work: Path) -> Lesson:
        chosen = self.options
        return build_lesson(
            self.path,
            uri=self.name,
            work=work,
            defaults=chosen.defaults,
            language=chosen.language,
            rules_uri=self.rules,
            audio=chosen.audio,
            pdf=chosen.pdf,
        )


@dataclass(frozen=True, slots=True)
class _PieceJob:
    """A generated piece to make."""

    key: str
    cache: Path
    name: str
    asked: Asked

    def make(self, work: Path) -> Piece:
        return PIECES[self.name](self.asked)


_Job = _LessonJob | _PieceJob


def _lesson_jobs(folder: Path, paths: Sequence[Path], options: Options, store: Store) -> list[_LessonJob]:
    rules = _page_with(folder, "rules")
    choices = repr((options.defaults, options.language, options.audio, options.pdf))
    found = []
    for path in paths:
        uri = path.relative_to(folder).as_posix()
        key = store.key(uri, path.read_text("utf-8"), choices, rules)
        found.append(_LessonJob(key, options.cache, uri, path, options, rules))
    return found


def _piece_jobs(folder: Path, options: Options, store: Store) -> list[_PieceJob]:
    found = []
    for name in PIECES:
        if uri := _page_with(folder, name):
            asked = Asked(options.defaults, options.language, uri)
            found.append(_PieceJob(store.key("piece", name, repr(asked)), options.cache, name, asked))
    return found


def _run_all(jobs: Sequence[_Job], processes: int) -> None:
    """Do what is not done yet, side by side."""
    workers = min(len(jobs), processes or os.cpu_count() or 1)
    if workers <= 1:
        for job in jobs:
            _run(job)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        list(pool.map(_run, jobs))


def _run(job: _Job) -> None:
    store = Store(job.cache)
    store.keep(job.key, job.make(store.begin(job.key)))


def _lesson(store: Store, job: _LessonJob) -> Lesson:
    """A finished lesson, its files where they lie now."""
    lesson: Lesson = store.value(job.key)
    folder = store.path(job.key)
    return replace(lesson, downloads=tuple(replace(d, path=folder / d.path) for d in lesson.downloads))


def sources(folder: Path) -> list[Path]:
    """The verset sources below a folder, in the order of their names."""
    return [
        path
        for path in sorted(folder.rglob("*.md"))
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and is_source(path.read_text("utf-8", errors="replace"))
    ]


def _page_with(folder: Path, name: str) -> str:
    """The page of a course that asks for a generated piece, or nothing."""
    mark = f"<!-- verset:{name} -->"
    for path in sorted(folder.rglob("*.md")):
        if mark in path.read_text("utf-8", errors="replace").splitlines():
            return path.relative_to(folder).as_posix()
    return ""


__all__ = ["Course", "Options", "build_course", "sources"]
