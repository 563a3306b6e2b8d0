"""A whole course whose every text tries to run a script: nothing runs, every text stands as it was typed, no
link is a script, and the policy is in force on every page."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from builder.edition.exchange.musicxml import given_musicxml
from builder.music import notated
from builder.source import parse

TAKE = "document.documentElement.dataset.taken=1"
PLAIN = f"""<img src=x onerror="{TAKE}"><script>{TAKE}</script>"""
TEXT = f"""Ave & *b* "'></title></script>{PLAIN}[link](javascript:{TAKE}) {{: onclick={TAKE} }}"""
NAME = f"a\"'><img src=x onerror={TAKE}>&(b) #c"
"""The name of a file: all that may stand in one."""
LINKS = f"""
[one](javascript:{TAKE}) <a href="java&#10;script:{TAKE}">two</a> <A HREF=' JaVaScRiPt:{TAKE}'>three</A>
<a href="data:text/html,<script>{TAKE}</script>">four</a>
<svg><a xlink:href="javascript:{TAKE}">five</a></svg>
<iframe src="javascript:{TAKE}"></iframe> <iframe srcdoc="<script>parent.{TAKE}</script>"></iframe>
<form action="javascript:{TAKE}"><button formaction=javascript:{TAKE}>six</button></form>
<object data="javascript:{TAKE}"></object> <details open ontoggle="{TAKE}">seven</details>

<base href="https://elsewhere.invalid/">
<meta http-equiv="refresh" content="0;url=javascript:{TAKE}">
<link rel="stylesheet" href="https://elsewhere.invalid/a.css">
<script>{TAKE}</script>
<script src="https://elsewhere.invalid/a.js"></script>
<img src="https://elsewhere.invalid/a.png">
"""


TOUCH = """() => {
  document.querySelectorAll("article details").forEach((fold) => { fold.open = true; });
  document.querySelectorAll("article a[href='#'], article svg a").forEach(
    (each) => each.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true })));
}"""


LINKED = """names => [...document.querySelectorAll("*")].flatMap(
  (each) => names.map((name) => each.getAttribute(name) || "")).filter((value) => value)"""
PLANTED = f"""() => new Promise((done) => {{
  const refused = new Set();
  document.addEventListener("securitypolicyviolation", (event) => {{
    refused.add(event.effectiveDirective);
    if (refused.has("script-src-attr") && refused.has("script-src-elem")) done([...refused]);
  }});
  document.body.insertAdjacentHTML("beforeend", `{PLAIN}`);
  document.body.append(Object.assign(document.createElement("script"), {{ text: "{TAKE}" }}));
  setTimeout(() => done([...refused]), 5000);
}})"""


def told(text: object) -> str:
    return json.dumps(text, ensure_ascii=False)


VERSET = f"""---
title: {told(TEXT)}
description: {told(TEXT)}
author: {told(TEXT)}
verset:
  metre: C
  signature: none
  allow:
    - {{rule: parallel-fifths, bar: 2, because: {told(TEXT)}}}
  readings:
    - {{bar: 1, voice: cantus, source: {told(TEXT)}, adopted: {told(TEXT)}}}
---

Words. {LINKS}

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
tenor  C4 | A3/2 D3/4. E3/8 | F3/4{{6}} E3/4{{7 #6}} D3/2
```

## tenor

{LINKS}
"""
SERVICE = f"""---
title: {told(TEXT)}
service:
  order:
    - {{organ: {told(NAME)}, for: {told(TEXT)}}}
    - choir: {told(TEXT)}
---
"""
WORDS = (
    "title",
    "subtitle",
    "version",
    "preface",
    "performance",
    "publisher",
    "licence",
    "licence_file",
    "name",
)
BOOK = dict.fromkeys(WORDS, TEXT) | {"authors": [TEXT], "imprint": [TEXT]}
CONFIG = f"""site_name: {told(TEXT)}
site_description: {told(TEXT)}
site_author: {told(TEXT)}
docs_dir: content
use_directory_urls: false
theme: {{name: material, font: false, features: [navigation.footer, navigation.path]}}
plugins:
  - search
  - offline
  - verset:
      audio: false
      pdf: false
      tables: [own.yaml]
      tuning: {told(TEXT)}
      tunings: {{{told(TEXT)}: 0 76 193 310 386 503 580 697 773 890 1007 1083}}
      book: {told(BOOK)}
markdown_extensions: [admonition, attr_list, md_in_html, tables]
"""
TABLE = f"""interval: second down
patterns:
  - {{id: our-sigh, figure: accento, notes: 0/4. 1/8, character: sighing, source: {told(TEXT)}}}
"""
PAGES = {
    f"{NAME}.md": VERSET,
    "service.md": SERVICE,
    "index.md": "# Start\n\n<!-- verset:index -->\n\n<!-- verset:book -->\n",
    "diminutions.md": "# D\n\n<!-- verset:patterns -->\n",
    "titled.md": f"---\ntitle: {told(TEXT)}\ndescription: {told(TEXT)}\n---\n\n{LINKS}\n",
    f"{NAME}-2.md": LINKS,
    "heading.md": f"# A heading & more {PLAIN}\n\nText.\n",
}


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "content").mkdir()
    for name, text in PAGES.items():
        (folder / "content" / name).write_text(text, "utf-8")
    verset = replace(parse(VERSET), title=TEXT)
    (folder / "content" / f"{NAME}-3.musicxml").write_text(
        given_musicxml(verset, notated(verset.score()), rights=TEXT, editors=(TEXT,)), "utf-8"
    )
    (folder / "own.yaml").write_text(TABLE, "utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, "utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "--quiet"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    shutil.rmtree(folder / "content")
    return folder / "site"


@contextmanager
def _alone(chromium: Browser) -> Iterator[Page]:
    """A page of the browser that may load files alone: what it asks for from elsewhere fails the test."""
    context = chromium.new_context()
    context.set_default_timeout(30_000)
    context.set_default_navigation_timeout(60_000)  # other tests build whole courses meanwhile
    outside: list[str] = []

    def only_files(route) -> None:
        if not route.request.url.startswith(("file:", "data:", "blob:")):
            outside.append(route.request.url)
            route.abort()
        else:
            route.continue_()

    context.route("**/*", only_files)
    yield context.new_page()
    context.close()
    assert outside == []


@pytest.fixture
def browse(chromium: Browser) -> Iterator[Page]:
    with _alone(chromium) as page:
        yield page


@dataclass(frozen=True, slots=True)
class Seen:
    """What a browser found on a page: whether a script took it over, the values of attributes that may be
    links, tags that lead elsewhere, what the policy refused when it was planted, and whether that ran."""

    taken: bool
    links: list[str]
    leads: int
    refused: set[str]
    ran: bool


@pytest.fixture(scope="module")
def walked(hostile: Path, chromium: Browser) -> dict[Path, Seen]:
    """Every page of the site, opened once and touched."""
    taken = "document.documentElement.dataset.taken === '1'"
    found = {}
    with _alone(chromium) as page:
        for path in pages(hostile):
            page.goto(path.as_uri())
            page.evaluate(TOUCH)
            found[path] = Seen(
                page.evaluate(taken),
                page.evaluate(
                    LINKED, ["href", "src", "action", "formaction", "data", "xlink:href", "srcdoc"]
                ),
                page.locator("base, meta[http-equiv=refresh]").count(),
                set(page.evaluate(PLANTED)),
                page.evaluate(taken),
            )
    return found


def pages(site: Path) -> list[Path]:
    return sorted(site.rglob("*.html"))


def text_of(page: Page, selector: str) -> list[str]:
    return [" ".join(t.split()) for t in page.locator(selector).all_text_contents()]


def test_no_script_but_the_sites_own_runs_on_any_page(hostile: Path, walked: dict[Path, Seen]) -> None:
    names = [path.relative_to(hostile).as_posix() for path in walked]
    assert len(names) >= 14 and sum(name.endswith("/whole.html") for name in names) == 2
    assert not [name for name, seen in zip(names, walked.values(), strict=True) if seen.taken]


def test_no_link_is_a_script_and_nothing_comes_from_elsewhere(walked: dict[Path, Seen]) -> None:
    for path, seen in walked.items():
        bare = [re.sub(r"\s", "", link.lower()) for link in seen.links]
        assert bare and not [link for link in bare if link.startswith(("javascript:", "data:text"))], path
        assert not seen.leads, path


def test_the_policy_stands_first_on_every_page_and_is_in_force(walked: dict[Path, Seen]) -> None:
    for path, seen in walked.items():
        head = path.read_text("utf-8").partition("<head>")[2].lstrip()
        assert head.startswith('<meta http-equiv="Content-Security-Policy"'), path
        rules = re.search(r'content="([^"]*)"', head)[1]
        scripts = next(r for r in rules.split("; ") if r.startswith("script-src"))
        assert "unsafe" not in scripts and "'self'" in scripts and "object-src 'none'" in rules
        # what stands in the page and what would run: both are refused, and the browser says so
        assert seen.refused >= {"script-src-attr", "script-src-elem"} and not seen.ran, path


def test_titles_stand_everywhere_as_they_were_typed(hostile: Path, browse: Page) -> None:
    seen = " ".join(TEXT.split())
    page = hostile / f"{NAME}.html"
    browse.goto(page.as_uri())
    assert seen in text_of(browse, "nav .md-nav__link, nav .md-nav__title")
    assert text_of(browse, "article h1") == [seen]
    assert browse.title().startswith(seen)
    body = " ".join(browse.inner_text("article").split())
    assert body.count(seen) >= 3  # the title, the reading in both its texts
    assert browse.locator("meta[name=description]").get_attribute("content") == TEXT
    browse.goto((hostile / "service.html").as_uri())
    cells = text_of(browse, "article td")
    assert cells.count(seen) == 2
    browse.goto((hostile / "index.html").as_uri())
    assert seen in text_of(browse, "article strong a")
    browse.click("article strong a")
    assert browse.title().startswith(seen)
    browse.goto((hostile / "diminutions/second-down.html").as_uri())
    assert seen in text_of(browse, "article td")
    browse.goto((hostile / "heading.html").as_uri())
    assert "A heading & more" in browse.title()


def test_the_search_finds_and_shows_them_and_runs_nothing(hostile: Path, browse: Page) -> None:
    browse.goto((hostile / "index.html").as_uri())
    browse.fill("input[name=query]", "Ave")
    browse.wait_for_selector(".md-search-result__item")
    assert browse.evaluate("document.documentElement.dataset.taken") is None
    assert any("Ave & *b*" in " ".join(t.split()) for t in text_of(browse, ".md-search-result__item"))


def test_the_policy_for_a_server_is_one_for_all_pages(hostile: Path) -> None:
    header = (hostile / "assets/verset/content-security-policy.txt").read_text("utf-8")
    assert "frame-ancestors 'self'" in header and "unsafe-eval" not in header
    for path in pages(hostile):
        own = re.search(r'Content-Security-Policy" content="([^"]*)"', path.read_text("utf-8"))[1]
        assert set(re.findall(r"'sha256-[^']*'", own)) <= set(re.findall(r"'sha256-[^']*'", header))
