"""Listening: what the page sends to the loudspeaker, and when."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sample
from playwright.sync_api import Page
from waiting import sounds, until

PLAYER = "document.querySelector('.verset-player').verset"
F_SHARP = 440 * 2 ** (-3 / 12)
"""The altus of the last bar; no harmonic of the other voices lies near it."""
D5 = 440 * 2 ** (5 / 12)
CLOCKS = f"[{PLAYER}.organ.heard(), {PLAYER}.transport.position()]"
"""The clock of the sound at the ear and the place in the music, at one moment."""
BEGUN = "new Set(ear.starts.map((each) => each.when.toFixed(3))).size"
"""How many moments have pipes that begin, planned so far."""


@pytest.fixture
def page(visit: Any, sample_page: Callable[..., Path]) -> Page:
    return visit(sample_page())


def go(page: Page) -> None:
    page.locator(".verset-strip .verset-go").click()
    until(page, f"{PLAYER}.transport.going")


def position(page: Page) -> float:
    return float(page.evaluate(f"{PLAYER}.transport.position()"))


def last_chord(page: Page) -> None:
    """Hold the last bar: repeat it at the slowest speed."""
    page.evaluate(f"{PLAYER}.setSpeed(30); {PLAYER}.setRepeat([8, 8])")
    go(page)
    until(page, "ear.tap && ear.context.currentTime > 0.9")


def loudness(page: Page, hertz: float) -> float:
    sounds(page, 2)  # the analyser looks at the last 0.4 seconds, and what was silenced dies away
    return float(page.evaluate(f"ear.loudness({hertz})"))


def test_it_goes_and_stops_where_it_is(page: Page) -> None:
    go(page)
    assert page.locator(".verset-strip .verset-go").inner_text().startswith("Stop")
    until(page, f"{PLAYER}.transport.position() > 0.3")
    page.locator(".verset-strip .verset-go").click()
    stopped = position(page)
    assert 0.3 < stopped < page.evaluate("ear.context.currentTime")
    page.wait_for_timeout(300)
    assert position(page) == stopped
    go(page)
    assert position(page) >= stopped


SAID = """() => new Promise((done) => {
  const said = [];
  const until = performance.now() + 2600;
  const place = document.querySelector('.verset-strip .verset-go small');
  const tick = () => {
    said.push([ear.tap ? ear.heard() : 0, place.textContent]);
    performance.now() < until ? requestAnimationFrame(tick) : done(said);
  };
  document.querySelector('.verset-strip .verset-go').click();
  tick();
})"""
"""Starts the music and reads the place on every frame, with the time of the sound that is at the ear."""


def test_without_a_count_nothing_is_counted_in(page: Page) -> None:
    said = [text for _, text in page.evaluate(SAID)]
    assert len(said) > 10 and not [text for text in said if "counting" in text]


def test_the_count_is_told_until_the_first_note_and_no_longer(page: Page) -> None:
    page.evaluate(f"{PLAYER}.transport.setBeat(true, false); {PLAYER}.setSpeed(150)")
    said = page.evaluate(SAID)
    first = min(s["when"] for s in page.evaluate("ear.starts") if s["hertz"] == pytest.approx(D5))
    counting = ["counting" in text for _, text in said]
    begins, ends = counting.index(True), len(counting) - counting[::-1].index(True)
    assert all(counting[begins:ends])
    # A frame reads what the page wrote in it or in the one before, however long the machine held them up.
    at = [time for time, _ in said]
    assert begins < 2 or at[begins - 2] < 0.1
    assert at[ends - 2] < first + 0.1
    assert at[ends] > first - 0.1


def test_it_starts_with_notes_in_time_of_the_play_data(page: Page) -> None:
    go(page)
    until(page, f"{BEGUN} > 4")
    starts = page.evaluate("ear.starts")
    begun = sorted({round(s["when"], 4) for s in starts})
    notes = sample.play_data()["versions"]["plain"]
    expected = sorted({note[0] for note in notes})
    for heard, written in list(zip(begun, expected, strict=False))[:4]:
        assert heard - begun[0] == pytest.approx(written, abs=0.001)
    for each in starts:
        assert each["when"] >= each["at"], "a note was planned too late"


def test_slower_means_longer_not_lower(page: Page) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_role("slider", name="Speed").fill("50")
    go(page)
    until(page, f"{BEGUN} > 1")
    starts = page.evaluate("ear.starts")
    begun = sorted({round(s["when"], 4) for s in starts})
    notes = sample.play_data()["versions"]["plain"]
    assert begun[1] - begun[0] == pytest.approx(2 * notes[1][0], abs=0.001)
    assert starts[0]["hertz"] == pytest.approx(notes[0][2], rel=1e-6)


def test_speed_can_change_while_it_goes_without_striking_notes_again(page: Page) -> None:
    page.evaluate(f"{PLAYER}.toBar(8)")
    go(page)
    until(page, f"{PLAYER}.transport.position() > {PLAYER}.timeline.barStart(8) + 0.2")
    before = page.evaluate("ear.starts.length")
    page.evaluate(f"{PLAYER}.setSpeed(50)")
    first = page.evaluate(CLOCKS)
    sounds(page, 0.8)
    then = page.evaluate(CLOCKS)
    assert page.evaluate("ear.starts.length") == before
    assert (then[1] - first[1]) / (then[0] - first[0]) == pytest.approx(0.5, abs=0.04)


@pytest.mark.parametrize("percent", [30, 150])
def test_speed_runs_from_thirty_to_a_hundred_and_fifty(page: Page, percent: int) -> None:
    page.evaluate(f"{PLAYER}.setSpeed({percent})")
    go(page)
    until(page, f"{PLAYER}.transport.position() > 0.1")
    first = page.evaluate(CLOCKS)
    sounds(page, 1)
    then = page.evaluate(CLOCKS)
    assert (then[1] - first[1]) / (then[0] - first[0]) == pytest.approx(percent / 100, abs=0.04)


def test_a_voice_is_silenced_and_comes_back(page: Page) -> None:
    last_chord(page)
    with_altus = loudness(page, F_SHARP)
    page.get_by_role("button", name="Voices", exact=True).click()
    altus = page.get_by_role("button", name="altus", exact=True)
    altus.click()
    assert altus.get_attribute("aria-pressed") == "false"
    assert loudness(page, F_SHARP) < with_altus - 30
    assert loudness(page, D5) > with_altus - 20
    altus.click()
    assert loudness(page, F_SHARP) == pytest.approx(with_altus, abs=1)


def test_a_voice_is_singled_out(page: Page) -> None:
    last_chord(page)
    with_all = loudness(page, D5)
    page.get_by_role("button", name="Voices", exact=True).click()
    page.get_by_role("button", name="altus alone").click()
    assert loudness(page, D5) < with_all - 30
    assert loudness(page, F_SHARP) > with_all - 20
    page.get_by_role("button", name="altus alone").click()
    assert loudness(page, D5) == pytest.approx(with_all, abs=1)


def test_bars_are_repeated_without_a_gap(page: Page) -> None:
    page.evaluate(f"{PLAYER}.setSpeed(150)")
    page.get_by_role("button", name="Bars", exact=True).click()
    page.get_by_label("from").fill("2")
    page.get_by_label("from").press("Tab")
    page.get_by_label("to", exact=True).fill("2")
    page.get_by_label("to", exact=True).press("Tab")
    go(page)
    until(page, f"{BEGUN} > 4")
    assert page.evaluate(f"{PLAYER}.marks.bar") == 2
    begun = sorted({round(s["when"], 3) for s in page.evaluate("ear.starts")})
    data = sample.play_data()
    (_, start), (_, end) = data["bars"][1:3]
    inside = sorted({note[0] for note in data["versions"]["plain"] if start <= note[0] < end})
    written = [(onset - start + turn * (end - start)) / 1.5 for turn in range(2) for onset in inside]
    for heard, expected in zip(begun[:4], written, strict=True):
        assert heard - begun[0] == pytest.approx(expected, abs=0.002)


def test_versions_change_in_place(page: Page) -> None:
    page.evaluate(f"{PLAYER}.toBar(5)")
    go(page)
    until(page, f"{PLAYER}.transport.position() > {PLAYER}.timeline.barStart(5) + 0.1")
    (begun, before) = page.evaluate(CLOCKS)
    page.locator(".verset-strip").get_by_role("combobox", name="Version").select_option("diminished")
    (heard, now) = page.evaluate(CLOCKS)
    assert before <= now < before + heard - begun + 0.1
    assert page.locator(".verset-music[data-version=diminished]").is_visible()
    assert page.locator(".verset-music[data-version=plain]").is_hidden()
    until(page, "document.querySelector('.verset-now[data-id^=diminished-]')")


def test_it_counts_one_bar_in_and_knocks_on_the_beat(page: Page) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    page.get_by_label("Count in").check()
    page.get_by_label("Beat aloud").check()
    go(page)
    assert "counting in" in page.locator(".verset-strip .verset-go").inner_text()
    until(page, f"{PLAYER}.transport.position() > 0.1")
    starts = page.evaluate("ear.starts")
    knocks = sorted({s["when"] for s in starts if s["hertz"] in (1568, 1046)})
    notes = sorted({s["when"] for s in starts if s["hertz"] not in (1568, 1046)})
    assert len([k for k in knocks if k < notes[0] - 0.01]) == 4
    assert knocks[4] == pytest.approx(notes[0], abs=0.002)


def test_it_stops_by_itself_at_the_end_and_goes_back(page: Page) -> None:
    page.evaluate(f"{PLAYER}.setSpeed(150); {PLAYER}.transport.seek(19.6)")
    go(page)
    until(page, f"!{PLAYER}.transport.going")
    assert position(page) == 0


def test_it_starts_quiet_and_stays_below_full_level_with_everything_drawn(page: Page) -> None:
    last_chord(page)
    sounds(page, 0.5)
    assert page.evaluate("ear.peak()") < 0.2
    page.evaluate(f"{PLAYER}.setLevel(100)")
    sounds(page, 0.8)
    assert 0.1 < page.evaluate("ear.peak()") < 1


def test_a_caution_stands_beside_the_loudness(page: Page) -> None:
    page.get_by_role("button", name="More", exact=True).click()
    slider = page.get_by_role("slider", name="Loudness")
    caution = page.locator(f"#{slider.get_attribute('aria-describedby')}")
    assert caution.is_visible()
    assert "headphones" in caution.inner_text()


def test_without_script_there_are_recordings(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page(), java_script_enabled=False)
    assert page.locator("audio").count() == 3
    assert page.locator("audio").first.is_visible()
    assert page.locator(".verset-music").nth(1).is_visible()


def test_the_page_holds_its_play_data_itself(sample_page: Callable[..., Path]) -> None:
    html = sample_page().read_text("utf-8")
    inside = re.search(r'class="verset-play">(.*?)</script>', html)
    assert inside
    assert json.loads(inside[1])["play"] == sample.play_data()
