"""Screens: phone, tablet and desktop, light and dark, large letters, for everyone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

PLAYER = "document.querySelector('.verset-player').verset"
WIDTHS = (360, 768, 1280)


def open_all(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")


def violations(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2.2 A and AA, and its best practices."""
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    result = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}, "preload": False})
    return [
        f"{v['id']}: {v['help']}: {node['html'][:120]}"
        for v in result.response["violations"]
        for node in v["nodes"]
    ]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("language", ["en", "it", "de"])
def test_nothing_scrolls_sideways(
    visit: Any, sample_page: Callable[..., Path], width: int, language: str
) -> None:
    page = visit(sample_page(language), width, 800)
    open_all(page)
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_nothing_scrolls_sideways_with_letters_twice_as_large(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page("de"), 360, 740)
    page.add_style_tag(content="html { font-size: 250% !important }")
    open_all(page)
    page.wait_for_timeout(200)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    strip = page.evaluate("getComputedStyle(document.querySelector('.verset-strip')).position")
    assert strip == "static", "a strip that covers a third of the screen must not stay there"


@pytest.mark.parametrize("width", WIDTHS)
def test_what_fingers_touch_is_large_enough(visit: Any, sample_page: Callable[..., Path], width: int) -> None:
    """44 pixels, as WCAG 2.2 success criterion 2.5.5 (AAA) asks; AA asks for 24."""
    page = visit(sample_page(), width, 800)
    open_all(page)
    small = page.evaluate(
        """[...document.querySelectorAll(`.verset-player button, .verset-player label, .verset-player summary,
            .verset-player input[type=range], .verset-player input[type=number]`)]
            .filter(e => e.getClientRects().length)
            .map(e => [e.textContent, e.getBoundingClientRect()])
            .filter(([, box]) => box.height < 44 || box.width < 44).map(([text]) => text)"""
    )
    assert small == []


@pytest.mark.parametrize("scheme", ["default", "slate"])
@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing(visit: Any, sample_page: Callable[..., Path], scheme: str, width: int) -> None:
    page = visit(sample_page("en", scheme), width, 800, bypass_csp=True)
    open_all(page)
    page.evaluate(f"{PLAYER}.setRepeat([2, 3]); {PLAYER}.setVoice('altus', false)")
    assert violations(page) == []


@pytest.mark.parametrize("scheme", ["default", "slate"])
def test_axe_finds_nothing_on_the_music_desk(
    visit: Any, sample_page: Callable[..., Path], scheme: str
) -> None:
    page = visit(sample_page("it", scheme), 768, 1024)
    page.locator(".verset-desk-open").click()
    page.wait_for_function(f"{PLAYER}.desk.page[1] >= 1")
    assert violations(page) == []


@pytest.mark.parametrize(("width", "shown"), [(360, "narrow"), (1280, "wide")])
def test_the_engraving_that_fits_is_shown(
    visit: Any, sample_page: Callable[..., Path], width: int, shown: str
) -> None:
    page = visit(sample_page(), width, 800)
    seen = page.locator(".verset-music[data-version=plain] .verset-systems:visible")
    assert seen.count() == 1
    assert f"verset-{shown}" in (seen.get_attribute("class") or "")


def test_the_music_desk_shows_staves_as_large_as_the_screen(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 768, 1024)
    page.locator(".verset-desk-open").click()
    page.wait_for_function(f"{PLAYER}.desk.page[1] >= 1")
    box = page.locator(".verset-sheet svg:visible").first.bounding_box()
    assert box and box["width"] > 700
    page.locator(".verset-music-desk").get_by_role("button", name="Close").click()
    assert page.locator(".verset-music[data-version=plain] .verset-systems svg:visible").count() > 0


def test_marks_and_repeat_work_on_the_music_desk(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 768, 500)
    page.locator(".verset-desk-open").click()
    page.wait_for_function(f"{PLAYER}.desk.page[1] > 1")
    page.evaluate(f"{PLAYER}.setSpeed(150); {PLAYER}.toBar(7)")
    page.locator(".verset-music-desk .verset-go").click()
    page.wait_for_function(f"{PLAYER}.desk.page[0] > 0")
    assert page.locator(".verset-sheet .verset-now:visible").count() > 0


def test_the_screen_is_asked_to_stay_awake_while_it_goes(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 768, 1024)
    page.evaluate(
        """(() => {
            window.awake = [];
            const lock = {release: async () => awake.push('released')};
            Object.defineProperty(navigator, 'wakeLock',
                {value: {request: async kind => (awake.push(kind), lock)}});
        })()"""
    )
    page.locator(".verset-strip .verset-go").click()
    page.wait_for_function("awake.length === 1")
    page.locator(".verset-strip .verset-go").click()
    page.wait_for_function("awake.length === 2")
    assert page.evaluate("awake") == ["screen", "released"]


def test_music_may_be_enlarged_by_two_fingers(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 360, 740, has_touch=True)
    action = page.evaluate("getComputedStyle(document.querySelector('.verset-music')).touchAction")
    assert "pinch-zoom" in action
