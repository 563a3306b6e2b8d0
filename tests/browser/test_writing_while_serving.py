"""While a course is served on one's own machine, its pages write choices into the sources; others may not."""

from __future__ import annotations

import hashlib
import http.client
import json
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route
from waiting import until

ROOT = Path(__file__).parent.parent.parent
OWN = "document.querySelector('.verset-player')?.verset?.own"
STEP = "/versets/sixth/tenor.html"
SOURCE = "versets/sixth.md"
CONFIG = """site_name: Served
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false}
plugins: [search, offline, {verset: {audio: false, pdf: false, processes: 1}}]
markdown_extensions: [md_in_html, tables]
"""


class Served:
    """A course of one verset under `mkdocs serve`."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "content" / SOURCE
        self.path.parent.mkdir(parents=True)
        text = (ROOT / "content" / SOURCE).read_text("utf-8")
        self.original = text.replace("```given\n", "```given\n% a remark\n", 1)
        self.path.write_text(self.original, "utf-8")
        (folder / "content/index.md").write_text("# Start\n")
        (folder / "mkdocs.yml").write_text(CONFIG)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        command = [sys.executable, "-m", "mkdocs", "serve", "-q", "-a", f"127.0.0.1:{self.port}"]
        self.process = subprocess.Popen(command, cwd=folder, stderr=subprocess.DEVNULL)
        self.home = f"http://127.0.0.1:{self.port}"

    def ask(self, method: str = "GET", path: str = STEP, body: Any = None, **headers: str) -> tuple[int, str]:
        call = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            call.request(method, path, body, {k.replace("_", "-"): v for k, v in headers.items()})
            answer = call.getresponse()
            return answer.status, answer.read().decode()
        finally:
            call.close()

    def place(self) -> dict[str, str]:
        """What the step's page is told."""
        found = re.search(r'class="verset-source">(.*?)</script>', self.ask()[1])
        assert found
        return json.loads(found[1])

    def wait(self, test: Any, seconds: float = 120) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if test():
                    return
            except (OSError, AssertionError, http.client.HTTPException):
                pass
            time.sleep(0.2)
        raise AssertionError("the server did not come so far")

    def asking(self, **more: Any) -> tuple[str, dict[str, str]]:
        """A request as a page makes it: body and headers."""
        place = self.place()
        body = {**place, "version": "plain", "lines": ["cantus 1 | _"], **more}
        headers = {
            "Content_Type": "application/json",
            "Origin": self.home,
            "Sec_Fetch_Site": "same-origin",
            "X_Verset_Token": place["token"],
        }
        return json.dumps(body), headers


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = Served(tmp_path_factory.mktemp("served"))
    try:
        made.wait(lambda: made.ask()[0] == 200)
        yield made
    finally:
        made.process.terminate()
        made.process.wait(20)


HOSTILE = {
    "another page's origin": {"Origin": "http://elsewhere.example"},
    "no origin": {"Origin": ""},
    "an opaque origin": {"Origin": "null"},
    "a page of another port": {"Origin": "http://127.0.0.1:1"},
    "the browser says cross-site": {"Sec_Fetch_Site": "cross-site"},
    "the browser says same-site": {"Sec_Fetch_Site": "same-site"},
    "no token": {"X_Verset_Token": ""},
    "a token that was guessed": {"X_Verset_Token": "x" * 32},
    "another name for this machine": {"Host": "rebound.example", "Origin": "http://rebound.example"},
    "a form": {"Content_Type": "application/x-www-form-urlencoded"},
    "plain text": {"Content_Type": "text/plain"},
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_requests_from_elsewhere_write_nothing(served: Served, kind: str) -> None:
    body, headers = served.asking(lines=["cantus 9 | _/2 D5/2"])
    status, said = served.ask("POST", "/verset-pins", body, **{**headers, **HOSTILE[kind]})
    assert status in (403, 415), (status, said)
    assert served.path.read_text("utf-8") == served.original


@pytest.mark.parametrize(
    ("method", "body", "status"),
    [
        ("GET", None, 405),
        ("PUT", "{}", 405),
        ("OPTIONS", None, 405),
        ("POST", "{", 400),
        ("POST", "[]", 400),
        ("POST", "[" * 20_000, 400),
        ("POST", "x" * 64_001, 413),
    ],
)
def test_what_is_no_request_writes_nothing(
    served: Served, method: str, body: str | None, status: int
) -> None:
    assert served.ask(method, "/verset-pins", body, **served.asking()[1])[0] == status
    assert served.path.read_text("utf-8") == served.original


@pytest.mark.parametrize(
    "name", ["../mkdocs.yml", "index.md", "/etc/hostname", "versets/../versets/sixth.md"]
)
def test_no_other_file_is_written(served: Served, name: str) -> None:
    body, headers = served.asking(source=name)
    assert served.ask("POST", "/verset-pins", body, **headers)[0] == 409
    assert served.path.read_text("utf-8") == served.original


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(30_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(served.home + STEP)
    until(page, f"{OWN} !== undefined")
    yield page
    context.close()
    assert faults == []


def keep_first(page: Page) -> str:
    """Choose the first pattern that breaks no rule, and give the line that it becomes."""
    page.get_by_text("Break a plain note").click()
    page.locator(".verset-pattern").filter(has_text="breaks no rule").first.get_by_role(
        "button", name="Keep it"
    ).click()
    page.get_by_text("For the source", exact=True).click()
    return page.locator(".verset-written").inner_text().split("\n")[1]


def test_a_choice_is_written_shown_on_the_new_page_and_taken_back(page: Page, served: Served) -> None:
    line = keep_first(page)
    write = page.locator(".verset-grace").get_by_role("button", name="Write it into the source")
    write.click()
    page.wait_for_selector(".verset-written-last")  # the server sends the page anew
    block = f"\n```diminished\n{line}\n```\n"
    text = served.path.read_text("utf-8")
    assert text.count(block) == 1 and text.replace(block, "", 1).split() == served.original.split()
    assert "% a remark" in text
    assert page.locator(".verset-written-last pre").inner_text() == line
    page.get_by_role("button", name="Take it back").click()
    served.wait(lambda: served.path.read_text("utf-8") == served.original)
    page.wait_for_function("!document.querySelector('.verset-written-last')")


def test_the_other_way_of_a_step_is_written_too(page: Page, served: Served) -> None:
    page.get_by_text("Show our setting in a table").click()
    fold = page.locator(".verset-keep")
    fold.locator("summary").click()
    block = fold.locator("pre").inner_text()
    fold.get_by_role("button", name="Write it into the source").click()
    served.wait(lambda: block in served.path.read_text("utf-8"))
    page.wait_for_selector(".verset-written-last")
    page.get_by_role("button", name="Take it back").click()
    served.wait(lambda: served.path.read_text("utf-8") == served.original)
    page.wait_for_function("!document.querySelector('.verset-written-last')")


def test_an_edit_since_the_page_was_made_is_told_and_nothing_is_lost(page: Page, served: Served) -> None:
    keep_first(page)
    page.route("**/livereload/**", lambda route: route.abort())
    edited = served.original + "\nAn afterthought.\n"
    served.path.write_text(edited, "utf-8")
    page.locator(".verset-grace").get_by_role("button", name="Write it into the source").click()
    said = page.locator(".verset-grace .verset-said")
    until(page, "document.querySelector('.verset-grace .verset-said').textContent.includes('has changed')")
    assert "choose again" in said.inner_text()
    assert served.path.read_text("utf-8") == edited
    for text in (edited, served.original):
        served.path.write_text(text, "utf-8")
        served.wait(lambda: served.place()["sum"] == hashlib.sha256(served.path.read_bytes()).hexdigest())


def test_a_server_of_another_kind_has_no_buttons(
    chromium: Browser, served: Served, site: Path, tmp_path: Path
) -> None:
    """The built site says nothing of sources; a served page that is copied finds no one to ask."""
    assert not any("verset-source" in p.read_text("utf-8") for p in site.rglob("*.html"))
    text = served.ask()[1]
    (tmp_path / "copy.html").write_text(text, "utf-8")
    context = chromium.new_context()
    page = context.new_page()
    asked: list[str] = []

    def nobody(route: Route) -> None:
        asked.append(route.request.method)
        route.fulfill(status=404)

    page.route("**/verset-pins", nobody)
    page.goto(served.home + STEP)
    until(page, f"{OWN} !== undefined")
    page.wait_for_timeout(500)
    assert asked == ["POST"]
    assert page.get_by_role("button", name="Write it into the source").count() == 0
    page.goto((tmp_path / "copy.html").as_uri())
    assert page.get_by_role("button", name="Write it into the source").count() == 0
    context.close()
