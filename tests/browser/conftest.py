"""A browser with the network cut, and pages opened in it from the disk."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, sync_playwright

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

import browsers  # noqa: E402
import sample  # noqa: E402
from script_parts import Ask  # noqa: E402

from builder.pages import assets  # noqa: E402
from builder.pages.locks import Lock  # noqa: E402

EAR = (Path(__file__).parent / "ear.js").read_text("utf-8")
"""Listens to what the page really sends to the loudspeaker and when it marks notes."""


AGAIN = 2
"""How often a browser's test is run again before it counts as failed; pytest tells how many were."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A browser sounds and draws by clocks that a busy machine holds up: its tests may be run again. What is
    wrong in a page is wrong each time."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.flaky(reruns=AGAIN))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = browsers.chromium()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(browsers.ARGUMENTS))
        yield browser
        browser.close()


STARTING = {"theme", "start", "borrowed", "answers"}
"""The files that start the script, and what needs it started."""


@pytest.fixture(scope="module")
def ask(chromium: Browser) -> Iterator[Ask]:
    """Evaluates an expression in which every name of the script is known, and `given` is what is passed: its
    files joined without those that start it, in one empty page."""
    page = chromium.new_page()
    page.context.set_offline(True)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    names = [n for n in (*assets.SCRIPT_ORDER, *assets.OWN_ORDER) if n not in STARTING]
    pieces = [(assets.source_folder() / f"script/{name}.js").read_text("utf-8") for name in names]
    # Once as a classic script, so that every expression afterwards sees the names.
    tables = f"window.versetVerdicts={assets.rule_tables()};"
    page.add_script_tag(content="\n".join([assets.glyphs(), tables, *pieces]))

    def evaluate(expression: str, given: Any = None) -> Any:
        return page.evaluate(f"(given) => ({expression})", given)

    yield evaluate
    page.close()
    assert faults == []


@pytest.fixture(scope="session")
def sample_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("sample")


@pytest.fixture(scope="session")
def sample_page(sample_folder: Path) -> Callable[..., Path]:
    """Writes a sample page once for each wish."""
    written: dict[tuple[Any, ...], Path] = {}

    def write(language: str = "en", scheme: str = "default") -> Path:
        wish = (language, scheme)
        if wish not in written:
            written[wish] = sample.write_page(sample_folder, language=language, scheme=scheme)
        return written[wish]

    return write


ROOT = Path(__file__).parent.parent.parent
CONFIG = """site_name: Course
docs_dir: content
use_directory_urls: false
theme:
  name: material
  font: false
  palette:
    - media: "(prefers-color-scheme: light)"
      scheme: default
      primary: custom
      accent: custom
    - media: "(prefers-color-scheme: dark)"
      scheme: slate
      primary: custom
      accent: custom
plugins:
  - search
  - offline
  - verset:
      audio: false
      pdf: false
markdown_extensions: [admonition, attr_list, md_in_html, tables]
"""
SERVICE = """---
title: An evening canticle
service:
  sung: {tone: 4, begins: A, ends: E, minutes: 0.3}
  order:
    - {organ: fourth, for: In place of the first verse}
    - choir: Second verse
---

Choir and organ take the verses in turn.
"""


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of a small course: built by the process that asks first, and copied for each."""
    base = tmp_path_factory.getbasetemp()
    shared = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "browser-course"
    lock = Lock(Path(f"{shared}.lock"))
    lock.take()
    try:
        if not shared.exists():
            _build(tmp_path_factory.mktemp("course")).rename(shared)
    finally:
        lock.drop()
    return Path(shutil.copytree(shared / "site", tmp_path_factory.mktemp("copy") / "site"))


def _build(folder: Path) -> Path:
    """Build the course in a folder."""
    (folder / "content/versets").mkdir(parents=True)
    for name in ("first", "fourth", "sixth"):
        shutil.copy(ROOT / f"content/versets/{name}.md", folder / f"content/versets/{name}.md")
    for name in ("rules", "rules-rates", "diminutions", "tunings", "format", "report"):
        shutil.copy(ROOT / f"content/{name}.md", folder / f"content/{name}.md")
    text = (ROOT / "content/versets/fourth.md").read_text("utf-8")
    for language in ("de", "it"):
        own = re.sub(r"(?m)^title: (.*)$", rf"title: \1 ({language})\nlanguage: {language}", text, count=1)
        (folder / f"content/versets/{language}.md").write_text(own, "utf-8")
    (folder / "content/index.md").write_text("# Course\n\nSee [the verset](versets/fourth.md).\n", "utf-8")
    (folder / "content/evening.md").write_text(SERVICE, "utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, "utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


class Visit:
    """Opens pages and remembers what must not happen: errors, and requests to the outside."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.contexts: list[BrowserContext] = []
        self.faults: list[str] = []

    def __call__(self, path: Path, width: int = 1280, height: int = 900, **options: Any) -> Page:
        context = self.browser.new_context(viewport={"width": width, "height": height}, **options)
        context.set_default_timeout(30_000)
        context.set_default_navigation_timeout(60_000)  # other tests build whole courses meanwhile
        context.add_init_script(EAR)
        context.route("**/*", self._only_files)
        context.set_offline(True)
        page = context.new_page()
        page.on("console", lambda m: self.faults.append(f"console: {m.text}") if m.type == "error" else None)
        page.on("pageerror", lambda error: self.faults.append(f"error: {error}"))
        page.goto(path.as_uri())
        self.contexts.append(context)
        return page

    def _only_files(self, route: Route) -> None:
        if route.request.url.startswith(("file:", "data:", "blob:")):
            route.continue_()
        else:
            self.faults.append(f"outside: {route.request.url}")
            route.abort()


@pytest.fixture
def visit(chromium: Browser) -> Iterator[Visit]:
    """Open a page from the disk; at the end nothing may have gone wrong in it."""
    made = Visit(chromium)
    yield made
    for context in made.contexts:
        context.close()
    assert made.faults == []
