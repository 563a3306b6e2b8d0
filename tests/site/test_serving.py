"""While a teacher writes: a mistake stands where the lesson would be, and the next save mends it."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
import urllib.request

import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config

from builder.plugin.asked_files import with_files


def served(course):
    """One round of `mkdocs serve`, which builds into a folder of its own."""
    site = course.root / "served"
    config = load_config(str(course.root / "mkdocs.yml"), site_dir=str(site))
    config.plugins.on_startup(command="serve", dirty=False)
    build(config, serve_url="http://127.0.0.1:8000/")
    return site


def test_a_mistake_stands_where_the_lesson_would_be_and_the_next_save_mends_it(course, caplog) -> None:
    path = course.root / "content/versets/duo.md"
    good = path.read_text("utf-8")
    course.write("versets/other.md", good.replace("A duo", "Another"))
    path.write_text(good.replace("A4/4.", "<b>H4/4.").replace("Two voices.", "Two & three."), "utf-8")
    site = served(course)
    page = (site / "versets/duo.html").read_text("utf-8")
    assert 'class="verset-refused"' in page and "This page could not be made" in page
    assert "duo.md:12" in page and "&lt;b&gt;H4" in page and "<b>H4" not in page
    assert "duo.md:12" in caplog.text and "Traceback" not in caplog.text
    assert (site / "versets/other/tenor.html").is_file()
    path.write_text(good, "utf-8")
    served(course)
    assert "verset-refused" not in (site / "versets/duo.html").read_text("utf-8")
    assert (site / "versets/duo/tenor.html").is_file()


def test_the_page_speaks_the_language_of_the_course(course) -> None:
    config = course.root / "mkdocs.yml"
    config.write_text(config.read_text().replace("audio: false", "audio: false, language: de"))
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text("utf-8").replace("A4/4.", "H4/4."), "utf-8")
    assert "Diese Seite konnte nicht entstehen" in (served(course) / "versets/duo.html").read_text("utf-8")


def test_a_mistake_in_the_order_of_a_service_stands_on_its_page(course) -> None:
    course.write("evening.md", "---\ntitle: Evening\nservice: {order: [{organ: nobody}]}\n---\nText.\n")
    page = (served(course) / "evening.html").read_text("utf-8")
    assert "verset-refused" in page and "nobody" in page


def test_what_nobody_foresaw_stands_there_too(course, monkeypatch, caplog) -> None:
    from builder.pages import jobs

    def build_lesson(path, making, work, keeper):
        raise ZeroDivisionError("deep inside")

    monkeypatch.setattr(jobs, "build_lesson", build_lesson)
    page = (served(course) / "versets/duo.html").read_text("utf-8")
    assert "ZeroDivisionError" in page and "verset-builder.log" in caplog.text


def test_files_are_made_when_one_is_asked_for_and_stay(course) -> None:
    """A save makes pages alone; what is asked for is what a build makes, and the next rounds have it."""
    config = course.root / "mkdocs.yml"
    config.write_text(config.read_text().replace("pdf: false", "pdf: true"))
    site = served(course)
    page = (site / "versets/duo.html").read_text("utf-8")
    assert "duo/files/duo.pdf" in page and "duo/files/duo-plain.mid" in page
    assert (site / "versets/duo/files/duo.pdf").read_bytes() == b""
    files = load_config(str(course.root / "mkdocs.yml")).plugins["verset"].files
    sent = []

    def app(environ, start):
        sent.append(environ["PATH_INFO"])
        return [b"sent"]

    answer = with_files(app, files, "/here/")
    for path in ("/here/versets/duo/files/none.pdf", "/versets/duo/files/duo.pdf", "/here/"):
        assert answer({"PATH_INFO": path}, None) == [b"sent"]
    assert (site / "versets/duo/files/duo-plain.mid").read_bytes() == b""
    assert answer({"PATH_INFO": "/here/versets/duo/files/duo.pdf"}, None) == [b"sent"]
    made = {p.name: p.read_bytes() for p in (site / "versets/duo/files").iterdir()}
    assert made["duo.pdf"].startswith(b"%PDF") and made["duo-plain.mid"].startswith(b"MThd")
    assert answer({"PATH_INFO": "/here/versets/duo/files/duo-plain.mid"}, None) == [b"sent"]
    assert len(sent) == 5
    again = served(course)
    assert {p.name: p.read_bytes() for p in (again / "versets/duo/files").iterdir()} == made
    course.build()
    built = {p.name: p.read_bytes() for p in (course.site / "versets/duo/files").iterdir()}
    assert built == made


def test_what_keeps_files_from_being_made_is_said_to_who_asked(course, caplog) -> None:
    served(course)
    files = load_config(str(course.root / "mkdocs.yml")).plugins["verset"].files
    course.write("versets/duo.md", "---\ntitle: A duo\nverset: {metre: C}\n---\nNo line.\n")
    answered = []
    answer = with_files(lambda *_: [b"sent"], files, "/")
    (body,) = answer(
        {"PATH_INFO": "/versets/duo/files/duo-plain.mei"}, lambda status, headers: answered.append(status)
    )
    assert answered == ["503 Service Unavailable"] and b"duo.md" in body and "duo.md" in caplog.text


def test_a_strict_build_still_refuses_what_is_shown_while_serving(course, caplog) -> None:
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text("utf-8").replace("A4/4.", "H4/4."), "utf-8")
    served(course)
    with pytest.raises(Exception, match="Aborted"):
        course.build()
    assert not course.site.exists()


@pytest.fixture
def rendered(monkeypatch) -> list[str]:
    """The pages that the site generator has made into HTML, one after another."""
    from mkdocs.structure.pages import Page

    done: list[str] = []
    usual = Page.render

    def render(page, config, files):
        done.append(page.file.src_uri)
        usual(page, config, files)

    monkeypatch.setattr(Page, "render", render)
    return done


@pytest.fixture
def compiled(monkeypatch) -> set[str]:
    """The templates that are compiled."""
    from jinja2 import Environment

    names: set[str] = set()
    usual = Environment._generate

    def generate(self, source, name, filename, defer_init=False):
        names.add(name)
        return usual(self, source, name, filename, defer_init)

    monkeypatch.setattr(Environment, "_generate", generate)
    return names


def test_a_save_makes_the_page_anew_that_was_written_and_leaves_the_others_as_they_were(
    course, rendered, compiled, contents
) -> None:
    course.write("words.md", "# Words\n\nSee [the start](index.md#start).\n")
    course.write("broken.md", "# Broken\n\nSee [nothing](nowhere.md).\n")
    served(course)
    assert {"words.md", "index.md", "broken.md", "versets/duo.md", "versets/duo/whole.md"} <= {*rendered}
    rendered.clear()
    course.write("words.md", "# Words\n\nSee [the start](index.md#start) again.\n")
    compiled.clear()
    after = contents(served(course))
    assert not compiled & {"main.html", "base.html", "partials/nav.html"}
    assert sorted(rendered) == ["broken.md", "words.md"]  # what is wrong is told at each save
    assert b"again" in after["words.html"]
    path = course.root / "mkdocs.yml"  # with another extension than Markdown's own nothing is remembered
    text = path.read_text()
    path.write_text(text.replace("[tables]", "[tables, pymdownx.snippets]"))
    rendered.clear()
    whole = contents(served(course))
    assert len(rendered) > 6 and whole.keys() == after.keys()
    for name in (name for name in whole if name.endswith(".html")):  # up to what each server says anew
        assert whole[name].partition(b"verset-source")[0] == after[name].partition(b"verset-source")[0], name
    path.write_text(text)
    served(course)
    rendered.clear()
    course.write("new.md", "# New\n")  # a link elsewhere may lead there
    served(course)
    assert len(rendered) > 6


def get(address: str) -> str:
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            return answer.read().decode()
    except OSError:
        return ""


def awaited(address: str, sign: str, seconds: float = 120) -> str:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if re.search(sign, page := get(address)):
            return page
        time.sleep(0.2)
    raise AssertionError(f"{sign} never came: {page[-500:]}")


def test_the_server_answers_through_a_mistake_and_its_mending(course) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    path = course.root / "content/versets/duo.md"
    good = path.read_text("utf-8")
    path.write_text(good.replace("A4/4.", "H4/4."), "utf-8")
    command = [sys.executable, "-m", "mkdocs", "serve", "-a", f"127.0.0.1:{port}"]
    server = subprocess.Popen(
        command, cwd=course.root, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    try:
        address = f"http://127.0.0.1:{port}/versets/duo.html"
        awaited(address, "verset-refused")
        path.write_text(good, "utf-8")
        awaited(address, "<h1[^>]*>A duo")
        path.write_text(good.replace("C4/1", "X4/1").replace("C5/4", "Q5/4"), "utf-8")
        assert "Q5" in awaited(address, "verset-refused")
    finally:
        server.terminate()
        told = server.communicate(timeout=20)[1]
    assert "H4" in told and "Q5" in told and "Traceback" not in told
