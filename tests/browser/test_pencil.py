"""A pencil on the music: what is drawn stays with its bar in every width, and goes with the work."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from waiting import until

PLAYER = "document.querySelector('.verset-player').verset"
MARKS = f"{PLAYER}.pencil.marks"


def bar_box(page: Page, version: str, bar: int) -> list[float]:
    """The stave of a bar as it is seen: left, top, width, height in pixels."""
    return page.evaluate(
        f"""(() => {{ const b = {PLAYER}.music.bars.find(b => b.number === {bar} && {PLAYER}.music.seen(b)
              && {PLAYER}.music.blockOf(b).version === '{version}'
              && Boolean(b.measure.closest('dialog')) === Boolean(document.querySelector('dialog[open]')));
            b.measure.scrollIntoView({{ block: 'center', behavior: 'instant' }});
            const r = b.measure.querySelector('.staff > path').getBoundingClientRect();
            return [r.x, r.y, r.width, r.height]; }})()"""
    )


def take(page: Page, tool: str) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_role("button", name="Take the pencil").click()
    page.locator(".verset-pencil").get_by_role("button", name=tool, exact=True).click()


def drag(page: Page, *places: tuple[float, float]) -> None:
    page.mouse.move(*places[0])
    page.mouse.down()
    for place in places[1:]:
        page.mouse.move(*place, steps=8)
    page.mouse.up()


@pytest.mark.parametrize(("width", "height"), [(360, 740), (768, 1024), (1280, 900)])
def test_a_line_a_finger_and_the_rubber(
    visit: Any, sample_page: Callable[..., Path], width: int, height: int
) -> None:
    page = visit(sample_page(), width, height)
    take(page, "Pen")
    x, y, wide, tall = bar_box(page, "plain", 2)
    now = page.evaluate(f"{PLAYER}.transport.position()")
    drag(page, (x + wide * 0.2, y - 8), (x + wide * 0.8, y - 14))
    (line,) = page.evaluate(MARKS)
    assert (line["version"], line["bar"]) == ("plain", 2)
    assert line["points"][0][0] == pytest.approx(0.2, abs=0.02)
    assert line["points"][-1][0] == pytest.approx(0.8, abs=0.12)
    drawn = page.locator(".verset-pencilled path:visible").first.bounding_box()
    assert (
        drawn and abs(drawn["x"] - (x + wide * 0.2)) < 4 and abs(drawn["y"] + drawn["height"] - (y - 8)) < 5
    )
    assert page.evaluate(f"{PLAYER}.transport.position()") == now, "drawing does not move the place"
    page.locator(".verset-pencil").get_by_role("button", name="Finger 3").click()
    page.mouse.click(x + wide / 2, y + tall + 12)
    assert [m.get("finger") for m in page.evaluate(MARKS)] == [None, "3"]
    page.locator(".verset-pencil").get_by_role("button", name="Rub out").click()
    drag(page, (x + wide * 0.2, y - 8), (x + wide * 0.25, y - 8))
    assert [m.get("finger") for m in page.evaluate(MARKS)] == ["3"]
    page.locator(".verset-pencil").get_by_role("button", name="Undo").click()
    assert len(page.evaluate(MARKS)) == 2
    page.locator(".verset-pencil").get_by_role("button", name="Put away").click()
    assert page.locator(".verset-pencil:visible").count() == 0
    page.mouse.click(x + wide / 2, y + tall / 2)
    assert len(page.evaluate(MARKS)) == 2, "put away, the hand points at notes again"


def test_marks_stay_and_follow_their_bar_when_the_lines_break_anew(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page(), 1280, 900)
    take(page, "Finger 4")
    x, y, wide, _ = bar_box(page, "plain", 7)
    page.mouse.click(x + wide * 0.75, y - 10)
    page.set_viewport_size({"width": 360, "height": 740})
    page.reload()
    until(page, f"{PLAYER} !== undefined")
    x, y, wide, _ = bar_box(page, "plain", 7)
    text = page.locator(".verset-pencilled text:visible").first.bounding_box()
    assert text and text["x"] + text["width"] / 2 == pytest.approx(x + wide * 0.75, abs=3)
    assert page.evaluate("document.querySelectorAll('[data-version=given] .verset-pencilled').length") == 0


def test_the_pencil_is_at_hand_on_the_desk(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), 768, 1024)
    page.locator(".verset-desk-open").click()
    until(page, f"{PLAYER}.desk.page[1] >= 1")
    take(page, "Pen")
    x, y, wide, _ = bar_box(page, "plain", 1)
    drag(page, (x + wide * 0.3, y - 6), (x + wide * 0.6, y - 14))
    assert [(m["version"], m["bar"]) for m in page.evaluate(MARKS)] == [("plain", 1)]
    assert page.locator(".verset-music-desk .verset-pencilled path:visible").count() == 1
    found = Axe().run(page, options={"preload": False}).response["violations"]
    assert [v["id"] for v in found if "verset-pencil" in json.dumps(v)] == []


def test_marks_go_with_the_file_of_work_and_come_back_from_it(visit: Any, site: Path, tmp_path: Path) -> None:
    page = visit(site / "versets/fourth/tenor.html", 1280, 900)
    until(page, f"{PLAYER}.own !== undefined")
    mark = {"version": "given", "clefs": "original", "bar": 5, "finger": "2", "points": [[0.5, -200]]}
    page.evaluate(f"{PLAYER}.pencil.set([{json.dumps(mark)}])")
    with page.expect_download() as saving:
        page.evaluate(
            f"[...document.querySelectorAll('button')]"
            f".find(b => b.textContent === {PLAYER}.words.try.save).click()"
        )
    path = tmp_path / "work.json"
    saving.value.save_as(path)
    kept = json.loads(path.read_text("utf-8"))
    assert kept["pencil"] == [mark]
    kept["pencil"] += [{"bar": 1}, {**mark, "finger": "<b>"}, {**mark, "points": [["x", 0]]}, 7]
    path.write_text(json.dumps(kept), "utf-8")
    page.evaluate(f"{PLAYER}.pencil.set([])")
    page.locator(".verset-try input[type=file]").first.set_input_files(path)
    until(page, f"{MARKS}.length === 1")
    assert page.evaluate(MARKS) == [mark], "what is no mark is left out"
