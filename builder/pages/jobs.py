"""The work of a course, cut into pieces that processes of their own can do: each job knows all it needs
and gives a value to keep."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from builder.edition.book.book import Book, book, service_sheet
from builder.edition.imprint import Imprint
from builder.edition.pdf.paper import PAPERS
from builder.edition.service.plan import Service
from builder.pages.build import Making, build_lesson
from builder.pages.lesson import Download, Lesson
from builder.pages.pieces import PIECES, Asked, Piece
from builder.pages.store import Store


class Job(Protocol):
    """Something to make and keep under a key; `make` may write files into the folder it is given."""

    @property
    def key(self) -> str: ...

    @property
    def cache(self) -> Path: ...

    def make(self, work: Path) -> Any: ...


@dataclass(frozen=True, slots=True)
class LessonJob:
    """A lesson to build."""

    key: str
    cache: Path
    path: Path
    making: Making

    def make(self, work: Path) -> Lesson:
        return build_lesson(self.path, self.making, work)


@dataclass(frozen=True, slots=True)
class PieceJob:
    """A generated piece to make."""

    key: str
    cache: Path
    name: str
    asked: Asked

    def make(self, work: Path) -> Piece:
        return PIECES[self.name](self.asked)


@dataclass(frozen=True, slots=True)
class BookJob:
    """The book of a course to typeset, from lessons that are kept already."""

    key: str
    cache: Path
    front: Book
    lessons: tuple[str, ...]
    services: tuple[Service, ...]

    def make(self, work: Path) -> tuple[Download, ...]:
        store = Store(self.cache)
        settings = [store.value(key).setting for key in self.lessons]
        made = []
        for paper in PAPERS:
            path = work / f"book-{paper}.pdf"
            path.write_bytes(book(settings, self.front, services=self.services, paper_name=paper))
            made.append(Download(path.name, Path(path.name)))
        return tuple(made)


@dataclass(frozen=True, slots=True)
class ServiceJob:
    """The sheet of a service to typeset."""

    key: str
    cache: Path
    service: Service
    imprint: Imprint

    def make(self, work: Path) -> tuple[Download, ...]:
        path = work / f"{self.service.name}.pdf"
        path.write_bytes(service_sheet(self.service, imprint=self.imprint))
        return (Download(path.name, Path(path.name)),)


def run_all(jobs: Sequence[Job], processes: int) -> None:
    """Do every job that is not done yet, side by side (`processes` 0: one for each processor)."""
    missing = [job for job in jobs if Store(job.cache).get(job.key) is None]
    workers = min(len(missing), processes or os.cpu_count() or 1)
    if workers <= 1:
        for job in missing:
            _run(job)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        list(pool.map(_run, missing))


def _run(job: Job) -> None:
    store = Store(job.cache)
    store.keep(job.key, job.make(store.begin(job.key)))
