"""The work of a course, cut into pieces that processes of their own can do: each job knows all it needs,
makes a value to keep with its files, and reads it back from the store."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Protocol, TypeVar

from builder.edition.book.book import Book, Chapter, bind, chapter, service_sheet
from builder.edition.files import write_recordings
from builder.edition.imprint import Imprint
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet
from builder.edition.service.plan import Service
from builder.language.texts import page_texts
from builder.music import VERSIONS
from builder.pages.assets import rule_tables
from builder.pages.build import Making, build_lesson, read_setting
from builder.pages.drills.course import course_music
from builder.pages.drills.data import common_data, drill_data
from builder.pages.kept import (
    downloads_data,
    downloads_kept,
    lesson_data,
    lesson_kept,
    number,
    piece_data,
    piece_kept,
    text,
    texts,
)
from builder.pages.lesson import Download, Lesson
from builder.pages.pieces import PIECES, Asked, Piece
from builder.pages.store import Entry, Json
from builder.setting.reading import read_verset
from builder.setting.report import report_json
from builder.setting.setting import Defaults, Keeper, Setting
from builder.sound import RecordedPipes
from builder.sound.page_pipes import page_pipes, script_name

Made = TypeVar("Made", covariant=True)
_PICTURE = re.compile(r"0[\w-]*\.svg")


class Job(Protocol[Made]):
    """Something to make and keep under a key."""

    @property
    def key(self) -> str: ...

    @property
    def name(self) -> str:
        """What a message calls it: a file of the course, or what is made."""
        ...

    def make(self, work: Path, keeper: Keeper) -> Json:
        """Make it: files into the empty folder `work`, and the value to keep with them. `keeper` has the
        diminutions of music that was set before."""
        ...

    def read(self, entry: Entry) -> Made:
        """What was kept; `ValueError` when it is not what this job makes."""
        ...


@dataclass(frozen=True, slots=True)
class LessonJob:
    """A lesson to build, and its chapters of the book, `bound` in open score or on two staves, where the
    course has one."""

    key: str
    path: Path
    making: Making
    bound: Book | None = None

    @property
    def name(self) -> str:
        return str(self.path)

    def make(self, work: Path, keeper: Keeper) -> Json:
        lesson, setting = build_lesson(self.path, self.making, work, keeper)
        if self.bound:
            write_chapters(setting, self.bound, work)
        return lesson_data(lesson, work)

    def read(self, entry: Entry) -> Lesson:
        lesson = lesson_kept(entry, self.making.uri)
        return replace(lesson, chapters=_chapters(entry, self.bound.papers)) if self.bound else lesson


@dataclass(frozen=True, slots=True)
class SheetsJob:
    """What a release holds of a verset beyond the site: the whole of it with its report, its sheets, its
    recordings without loss where the course has recordings, and its chapters of the book."""

    key: str
    path: Path
    making: Making
    bound: Book

    @property
    def name(self) -> str:
        return f"{self.path}: sheets"

    def make(self, work: Path, keeper: Keeper) -> Json:
        making = self.making
        setting, _, w = read_setting(self.path, making, keeper)
        (work / "verset.pdf").write_bytes(pdf(setting, imprint=making.imprint))
        (work / "report.json").write_bytes(report_json(setting.report(w.language)).encode())
        (work / "student.pdf").write_bytes(student_sheet(setting, imprint=making.imprint))
        for version in VERSIONS:
            (work / f"{version}.pdf").write_bytes(single(setting, version, imprint=making.imprint))
        write_chapters(setting, self.bound, work)
        lossless = dict.fromkeys(setting.scores if making.audio else (), (".flac",))
        imprint = replace(making.imprint, lang=w.language)
        made = write_recordings(setting, work, lossless, imprint)
        return {"name": setting.verset.name, "recordings": [path.name for path in made]}

    def read(self, entry: Entry) -> Sheets:
        sheets = {kind: entry.file(f"{kind}.pdf") for kind in ("student", *VERSIONS)}
        name = text(entry.value, "name")
        recordings = {
            each.removeprefix(f"{name}-"): entry.file(each) for each in texts(entry.value, "recordings")
        }
        whole = {".pdf": entry.file("verset.pdf"), "-report.json": entry.file("report.json")}
        return Sheets(name, whole, sheets, recordings, _chapters(entry, self.bound.papers))


@dataclass(frozen=True, slots=True)
class Sheets:
    """The whole verset with its critical report, and the report of its build, by what follows its name; its
    sheets by kind, its recordings by version and ending, and its chapters by paper."""

    name: str
    whole: Mapping[str, Path]
    files: Mapping[str, Path]
    recordings: Mapping[str, Path]
    chapters: Mapping[str, Path]


@dataclass(frozen=True, slots=True)
class PieceJob:
    """A generated piece to make."""

    key: str
    piece: str
    asked: Asked

    @property
    def name(self) -> str:
        return f"{self.asked.uri}: {self.piece}"

    def make(self, work: Path, keeper: Keeper) -> Json:
        return piece_data(PIECES[self.piece](self.asked), work)

    def read(self, entry: Entry) -> Piece:
        return piece_kept(entry, self.asked.uri)


@dataclass(frozen=True, slots=True)
class TablesJob:
    """The rules as tables, which the exercises of all pages share. They are kept as JSON: a script comes from
    the package alone."""

    key: str

    @property
    def name(self) -> str:
        return "rules"

    def make(self, work: Path, keeper: Keeper) -> Json:
        (work / "rules.json").write_text(rule_tables(), "utf-8", newline="")
        return {}

    def read(self, entry: Entry) -> str:
        return _in_json(entry, "rules.json")


@dataclass(frozen=True, slots=True)
class DrillJob:
    """The tasks of a drill up to a step, from the sources of a course with the tones they were judged to be
    in; `common` makes what all drills share. They are kept as JSON, as the rules are."""

    key: str
    drill: str
    steps: int
    sources: tuple[tuple[Path, int], ...]
    defaults: Defaults
    language: str

    @property
    def name(self) -> str:
        return f"drill: {self.drill}"

    def make(self, work: Path, keeper: Keeper) -> Json:
        words, own = page_texts(self.language), dict(self.defaults.tunings)
        wanted = self.sources if self.drill in ("figures", "answers") else ()
        versets = [read_verset(path, own) for path, _ in wanted]
        tones = [tone for _, tone in self.sources]
        music = course_music(versets, tones, self.defaults, themes=self.drill == "answers")
        shared = self.drill == "common"
        data = common_data(music, words) if shared else drill_data(self.drill, music, self.steps, words)
        (work / "drill.json").write_text(data, "utf-8", newline="")
        return {}

    def read(self, entry: Entry) -> str:
        return _in_json(entry, "drill.json")


@dataclass(frozen=True, slots=True)
class PipesJob:
    """The recorded pipes of a rank for the page. They are kept as JSON, as the rules are."""

    key: str
    rank: str
    pipes: RecordedPipes

    @property
    def name(self) -> str:
        return f"pipes: {self.rank}"

    @property
    def script(self) -> str:
        return script_name(self.pipes, self.rank)

    def make(self, work: Path, keeper: Keeper) -> Json:
        (work / "pipes.json").write_text(page_pipes(self.pipes, self.rank), "utf-8", newline="")
        return {}

    def read(self, entry: Entry) -> str:
        return _in_json(entry, "pipes.json")


@dataclass(frozen=True, slots=True)
class BookJob:
    """The book of a course to bind from chapters that are kept, for the folder `home` of the site."""

    key: str
    home: str
    front: Book
    chapters: tuple[Mapping[str, Path], ...]
    services: tuple[Service, ...]

    @property
    def name(self) -> str:
        return self.front.title

    def make(self, work: Path, keeper: Keeper) -> Json:
        made = []
        for paper in self.front.papers:
            chapters = [read_chapter(each[paper]) for each in self.chapters]
            path = work / f"book-{paper}.pdf"
            path.write_bytes(bind(chapters, self.front, services=self.services, paper_name=paper))
            made.append(Download(f"{self.home}{path.name}", path))
        return {"downloads": downloads_data(made, work)}

    def read(self, entry: Entry) -> tuple[Download, ...]:
        return downloads_kept(entry.value, entry, self.home)


@dataclass(frozen=True, slots=True)
class ServiceJob:
    """The sheet of a service to typeset, for the folder `home` of the site."""

    key: str
    home: str
    service: Service
    imprint: Imprint

    @property
    def name(self) -> str:
        return self.service.title

    def make(self, work: Path, keeper: Keeper) -> Json:
        path = work / f"{self.service.name}.pdf"
        path.write_bytes(service_sheet(self.service, imprint=self.imprint))
        return {"downloads": downloads_data([Download(f"{self.home}{path.name}", path)], work)}

    def read(self, entry: Entry) -> tuple[Download, ...]:
        return downloads_kept(entry.value, entry, self.home)


def write_chapters(setting: Setting, front: Book, work: Path) -> None:
    """A verset's chapter of the book on each paper."""
    for paper in front.papers:
        data = json.dumps(asdict(chapter(setting, front, paper_name=paper)), ensure_ascii=False)
        (work / f"chapter-{paper}.json").write_text(data, "utf-8", newline="")


def read_chapter(path: Path) -> Chapter:
    """A chapter as it was kept; `ValueError` when it is none."""
    data = json.loads(path.read_text("utf-8"))
    if not isinstance(data, dict):
        raise ValueError("no chapter")
    told, pictures = data.get("told"), data.get("pictures")
    if not isinstance(told, dict) or not isinstance(pictures, dict) or not all(_pictures(told)):
        raise ValueError("no chapter")
    if not all(_PICTURE.fullmatch(name) and isinstance(svg, str) for name, svg in pictures.items()):
        raise ValueError("a chapter with pictures of another's")
    return Chapter(
        text(data, "name"), text(data, "title"), number(data, "tone"), number(data, "voices"), told, pictures
    )


def _pictures(told: Any) -> Iterator[bool]:
    """For every picture that a chapter names, whether it is one of a chapter's own."""
    if isinstance(told, list):
        for each in told:
            yield from _pictures(each)
    elif isinstance(told, dict):
        if "file" in told:
            yield isinstance(told["file"], str) and bool(_PICTURE.fullmatch(told["file"]))
        for each in told.values():
            yield from _pictures(each)


def _in_json(entry: Entry, name: str) -> str:
    """A kept file of JSON as a script carries it. `ValueError` where it is damaged."""
    data = json.loads(entry.file(name).read_text("utf-8"))
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def _chapters(entry: Entry, papers: Sequence[str]) -> dict[str, Path]:
    return {paper: entry.file(f"chapter-{paper}.json") for paper in papers}


def sheets_of(made: Sequence[Sheets]) -> dict[str, Path]:
    """Sheets and recordings by their path in a release. Versets of one name are numbered."""
    found: dict[str, Path] = {}
    names: list[str] = []
    for sheets in made:
        name, n = sheets.name, 1
        while name in names:
            n += 1
            name = f"{sheets.name}-{n}"
        names.append(name)
        found |= {f"sheets/{name}{ending}": path for ending, path in sheets.whole.items()}
        found |= {f"sheets/{name}-{kind}.pdf": path for kind, path in sheets.files.items()}
        found |= {f"audio/{name}-{which}": path for which, path in sheets.recordings.items()}
    return found
