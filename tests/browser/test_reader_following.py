"""Following: the music shows what sounds, when it sounds."""

from __future__ import annotations

import os
import statistics
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sample
from playwright.sync_api import Page
from waiting import sounds, until

PLAYER = "document.querySelector('.verset-player').verset"
SECONDS = 60 if os.environ.get("VERSET_MANY") else 8


@pytest.fixture
def page(visit: Any, sample_page: Callable[..., Path]) -> Page:
    return visit(sample_page())


def sounding(version: str, position: float) -> set[str]:
    """What the play data says, told independently of the script."""
    found = set()
    for _, end, _, _, pieces in sample.play_data()["versions"][version]:
        ends = [start for _, start in pieces[1:]] + [end]
        found |= {id for (id, start), until in zip(pieces, ends, strict=True) if start <= position < until}
    return found


def test_the_marked_notes_are_those_that_sound(page: Page) -> None:
    for position in (0.0, 1.3, 5.0, 8.2, 11.9, 14.5, 17.0, 20.0):
        page.evaluate(f"{PLAYER}.transport.seek({position})")
        marked = set(page.evaluate("[...document.querySelectorAll('.verset-now')].map(n => n.dataset.id)"))
        assert marked == sounding("given", position) | sounding("plain", position)
    assert marked


def test_marks_follow_while_it_goes(page: Page) -> None:
    page.locator(".verset-strip .verset-go").click()
    for _ in range(6):
        sounds(page, 0.45)
        position, marked = page.evaluate(
            f"""new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done([
                {PLAYER}.transport.position(),
                [...document.querySelectorAll('.verset-music[data-version=plain] .verset-now')]
                    .map(n => n.dataset.id)]))))"""
        )
        near = [sounding("plain", position + shift) for shift in (-0.02, 0, 0.02)]
        assert set(marked) in near


def test_sound_and_mark_stay_together(page: Page) -> None:
    """The time between a pipe's start and its note's mark, both on the clock of the sound, stays within
    20 ms. With VERSET_MANY=1 over a whole minute."""
    page.evaluate(f"{PLAYER}.setRepeat([1, 8])")
    page.locator(".verset-strip .verset-go").click()
    until(page, "ear.tap && ear.context.currentTime > 0.2")
    page.evaluate("ear.watch()")
    sounds(page, SECONDS)
    starts, marks = page.evaluate("[ear.starts, ear.marks]")
    begun = sorted({start["when"] for start in starts})
    late = []
    for mark in marks:
        # Frames that a busy machine dropped, and a clock of the sound that it held up, tell nothing.
        if mark["id"].startswith("plain-") and mark["gap"] < 25 and mark["slip"] < 0.01:
            nearest = min(begun, key=lambda when: abs(when - mark["time"]))
            held_up = max(0, mark["gap"] / 1000 - 1 / 60) + mark["slip"]
            late.append((mark["time"] - nearest, held_up))
    assert len(late) > SECONDS / 2
    differences = [difference for difference, _ in late]
    close = [d for d, held_up in late if abs(d) <= 0.02 + held_up]
    assert len(close) >= 0.95 * len(late), sorted(late)
    half = len(differences) // 2
    drift = statistics.median(differences[half:]) - statistics.median(differences[:half])
    assert abs(drift) < 0.01
    assert abs(statistics.median(differences)) < 0.016


def test_the_bar_we_are_in_has_a_frame(page: Page) -> None:
    page.evaluate(f"{PLAYER}.toBar(4)")
    framed = page.locator(".verset-here:visible .verset-bar")
    assert {framed.nth(n).get_attribute("data-bar") for n in range(framed.count())} == {"4"}
    stroke = page.evaluate(
        "getComputedStyle(document.querySelector('.verset-here .verset-bar-ground')).strokeDasharray"
    )
    assert stroke != "none"


def test_marks_do_not_hang_on_colour(page: Page) -> None:
    head = "getComputedStyle(document.querySelector('{} .notehead')).strokeWidth"
    page.evaluate(f"{PLAYER}.toBar(4)")
    marked = page.evaluate(head.format(".verset-now"))
    other = page.evaluate(head.format(".note:not(.verset-now)"))
    assert float(marked.rstrip("px")) > 3 * float(other.rstrip("px"))


def test_touching_a_note_goes_there(page: Page) -> None:
    note = page.locator(".verset-music[data-version=plain] .verset-wide [data-id=plain-altus-4-1] .notehead")
    note.evaluate("note => note.scrollIntoView({block: 'center'})")
    box = note.bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 20)  # a finger is not exact
    assert page.evaluate(f"{PLAYER}.transport.position()") == pytest.approx(
        sample.play_data()["bars"][3][1], abs=0.001
    )


def test_dragging_across_bars_repeats_them(page: Page) -> None:
    bars = ".verset-music[data-version=plain] .verset-wide .verset-bar[data-bar='{}'] .verset-bar-ground"
    first = page.locator(bars.format(2)).bounding_box()
    last = page.locator(bars.format(4)).bounding_box()
    assert first and last
    page.mouse.move(first["x"] + 20, first["y"] + 20)
    page.mouse.down()
    page.mouse.move(last["x"] + 20, last["y"] + 20, steps=12)
    page.mouse.up()
    assert page.evaluate(f"{PLAYER}.transport.settings.repeat") == [2, 4]
    shown = page.locator(".verset-repeated:visible .verset-bar-brace")
    assert {shown.nth(n).evaluate("b => b.parentNode.dataset.bar") for n in range(shown.count())} == {
        "2",
        "3",
        "4",
    }


def test_bars_are_chosen_by_touching_the_first_and_the_last(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 768, 1024, has_touch=True)
    bar = ".verset-music[data-version=plain] .verset-bar[data-bar='{}'] .verset-bar-ground:visible"
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    page.get_by_role("button", name="Bars", exact=True).tap()
    page.get_by_role("button", name="Choose on the music").tap()
    asks = page.locator(".verset-asks")
    assert asks.is_visible() and asks.inner_text() == "Touch the first bar to repeat."
    assert not page.locator(".verset-drawer:visible").count(), "nothing lies over the music"
    page.locator(bar.format(3)).first.tap()
    assert asks.inner_text() == "Touch the last bar to repeat."
    page.locator(bar.format(5)).first.tap()
    assert page.evaluate(f"{PLAYER}.transport.settings.repeat") == [3, 5]
    assert asks.is_hidden()


def test_the_page_follows_unless_the_reader_says_no(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 360, 420)
    page.evaluate(f"{PLAYER}.setSpeed(150); {PLAYER}.toBar(6)")
    page.evaluate(f"scrollTo(0, 0); {PLAYER}.setReading('follow', false)")
    page.locator(".verset-strip .verset-go").click()
    sounds(page, 1.8)
    assert page.evaluate("scrollY") == 0
    page.evaluate(f"{PLAYER}.transport.stop(); localStorage.clear()")
    page.reload()
    page.evaluate(f"{PLAYER}.toBar(6); scrollTo(0, 0)")
    page.locator(".verset-strip .verset-go").click()
    until(page, "scrollY > 100")


def test_all_versions_follow_when_all_are_shown(page: Page) -> None:
    page.evaluate(f"{PLAYER}.setReading('allVersions', true); {PLAYER}.toBar(6)")
    for version in ("given", "plain", "diminished"):
        assert page.locator(f".verset-music[data-version={version}]").first.is_visible()
        assert page.locator(f".verset-now[data-id^={version}-]").count() > 0


def test_choices_are_kept(page: Page) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_label("Beat aloud").check()
    page.reload()
    page.get_by_role("button", name="More", exact=True).click()
    assert page.get_by_label("Beat aloud").is_checked()
