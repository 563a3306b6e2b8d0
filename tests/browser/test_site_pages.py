"""A whole course built by the plugin, opened from the disk with the network cut."""

from __future__ import annotations

import gzip
import os
from pathlib import Path
from typing import Any
from urllib.parse import urlparse
from urllib.request import url2pathname

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from waiting import rests, until

from builder.counterpoint.rules.phrases import worded
from builder.counterpoint.rules.rulebook import RULES
from builder.language.texts import page_texts as words

PLAYER = "document.querySelector('.verset-player').verset"
PAGES = (
    "index.html",
    "versets/fourth.html",
    "versets/fourth/cantus.html",
    "versets/fourth/tenor.html",
    "versets/fourth/cadence.html",
    "versets/fourth/whole.html",
    "rules.html",
    "rules-rates.html",
    "diminutions.html",
    "diminutions/second-up.html",
    "tunings.html",
    "tunings/quarter-comma.html",
    "evening.html",
    "format.html",
    "report.html",
)
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def open_all(page: Page) -> None:
    page.wait_for_load_state("load")
    page.evaluate("document.querySelectorAll('.md-content details').forEach(d => d.open = true)")
    rests(page, "document.documentElement.scrollHeight")


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_no_page_scrolls_sideways_or_asks_for_anything_outside(visit: Any, site: Path, width: int) -> None:
    for name in PAGES:
        page = visit(site / name, width, 800)
        open_all(page)
        assert page.evaluate("document.documentElement.scrollWidth") == width, name


@pytest.mark.parametrize("width", [360, 1280])
def test_tables_of_a_service_and_texts_of_a_verset_fit_their_page(visit: Any, site: Path, width: int) -> None:
    for name in ("versets/fourth.html", *(["evening.html"] if width > 1000 else [])):
        page = visit(site / name, width, 800)
        open_all(page)
        wide = page.evaluate(
            """(() => {
                const edge = document.querySelector('.md-content__inner').getBoundingClientRect().right + 1;
                const tables = [...document.querySelectorAll('.md-content table')];
                return tables.filter(t => t.getBoundingClientRect().right > edge).length; })()"""
        )
        assert wide == 0, name


def test_the_title_of_a_step_tells_step_and_verset(visit: Any, site: Path) -> None:
    title = visit(site / "versets/fourth/tenor.html").title()
    assert title.startswith("Tenor enters · Verset in the fourth tone")


def test_where_one_voice_sounds_no_voice_is_to_be_chosen(visit: Any, site: Path) -> None:
    page = visit(site / "diminutions/second-up.html")
    until(page, f"{PLAYER} !== undefined")
    assert page.locator(".verset-voice").count() == 0
    assert page.locator(".verset-list option[value=diminished]").count() == 1


def test_labels_of_a_tuning_are_large_enough_and_apart(visit: Any, site: Path) -> None:
    page = visit(site / "tunings/quarter-comma.html", 360, 740)
    met = page.evaluate(
        """[...document.querySelectorAll('.verset-chart')].flatMap(chart => {
            const boxes = [...chart.querySelectorAll('text')].map(t => t.getBoundingClientRect());
            const meet = (a, b) => a.left < b.right && b.left < a.right
              && a.top < b.bottom - 3 && b.top < a.bottom - 3;
            return boxes.flatMap((a, i) => boxes.slice(i + 1).filter(b => meet(a, b)).map(() => i));
        })"""
    )
    assert met == []
    size = page.evaluate(
        "(() => { const t = document.querySelector('.verset-chart text'), s = t.ownerSVGElement;"
        " return parseFloat(getComputedStyle(t).fontSize) * s.clientWidth / s.viewBox.baseVal.width; })()"
    )
    assert size > 9


def test_on_the_desk_of_a_phone_the_controls_take_two_rows(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth/whole.html", 360, 740)
    until(page, f"{PLAYER} !== undefined")
    page.locator(".verset-desk-open").click()
    foot = "document.querySelector('.verset-desk-foot').getBoundingClientRect().height"
    until(page, f"{foot} > 0")
    rests(page, foot)
    assert page.evaluate(foot) < 125


def test_words_and_music_of_a_page_stand_in_the_letters_of_the_printed_book(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth.html")
    families = page.evaluate(
        """[...document.querySelectorAll('.md-content p, .verset-systems svg text, .md-header__topic')]
            .map(e => getComputedStyle(e).fontFamily.split(',')[0].replaceAll('"', ''))"""
    )
    assert set(families) == {"Libertinus Serif"}
    faces = page.evaluate(
        "document.fonts.ready.then(f => [...f].map(x => `${x.style} ${x.weight} ${x.status}`))"
    )
    assert {"normal 400 loaded", "italic 400 loaded"} <= set(faces)


ALL = bool(os.environ.get("VERSET_MANY"))


@pytest.mark.parametrize(
    ("scheme", "width"),
    [("light", 360), ("dark", 1280), *([("dark", 360), ("light", 1280)] if ALL else [])],
)
def test_axe_finds_nothing_on_any_kind_of_page(visit: Any, site: Path, scheme: str, width: int) -> None:
    for name in PAGES:
        page = visit(site / name, width, 900, color_scheme=scheme)
        open_all(page)
        options = {"runOnly": {"type": "tag", "values": TAGS}, "preload": False}
        found = Axe().run(page, options=options).response["violations"]
        assert [(v["id"], node["html"][:150]) for v in found for node in v["nodes"]] == [], name


def test_a_step_sounds_and_is_followed_within_its_bars(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth/tenor.html")
    page.evaluate(f"{PLAYER}.setVersion('plain'), {PLAYER}.setSpeed(150)")
    first = page.evaluate(f"{PLAYER}.barSpan[0]")
    page.locator(".verset-strip .verset-go").click()
    until(page, f"{PLAYER}.marks.bar > {first}")
    lit = page.evaluate("[...document.querySelectorAll('.verset-now')].map(n => n.dataset.id)")
    assert {name.split("-")[0] for name in lit} == {"given", "plain"}
    assert len(page.evaluate("ear.starts")) > 3


@pytest.mark.parametrize("language", ["de", "it"])
def test_a_page_in_another_language_judges_in_it(visit: Any, site: Path, language: str) -> None:
    page = visit(site / f"versets/{language}/tenor.html")
    until(page, f"{PLAYER} && {PLAYER}.own !== undefined")
    said = page.evaluate("window.versetRules['parallel-fifths']")
    rule = worded("parallel-fifths", language)
    assert said == [rule.title, rule.sentence, rule.advice] and rule.title != RULES[rule.id].title
    page.locator(".verset-paper").focus()
    page.keyboard.press("c")
    for _ in range(8):
        page.keyboard.press("ArrowUp")
        met = page.evaluate(f"{PLAYER}.own.judge(0).map(m => m.rule)")
        text = page.locator(".verset-judged").inner_text()
        for name in met:
            assert worded(name, language).title in text and worded(name, language).sentence in text
    page.get_by_text(words(language)("try.graceTitle")).click()
    assert page.locator(".verset-pattern").count() > 3
    missing = page.evaluate(f"Object.keys({PLAYER}.words.try).filter(k => !{PLAYER}.words.try[k])")
    assert missing == []


def test_every_note_of_the_play_data_on_the_page_is_drawn(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth/whole.html")
    missing = page.evaluate(
        f"""['plain', 'diminished'].flatMap(v => {PLAYER}.timeline.versions[v].notes)
            .flatMap(n => n.pieces).map(([id]) => id).filter(id => !{PLAYER}.music.notes.has(id))"""
    )
    assert missing == []


def test_every_bar_is_told_in_words(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth/tenor.html")
    open_all(page)
    folds = page.locator(".verset-told")
    line, ours = (folds.nth(k).locator("li").all_inner_texts() for k in range(folds.count()))
    first, last = page.evaluate(f"{PLAYER}.barSpan")
    assert len(line) == len(ours) == last - first + 1
    assert "tenor enters on B" in line[1], "the step begins with the last note before the entry"
    # The answers are told apart, below what the student does; each bar begins with its line.
    assert not any("above it" in bar for bar in line) and any("above it" in bar for bar in ours)
    assert all(whole.startswith(bar.removesuffix(".")) for bar, whole in zip(line, ours))
    places = [folds.nth(0), page.locator(".verset-try"), folds.nth(1)]
    tops = [place.bounding_box()["y"] for place in places]
    assert tops == sorted(tops)


def test_a_step_page_is_light_and_soon_awake(visit: Any, site: Path) -> None:
    """Below 300 kB over the wire (packed, as servers send text) with all its scripts and styles and
    without recordings; on a processor four times slower, awake within a second."""
    page = visit(site / "versets/fourth/tenor.html")
    loaded = page.evaluate(
        "[...document.querySelectorAll('script[src], link[rel=stylesheet]')].map(e => e.src || e.href)"
    )
    files = [site / "versets/fourth/tenor.html", *(Path(url2pathname(urlparse(u).path)) for u in loaded)]
    assert any(path.name == "own.js" for path in files)
    assert sum(len(gzip.compress(path.read_bytes())) for path in files) < 300_000
    # All scripts of ours below 60 kB over the wire.
    scripts = [site / "assets/verset" / name for name in ("reader.js", "own.js")]
    assert sum(len(gzip.compress(path.read_bytes())) for path in scripts) < 60_000
    page = visit(site / "index.html")
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.goto((site / "versets/fourth/tenor.html").as_uri())
    page.wait_for_selector(".is-awake")
    awake = page.evaluate("performance.getEntriesByName('verset-awake')[0].duration")
    assert awake < 1000
