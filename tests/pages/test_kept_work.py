"""Lessons, pieces, sheets and books as the store keeps them: given back whole, other shapes refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from builder.edition.book.book import Book, Chapter
from builder.pages import crew, jobs
from builder.pages.build import Making
from builder.pages.crew import do_all
from builder.pages.jobs import Sheets, read_chapter, sheets_of
from builder.pages.kept import (
    Levels,
    downloads_kept,
    lesson_data,
    lesson_kept,
    number,
    piece_data,
    piece_kept,
    text,
    texts,
)
from builder.pages.lesson import Download, Lesson, LessonPage
from builder.pages.pieces import Asked, Piece
from builder.pages.store import Entry, Store
from builder.pages.trouble import Failure
from builder.setting.setting import Defaults, Keeper


def entry(work: Path, value: Any) -> Entry:
    """As if the store had kept it, and read it from a disk again."""
    names = {p.relative_to(work).as_posix() for p in work.rglob("*") if p.is_file()}
    return Entry(work, json.loads(json.dumps(value)), frozenset(names))


def lesson(work: Path) -> Lesson:
    file = work / "files" / "a.pdf"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(b"x")
    pages = (
        LessonPage("v/a.md", "Over", "# Över", {"one": "<i>è</i>\n", "two": ""}),
        LessonPage("v/a/b/whole.md", "Whole", "w"),
    )
    facts = {"tone": "first", "voices": "2"}
    return Lesson(
        *("v/a.md", "Title", 3, pages, (Download("v/a/files/a.pdf", file),), ("e",), ("w", "x"), facts)
    )


def test_a_lesson_comes_back_as_it_was(tmp_path: Path) -> None:
    made = lesson(tmp_path)
    found = lesson_kept(entry(tmp_path, lesson_data(made, tmp_path)), "v/a.md")
    assert replace(found, pages=()) == replace(made, pages=())
    for old, new in zip(made.pages, found.pages, strict=True):
        assert (new.uri, new.title, new.markdown) == (old.uri, old.title, old.markdown)
        assert dict(new.slots) == dict(old.slots) and len(new.slots) == len(old.slots)
    assert (tmp_path / "pages/0/0.html").read_bytes() == "<i>è</i>\n".encode()


def test_a_piece_comes_back_as_it_was(tmp_path: Path) -> None:
    made = Piece("text", {"a": "<b>", "c": "é"}, (LessonPage("p/x.md", "X", "x", {"s": "<u>"}),))
    found = piece_kept(entry(tmp_path, piece_data(made, tmp_path)), "p.md")
    assert (found.markdown, dict(found.slots)) == ("text", {"a": "<b>", "c": "é"})
    ((page,), (old,)) = found.pages, made.pages
    assert (page.uri, page.title, page.markdown, dict(page.slots)) == (
        *(old.uri, old.title, old.markdown, old.slots),
    )


WRONG: list[tuple[str, Callable[[dict[str, Any]], Any]]] = [
    ("another source", lambda d: d.update(uri="v/b.md")),
    ("no text title", lambda d: d.update(title=3)),
    ("no number tone", lambda d: d.update(tone="3")),
    ("no number tone", lambda d: d.update(tone=True)),
    ("no texts errors", lambda d: d.update(errors="e")),
    ("no texts warnings", lambda d: d.update(warnings=["w", 1])),
    ("no summary", lambda d: d.update(summary=[])),
    ("no text tone", lambda d: d["summary"].update(tone=1)),
    ("no list pages", lambda d: d.pop("pages")),
    ("no list pages", lambda d: d.update(pages=["x"])),
    ("no list downloads", lambda d: d.update(downloads={})),
    ("no text markdown", lambda d: d["pages"][0].pop("markdown")),
    ("no slots", lambda d: d["pages"][0].update(slots=None)),
    ("no file", lambda d: d["pages"][0]["slots"].update(one="../x.html")),
    ("no text one", lambda d: d["pages"][0]["slots"].update(one=1)),
    ("no file", lambda d: d["downloads"][0].update(file="files/b.pdf")),
    ("no file of an edition", lambda d: d["downloads"][0].update(uri="v/a/files/a.js")),
    *(
        ("not its place", lambda d, uri=uri: d["pages"][1].update(uri=uri))
        for uri in ("v/b.md", "v/a/../b.md", "v/a//b.md", "v/a/./b.md", "v/a/b\\c.md", "v/ab/c.md", "v/a/")
    ),
    ("not its place", lambda d: d["downloads"][0].update(uri="v/a.pdf")),
]


@pytest.mark.parametrize(("said", "spoil"), WRONG)
def test_a_lesson_of_another_shape_or_place_is_refused(tmp_path: Path, said: str, spoil: Any) -> None:
    data = lesson_data(lesson(tmp_path), tmp_path)
    spoil(data)
    with pytest.raises(ValueError, match=said):
        lesson_kept(entry(tmp_path, data), "v/a.md")


def test_pages_of_a_piece_stand_below_the_page_that_asks(tmp_path: Path) -> None:
    for uri in ("p.md", "q/x.md"):
        made = Piece("text", {}, (LessonPage(uri, "X", "x"),))
        with pytest.raises(ValueError, match="not its place"):
            piece_kept(entry(tmp_path, piece_data(made, tmp_path)), "p.md")


def test_files_of_prints_are_kept_below_their_folder(tmp_path: Path) -> None:
    (tmp_path / "b.pdf").write_bytes(b"x")
    data = {"downloads": [{"uri": "b.pdf", "file": "b.pdf"}]}
    assert downloads_kept(data, entry(tmp_path, data), "") == (Download("b.pdf", tmp_path / "b.pdf"),)
    with pytest.raises(ValueError, match=r"^b\.pdf is not its place$"):
        downloads_kept(data, entry(tmp_path, data), "more/")


def test_values_are_what_they_are_said_to_be() -> None:
    data = {"t": "x", "n": 0, "l": ["a"], "e": []}
    assert (text(data, "t"), number(data, "n"), texts(data, "l"), texts(data, "e")) == ("x", 0, ("a",), ())
    for read, key in ((text, "n"), (number, "t"), (texts, "t"), (text, "x"), (number, "x"), (texts, "x")):
        with pytest.raises(ValueError, match=f"^no (text|number|texts) {key}$"):
            read(data, key)  # type: ignore[operator]


CHAPTER = Chapter(
    "one", "One", 2, 3, {"systems": [{"file": "0-1.svg"}], "x": {"file": "0a.svg"}}, {"0-1.svg": "<s>"}
)


def test_a_chapter_is_read_back_and_no_other_data(tmp_path: Path) -> None:
    from dataclasses import asdict

    path = tmp_path / "c.json"
    path.write_text(json.dumps(asdict(CHAPTER)), "utf-8")
    assert read_chapter(path) == CHAPTER
    spoiled: list[tuple[str, Any]] = [
        ("no chapter", []),
        ("no chapter", {**asdict(CHAPTER), "told": []}),
        ("no chapter", {**asdict(CHAPTER), "pictures": []}),
        ("no chapter", {**asdict(CHAPTER), "told": {"a": [{"file": "../x.svg"}]}}),
        ("no chapter", {**asdict(CHAPTER), "told": {"file": 3}}),
        ("no chapter", {**asdict(CHAPTER), "told": {"file": "1-1.svg"}}),
        ("pictures of another", {**asdict(CHAPTER), "pictures": {"1-1.svg": "<s>"}}),
        ("pictures of another", {**asdict(CHAPTER), "pictures": {"0-1.svg": 3}}),
        ("pictures of another", {**asdict(CHAPTER), "pictures": {"0-1.svg": "<s>", "0/1.svg": "<s>"}}),
        ("no text title", {**asdict(CHAPTER), "title": None}),
        ("no number tone", {**asdict(CHAPTER), "tone": "1"}),
        ("no text name", {**asdict(CHAPTER), "name": 1}),
        ("no number voices", {**asdict(CHAPTER), "voices": None}),
    ]
    for said, data in spoiled:
        path.write_text(json.dumps(data), "utf-8")
        with pytest.raises(ValueError, match=said):
            read_chapter(path)


def test_sheets_of_versets_with_one_name_are_numbered() -> None:
    made = [
        Sheets(n, {".pdf": Path(f"w{i}")}, {"plain": Path(f"{i}")}, {"plain.flac": Path(f"r{i}")}, {})
        for i, n in enumerate("aaba")
    ]
    assert sheets_of(made) == {
        **{f"sheets/{n}-plain.pdf": Path(f"{i}") for i, n in enumerate(("a", "a-2", "b", "a-3"))},
        **{f"sheets/{n}.pdf": Path(f"w{i}") for i, n in enumerate(("a", "a-2", "b", "a-3"))},
        **{f"audio/{n}-plain.flac": Path(f"r{i}") for i, n in enumerate(("a", "a-2", "b", "a-3"))},
    }
    assert sheets_of([]) == {}


def test_jobs_are_called_after_what_they_make() -> None:
    making, book = Making("v/a.md", Defaults()), Book("The book")
    path = Path("content/v/a.md")
    assert jobs.LessonJob("k", path, making).name == "content/v/a.md"
    assert jobs.LessonJob("k", path, making).bound is None
    assert jobs.SheetsJob("k", path, making, book).name == "content/v/a.md: sheets"
    assert jobs.PieceJob("k", "rules", Asked(Defaults(), "en", "r.md")).name == "r.md: rules"
    assert jobs.TablesJob("k").name == "rules"
    assert jobs.BookJob("k", "", book, (), ()).name == "The book"


def test_the_tables_of_the_rules_are_kept_as_data(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(jobs, "rule_tables", lambda: '{ "è": [1] }')
    job = jobs.TablesJob("k")
    assert job.read(entry(tmp_path, job.make(tmp_path, Levels(Store(tmp_path))))) == '{"è":[1]}'
    (tmp_path / "rules.json").write_text("alert(1)", "utf-8")
    with pytest.raises(ValueError):
        job.read(entry(tmp_path, {}))


# --- the crew, in this process


@dataclass(frozen=True)
class Writing:
    """A job that writes its name, or fails as it is told."""

    key: str
    name: str
    how: str = ""
    log: tuple[list[str], ...] = ()

    def make(self, work: Path, keeper: Keeper) -> dict[str, Any]:
        for log in self.log:
            log.append(self.name)
        if self.how == "fails":
            raise OSError(28, "No space left", "x.pdf")
        (work / "a.txt").write_text(self.name)
        return {"name": "other" if self.how == "lies" else self.name}

    def read(self, entry: Entry) -> str:
        if entry.value["name"] != self.name:
            raise ValueError("another's")
        return entry.file("a.txt").read_text()


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store(tmp_path / "store")
    made.open()
    return made


def test_levels_are_kept_by_their_music_and_what_is_of_no_use_gives_way(store: Store) -> None:
    levels = Levels(store)
    assert levels.get("a line") is None
    levels.keep("a line", {"levels": {}})
    levels.keep("a line", {"levels": {"1": {}}})
    assert levels.get("a line") == {"levels": {"1": {}}}
    assert levels.get("another line") is None


def key(n: int) -> str:
    return f"{n:032x}"


def test_jobs_are_done_once_and_what_fails_is_told_in_their_order(store: Store) -> None:
    log: list[str] = []
    told: list[tuple[int, int, str]] = []
    names = [("a", ""), ("b", "fails"), ("c", "lies"), ("d", "")]
    asked = [Writing(key(n), name, how, (log,)) for n, (name, how) in enumerate(names)]
    done = do_all([*asked, asked[0]], store, 1, lambda *each: told.append(each))
    assert dict(done.values) == {key(0): "a", key(3): "d"}
    assert done.made == {key(0), key(3)} and log == ["a", "b", "c", "d"]
    assert list(done.failures) == [key(1), key(2)]
    assert done.failures[key(1)] == Failure("b", "No space left (x.pdf)")
    assert done.failures[key(2)] == Failure("c", "what was made of it cannot be read back from the cache")
    assert told == [(1, 4, "a"), (2, 4, "b"), (3, 4, "c"), (4, 4, "d")]
    again = do_all([asked[0], asked[3]], store, 1)
    assert dict(again.values) == dict(done.values) and again.made == frozenset() and len(log) == 4


def test_what_is_whole_but_not_what_the_job_makes_is_made_anew(store: Store) -> None:
    log: list[str] = []
    do_all([Writing(key(0), "a", "", (log,))], store, 1)
    done = do_all([Writing(key(0), "b", "", (log,))], store, 1)
    assert dict(done.values) == {key(0): "b"} and log == ["a", "b"] and done.made == {key(0)}
    assert do_all([], store, 0).values == {}


def test_as_many_processes_as_are_asked_for_and_no_more_than_there_is_work(store: Store, monkeypatch) -> None:
    """0 stands for one for each processor; a single job stays in this process."""
    asked: list[int] = []

    class Pool:
        def submit(self, call: Any, folder: Path, job: Any) -> Any:
            from concurrent.futures import Future

            future: Future[Any] = Future()
            future.set_result(call(folder, job))
            return future

    from contextlib import contextmanager

    @contextmanager
    def pool(workers: int) -> Any:
        asked.append(workers)
        yield Pool()

    monkeypatch.setattr(crew, "_pool", pool)
    monkeypatch.setattr(crew.os, "cpu_count", lambda: 3)
    counts = [(1, 5), (5, 2), (2, 5), (5, 0), (2, 1)]
    for n, (count, processes) in enumerate(counts):
        done = do_all([Writing(key(10 * n + k), f"{n}.{k}") for k in range(count)], store, processes)
        assert sorted(done.values.values()) == [f"{n}.{k}" for k in range(count)]
    assert asked == [2, 2, 3]


def test_a_pool_that_breaks_leaves_each_job_a_process_of_its_own(store: Store, monkeypatch) -> None:
    from concurrent.futures.process import BrokenProcessPool
    from contextlib import contextmanager

    asked: list[int] = []

    @contextmanager
    def pool(workers: int) -> Any:
        asked.append(workers)

        class Pool:
            def submit(self, call: Any, folder: Path, job: Any) -> Any:
                from concurrent.futures import Future

                future: Future[Any] = Future()
                if workers > 1 or job.name == "b":
                    future.set_exception(BrokenProcessPool())
                else:
                    future.set_result(call(folder, job))
                return future

        yield Pool()

    monkeypatch.setattr(crew, "_pool", pool)
    done = do_all([Writing(key(n), name) for n, name in enumerate("abc")], store, 2)
    assert sorted(done.values.values()) == ["a", "c"] and asked == [2, 1, 1, 1]
    assert list(done.failures.values()) == [
        Failure("b", "its process was ended from outside, perhaps for want of memory")
    ]
