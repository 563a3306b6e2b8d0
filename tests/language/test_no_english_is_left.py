"""A course in Italian or German has no English on its pages or in its prints, but what its teacher wrote."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pymupdf
import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config

sys.path.insert(0, str(Path(__file__).parent))

from english_left import english_left, said

from builder.cli import main

CONTENT = Path(__file__).parents[2] / "content"
OTHERS = ("it", "de")
PIECES = """---
title: Quux
---

<!-- verset:{} -->
"""
SERVICE = """---
title: Quux
service: {suggest: {of: magnificat, tone: 2, reciting: A, minutes: 0.4}}
---
"""
CONFIG = """site_name: Quux
docs_dir: content
use_directory_urls: false
theme: {{name: material, font: false}}
plugins:
  - search
  - verset:
      language: {0}
      audio: false
      processes: 1
      book: {{title: Quux, authors: [Quux], name: q, licence: MIT}}
markdown_extensions: [admonition, attr_list, md_in_html, tables]
"""


@pytest.fixture(scope="module", params=OTHERS)
def course(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """A verset whose teacher has written no words, and every piece that a page may ask for."""
    language, root = request.param, tmp_path_factory.mktemp(request.param)
    content = root / "content"
    content.mkdir()
    for name in ("index", "rules", "patterns", "tunings", "book", "drills figures:1 diminution:1"):
        page = content / f"{'index' if name == 'index' else name.split()[0] + '-page'}.md"
        page.write_text(PIECES.format(name))
    source = (CONTENT / "versets/second.md").read_text("utf-8")
    music = "".join(re.findall(r"^```given\n.*?^```\n", source, re.MULTILINE | re.DOTALL))
    (content / "second.md").write_text(
        "---\ntitle: Quux\nverset: {metre: C, signature: Bb, tone: 2, beat: half = 52,"
        f" registration: principale e flauto}}\n---\n\n{music}"
    )
    (content / "service.md").write_text(SERVICE)
    (root / "mkdocs.yml").write_text(CONFIG.format(language))
    config = load_config(str(root / "mkdocs.yml"), theme={"name": "material", "font": False})
    config.plugins.on_startup(command="build", dirty=False)
    try:
        build(config)
    finally:
        config.plugins.on_shutdown()
    return language, root / "site"


def test_no_page_says_anything_in_english(course: tuple[str, Path]) -> None:
    language, site = course
    pages = sorted(site.rglob("*.html"))
    assert len(pages) > 30
    left = {
        f"{page.relative_to(site)}: {each}"
        for page in pages
        for each in english_left(said(page.read_text("utf-8")), language)
    }
    assert not left


def test_no_print_says_anything_in_english(course: tuple[str, Path]) -> None:
    language, site = course
    prints = sorted(site.rglob("*.pdf"))
    assert len(prints) > 5
    left = {
        f"{path.name}: {each}"
        for path in prints
        for page in pymupdf.open(path)
        for each in english_left(page.get_text(), language)
    }
    assert not left


def test_sheets_for_homework_have_no_english(course: tuple[str, Path], tmp_path: Path) -> None:
    language, site = course
    source = str(site.parent / "content/second.md")
    blanks = ["--blank", "cantus 11-14", "--language", language, "--to", str(tmp_path)]
    assert main(["homework", source, *blanks]) == 0
    sheets = sorted(tmp_path.glob("*.pdf"))
    assert len(sheets) == 2
    told = {
        each
        for sheet in sheets
        for page in pymupdf.open(sheet)
        for each in english_left(page.get_text(), language)
    }
    assert not told


def test_stops_are_told_as_the_language_joins_them(course: tuple[str, Path]) -> None:
    language, site = course
    told = {"it": "principale e flauto", "de": "Principale und Flauto"}[language]
    assert told.lower() in (site / "second.html").read_text("utf-8").lower()


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize(
    "planted",
    [
        "<p>Touch a bar and press Go.</p>",
        '<button aria-label="Hear it slower, please">…</button>',
        '<script type="application/json">{"a": [{"b": "every bar above the line"}]}</script>',
        "<td>sparkling</td>",
        "<p>Quellen: <em>common practice, no source</em></p>",
    ],
)
def test_english_that_is_planted_is_found(planted: str, language: str) -> None:
    assert english_left(said(planted), language)
    own = {"it": "Tocca una battuta e premi Via.", "de": "Tippe auf einen Takt und drücke Los."}[language]
    assert not english_left(said(f"<p>{own}</p>"), language)
