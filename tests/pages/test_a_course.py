"""A course as a whole: its sources found and read, its pages, files and prints, and what fails in it."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from builder.edition.book.book import Book, Chapter
from builder.music import Version
from builder.pages import course_folder, jobs
from builder.pages.course import Course, Options, build_course, course_versets, warm_course
from builder.pages.lesson import Download, Lesson, LessonPage
from builder.pages.pieces import PIECES, Piece
from builder.pages.store import Store
from builder.setting.setting import Defaults

FENCE = "`" * 3
VERSET = f"""---
title: %s
verset: {{metre: C, signature: none%s}}
---

{FENCE}given
cantus C1 | D5/2 A4/2 | D5/1
{FENCE}
"""
ORDER = """---
title: Evening
service:
  sung: {tone: 1, begins: A, ends: D, minutes: 0.4}
  order:
    - choir: First verse
    - {organ: one, for: Second verse, move: a tone lower}
---

Words.
"""


def written(folder: Path, **pages: str) -> Path:
    for name, text in pages.items():
        path = folder / name.replace("__", "/").replace("_md", ".md")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return folder


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store(tmp_path / "store")
    made.open()
    return made


def lesson(uri: str, work: Path, *, title: str = "T", tone: int = 1) -> Lesson:
    stem = uri.removesuffix(".md")
    file = work / "files" / f"{Path(stem).name}.pdf"
    file.parent.mkdir(exist_ok=True)
    file.write_bytes(b"pdf")
    pages = (
        LessonPage(uri, "Overview", "# over", {"practice": f"<i>{title}</i>"}),
        LessonPage(f"{stem}/whole.md", "The whole", "# whole", {"practice": "<b>whole</b>"}),
    )
    facts = {"tone": "first tone", "voices": "1", "cadence": "", "length": "2 bars"}
    download = Download(f"{stem}/files/{file.name}", file)
    return Lesson(uri, title, tone, pages, (download,), (f"{title}: wrong",), (f"{title}: odd",), facts)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[Any]]:
    """Lessons, sheets and books that take no time; what each was asked for is written down."""
    asked: dict[str, list[Any]] = {name: [] for name in ("lesson", "bind", "sheet", "single", "chapter")}

    class Set:
        """As much of a setting as sheets ask for."""

        def __init__(self, path: Path) -> None:
            self.verset = type("V", (), {"name": path.stem})
            self.scores = {Version.PLAIN: None}

        def report(self, language: str) -> str:
            return language

    def build(path: Path, making: Any, work: Path, keeper: Any) -> tuple[Lesson, Any]:
        asked["lesson"].append((path, making))
        if "broken" in path.name:
            raise OSError(28, "No space left", "here")
        title = path.read_text("utf-8").partition("title: ")[2].partition("\n")[0]
        return lesson(making.uri, work, title=title), Set(path)

    def chapter(setting: Any, front: Book, *, paper_name: str) -> Chapter:
        asked["chapter"].append((setting.verset.name, front, paper_name))
        return Chapter(setting.verset.name, "T", 1, 1, {"paper": paper_name}, {})

    def bind(chapters: Any, front: Book, *, services: Any, paper_name: str) -> bytes:
        asked["bind"].append(([c.name for c in chapters], front, [s.name for s in services], paper_name))
        return f"book {paper_name}".encode()

    def sheet(service: Any, *, imprint: Any) -> bytes:
        asked["sheet"].append((service, imprint))
        return b"service"

    def single(setting: Any, version: Version, *, imprint: Any) -> bytes:
        asked["single"].append((setting.verset.name, version, imprint))
        return f"sheet {version}".encode()

    def recordings(setting: Any, work: Path, wanted: Any, imprint: Any) -> list[Path]:
        made = [work / f"{setting.verset.name}-{v}{e}" for v, ends in wanted.items() for e in ends]
        for path in made:
            path.write_bytes(b"sound")
        return made

    monkeypatch.setattr(jobs, "build_lesson", build)
    monkeypatch.setattr(
        jobs, "read_setting", lambda path, making, keeper: (Set(path), {}, making_words(making))
    )
    monkeypatch.setattr(jobs, "chapter", chapter)
    monkeypatch.setattr(jobs, "bind", bind)
    monkeypatch.setattr(jobs, "service_sheet", sheet)
    monkeypatch.setattr(jobs, "single", single)
    monkeypatch.setattr(jobs, "pdf", lambda setting, *, imprint: b"whole")
    monkeypatch.setattr(jobs, "report_json", lambda report: f"report {report}")
    monkeypatch.setattr(jobs, "student_sheet", lambda setting, *, imprint: b"student")
    monkeypatch.setattr(jobs, "write_recordings", recordings)
    monkeypatch.setattr(jobs, "rule_tables", lambda: '{"a": [1, "è"]}')
    monkeypatch.setitem(jobs.PIECES, "rules", lambda asked: Piece("RULES", {"r": "<u>"}))
    page = LessonPage("tunings/x.md", "X", "# X", {"c": "<s>"})
    monkeypatch.setitem(jobs.PIECES, "tunings", lambda asked: Piece("TUNINGS", {}, (page,)))
    return asked


def making_words(making: Any) -> Any:
    from builder.language.texts import page_texts

    return page_texts(making.language)


def options(**changes: Any) -> Options:
    return replace(Options(processes=1, book=Book("The book", authors=("A",))), **changes)


INDEX = "# Start\n\n<!-- verset:index -->\n\n<!-- verset:book -->\n"


def full(folder: Path) -> Path:
    return written(
        folder,
        index_md=INDEX,
        rules_md="<!-- verset:rules -->\n",
        tunings_md="<!-- verset:tunings -->\n",
        v__one_md=VERSET % ("One", ""),
        v__two_md=VERSET % ("Two", ""),
        evening_md=ORDER,
        **{".hidden__three_md": VERSET % ("Three", "")},
    )


def test_a_course_has_its_lessons_pieces_services_and_prints(tmp_path: Path, store: Store, quick) -> None:
    told: list[tuple[int, int, str]] = []
    folder = full(tmp_path / "c")
    course = build_course(folder, options(), store, lambda *each: told.append(each))
    assert course.failures == () and course.refused == ()
    assert list(course.lessons) == ["v/one.md", "v/two.md"]
    assert set(course.pieces) == {("rules.md", "rules"), ("tunings.md", "tunings")}
    assert list(course.services) == ["evening.md"]
    assert [p.uri for p in course.pages] == [
        *("v/one.md", "v/one/whole.md", "v/two.md", "v/two/whole.md"),
        *("tunings/x.md", "evening.md"),
    ]
    assert {uri: (title, len(pages)) for uri, (title, pages) in course.sections.items()} == {
        "v/one.md": ("One", 2),
        "v/two.md": ("Two", 2),
        "tunings.md": ("", 1),
    }
    assert [d.uri for d in course.downloads] == [
        *("v/one/files/one.pdf", "v/two/files/two.pdf"),
        *("evening.pdf", "book-a4.pdf", "book-tablet.pdf"),
    ]
    assert course.downloads[-1].path.read_bytes() == b"book tablet"
    assert course.errors == ("One: wrong", "Two: wrong")
    assert course.warnings[:2] == ("One: odd", "Two: odd")
    assert course.listing == "index.md" and course.released == {}
    assert course.tables == '{"a":[1,"è"]}'
    assert course.made == len(course.keys) == 7
    assert [(n, of) for n, of, _ in told] == [(n, 5) for n in range(1, 6)] + [(1, 2), (2, 2)]
    assert [name for *_, name in told] == [
        *("rules", "rules.md: rules", "tunings.md: tunings"),
        *(str(folder / "v/one.md"), str(folder / "v/two.md"), "Evening", "The book"),
    ]
    for path, making in quick["lesson"]:
        assert making.uri == f"v/{path.name}" and making.rules_uri == "rules.md"
        assert (making.audio, making.pdf, making.language) == (True, True, "en")
        assert making.imprint.authors == ("A",) and making.defaults == Defaults()
    assert [each[1].title for each in quick["chapter"]] == [""] * 4
    assert [(each[0], each[2]) for each in quick["chapter"]] == [
        *(("one", "a4"), ("one", "tablet"), ("two", "a4"), ("two", "tablet"))
    ]
    assert [(names, front.title, services, paper) for names, front, services, paper in quick["bind"]] == [
        (["one", "two"], "The book", ["evening"], "a4"),
        (["one", "two"], "The book", ["evening"], "tablet"),
    ]
    ((service, imprint),) = quick["sheet"]
    assert service.title == "Evening" and imprint.authors == ("A",)
    assert [row.kind for row in service.rows] == ["choir", "organ"]


def test_what_is_kept_is_not_made_again_and_is_the_same(tmp_path: Path, store: Store, quick) -> None:
    folder = full(tmp_path / "c")
    first = build_course(folder, options(), store)
    again = build_course(folder, options(), store)
    assert (again.made, again.keys) == (0, first.keys)
    assert len(quick["lesson"]) == 2
    for one, two in zip(first.pages, again.pages, strict=True):
        assert (one.uri, one.title, one.markdown, dict(one.slots)) == (
            *(two.uri, two.title, two.markdown, dict(two.slots)),
        )
    assert {u: x.summary for u, x in first.lessons.items()} == {
        u: x.summary for u, x in again.lessons.items()
    }
    written(folder, v__two_md=VERSET % ("Two", "") + "More.\n")
    changed = build_course(folder, options(), store)
    assert changed.made == 2  # the lesson, and the book it is bound in
    other = build_course(folder, options(book=Book("Another", authors=("A",))), store)
    assert other.made == 4  # the imprint stands in every file
    rest = build_course(folder, options(book=Book("Another", authors=("A",)), language="it"), store)
    assert rest.made >= 4


def test_music_and_pieces_take_their_places_on_a_page(tmp_path: Path, store: Store, quick) -> None:
    course = build_course(full(tmp_path / "c"), options(), store)
    text = course.expand(INDEX + "\n<!-- verset:nothing -->\n", "index.md")
    assert "[One](v/one.md)" in text and "- [The book, A4](book-a4.pdf)" in text
    assert "<!-- verset:nothing -->" in text and "verset:index" not in text
    assert course.expand("<!-- verset:rules -->", "rules.md") == "RULES"
    assert course.expand("<!-- verset:rules -->", "other.md") == "<!-- verset:rules -->"
    assert course.expand("x <!-- verset:rules -->", "rules.md") == "x <!-- verset:rules -->"
    mark = '<div data-verset-slot="practice"></div>'
    assert course.fill(f"<p>{mark}</p>", "v/one.md", "../") == "<p><i>One</i></p>"
    assert course.fill(mark, "v/two/whole.md", "../../") == "<b>whole</b>"
    assert course.fill(mark, "nowhere.md", "") == ""
    assert course.fill('<div data-verset-slot="r"></div>', "rules.md", "") == "<u>"


def test_the_page_of_a_service_has_its_plan_its_sheet_and_links(tmp_path: Path, store: Store, quick) -> None:
    course = build_course(full(tmp_path / "c"), options(), store)
    (page,) = course.service_pages
    assert (page.uri, page.title) == ("evening.md", "Evening")
    assert page.markdown.startswith("---\ntitle: Evening\n---\n\n# Evening\n\n")
    assert "(v/one.md)" in page.markdown and "(v/two.md)" not in page.markdown
    assert page.markdown.endswith("\n\n[The plan as a sheet](evening.pdf)\n")
    without = build_course(full(tmp_path / "c"), options(pdf=False), store)
    assert ".pdf" not in without.service_pages[0].markdown and without.prints == ()


def test_pages_stand_in_the_order_of_study(tmp_path: Path, store: Store, quick) -> None:
    course = build_course(full(tmp_path / "c"), options(order=("index.md", "v/two.md", "v/one.md")), store)
    assert list(course.lessons) == ["v/two.md", "v/one.md"]
    assert quick["bind"][0][0] == ["two", "one"]
    part = build_course(full(tmp_path / "c"), options(order=("v/two.md", "v/two.md", "else.md")), store)
    assert list(part.lessons) == ["v/two.md", "v/one.md"]


def test_what_fails_has_a_page_that_says_so_and_stops_nothing_else(
    tmp_path: Path, store: Store, quick
) -> None:
    folder = full(tmp_path / "c")
    written(folder, v__broken_md=VERSET % ("Bad", ""), wrong_md="---\ntitle: [\n---\n")
    course = build_course(folder, options(release=True), store)
    assert list(course.lessons) == ["v/one.md", "v/two.md"]
    assert [f.name for f in course.failures] == [str(folder / "wrong.md"), str(folder / "v/broken.md")]
    assert {p.uri for p in course.refused} == {"v/broken.md", "wrong.md"}
    (page,) = (p for p in course.refused if p.uri == "v/broken.md")
    lead, slot = page.markdown.split("\n\n")[1:3]
    assert page.markdown.startswith(f"# {page.title}\n\n") and lead
    assert slot == '<div data-verset-slot="refused"></div>\n'
    assert page.slots["refused"] == (
        f'<pre class="verset-refused" role="alert">{folder}/v/broken.md: No space left (here)</pre>'
    )
    assert course.prints == () and course.released == {}  # nothing is printed that is not whole
    assert page in course.pages
    draft = build_course(folder, options(draft=True), store)
    assert [d.uri for d in draft.prints] == ["evening.pdf"]  # a draft binds no book
    assert "<!--" not in draft.expand("<!-- verset:book -->", "index.md")
    assert "book-a4" not in draft.expand("<!-- verset:book -->", "index.md")


def test_a_service_plays_versets_in_a_tuning_of_the_course_s_own(tmp_path: Path, store: Store, quick) -> None:
    cents = "0 90 204 294 408 498 612 702 792 906 996 1110"
    folder = full(tmp_path / "c")
    written(folder, v__one_md=VERSET % ("One", ", tuning: ours"))
    own = Defaults(tuning="ours", tunings=(("ours", cents),))
    course = build_course(folder, options(defaults=own), store)
    assert course.failures == () and list(course.services) == ["evening.md"]
    assert [job.defaults for _, job in quick["lesson"]] == [own, own]


def test_a_service_that_cannot_be_planned_is_told(tmp_path: Path, store: Store, quick) -> None:
    folder = full(tmp_path / "c")
    written(folder, evening_md=ORDER.replace("organ: one", "organ: three"))
    course = build_course(folder, options(), store)
    (failure,) = course.failures
    assert failure.name == str(folder / "evening.md") and "three" in failure.told()
    assert [p.uri for p in course.refused] == ["evening.md"] and dict(course.services) == {}


def test_a_release_has_the_sheets_the_recordings_and_the_book(tmp_path: Path, store: Store, quick) -> None:
    folder = full(tmp_path / "c")
    written(folder, w__one_md=VERSET % ("Other one", ""), index_md="# Start\n")
    course = build_course(folder, options(release=True), store)
    kinds = ("student", "given", "plain", "diminished")
    assert set(course.released) == {
        *(f"sheets/{name}-{kind}.pdf" for name in ("one", "two", "one-2") for kind in kinds),
        *(f"sheets/{name}{end}" for name in ("one", "two", "one-2") for end in (".pdf", "-report.json")),
        *(f"audio/{name}-plain.flac" for name in ("one", "two", "one-2")),
        *("book/book-a4.pdf", "book/book-tablet.pdf", "sheets/service-evening.pdf"),
    }
    assert course.released["sheets/two-plain.pdf"].read_bytes() == b"sheet plain"
    assert course.released["sheets/two.pdf"].read_bytes() == b"whole"
    assert course.released["sheets/two-report.json"].read_bytes() == b"report en"
    assert course.released["book/book-a4.pdf"].read_bytes() == b"book a4"
    assert course.released["sheets/service-evening.pdf"].read_bytes() == b"service"
    assert [d.uri for d in course.prints] == ["evening.pdf"]  # no page asks for the book
    assert {(name, version) for name, version, _ in quick["single"]} == {
        (name, version) for name in ("one", "two") for version in ("given", "plain", "diminished")
    }
    assert all(imprint.authors == ("A",) for *_, imprint in quick["single"])
    silent = build_course(folder, options(release=True, audio=False), store)
    assert not [path for path in silent.released if path.startswith("audio/")]


def test_a_share_of_a_course_is_made_apart(tmp_path: Path, store: Store, quick) -> None:
    folder = full(tmp_path / "c")
    written(folder, v__broken_md=VERSET % ("Bad", ""))  # the versets: broken, one, two
    told: list[Any] = []
    assert warm_course(folder, options(), store, (2, 2), lambda *each: told.append(each)) == (1, ())
    assert [path.name for path, _ in quick["lesson"]] == ["one.md"]
    assert told == [(1, 1, str(folder / "v/one.md"))]
    count, (failure,) = warm_course(folder, options(), store, (1, 2))
    assert count == 2 and failure.name.endswith("broken.md")
    assert [path.name for path, _ in quick["lesson"]] == ["one.md", "broken.md", "two.md"]


def test_the_versets_of_a_course_are_read_with_its_choices(tmp_path: Path) -> None:
    folder = written(
        tmp_path / "c",
        one_md=VERSET % ("One", ""),
        two_md=VERSET % ("Two", ", tuning: pythagorean, move: a tone lower"),
        bad_md=VERSET % ("Bad", ", metre: 9"),
    )
    chosen = options(defaults=Defaults(tuning="sixth-comma", pitch=415.0), cache=tmp_path / "none")
    versets, (failure,) = course_versets(folder, chosen)
    assert list(versets) == ["one", "two"] and failure.name == str(folder / "bad.md")
    assert versets["one"].settings.tuning == "sixth-comma" and versets["one"].settings.pitch == 415.0
    assert versets["two"].settings.tuning == "pythagorean"
    assert str(versets["two"].given[0].note.pitch) == "C5"
    assert not (tmp_path / "none").exists()


def test_scores_of_one_part_are_sources_too(tmp_path: Path, store: Store, quick, monkeypatch) -> None:
    """A file of music is a lesson unless a page of its name says otherwise, it lies in a hidden folder, or it
    holds several parts; one that cannot be read is told."""
    folder = full(tmp_path / "c")
    for name in ("v/three.mei", "v/ONE2.MusicXML", "v/four.mei", "v/two.mei", ".git/x.mei", "bad.mxl"):
        written(folder, **{name.replace("/", "__"): "title: Encoded\n"})
    (folder / "folder.mei").mkdir()

    def parts(path: Path) -> int:
        if path.name == "bad.mxl":
            raise OSError(5, "unreadable")
        return 4 if path.stem == "four" else 1

    monkeypatch.setattr(course_folder, "parts_of", parts)
    course = build_course(folder, options(pdf=False), store)
    assert list(course.lessons) == ["v/one.md", "v/two.md", "v/ONE2.md", "v/three.md"]
    assert [p.name for p, _ in quick["lesson"]] == ["one.md", "two.md", "ONE2.MusicXML", "three.mei"]
    assert [f.told() for f in course.failures] == [f"{folder}/bad.mxl: unreadable"]
    before = course.keys
    (folder / "v" / "three.mei").write_text("title: Changed\n")
    assert build_course(folder, options(pdf=False), store).keys != before


def test_what_cannot_be_read_is_a_failure_of_its_page(
    tmp_path: Path, store: Store, quick, monkeypatch
) -> None:
    folder = full(tmp_path / "c")
    (folder / "gone.md").symlink_to(tmp_path / "nowhere")
    (folder / "latin.md").write_bytes(b"# caf\xe9\n")
    (folder / "dir.md").mkdir()
    course = build_course(folder, options(pdf=False), store)
    assert [p.uri for p in course.refused] == ["gone.md"]
    assert "No such file" in course.refused[0].slots["refused"]


def test_an_empty_course_is_empty() -> None:
    course = Course(Options())
    assert course.pages == () and course.downloads == () and dict(course.sections) == {}
    assert course.errors == () and course.failures == () and course.listing == "" and course.tables == ""
    default = Options()
    assert (default.language, default.audio, default.pdf, default.processes) == ("en", True, True, 0)
    assert default.cache == Path(".cache/verset-store") and default.cache_size == 4 * 1024**3
    assert (default.order, default.draft, default.release) == ((), False, False)


def test_pieces_are_made_once_for_the_page_that_asks(tmp_path: Path, store: Store, quick) -> None:
    seen: list[Any] = []

    def make(asked: Any) -> Piece:
        seen.append(asked)
        return Piece("R")

    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(PIECES, "rules", make)
        folder = written(tmp_path / "c", a_md="<!-- verset:rules -->\n", b_md="<!-- verset:rules -->\n")
        course = build_course(folder, options(language="de"), store)
    assert [(a.uri, a.language, a.defaults) for a in seen] == [("a.md", "de", Defaults())]
    assert course.expand("<!-- verset:rules -->", "a.md") == "R" and course.listing == ""
    assert json.loads(course.tables) == {"a": [1, "è"]}


def test_a_released_book_is_bound_again_when_a_service_changes(tmp_path: Path, store: Store, quick) -> None:
    folder = full(tmp_path / "c")
    written(folder, index_md="# Start\n")
    build_course(folder, options(release=True), store)
    bound = len(quick["bind"])
    assert build_course(folder, options(release=True), store).made == 0 and len(quick["bind"]) == bound
    written(folder, evening_md=ORDER.replace("Evening", "Morning"))
    build_course(folder, options(release=True), store)
    assert len(quick["bind"]) == 2 * bound
