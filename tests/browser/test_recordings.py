"""One's own playing on a page: the music follows a recording, which takes the place of the organ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sample
import soundfile
from playwright.sync_api import Page
from waiting import until

PLAYER = "document.querySelector('.verset-player').verset"
TRANSPORT = f"{PLAYER}.transport"
LATE, SLOWER = 1.0, 1.25
"""The recording begins so many seconds later, and takes so much longer."""


def recording(key: str, away: Any, end: float) -> dict[str, Any]:
    points = [[moment, LATE + SLOWER * moment] for moment in np.arange(0, end + 0.5, 0.5).tolist()]
    told = {"key": key, "name": f"Anna's {key}", "of": "plain", "away": away, "picture": False}
    return {**told, "source": "take.wav", "points": points}


@pytest.fixture
def page(visit: Any, tmp_path: Path) -> Page:
    end = sample.play_data()["end"]
    long = LATE + SLOWER * end + 1
    tone = 0.1 * np.sin(2 * np.pi * 440 * np.arange(int(8000 * long)) / 8000)
    soundfile.write(tmp_path / "take.wav", tone, 8000)
    playing = [recording("take", [3], end), recording("improvised", True, end)]
    page = visit(sample.write_page(tmp_path, playing=playing))
    until(page, PLAYER)
    return page


def asked(page: Page, of: str) -> Any:
    return page.evaluate(of)


def lit(page: Page) -> list[str]:
    return list(page.evaluate("[...document.querySelectorAll('.verset-now')].map((note) => note.dataset.id)"))


def go(page: Page, version: str, bar: int) -> None:
    page.select_option(".verset-list", version)
    asked(page, f"{PLAYER}.toBar({bar})")
    page.locator(".verset-strip .verset-go").click()
    until(page, f"{TRANSPORT}.going && !{TRANSPORT}.recorded.media.paused")


def test_the_music_follows_the_recording_by_its_own_clock(page: Page) -> None:
    listed = asked(page, "[...document.querySelector('.verset-list').options].map((each) => each.text)")
    assert listed[-2:] == ["Anna's take", "Anna's improvised"]
    go(page, "take", 1)
    until(page, f"{TRANSPORT}.position() > 2.4")
    at, second = asked(page, f"[{TRANSPORT}.position(), {TRANSPORT}.recorded.media.currentTime]")
    assert second == pytest.approx(LATE + SLOWER * at, abs=0.08)
    assert any(name.startswith("plain-") for name in lit(page))
    assert asked(page, f"{TRANSPORT}.recorded.media.volume") == pytest.approx(0.35)


def test_where_other_notes_are_played_the_bar_is_followed_and_no_note(page: Page) -> None:
    go(page, "take", 3)
    until(page, "document.querySelector('.verset-here')")
    assert asked(page, f"{PLAYER}.marks.bar") == 3 and not lit(page)
    until(page, f"{PLAYER}.marks.bar === 4")
    until(page, "document.querySelector('.verset-now')")
    page.select_option(".verset-list", "improvised")
    until(page, f"{TRANSPORT}.going")
    second = f"{TRANSPORT}.recorded.media.currentTime"
    until(page, f"{second} > {asked(page, second) + 0.2}")
    assert not lit(page) and page.locator(".verset-here").count()


def test_bars_repeat_at_another_speed_and_the_last_of_them_ends(page: Page) -> None:
    asked(page, f"{PLAYER}.setSpeed(150); {PLAYER}.setRepeat([2, 2])")
    go(page, "take", 2)
    assert asked(page, f"{TRANSPORT}.recorded.media.playbackRate") == 1.5
    low, high = asked(page, f"[{TRANSPORT}.low, {TRANSPORT}.high]")
    until(page, f"{TRANSPORT}.position() > {high - 0.4}")
    until(page, f"{TRANSPORT}.position() < {low + 0.6}")
    asked(page, f"{PLAYER}.setRepeat(null); {PLAYER}.toBar(8)")
    until(page, f"!{TRANSPORT}.going")
    assert asked(page, f"{TRANSPORT}.recorded.media.paused")


def test_from_the_recording_to_the_organ_and_back_the_place_stays(page: Page) -> None:
    go(page, "take", 4)
    until(page, f"{PLAYER}.marks.bar === 4")
    page.select_option(".verset-list", "plain")
    until(page, f"{TRANSPORT}.going && !{TRANSPORT}.recorded")
    assert asked(page, f"{TRANSPORT}.recordings.take.media.paused")
    assert asked(page, f"{PLAYER}.marks.bar") in (4, 5)
    page.select_option(".verset-list", "take")
    until(page, f"{TRANSPORT}.going && !{TRANSPORT}.recordings.take.media.paused")
    assert asked(page, f"{PLAYER}.marks.bar") in (4, 5)


def test_without_script_the_recording_has_the_browsers_own_controls(visit: Any, tmp_path: Path) -> None:
    page = visit(sample.write_page(tmp_path, playing=[recording("take", [], 9)]), java_script_enabled=False)
    assert page.locator("audio[data-playing=take][controls]").is_visible()
