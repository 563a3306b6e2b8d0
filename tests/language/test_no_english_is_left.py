"""A course in Italian or German has no English on its pages or in its prints, but what its teacher wrote; in
every language notes have names of one system, but where a source is quoted."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pymupdf
import pytest
from mkdocs.commands.build import build
from mkdocs.config import load_config

sys.path.insert(0, str(Path(__file__).parent))

from course import VERSETS, course_setting
from english_left import english_left, said
from notes_left import notes_left

from builder.analysis import analyse, as_words
from builder.cli import main
from builder.language.texts import page_texts
from builder.music import Pitch
from builder.pages import facts
from builder.plan import told
from builder.setting.report_text import report_text

CONTENT = Path(__file__).parents[2] / "content"
OTHERS = ("it", "de")
EVERY = ("en", *OTHERS)
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


@pytest.fixture(scope="module", params=EVERY)
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


@pytest.mark.parametrize("find", [english_left, notes_left])
def test_no_page_has_words_of_english_or_notes_of_another_system(
    course: tuple[str, Path], find: Callable[[str, str], list[str]]
) -> None:
    language, site = course
    pages = sorted(site.rglob("*.html"))
    assert len(pages) > 30
    left = {
        f"{page.relative_to(site)}: {each}"
        for page in pages
        for each in find(said(page.read_text("utf-8")), language)
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


def test_no_print_names_a_note_in_another_system(course: tuple[str, Path]) -> None:
    language, site = course
    left = {
        f"{path.name}: {each}"
        for path in sorted(site.rglob("*.pdf"))
        for text in (*(page.get_text() for page in pymupdf.open(path)), *alternatives(path))
        for each in notes_left(text, language)
    }
    assert not left


def alternatives(path: Path) -> Iterator[str]:
    """What a print tells who cannot see its pictures."""
    with pymupdf.open(path) as doc:
        for n in range(1, doc.xref_length()):
            kind, value = doc.xref_get_key(n, "Alt")
            if kind == "string":
                yield value


def leaves(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict):
        tree = list(tree.values())
    if isinstance(tree, list | tuple):
        for each in tree:
            yield from leaves(each)
    else:
        yield str(tree)


def messages(name: str, language: str) -> Iterator[str]:
    """All that is said of a verset of the demonstration course on its pages and by the command line."""
    own = course_setting(name)
    own = replace(own, analysis=analyse(own.verset, language=language))
    words, end = page_texts(language), own.verset.end
    tables: list[Any] = [
        {key: each for key, each in facts.overview(own, words).items() if key not in ("metre", "readings")},
        facts.sonorities(own, Fraction(0), end, words),
        facts.graces(own, Fraction(0), end, words),
        facts.findings(own, Fraction(0), end, words, ""),
        [facts.lead(own, step, words) for step in own.analysis.steps],
        as_words(own.analysis, language=language),
        [told(each.plan, language) for each in own.diminutions.values() if each.plan],
    ]
    for each in tables:
        yield from leaves(each)
    yield from report_text(own.report(language), language).splitlines()[1:]


@pytest.mark.parametrize("language", EVERY)
@pytest.mark.parametrize("name", [path.stem for path in VERSETS])
def test_nothing_said_of_the_course_names_a_note_in_another_system(name: str, language: str) -> None:
    every = list(messages(name, language))
    assert len(every) > 100
    assert not [each for text in every for each in notes_left(text, language)]


def test_our_own_course_names_notes_in_one_system() -> None:
    source = re.compile(r"\A---\n.*?^---\n|^```.*?^```$|^#+ |<!--.*?-->", re.MULTILINE | re.DOTALL)
    prose = {path.name: source.sub("", path.read_text("utf-8")) for path in CONTENT.rglob("*.md")}
    assert len(prose) > 30
    assert not [(name, each) for name, text in prose.items() for each in notes_left(text, "en")]


def test_every_pitch_has_one_name_of_its_own_in_every_language() -> None:
    every = [Pitch(step, alter) for step in range(70) for alter in (-1, 0, 1)]
    for language in EVERY:
        assert len({page_texts(language).written(pitch) for pitch in every}) == len(every)
    german = page_texts("de").written
    assert [german(name) for name in ("B", "Bb", "B1", "C2", "Bb3", "B3", "C4", "F#5", "Eb6")] == (
        ["H", "B", "H₁", "C", "b", "h", "c′", "fis″", "es‴"]
    )


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
    joint = {"en": "and", "it": "e", "de": "und"}[language]
    assert f"principale {joint} flauto" in (site / "second.html").read_text("utf-8").lower()


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


@pytest.mark.parametrize(
    ("planted", "language"),
    [
        ("<td>A3</td>", "it"),
        ("<p>da F3 a si♭4</p>", "it"),
        ("<p>cadenza su D</p>", "it"),
        ("<p>Finale: G</p>", "it"),
        ("<p>Alto, su B♭</p>", "it"),
        ("<p>entra su C4 in chiave C1</p>", "it"),
        ("<p>chiude su si bemolle</p>", "it"),
        ("<p>tasto di fa diesis: 3</p>", "it"),
        ("<td>b6/4</td>", "it"),
        ("<td>Bb4</td>", "en"),
        ("<p>a close on F#</p>", "en"),
        ("<p>tune it as D sharp</p>", "en"),
        ("<p>no A flat; G♯ sounds</p>", "en"),
        ("<p>does not belong to #6 over G</p>", "en"),
        ("<p># over G</p>", "en"),
        ("<td>Bb4</td>", "de"),
        ("<p>geht von F#3 nach g</p>", "de"),
        ("<p>Alt auf C4 im Schlüssel C3</p>", "de"),
    ],
)
def test_a_note_that_is_planted_is_found(planted: str, language: str) -> None:
    assert notes_left(said(planted), language)
    own = {
        "it": "Il cantus entra su do4 in chiave C1: si♭4 (",
        "de": "Cantus auf c′ im Schlüssel C1: Finalis B (",
        "en": "A sharp leads up; B♭4 and G, with ♯6: a flat or none (",
    }
    assert not notes_left(said(f"<p>{own[language]}<code>Bb4/2 A4</code>)</p>"), language)
