"""Keyboard only; nothing here uses a pointer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from waiting import until

PLAYER = "document.querySelector('.verset-player').verset"


@pytest.fixture
def page(visit: Any, sample_page: Callable[..., Path]) -> Page:
    return visit(sample_page())


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until an element that matches has the focus."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"Tab never reaches {selector}")


def settings(page: Page) -> dict[str, Any]:
    return dict(page.evaluate(f"{PLAYER}.transport.settings"))


def bar(page: Page) -> int:
    return int(page.evaluate(f"{PLAYER}.marks.bar"))


def test_every_control_is_reached_and_shows_its_focus(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    wanted = page.evaluate(
        """[...document.querySelectorAll(`.verset-player button, .verset-player input, .verset-player select,
            .verset-player summary,
            .verset-systems`)].filter(e => e.getClientRects().length && !e.disabled).length"""
    )
    reached = set()
    for _ in range(wanted + 20):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                """(() => {
                    const e = document.activeElement;
                    if (!e.closest('.verset-player, .verset-music')) return null;
                    const style = getComputedStyle(e);
                    const seen = e.tagName === 'AUDIO' || parseFloat(style.outlineWidth) >= 2;
                    if (!seen) return `hidden ${e.outerHTML}`;
                    e.dataset.reached ??= String(document.querySelectorAll('[data-reached]').length);
                    return e.tagName === 'AUDIO' ? null : e.dataset.reached;
                })()"""
            )
        )
    reached.discard(None)
    assert not [r for r in reached if r.startswith("hidden")]
    assert len(reached) == wanted


def test_the_whole_of_practice_by_keys_on_the_music(page: Page) -> None:
    tab_to(page, ".verset-systems")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert bar(page) == 3
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    assert settings(page)["repeat"] == [3, 4]
    page.keyboard.press("-")
    page.keyboard.press("-")
    assert settings(page)["rate"] == pytest.approx(0.9)
    page.keyboard.press("2")
    page.get_by_role("button", name="Voices", exact=True).click()
    assert page.get_by_role("button", name="altus", exact=True).get_attribute("aria-pressed") == "false"
    page.locator(".verset-systems:visible").first.focus()
    page.keyboard.press("v")
    assert settings(page)["version"] == "diminished"
    page.keyboard.press("Space")
    until(page, f"{PLAYER}.transport.going && {PLAYER}.transport.position() > 4.7")
    page.keyboard.press("Space")
    assert not page.evaluate(f"{PLAYER}.transport.going")
    page.keyboard.press("r")
    assert settings(page)["repeat"] is None
    page.keyboard.press("Home")
    assert bar(page) == 1


def test_keys_but_space_do_nothing_outside_music_and_controls(page: Page) -> None:
    page.evaluate("document.activeElement.blur()")
    for key in ("v", "2", "-", "d"):
        page.keyboard.press(key)
    assert settings(page)["version"] == "plain"
    assert settings(page)["rate"] == 1
    assert not page.evaluate(f"{PLAYER}.transport.going")


def test_keys_are_left_to_fields_and_buttons_that_want_them(page: Page) -> None:
    page.get_by_role("button", name="Bars", exact=True).click()
    page.get_by_label("from").focus()
    page.keyboard.type("3")
    assert page.get_by_role("button", name="tenor", exact=True).count() == 0
    assert not page.evaluate(f"{PLAYER}.silent.size")
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_role("slider", name="Speed").focus()
    page.keyboard.press("ArrowLeft")
    assert settings(page)["rate"] == pytest.approx(0.95)
    page.locator(".verset-strip .verset-go").focus()
    page.keyboard.press("Space")
    until(page, f"{PLAYER}.transport.going")


def test_what_happens_is_said(page: Page) -> None:
    said = page.locator(".verset-said")
    assert said.get_attribute("aria-live") == "polite"
    tab_to(page, ".verset-systems")
    page.keyboard.press("+")
    assert said.inner_text() == "Speed 105 percent."
    page.keyboard.press("1")
    assert said.inner_text() == "cantus is silent."
    page.keyboard.press("r")
    assert said.inner_text() == "Repeating bars 1 to 1."


def test_the_keys_are_told_on_the_page(page: Page) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_text("Keys", exact=True).click()
    told = page.locator(".verset-more ul li").all_inner_texts()
    assert len(told) == 9
    assert any("Space" in line for line in told)


def test_the_music_desk_turns_pages_by_arrow_and_page_keys(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 768, 420)
    tab_to(page, ".verset-systems")
    page.keyboard.press("d")
    until(page, f"{PLAYER}.desk.page[1] > 1")
    assert page.evaluate(f"{PLAYER}.desk.page[0]") == 0
    for key, at in (("PageDown", 1), ("PageUp", 0), ("ArrowRight", 1), ("ArrowLeft", 0), ("ArrowDown", 1)):
        page.keyboard.press(key)
        assert page.evaluate(f"{PLAYER}.desk.page[0]") == at, key
    page.keyboard.press("Escape")
    assert not page.evaluate(f"{PLAYER}.desk.isOpen")
    assert page.locator(".verset-music[data-version=plain] .verset-systems svg").count() > 0
    assert page.evaluate("document.activeElement.matches('.verset-desk-open')")


def test_space_goes_and_stops_from_anywhere_that_does_not_want_it(page: Page) -> None:
    going = f"{PLAYER}.transport.going"
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    until(page, going)
    page.evaluate(
        "document.body.insertAdjacentHTML('afterbegin', '<a id=far href=#far>x</a><input id=near>')"
    )
    page.locator("#far").focus()
    page.keyboard.press("Space")
    until(page, f"!{going}")
    page.locator("#near").focus()
    page.keyboard.press("Space")
    assert page.locator("#near").input_value() == " " and not page.evaluate(going)
