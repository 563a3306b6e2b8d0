"""A page shown to a class: one thing at a time, turned by keys and pedals."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from waiting import rests, until

ROOM = "document.querySelector('.verset-player')?.verset?.classroom"
STEP = "versets/fourth/tenor.html"
SCREENS = [(1920, 1080), (1024, 768)]


def shown(page: Page) -> str:
    return page.evaluate("document.querySelector('.verset-classroom .verset-sheet').innerText").strip()


def question(page: Page) -> str:
    return page.evaluate("document.querySelector('.verset-class-head').textContent")


def opened(visit: Any, path: Path, width: int = 1920, height: int = 1080) -> Page:
    page = visit(path, width, height)
    until(page, f"{ROOM} !== undefined")
    page.evaluate(f"{ROOM}.open()")
    until(page, f"{ROOM}.isOpen")
    return page


def on(page: Page, key: str = "PageDown") -> None:
    """To the next thing, through all that does not fit the screen at once."""
    slide = page.evaluate(f"{ROOM}.slide")
    for _ in range(20):
        page.keyboard.press(key)
        page.wait_for_timeout(80)
        if page.evaluate(f"{ROOM}?.slide") != slide:
            return
    raise AssertionError(f"slide {slide} does not go on")


def test_a_class_sees_words_then_the_question_then_the_answer_and_then_our_setting(
    visit: Any, site: Path
) -> None:
    page = opened(visit, site / STEP)
    assert shown(page).startswith("Tenor enters")
    on(page)
    assert question(page) == "Set it yourself first: what stands above each note?"
    assert page.evaluate(f"{ROOM}.player.transport.settings.version") == "given"
    assert "Above the line" not in shown(page)
    on(page)
    assert shown(page).startswith("Above the line")
    assert (
        page.locator(".verset-words table tr").count() > 3
    )  # the table, though the page itself keeps it folded
    on(page)
    assert question(page) == "plain"
    assert page.evaluate(f"{ROOM}.player.transport.settings.version") == "plain"
    heads = [slide["head"] for slide in page.evaluate(f"{ROOM}.slides")]
    assert heads.index("plain") < heads.index("diminished")


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_music_fills_the_screen_and_words_are_large(visit: Any, site: Path, width: int, height: int) -> None:
    page = opened(visit, site / STEP, width, height)
    # The letters are enlarged once the words have been laid out.
    letters = "parseFloat(getComputedStyle(document.querySelector('.verset-words p')).fontSize)"
    until(page, f"{letters} >= {0.026 * height}")
    on(page)
    sizes = """[document.querySelector('.verset-classroom .verset-sheet'),
        document.querySelector('.verset-classroom .verset-systems > svg:not(.verset-turned)')]
        .map(e => e?.getBoundingClientRect()).map(b => [b?.width, b?.height])"""
    rests(page, sizes)
    sheet, music = page.evaluate(sizes)
    assert music[0] > 0.75 * sheet[0] and music[1] <= sheet[1]
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_line_is_drawn_as_small_as_it_must_be_to_be_seen_whole(visit: Any, site: Path) -> None:
    page = opened(visit, site / "versets/fourth.html")
    on(page)
    until(page, f"{ROOM}.pages.length === 1")
    assert page.evaluate(f"{ROOM}.size") != "large"


def test_at_the_end_the_next_page_follows_and_is_shown_to_the_class_too(visit: Any, site: Path) -> None:
    page = opened(visit, site / STEP)
    page.evaluate(f"{ROOM}.go({ROOM}.slides.length - 1)")
    page.wait_for_timeout(100)
    for _ in range(20):
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(100)
        if "cadence" in page.url:
            break
    page.wait_for_url("**/cadence.html#class")
    assert page.url.endswith("versets/fourth/cadence.html#class")
    until(page, f"{ROOM}?.isOpen")


def test_space_sounds_what_the_class_sees_and_escape_gives_the_page_back(visit: Any, site: Path) -> None:
    page = opened(visit, site / STEP)
    on(page)
    page.evaluate("document.querySelector('.verset-classroom .verset-sheet').focus()")
    page.keyboard.press(" ")
    until(page, f"{ROOM}.player.transport.going")
    page.keyboard.press("Escape")
    # The dialog is shut first; what it had borrowed goes back when the browser tells of it, a moment later.
    until(page, f"!{ROOM}.isOpen && document.querySelector('.verset-player .verset-strip') !== null")
    assert page.evaluate("document.querySelectorAll('.verset-music .verset-systems svg').length") > 0


def test_axe_finds_nothing_before_a_class(visit: Any, site: Path) -> None:
    page = opened(visit, site / STEP)
    for _ in range(3):
        found = Axe().run(page, options={"preload": False}).response["violations"]
        assert [(v["id"], node["html"][:150]) for v in found for node in v["nodes"]] == []
        on(page)
