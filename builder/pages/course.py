"""A whole course: its sources found, read, built side by side and kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from builder.edition.book.book import Book
from builder.edition.service.order import is_order, read_order
from builder.edition.service.plan import Service, plan, service_page
from builder.pages.build import Making, with_front
from builder.pages.jobs import BookJob, Job, LessonJob, PieceJob, ServiceJob, run_all
from builder.pages.lesson import Download, Lesson, LessonPage, fill, relative
from builder.pages.pieces import PIECES, Asked, Piece, book_links, index
from builder.pages.store import Store
from builder.pages.words import words
from builder.setting.reading import read_versets
from builder.setting.setting import Defaults, Setting
from builder.source import SourceError, SourceErrors, is_source, page_front

_PIECE = re.compile(r"^<!-- verset:([a-z-]+) -->$", re.MULTILINE)
_BOOK = "book"


@dataclass(frozen=True, slots=True)
class Options:
    """What a course chooses: defaults of its versets, language, which files to make, the words of its
    book, where finished work is kept, and how many jobs are done side by side (0: one for each
    processor)."""

    defaults: Defaults = field(default_factory=Defaults)
    language: str = "en"
    audio: bool = True
    pdf: bool = True
    book: Book = field(default_factory=lambda: Book("Versets"))
    cache: Path = Path(".cache/verset")
    processes: int = 0
    order: tuple[str, ...] = ()
    """Pages in the order of study: lists, indexes and the book keep to it."""


@dataclass(frozen=True, slots=True)
class Course:
    """The finished course: `lessons` by the uri of their source, `pieces` by the uri of the page that
    asks for them and their name, `services` by the uri of their page."""

    options: Options
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    pieces: Mapping[tuple[str, str], Piece] = field(default_factory=dict)
    services: Mapping[str, Service] = field(default_factory=dict)
    service_pages: tuple[LessonPage, ...] = ()
    prints: tuple[Download, ...] = ()
    source_errors: tuple[SourceError, ...] = ()

    @property
    def settings(self) -> tuple[Setting, ...]:
        """The versets as set, in the order of their sources."""
        return tuple(lesson.setting for lesson in self.lessons.values())

    @property
    def pages(self) -> tuple[LessonPage, ...]:
        """Every generated page."""
        lessons = [page for lesson in self.lessons.values() for page in lesson.pages]
        pieces = [page for piece in self.pieces.values() for page in piece.pages]
        return (*lessons, *pieces, *self.service_pages)

    @property
    def sections(self) -> Mapping[str, tuple[str, tuple[LessonPage, ...]]]:
        """For the table of contents: the uri of a page that has generated pages below it, with the title of
        the section and its pages (a lesson's overview is the first of them)."""
        found = {uri: (lesson.title, lesson.pages) for uri, lesson in self.lessons.items()}
        return found | {uri: ("", piece.pages) for (uri, _), piece in self.pieces.items() if piece.pages}

    @property
    def downloads(self) -> tuple[Download, ...]:
        """Every file of the edition that pages link to."""
        lessons = [each for lesson in self.lessons.values() for each in lesson.downloads]
        return (*lessons, *self.prints)

    @property
    def errors(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.errors)

    @property
    def warnings(self) -> tuple[str, ...]:
        lessons = [line for lesson in self.lessons.values() for line in lesson.warnings]
        return (*lessons, *(f"{uri}: {w}" for uri, s in self.services.items() for w in s.warnings))

    def expand(self, markdown: str, uri: str) -> str:
        """A page's Markdown with the generated pieces in their places; an unknown name stays."""

        def put(match: re.Match[str]) -> str:
            if match[1] == "index":
                return index(self.lessons, uri, self.options.language)
            if match[1] == _BOOK:
                return book_links([d.uri for d in self.prints], uri, self.options.language)
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
    """Read and build everything of the course below a folder. Errors of sources are in the result, all
    of them; nothing is built when there are any."""
    texts = {path.relative_to(folder).as_posix(): _text(path) for path in _markdown(folder)}
    uris = sorted((uri for uri, text in texts.items() if is_source(text)), key=_place_in(options.order))
    _, errors = read_versets([folder / uri for uri in uris], dict(options.defaults.tunings))
    errors = (*errors, *_bad_fronts(folder, {uri: text for uri, text in texts.items() if uri not in uris}))
    if errors:
        return Course(options, source_errors=errors)
    store = Store(options.cache)
    lessons = {uri: _lesson_job(folder, uri, texts, options, store) for uri in uris}
    pieces = {(job.asked.uri, job.name): job for job in _piece_jobs(texts, options, store)}
    run_all([*pieces.values(), *lessons.values()], options.processes)
    course = Course(
        options,
        {uri: _lesson(store, job) for uri, job in lessons.items()},
        {asking: store.value(job.key) for asking, job in pieces.items()},
    )
    services, errors = _services(folder, texts, course.settings, options.language)
    if errors:
        return Course(options, source_errors=errors)
    course = replace(course, services=services, service_pages=_service_pages(course, services, texts))
    printed = list(_print_jobs(texts, course, [job.key for job in lessons.values()], store))
    run_all([job for _, job in printed], options.processes)
    prints = tuple(_moved(d, store, job, home) for home, job in printed for d in store.value(job.key))
    made: list[Job] = [*lessons.values(), *pieces.values(), *(job for _, job in printed)]
    store.prune(frozenset(job.key for job in made))
    return replace(course, prints=prints)


def _bad_fronts(folder: Path, texts: Mapping[str, str]) -> Iterator[SourceError]:
    """What is wrong with the front matter of pages that are no versets: the site generator reads it next,
    and bounds nothing."""
    for uri, text in texts.items():
        try:
            page_front(text, str(folder / uri), dates=not is_order(text))
        except SourceErrors as refused:
            yield from refused.errors


def _place_in(order: Sequence[str]) -> Callable[[str], int]:
    """For sorting: pages in this order first, then all others as they were."""
    places = {uri: n for n, uri in reversed(list(enumerate(order)))}
    return lambda uri: places.get(uri, len(order))


def _markdown(folder: Path) -> Iterator[Path]:
    """The pages below a folder, in the order of their names."""
    for path in sorted(folder.rglob("*.md")):
        if not any(part.startswith(".") for part in path.relative_to(folder).parts):
            yield path


def _text(path: Path) -> str:
    return path.read_text("utf-8", errors="replace")


def _asking(texts: Mapping[str, str], name: str) -> str:
    """The page of a course that asks for a generated piece, or nothing."""
    return next((uri for uri, text in texts.items() if name in _PIECE.findall(text)), "")


def _lesson_job(
    folder: Path, uri: str, texts: Mapping[str, str], options: Options, store: Store
) -> LessonJob:
    making = Making(
        uri=uri,
        defaults=options.defaults,
        language=options.language,
        rules_uri=_asking(texts, "rules"),
        audio=options.audio,
        pdf=options.pdf,
        imprint=options.book.signed,
    )
    return LessonJob(store.key(texts[uri], repr(making)), options.cache, folder / uri, making)


def _piece_jobs(texts: Mapping[str, str], options: Options, store: Store) -> Iterator[PieceJob]:
    for name in PIECES:
        if uri := _asking(texts, name):
            asked = Asked(options.defaults, options.language, uri)
            yield PieceJob(store.key("piece", name, repr(asked)), options.cache, name, asked)


def _lesson(store: Store, job: LessonJob) -> Lesson:
    """A finished lesson, its files where they lie now."""
    lesson: Lesson = store.value(job.key)
    return replace(lesson, downloads=tuple(_moved(d, store, job) for d in lesson.downloads))


def _moved(download: Download, store: Store, job: Job, home: str = "") -> Download:
    return Download(f"{home}{download.uri}", store.path(job.key) / download.path)


def _services(
    folder: Path, texts: Mapping[str, str], settings: Sequence[Setting], language: str
) -> tuple[dict[str, Service], tuple[SourceError, ...]]:
    """The plans of services in a course, and what is wrong with any of them."""
    found: dict[str, Service] = {}
    errors: list[SourceError] = []
    for uri, text in texts.items():
        if is_order(text):
            try:
                found[uri] = plan(read_order(folder / uri), settings, language=language)
            except SourceErrors as refused:
                errors += refused.errors
    return found, tuple(errors)


def _service_pages(
    course: Course, services: Mapping[str, Service], texts: Mapping[str, str]
) -> tuple[LessonPage, ...]:
    """The page of each service: its plan, and its sheet when sheets are made."""
    w = words(course.options.language)
    pages = []
    for uri, service in services.items():
        links = {x.setting.verset.name: relative(x.uri, uri) for x in course.lessons.values()}
        text = f"# {service.title}\n\n{service_page(service, links)}"
        if course.options.pdf:
            text += f"\n[{w('pages.serviceSheet')}]({service.name}.pdf)\n"
        kept = {k: v for k, v in page_front(texts[uri], uri).items() if k != "service"}
        pages.append(LessonPage(uri, service.title, with_front(kept, text)))
    return tuple(pages)


def _print_jobs(
    texts: Mapping[str, str], course: Course, keys: Sequence[str], store: Store
) -> Iterator[tuple[str, Job]]:
    """What is typeset from more than one verset, with the folder of the site it goes to."""
    options = course.options
    if not options.pdf:
        return
    signed = options.book.signed
    for uri, service in course.services.items():
        key = store.key("service", repr(service), repr(signed))
        home = f"{uri.rpartition('/')[0]}/".lstrip("/")
        yield home, ServiceJob(key, options.cache, service, signed)
    if keys and (uri := _asking(texts, _BOOK)):
        services = tuple(course.services.values())
        key = store.key("book", repr(options.book), repr(services), *keys)
        home = f"{uri.rpartition('/')[0]}/".lstrip("/")
        yield home, BookJob(key, options.cache, options.book, tuple(keys), services)


__all__ = ["Course", "Options", "build_course"]
