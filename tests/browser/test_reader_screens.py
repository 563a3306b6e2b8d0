"""Screens: phone, tablet and desktop, light and dark, large letters, for everyone."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from waiting import rests, until

PLAYER = "document.querySelector('.verset-player').verset"
WIDTHS = (360, 768, 1280)


def open_all(page: Page) -> None:
    """Every fold, and all drawers of the strip one above the other."""
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.evaluate(
        """document.querySelectorAll('.verset-drawer').forEach((drawer) => {
             drawer.hidden = false; drawer.style.position = 'static'; drawer.style.maxHeight = 'none'; })"""
    )


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
    rests(page, "document.documentElement.scrollHeight")
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    strip = page.evaluate("getComputedStyle(document.querySelector('.verset-strip')).position")
    assert strip == "relative", "a strip that covers a third of the screen must not stay there"


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
    until(page, f"{PLAYER}.desk.page[1] >= 1")
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
    until(page, f"{PLAYER}.desk.page[1] >= 1")
    box = page.locator(".verset-sheet svg:visible").first.bounding_box()
    assert box and box["width"] > 700
    page.locator(".verset-music-desk").get_by_role("button", name="Close").click()
    assert page.locator(".verset-music[data-version=plain] .verset-systems svg:visible").count() > 0


def test_the_desk_has_three_sizes_of_notes_and_keeps_the_one_that_was_chosen(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 820, 1180)
    page.locator(".verset-desk-open").click()
    until(page, f"{PLAYER}.desk.page[1] >= 1")
    scale = """[...document.querySelectorAll(".verset-sheet svg")]
        .map((svg) => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width)
        .find((scale) => scale > 0)"""
    heights = []
    for size in ("small", "middle", "large"):
        page.locator(".verset-desk-foot").get_by_role("button", name=size, exact=True).click()
        until(page, f"{PLAYER}.desk.size === '{size}'")
        rests(page, scale)
        heights.append(page.evaluate(scale))
    assert heights[0] * 1.05 < heights[1] and heights[1] * 1.05 < heights[2], heights
    page.reload()
    assert page.evaluate(f"{PLAYER}.desk.size") == "large"


def test_marks_and_repeat_work_on_the_music_desk(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 768, 500)
    page.locator(".verset-desk-open").click()
    until(page, f"{PLAYER}.desk.page[1] > 1")
    page.evaluate(f"{PLAYER}.setSpeed(150); {PLAYER}.toBar(7)")
    page.locator(".verset-music-desk .verset-go").click()
    until(page, f"{PLAYER}.desk.page[0] > 0")
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
    until(page, "awake.length === 1")
    page.locator(".verset-strip .verset-go").click()
    until(page, "awake.length === 2")
    assert page.evaluate("awake") == ["screen", "released"]


def test_music_may_be_enlarged_by_two_fingers(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 360, 740, has_touch=True)
    action = page.evaluate("getComputedStyle(document.querySelector('.verset-music')).touchAction")
    assert "pinch-zoom" in action


SHIFTS = """window.shifted = 0;
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.shifted += entry.value;
}).observe({ type: 'layout-shift', buffered: true });"""


@pytest.mark.parametrize(("width", "height"), [(360, 740), (768, 1024), (1280, 900)])
def test_nothing_jumps_while_the_page_wakes(
    visit: Any, sample_page: Callable[..., Path], width: int, height: int
) -> None:
    """Cumulative layout shift (Layout Instability API) on a processor four times slower."""
    page = visit(sample_page(), width, height)
    page.add_init_script(SHIFTS)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.reload()
    until(page, f"{PLAYER} !== undefined")
    page.wait_for_timeout(800)
    # Common practice calls a page steady below 0.1; ours is to be twice as steady.
    assert page.evaluate("shifted") < 0.05


def test_what_the_script_will_hide_is_not_shown_before_it_runs(
    chromium: Browser, sample_page: Callable[..., Path]
) -> None:
    """The page with its script held back: the version that waits takes no room, nor do the recordings."""
    with closing(chromium.new_context(offline=True)) as context:
        page = context.new_page()
        page.route("**/reader.js", lambda route: route.abort())
        page.goto(sample_page().as_uri())
        assert page.locator(".verset-later, .verset-recordings").count() == 2
        assert page.locator(".verset-later:visible, .verset-recordings:visible").count() == 0


@pytest.mark.parametrize("step", ["cantus", "tenor", "whole"])
@pytest.mark.parametrize(("width", "height"), [(360, 740), (768, 1024)])
def test_nothing_jumps_on_a_step_of_a_course(
    chromium: Browser, site: Path, step: str, width: int, height: int
) -> None:
    """As above, with the theme and the letters of the book, on first sight."""
    # Closed whatever comes: a page made slow works without end, and would make slow what comes after it.
    with closing(chromium.new_context(offline=True, viewport={"width": width, "height": height})) as context:
        page = context.new_page()
        page.add_init_script(SHIFTS)
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
        page.goto((site / f"versets/fourth/{step}.html").as_uri())
        until(page, f"{PLAYER} !== undefined")
        page.wait_for_timeout(800)
        assert page.evaluate("shifted") < 0.05


@pytest.mark.parametrize(("width", "height"), [(360, 740), (768, 1024), (1280, 900)])
def test_the_music_stays_in_sight_while_a_voice_is_chosen(
    visit: Any, sample_page: Callable[..., Path], width: int, height: int
) -> None:
    page = visit(sample_page(), width, height)
    assert page.locator(".verset-drawer:visible").count() == 0
    page.evaluate("document.querySelector('.verset-music[data-version=plain]').scrollIntoView()")
    music = page.locator(".verset-music[data-version=plain] svg:visible").first.bounding_box()
    for name in ("Voices", "Bars"):
        page.get_by_role("button", name=name, exact=True).click()
        drawer = page.locator(".verset-drawer:visible")
        assert drawer.count() == 1
        box = drawer.bounding_box()
        assert music and box and box["y"] > music["y"] + music["height"], "the first system is seen whole"
        assert box["y"] + box["height"] <= height
    page.keyboard.press("Escape")
    assert page.locator(".verset-drawer:visible").count() == 0
    assert page.evaluate("document.activeElement.textContent") == "Bars"


def test_the_desk_has_all_that_the_strip_has(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 768, 1024)
    page.get_by_role("button", name="On the desk").click()
    desk = page.locator(".verset-music-desk")
    for name in ("Slower", "Voices", "Bars", "More"):
        desk.get_by_role("button", name=name, exact=True).wait_for()
    desk.get_by_role("button", name="Voices", exact=True).click()
    desk.get_by_role("button", name="altus", exact=True).click()
    assert page.evaluate(f"{PLAYER}.silent.has('altus')")
    page.evaluate(f"{PLAYER}.desk.close()")
    page.locator(".verset-player .verset-strip").wait_for()
