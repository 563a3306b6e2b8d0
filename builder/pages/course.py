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

from builder.edition.setting import Defaults
from builder.pages.build import build_lesson
from builder.pages.extras import EXTRAS
from builder.pages.lesson import Download, Lesson, LessonPage, fill
from builder.pages.store import Store
from builder.source import SourceError, is_source, read_all

_EXTRA = re.compile(r"^<!-- verset:([a-z-]+) -->$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Options:
    """What a course chooses: defaults of its versets, language, which files to make, where finished
    work is kept, and how many versets are built side by side (0: one for each processor)."""

    defaults: Defaults = Defaults()
    language: str = "en"
    audio: bool = True
    pdf: bool = True
    cache: Path = Path(".cache/verset")
    processes: int = 0


@dataclass(frozen=True, slots=True)
class Course:
    """The finished course. `lessons` by the uri of their source."""

    options: Options
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    source_errors: tuple[SourceError, ...] = ()

    @property
    def pages(self) -> tuple[LessonPage, ...]:
        return tuple(page for lesson in self.lessons.values() for page in lesson.pages)

    @property
    def downloads(self) -> tuple[Download, ...]:
        return tuple(each for lesson in self.lessons.values() for each in lesson.downloads)

    @property
    def errors(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.errors)

    @property
    def warnings(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.warnings)

    def extra(self, name: str, uri: str) -> LessonPage | None:
        """A generated piece that a page of the course's own asks for with `<!-- verset:NAME -->`."""
        make = EXTRAS.get(name)
        return make(self, uri) if make else None

    def expand(self, markdown: str, uri: str) -> str:
        """A page's Markdown with the generated pieces in their places; an unknown name stays."""

        def put(match: re.Match[str]) -> str:
            piece = self.extra(match[1], uri)
            return piece.markdown if piece else match[0]

        return _EXTRA.sub(put, markdown)

    def fill(self, html: str, uri: str, root: str) -> str:
        """A finished page with music and player in their places."""
        if "data-verset-slot" not in html:
            return html
        slots: dict[str, str] = {}
        for page in self.pages:
            if page.uri == uri:
                slots.update(page.slots)
        for name in EXTRAS:
            if f'data-verset-slot="{name}' in html and (piece := self.extra(name, uri)):
                slots.update(piece.slots)
        return fill(html, slots, root)


def build_course(folder: Path, options: Options) -> Course:
    """Read and build every verset source below a folder. Errors of sources are in the result, all of
    them; nothing is built when there are any."""
    paths = sources(folder)
    versets, errors = read_all(paths)
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
        lesson: Lesson = store.get(key)
        lessons[uri] = lesson
    store.prune(frozenset(keys.values()))
    return Course(options, lessons)


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
