"""A whole course: its sources found, read, built side by side and kept."""

from __future__ import annotations

import re
from collections import ChainMap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property, partial
from html import escape
from itertools import count
from pathlib import Path
from typing import Any

from builder.edition.book.book import Book
from builder.edition.service.order import is_order, read_order
from builder.edition.service.plan import Service, plan, service_page
from builder.edition.service.suggest import Playable
from builder.language.glyphs import texts_in
from builder.language.markup import address, md
from builder.language.texts import page_texts
from builder.pages.assets import HOME, Asset, pipe_file
from builder.pages.build import Making, with_front
from builder.pages.course_folder import ASKED_FOR, HEAR, CourseFolder
from builder.pages.crew import Done, do_all
from builder.pages.drills import drills_asked, furthest
from builder.pages.drills.asked import DRILLS, Wish
from builder.pages.drills.data import drill_file, drill_uri, opening
from builder.pages.jobs import (
    BookJob,
    DrillJob,
    Job,
    LessonJob,
    PieceJob,
    PipesJob,
    ServiceJob,
    Sheets,
    SheetsJob,
    TablesJob,
    sheets_of,
)
from builder.pages.lesson import Download, Lesson, LessonPage, fill, relative, slot
from builder.pages.pieces import PIECES, Asked, Piece, book_links, index
from builder.pages.pieces.index import shelf
from builder.pages.playable import Versets
from builder.pages.playing import digests
from builder.pages.store import Store
from builder.pages.trouble import Failure, tried
from builder.setting.reading import read_verset
from builder.setting.setting import Defaults, as_played
from builder.setting.text_warnings import unprinted
from builder.source import Verset, page_front

_BOOK = "book"
_GENERATED = "<!-- verset:"
_RELEASE = "release"

Tell = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class Options:
    """What a course chooses: defaults of its versets, language, which files to make, the words of its
    book, where finished work is kept and how many bytes it may take, and how many jobs are done side by side
    (0: one for each processor)."""

    defaults: Defaults = field(default_factory=Defaults)
    language: str = "en"
    audio: bool = True
    pdf: bool = True
    book: Book = field(default_factory=lambda: Book("Versets"))
    cache: Path = Path(".cache/verset-store")
    cache_size: int = 4 << 30
    processes: int = 0
    order: tuple[str, ...] = ()
    """Pages in the order of study: lists, indexes and the book keep to it."""
    draft: bool = False
    """For the teacher's own eyes while writing: what fails has a page that says why, no book is bound, and
    the files of a verset are made when they are asked for."""
    release: bool = False
    """Whether the sheets and the book of a release are made, also where no page asks for them."""


def _unprinted(printed: Service | Book) -> Iterator[str]:
    """What print has no glyphs for in the words of a book or a service."""
    yield from unprinted(texts_in(asdict(printed)), printed.lang)


@dataclass(frozen=True)
class Course:
    """The finished course: `lessons` by the uri of their source, `pieces` by the uri of the page that
    asks for them and their name, `services` by the uri of their page; `failures` are what could not be
    made, `refused` the pages that say so; `released` is what a release holds beyond the site, by its path
    there; `keys` are the entries of the store that the course is made of."""

    options: Options
    lessons: Mapping[str, Lesson] = field(default_factory=dict)
    pieces: Mapping[tuple[str, str], Piece] = field(default_factory=dict)
    services: Mapping[str, Service] = field(default_factory=dict)
    service_pages: tuple[LessonPage, ...] = ()
    prints: tuple[Download, ...] = ()
    tables: str = ""
    """The rules as tables in JSON, which the exercises share."""
    recorded: Mapping[str, str] = field(default_factory=dict)
    """The course's recorded pipes by the name of their script, each rank in JSON."""
    drills: Mapping[str, str] = field(default_factory=dict)
    """The tasks of each drill that some page asks for in JSON, and what they share (`common`)."""
    failures: tuple[Failure, ...] = ()
    refused: tuple[LessonPage, ...] = ()
    released: Mapping[str, Path] = field(default_factory=dict)
    keys: frozenset[str] = frozenset()
    made: int = 0
    """How many of them were made in this build."""
    wishes: Mapping[str, tuple[Wish, ...]] = field(default_factory=dict)
    """The drills that each page asks for, by its uri."""
    hearing: frozenset[str] = frozenset()
    """The pages that let versets of the course be heard."""
    listing: str = ""
    """The page that lists all versets, where the course has one."""

    @cached_property
    def pages(self) -> tuple[LessonPage, ...]:
        """Every generated page."""
        lessons = [page for lesson in self.lessons.values() for page in lesson.pages]
        pieces = [page for piece in self.pieces.values() for page in piece.pages]
        return (*lessons, *pieces, *self.service_pages, *self.refused)

    @property
    def sections(self) -> Mapping[str, tuple[str, tuple[LessonPage, ...]]]:
        """For the table of contents: the uri of a page that has generated pages below it, with the title of
        the section and its pages (a lesson's overview is the first of them)."""
        found = {uri: (lesson.title, lesson.pages) for uri, lesson in self.lessons.items()}
        return found | {uri: ("", piece.pages) for (uri, _), piece in self.pieces.items() if piece.pages}

    def source_of(self, uri: str) -> str:
        """The uri of the source that a page is made from; nothing where it is no page of a verset."""
        return self._sources.get(uri, "")

    @cached_property
    def _sources(self) -> Mapping[str, str]:
        return {page.uri: lesson.uri for lesson in self.lessons.values() for page in lesson.pages}

    @property
    def drill_files(self) -> tuple[Asset, ...]:
        """The scripts that carry the drills."""
        return tuple(Asset(drill_uri(n), drill_file(n, data).encode()) for n, data in self.drills.items())

    @property
    def pipe_files(self) -> tuple[Asset, ...]:
        """The scripts that carry recorded pipes, one a rank."""
        return tuple(Asset(f"{HOME}/{n}", pipe_file(n, data).encode()) for n, data in self.recorded.items())

    @property
    def downloads(self) -> tuple[Download, ...]:
        """Every file of the edition that pages link to."""
        lessons = [each for lesson in self.lessons.values() for each in lesson.downloads]
        return (*lessons, *self.prints)

    @cached_property
    def later(self) -> Mapping[str, str]:
        """The files of the edition that are made when they are asked for, by their uri: the uri of the source
        that each belongs to."""
        return {uri: lesson.uri for lesson in self.lessons.values() for uri in lesson.later}

    @property
    def errors(self) -> tuple[str, ...]:
        return tuple(line for lesson in self.lessons.values() for line in lesson.errors)

    @property
    def warnings(self) -> tuple[str, ...]:
        lessons = [line for lesson in self.lessons.values() for line in lesson.warnings]
        services = [f"{uri}: {w}" for uri, s in self.services.items() for w in (*s.warnings, *_unprinted(s))]
        return (*lessons, *services, *(f"mkdocs.yml, book: {w}" for w in _unprinted(self.options.book)))

    def expand(self, markdown: str, uri: str) -> str:
        """A page's Markdown with the generated pieces in their places; an unknown name stays."""

        def put(match: re.Match[str]) -> str:
            if match[1] == "index":
                return index(self.lessons, uri, self.options.language)
            if match[1] == _BOOK:
                if self.options.draft:
                    return page_texts(self.options.language)("pages.bookLater")
                return book_links([d.uri for d in self.prints], uri, self.options.language)
            piece = self.pieces.get((uri, match[1]))
            return piece.markdown if piece else match[0]

        if _GENERATED not in markdown:
            return markdown
        places = count()
        with_drills = DRILLS.sub(lambda _: slot(f"drills-{next(places)}"), markdown)
        return ASKED_FOR.sub(put, HEAR.sub(lambda asked: slot(f"hear-{asked['name']}"), with_drills))

    def fill(self, html: str, uri: str, root: str) -> str:
        """A finished page with music and player in their places."""
        return fill(html, ChainMap(*self._slots.get(uri, ()), self._shelf), root)

    @cached_property
    def _shelf(self) -> dict[str, str]:
        """What a list of versets shows of each, by its slot."""
        return shelf(self.lessons, self.options.language)

    @cached_property
    def _slots(self) -> Mapping[str, list[Any]]:
        """The slots of each page, by its uri."""
        found: dict[str, list[Any]] = {}
        for page in self.pages:
            found.setdefault(page.uri, []).append(page.slots)
        for (uri, _), piece in self.pieces.items():
            found.setdefault(uri, []).append(piece.slots)
        for lesson in self.lessons.values():
            # A page that lets a verset be heard shows what its last page does.
            heard = {f"hear-{lesson.name}": lesson.pages[-1].slots["practice"]}
            for uri in self.hearing:
                found.setdefault(uri, []).append(heard)
        w = page_texts(self.options.language)
        for uri, wishes in self.wishes.items():
            found.setdefault(uri, []).append(
                {f"drills-{n}": opening(wish, w) for n, wish in enumerate(wishes)}
            )
        return found


def build_course(folder: Path, options: Options, store: Store, tell: Tell | None = None) -> Course:
    """Read and build everything of the course below a folder; work that an open store keeps is not done
    again. What cannot be made stops nothing else: all of it is in the result. `tell` is called as each piece
    of work is done: how many are, of how many, and its name.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as place:
    ...     folder, store = Path(place) / "content", Store(Path(place) / "store")
    ...     folder.mkdir()
    ...     _ = (folder / "two.md").write_text(EXAMPLE)
    ...     store.open()
    ...     course = build_course(folder, Options(audio=False, pdf=False, processes=1), store)
    ...     store.close()
    >>> [page.uri for page in course.pages]
    ['two.md', 'two/cantus.md', 'two/altus.md', 'two/cadence.md', 'two/whole.md']
    """
    return _Builder(folder, options, store, tell or (lambda done, all, name: None)).course()


def warm_course(
    folder: Path, options: Options, store: Store, shard: tuple[int, int], tell: Tell | None = None
) -> tuple[int, tuple[Failure, ...]]:
    """Fill a share of an open store: of every so many versets one, from the first on (`shard` is which, from
    1, and of how many). Stores are merged by copying their entries, whose keys name no machine. Gives how
    many versets the share has, and what failed.

    The first of two shares; its verset cannot be read:

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as place:
    ...     folder, store = Path(place) / "content", Store(Path(place) / "store")
    ...     folder.mkdir()
    ...     _ = (folder / "first.md").write_text(EXAMPLE.replace("D5/2", "H5/2"))
    ...     _ = (folder / "second.md").write_text(EXAMPLE)
    ...     store.open()
    ...     count, failures = warm_course(folder, Options(processes=1), store, (1, 2))
    ...     store.close()
    >>> count, [Path(failure.name).name for failure in failures]
    (1, ['first.md'])
    """
    builder = _Builder(folder, options, store, tell or (lambda done, all, name: None))
    which, count = shard
    uris = builder.read.sources()[which - 1 :: count]
    builder.make([builder.lesson_job(uri) for uri in uris])
    return len(uris), tuple(builder.failures.values())


def lesson_files(
    folder: Path, options: Options, store: Store, uri: str
) -> tuple[tuple[Download, ...], tuple[Failure, ...]]:
    """Make the files of one verset of a course, whose source is at `uri`, in a process of its own; an open
    store keeps them. Gives them, and what failed.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as place:
    ...     folder, store = Path(place) / "content", Store(Path(place) / "store")
    ...     folder.mkdir()
    ...     _ = (folder / "two.md").write_text(EXAMPLE)
    ...     store.open()
    ...     files, failures = lesson_files(folder, Options(audio=False, pdf=False), store, "two.md")
    ...     store.close()
    >>> files[0].uri, failures
    ('two/files/two-given.brf', ())
    """
    builder = _Builder(folder, options, store, lambda done, all, name: None)
    job = builder.lesson_job(uri)
    made: Lesson | None = builder.make([job], apart=True).values.get(job.key)
    return made.downloads if made else (), tuple(builder.failures.values())


def course_versets(folder: Path, options: Options) -> tuple[dict[str, Verset], tuple[Failure, ...]]:
    """The versets of a course by name, with its choices and at the pitch they ask for, and what could not be
    read.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.source import EXAMPLE
    >>> with TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "two.md").write_text(EXAMPLE)
    ...     _ = (Path(folder) / "wrong.md").write_text(EXAMPLE.replace("D5/2", "H5/2"))
    ...     found, failures = course_versets(Path(folder), Options(defaults=Defaults(pitch=415.0)))
    >>> [(name, verset.settings.pitch) for name, verset in found.items()]
    [('two', 415.0)]
    >>> [(Path(failure.name).name, failure.refused[0].found) for failure in failures]
    [('wrong.md', 'the pitch "H5"')]
    """
    course = CourseFolder(folder, options.order)
    found: dict[str, Verset] = {}
    failures = [*course.failures.values()]
    for uri in course.sources():
        path = course.source(uri)
        read = tried(str(path), partial(read_verset, path, dict(options.defaults.tunings)))
        if isinstance(read, Failure):
            failures.append(read)
        else:
            found[read.name] = as_played(read, options.defaults)
    return found, tuple(failures)


class _Builder:
    """Builds one course."""

    def __init__(self, folder: Path, options: Options, store: Store, tell: Tell) -> None:
        self.options, self.store, self.tell = options, store, tell
        self.read = CourseFolder(folder, options.order)
        self.failures = self.read.failures
        """By the uri of a page, or the key of what belongs to none."""
        self.keys: set[str] = set()
        self.made = 0

    def course(self) -> Course:
        jobs = {uri: self.lesson_job(uri) for uri in self.read.uris}
        # A page whose lesson is kept as it stands is a source.
        uris = self.read.sources({uri for uri, job in jobs.items() if job.key in self.store})
        self.read.check_fronts(uris)
        self.read.check_heard(uris)
        lessons = {uri: jobs[uri] for uri in uris}
        if self.options.draft:
            whole = self.store.get_all(job.key for job in lessons.values())
            lessons = {u: job if whole[job.key] else self.draft_job(u) for u, job in lessons.items()}
        pieces = {(job.asked.uri, job.piece): job for job in self._piece_jobs()}
        shared = TablesJob(self.store.key("rules"))
        places = {job.key: uri for uri, job in lessons.items()}
        done = self.make([shared, *pieces.values(), *lessons.values()], places)
        course = Course(
            self.options,
            {uri: done.values[job.key] for uri, job in lessons.items() if job.key in done.values},
            {asking: done.values[job.key] for asking, job in pieces.items() if job.key in done.values},
            tables=done.values.get(shared.key, ""),
        )
        course = self._with_drills(course, lessons)
        course = self._with_pipes(course)
        course = self._with_services(course)
        sound = not self.failures
        if sound or self.options.draft:
            course = self._with_prints(course, [lessons[uri].key for uri in course.lessons])
        if sound and self.options.release:
            course = self._with_release(course, lessons)
        return replace(
            course,
            failures=tuple(self.failures.values()),
            refused=tuple(self._refused(uri) for uri in self.read.uris if uri in self.failures),
            keys=frozenset(self.keys),
            made=self.made,
            hearing=frozenset(uri for uri, text in self.read.texts.items() if HEAR.search(text)),
            listing=self.read.asking("index"),
        )

    def make(
        self, jobs: Sequence[Job[Any]], places: Mapping[str, str] | None = None, *, apart: bool = False
    ) -> Done:
        """Do these jobs; what fails is remembered, under its page where `places` has one."""
        done = do_all(jobs, self.store, self.options.processes, self.tell, apart=apart)
        self.keys.update(job.key for job in jobs)
        self.made += len(done.made)
        for key, failure in done.failures.items():
            self.failures[(places or {}).get(key, key)] = failure
        return done

    def _making(self, uri: str) -> Making:
        options = self.options
        return Making(
            uri=uri,
            defaults=options.defaults,
            language=options.language,
            rules_uri=self.read.asking("rules"),
            audio=options.audio,
            pdf=options.pdf,
            imprint=options.book.signed,
        )

    def lesson_job(self, uri: str) -> LessonJob:
        """A verset's pages and files."""
        bound = self._bound if self.options.pdf and self.read.asking(_BOOK) else None
        return self._job(uri, self._making(uri), bound)

    def draft_job(self, uri: str) -> LessonJob:
        """A verset's pages alone."""
        return self._job(uri, replace(self._making(uri), files=False), None)

    def _job(self, uri: str, making: Making, bound: Book | None) -> LessonJob:
        path = self.read.source(uri)
        text = path.read_bytes().hex() if uri in self.read.encoded else self.read.texts[uri]
        named = () if uri in self.read.encoded else digests(text, path.parent)
        key = self.store.key(text, repr(making), repr(bound), *named)
        return LessonJob(key, path, making, bound)

    @property
    def _bound(self) -> Book:
        """All of the book that its chapters depend on."""
        front = self.options.book
        return Book("", papers=front.papers, lang=front.lang)

    def _piece_jobs(self) -> Iterator[PieceJob]:
        for name in PIECES:
            uri, number = self.read.asking_with(name)
            if uri:
                asked = Asked(self.options.defaults, self.options.language, uri, number)
                yield PieceJob(self.store.key("piece", name, repr(asked)), name, asked)

    def _with_drills(self, course: Course, lessons: Mapping[str, LessonJob]) -> Course:
        """The drills that pages ask for, made from the lessons there are."""
        wishes: dict[str, tuple[Wish, ...]] = {}
        for uri, text in self.read.texts.items():
            path = str(self.read.folder / uri)
            asked = tried(path, partial(drills_asked, text, path))
            if isinstance(asked, Failure):
                self.failures.setdefault(uri, asked)
            elif asked:
                wishes[uri] = asked
        if not wishes:
            return course
        options, known = self.options, course.lessons
        sources = tuple((lessons[uri].path, lesson.tone) for uri, lesson in known.items())
        made_of = [lessons[uri].key for uri in known]
        jobs = [
            DrillJob(
                self.store.key("drill", name, str(steps), options.language, repr(options.defaults), *made_of),
                name,
                steps,
                sources,
                options.defaults,
                options.language,
            )
            for name, steps in {"common": 1, **furthest(w for each in wishes.values() for w in each)}.items()
        ]
        done = self.make(jobs)
        drills = {job.drill: done.values[job.key] for job in jobs if job.key in done.values}
        return replace(course, drills=drills, wishes=wishes)

    def _with_pipes(self, course: Course) -> Course:
        """The scripts of recorded pipes, where the course has some."""
        pipes = self.options.defaults.pipes
        if not pipes:
            return course
        ranks = dict.fromkeys(pipe.rank for pipe in pipes.pipes)
        jobs = [PipesJob(self.store.key("pipes", repr(pipes), rank), rank, pipes) for rank in ranks]
        made = self.make(jobs).values
        return replace(course, recorded={job.script: made[job.key] for job in jobs if job.key in made})

    def _with_services(self, course: Course) -> Course:
        """The plans of services, and their pages."""
        known = Versets(course.lessons, self.read.source, self.options.defaults)
        planned: dict[str, Service] = {}
        for uri, text in self.read.texts.items():
            if is_order(text) and uri not in self.failures:
                made = tried(str(self.read.folder / uri), partial(self._plan, uri, known))
                if isinstance(made, Failure):
                    self.failures[uri] = made
                else:
                    planned[uri] = made
        return replace(course, services=planned, service_pages=self._service_pages(course, planned))

    def _plan(self, uri: str, known: Mapping[str, Playable]) -> Service:
        return plan(read_order(self.read.folder / uri), known, language=self.options.language)

    def _service_pages(self, course: Course, services: Mapping[str, Service]) -> tuple[LessonPage, ...]:
        """The page of each service: its plan, and its sheet when sheets are made."""
        w = page_texts(self.options.language)
        pages = []
        for uri, service in services.items():
            links = {lesson.name: relative(lesson.uri, uri) for lesson in course.lessons.values()}
            text = f"# {md(service.title)}\n\n{service_page(service, links)}"
            if self.options.pdf:
                text += f"\n[{w('pages.serviceSheet')}]({address(service.name)}.pdf)\n"
            kept = {k: v for k, v in page_front(self.read.texts[uri], uri).items() if k != "service"}
            pages.append(LessonPage(uri, service.title, with_front(kept, text)))
        return tuple(pages)

    def _with_prints(self, course: Course, keys: Sequence[str]) -> Course:
        """What is typeset from more than one verset."""
        options = self.options
        if not options.pdf:
            return course
        signed, jobs = options.book.signed, list[Job[Any]]()
        for uri, service in course.services.items():
            key = self.store.key("service", uri, repr(service), repr(signed))
            jobs.append(ServiceJob(key, _home(uri), service, signed))
        if course.lessons and not options.draft and (uri := self.read.asking(_BOOK)):
            services = tuple(course.services.values())
            chapters = tuple(lesson.chapters for lesson in course.lessons.values())
            key = self.store.key("book", uri, repr(options.book), repr(services), *keys)
            jobs.append(BookJob(key, _home(uri), options.book, chapters, services))
        done = self.make(jobs)
        return replace(course, prints=tuple(d for job in jobs for d in done.values.get(job.key, ())))

    def _with_release(self, course: Course, lessons: Mapping[str, LessonJob]) -> Course:
        """The book, the sheets of every verset and those of the services."""
        front, signed = self.options.book, self.options.book.signed
        services = tuple(course.services.values())
        jobs: list[Job[Any]] = [
            SheetsJob(self.store.key("sheets", job.key, repr(self._bound)), job.path, job.making, self._bound)
            for job in lessons.values()
        ]
        done = self.make(jobs)
        made: list[Sheets] = [done.values[job.key] for job in jobs if job.key in done.values]
        last: list[Job[Any]] = [
            ServiceJob(self.store.key("service", _RELEASE, repr(each), repr(signed)), "", each, signed)
            for each in services
        ]
        if made and not self.failures:
            key = self.store.key("book", _RELEASE, repr(front), repr(services), *(job.key for job in jobs))
            chapters = tuple(sheets.chapters for sheets in made)
            last.append(BookJob(key, "", front, chapters, services))
        done = self.make(last)
        files = sheets_of(made)
        for job in last:
            for print_ in done.values.get(job.key, ()):
                books = isinstance(job, BookJob)
                files[f"book/{print_.uri}" if books else f"sheets/service-{print_.uri}"] = print_.path
        return replace(course, released=files)

    def _refused(self, uri: str) -> LessonPage:
        """The page that stands where a page would that could not be made: what was wrong, in words."""
        w, failure = page_texts(self.options.language), self.failures[uri]
        told = f'<pre class="verset-refused" role="alert">{escape(failure.told(w.language))}</pre>'
        text = f"# {w('pages.refused')}\n\n{w('pages.refusedLead')}\n\n{slot('refused')}\n"
        return LessonPage(uri, w("pages.refused"), text, {"refused": told})


def _home(uri: str) -> str:
    """The folder of a page on the site."""
    return f"{uri.rpartition('/')[0]}/".lstrip("/")


__all__ = ["Course", "Options", "build_course", "warm_course"]
