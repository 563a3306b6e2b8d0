"""The organ's keys under the music: they show what sounds, and sound what is touched."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page
from waiting import until

PLAYER = "document.querySelector('.verset-player').verset"
OWN = f"{PLAYER}.own"
DOWN = "() => [...document.querySelectorAll('.verset-key-down text')].map((text) => text.textContent)"

IN_SIGHT = """(() => {
  const edge = document.querySelector('.verset-keyboard').getBoundingClientRect();
  const boxes = [...document.querySelectorAll('.verset-key-down rect')].map(k => k.getBoundingClientRect());
  const low = Math.min(...boxes.map(b => b.left)), high = Math.max(...boxes.map(b => b.right));
  const middle = Math.abs((low + high) / 2 - (edge.left + edge.right) / 2);
  if (high - low > edge.width) return middle <= edge.width / 3 + 1;
  return low >= edge.left - 1 && high <= edge.right + 1;
})()"""
"""Whether all keys that are down are seen, or the middle of what is wider than the page."""


def with_keys(page: Page) -> Page:
    until(page, f"{PLAYER} !== undefined")
    page.get_by_role("button", name="More").click()
    page.get_by_label("Keyboard", exact=True).check()
    page.get_by_role("button", name="More").click()
    assert page.locator(".verset-keyboard").is_visible()
    return page


def key(page: Page, midi: int) -> Locator:
    """A key, counted as the keyboard stands: white ones first, then black ones."""
    black = [n for n in range(36, 85) if n % 12 in (1, 3, 6, 8, 10)]
    white = [n for n in range(36, 85) if n not in black]
    return page.locator(".verset-keyboard g").nth((white + black).index(midi))


@pytest.fixture
def page(visit: Any, site: Path) -> Page:
    return with_keys(visit(site / "versets/fourth/whole.html"))


def test_what_sounds_is_marked_with_the_letter_of_its_voice(page: Page) -> None:
    """Each sounding note of the play data lies on its key (the nearest in equal temperament: no tuning in use
    moves a key by half a semitone)."""
    page.evaluate(f"{PLAYER}.setVersion('plain')")
    for bar in (3, 5, 8):
        page.evaluate(f"{PLAYER}.toBar({bar})")
        at = page.evaluate(f"{PLAYER}.transport.position()")
        notes = page.evaluate(f"{PLAYER}.timeline.versions.plain.notes")
        voices = page.evaluate(f"{PLAYER}.voices")
        sounding: dict[int, str] = {}
        for note in notes:
            if note["start"] <= at + 1e-6 < note["end"]:
                midi = round(69 + 12 * math.log2(note["hertz"] / 440))
                sounding[midi] = sounding.get(midi, "") + voices[note["voice"]][0].upper()
        assert len(sounding) > 1
        assert sorted(page.evaluate(DOWN)) == sorted(sounding.values())
        for midi, letters in sounding.items():
            assert key(page, midi).locator("text").text_content() == letters
    page.evaluate(f"{PLAYER}.setVoice('cantus', false)")
    page.evaluate(f"{PLAYER}.toBar(8)")
    assert not any("C" in letters for letters in page.evaluate(DOWN))


def test_a_touched_key_sounds_its_own_pitch_until_it_is_let_go(page: Page) -> None:
    box = key(page, 69).bounding_box()
    assert box
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] - 8)
    page.mouse.down()
    until(page, "ear.starts.length > 0")
    (struck,) = {round(s["hertz"], 1) for s in page.evaluate("ear.starts") if s["hertz"] < 450}
    assert struck == pytest.approx(440, abs=0.2)
    assert page.evaluate(DOWN).count("") == 1
    page.mouse.up()
    assert page.evaluate(DOWN).count("") == 0


def test_a_touch_puts_the_note_into_the_exercise_that_has_the_focus(visit: Any, site: Path) -> None:
    page = with_keys(visit(site / "versets/fourth/tenor.html"))
    until(page, f"{OWN} !== undefined")
    voice, ours = page.evaluate(f"[{OWN}.exercise.voices[0], {OWN}.exercise.ours]")
    step, alter = ours[voice][0]
    midi = 12 * (step // 7 + 1) + (0, 2, 4, 5, 7, 9, 11)[step % 7] + alter
    key(page, midi).click(position={"x": 8, "y": 80})
    assert page.evaluate(f"{OWN}.work[{voice!r}][0]") is None, "nothing has the focus"
    page.locator(".verset-paper").focus()
    key(page, midi).click(position={"x": 8, "y": 80})
    assert page.evaluate(f"{OWN}.work[{voice!r}][0]") == [step, alter]


def test_the_keyboard_folds_away_and_the_choice_is_kept(page: Page) -> None:
    page.reload()
    until(page, f"{PLAYER} !== undefined")
    assert page.locator(".verset-keyboard").is_visible()
    free = page.evaluate("document.documentElement.style.getPropertyValue('--verset-strip')")
    page.get_by_role("button", name="More").click()
    page.get_by_label("Keyboard", exact=True).uncheck()
    assert not page.locator(".verset-keyboard").is_visible()
    less = page.evaluate("document.documentElement.style.getPropertyValue('--verset-strip')")
    assert int(free[:-2]) - int(less[:-2]) > 80, "the page gets back the room"


def test_on_a_phone_white_keys_are_wide_enough_and_what_sounds_comes_into_sight(
    visit: Any, site: Path
) -> None:
    page = with_keys(visit(site / "versets/fourth/whole.html", 360, 740))
    box = key(page, 60).bounding_box()
    assert box and box["width"] >= 24
    page.get_by_role("button", name="Go", exact=False).first.click()
    for bar in page.evaluate(f"{PLAYER}.timeline.numbers"):
        page.evaluate(f"{PLAYER}.toBar({bar})")
        until(page, f"{PLAYER}.marks.bar >= {bar} && ({DOWN})().length > 0")
        assert page.evaluate(IN_SIGHT), f"bar {bar}"
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
