"""The page listens: what is played over the line is shared out among the voices, judged, kept and given out.
Many more takes: `tests/worth/takes.py`."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from performers import DRAW, ERRORS, LIVE, READ, agreement, midi, ornamented, performance, planted
from playwright.sync_api import Page
from test_keys_on_screen import key as screen_key
from waiting import until

from builder.pages.homework import read_work

OWN = "document.querySelector('.verset-player').verset.own"
KEYBOARD = """
  const input = { onmidimessage: null };
  window.piano = {
    down: (key) => input.onmidimessage?.({ data: new Uint8Array([0x90, key, 64]) }),
    heard: () => input.onmidimessage !== null,
    up: (key) => input.onmidimessage?.({ data: new Uint8Array([0x80, key, 0]) }),
  };
  const access = { inputs: new Map([["one", input]]), addEventListener: () => {} };
  navigator.requestMIDIAccess = () => Promise.resolve(access);
"""
"""A MIDI keyboard that the browser seems to know."""


def step(visit: Any, site: Path, name: str = "altus") -> Page:
    page: Page = visit(site / f"versets/fourth/{name}.html")
    until(page, f"document.querySelector('.verset-player').verset && {OWN}")
    page.evaluate(KEYBOARD)
    return page


@pytest.mark.parametrize("name", ["altus", "cadence"])
def test_a_take_with_the_time_of_human_hands_becomes_the_setting_that_was_played(
    visit: Any, site: Path, name: str
) -> None:
    page = step(visit, site, name)
    exercise = page.evaluate(f"{OWN}.exercise")
    same = notes = 0
    for n in (1, 2, 4, 5, 7, 8):
        dice = random.Random(f"take {n}")
        work = page.evaluate(DRAW, n + 1)
        found = page.evaluate(READ, performance(exercise, work, dice))["work"]
        good, count = agreement(exercise, work, found)
        same, notes = same + good, notes + count
        assert not any(page.evaluate(ERRORS, found)), n
    assert same >= 0.99 * notes > 40


def test_mordents_belong_to_the_note_that_they_adorn(visit: Any, site: Path) -> None:
    page = step(visit, site, "cadence")
    exercise = page.evaluate(f"{OWN}.exercise")
    same = notes = graced = 0
    for n in (1, 2, 4, 5):
        dice = random.Random(f"ornament {n}")
        work = page.evaluate(DRAW, n + 1)
        plain = performance(exercise, work, dice)
        played = ornamented(plain, dice)
        graced += len(played) - len(plain)
        found = page.evaluate(READ, played)["work"]
        good, count = agreement(exercise, work, found)
        same, notes = same + good, notes + count
        assert not any(page.evaluate(ERRORS, found)), n
    assert graced > 8 and same >= 0.98 * notes


def test_a_wrong_note_is_found_where_it_was_played(visit: Any, site: Path) -> None:
    page = step(visit, site, "cadence")
    exercise = page.evaluate(f"{OWN}.exercise")
    faults = 0
    for n in range(8):
        dice = random.Random(f"fault {n}")
        work, _ = planted(exercise, page.evaluate(DRAW, n + 1), dice)
        found = page.evaluate(READ, performance(exercise, work, dice))["work"]
        for rules, met in zip(page.evaluate(ERRORS, work), page.evaluate(ERRORS, found)):
            faults += bool(rules)
            assert met or not rules, (n, rules, met)
    assert faults > 5


@pytest.mark.parametrize("name", ["altus", "cadence"])
def test_a_take_is_read_as_it_goes_on_and_at_its_end_as_if_it_were_read_at_once(
    visit: Any, site: Path, name: str
) -> None:
    page = step(visit, site, name)
    exercise = page.evaluate(f"{OWN}.exercise")
    for n in (3, 4):
        dice = random.Random(f"live {n}")
        work, _ = planted(exercise, page.evaluate(DRAW, n + 1), dice)
        played = performance(exercise, work, dice, line=n == 3)
        took = page.evaluate(LIVE, [played, 60])
        assert (
            len(took["waits"]) > 5 and None not in took["waits"]
        )  # each stroke is on the paper while it goes on
        assert took["work"] == page.evaluate(READ, played)["work"]
        assert agreement(exercise, work, took["live"])[0] >= agreement(exercise, work, took["work"])[0] - 1


def test_each_bar_is_judged_in_words_as_it_ends(visit: Any, site: Path) -> None:
    page = step(visit, site)
    exercise = page.evaluate(f"{OWN}.exercise")
    work = {**exercise["ours"]}
    first = next(n for n, event in enumerate(exercise["events"]) if event["upper"])
    bar = exercise["events"][first]["bar"]
    last = max(n for n, event in enumerate(exercise["events"]) if event["bar"] <= bar + 1)
    voice = exercise["events"][first]["upper"][0]
    wrong = first + 1
    assert exercise["events"][wrong]["bar"] == bar
    row = [*work[voice]]
    row[wrong] = [row[wrong][0] + 1, exercise["signature"][(row[wrong][0] + 1) % 7]]
    rules = {
        rule for found in page.evaluate(ERRORS, {**work, voice: row})[first : wrong + 1] for rule in found
    }
    assert rules
    events = [
        {**event, "upper": event["upper"] if n <= last else []} for n, event in enumerate(exercise["events"])
    ]
    played = performance(
        {**exercise, "events": events}, {**work, voice: row}, random.Random("bars"), jitter=0.01
    )
    page.evaluate(
        f"""() => {{
          const {{ said }} = {OWN}.taking;
          window.told = [];
          new MutationObserver(() => told.push(said.textContent)).observe(said, {{ childList: true }});
        }}"""
    )
    page.evaluate(LIVE, [played, 60])
    titles = page.evaluate("(rules) => rules.map((rule) => window.versetRules[rule][0])", sorted(rules))
    told = [text for text in page.evaluate("told") if text.startswith(f"Bar {bar}:")]
    assert told and all(title in told[0] for title in titles), (told, titles)


def test_a_key_beyond_every_voice_is_written_and_found_fault_with(visit: Any, site: Path) -> None:
    page = step(visit, site)
    exercise = page.evaluate(f"{OWN}.exercise")
    n = max(n for n, event in enumerate(exercise["events"]) if event["upper"])
    voice = exercise["events"][n]["upper"][0]
    row = [*exercise["ours"][voice]]
    row[n] = [42, 0]
    assert "42,0" not in exercise["hertz"]
    played = performance(exercise, {**exercise["ours"], voice: row}, random.Random("high"))
    found = page.evaluate(READ, played)["work"]
    assert found[voice][n] == [42, 0]
    assert "compass" in page.evaluate(ERRORS, found)[n]


def play_in_free_time(page: Page, work: dict[str, Any] | None = None) -> None:
    """Each sonority on the MIDI keyboard, once the page waits at it."""
    exercise = page.evaluate(f"{OWN}.exercise")
    page.get_by_role("button", name="Play in your own time").click()
    until(page, f"{OWN}.taking.mode === 'free' && piano.heard()")
    for n, event in enumerate(exercise["events"]):
        if not event["upper"]:
            continue
        keys = sorted({midi((work or exercise["ours"])[voice][n]) for voice in event["upper"]})
        for key in keys:
            page.evaluate("(key) => piano.down(key)", key)
        until(page, f"{OWN}.taking.at !== {n}")
        for key in keys:
            page.evaluate("(key) => piano.up(key)", key)


def test_in_free_time_the_page_waits_at_each_sonority_and_writes_it(visit: Any, site: Path) -> None:
    page = step(visit, site)
    play_in_free_time(page)
    until(page, f"{OWN}.taking.mode === ''")
    exercise, work = page.evaluate(f"[{OWN}.exercise, {OWN}.work]")
    assert agreement(exercise, exercise["ours"], work)[0] == agreement(exercise, exercise["ours"], work)[1]
    said = page.locator(".verset-taking > .verset-hint").last.inner_text()
    asked = sum(bool(event["upper"]) for event in exercise["events"])
    assert f"{asked} of {asked} sonorities are in order" in said


def test_a_take_is_kept_and_given_out_as_midi_musicxml_and_a_file_for_the_teacher(
    visit: Any, site: Path, tmp_path: Path
) -> None:
    page = step(visit, site)
    play_in_free_time(page)
    until(page, f"{OWN}.taking.mode === ''")
    page.reload()
    until(page, f"document.querySelector('.verset-player').verset && {OWN}")
    take = page.locator(".verset-takes li")
    assert take.count() == 1
    files = {}
    for name in ("MIDI", "MusicXML", "For the teacher"):
        with page.expect_download() as got:
            take.get_by_role("button", name=name).click()
        files[name] = tmp_path / got.value.suggested_filename
        got.value.save_as(files[name])
    played = page.evaluate(f"{OWN}.taking.takes[0].notes")
    data = files["MIDI"].read_bytes()
    assert data[:4] == b"MThd" and data.count(b"\x90") >= len(played) and data.endswith(b"\xff\x2f\x00")
    assert "<score-partwise" in files["MusicXML"].read_text("utf-8")
    work = read_work(files["For the teacher"])
    assert work.key == page.evaluate(f"{OWN}.exercise.key") and work.first
    assert json.loads(files["For the teacher"].read_text("utf-8"))["verdict"] == []
    take.get_by_role("button", name="Hear it").click()
    until(page, "ear.starts.length > 0")


def test_to_the_sounding_line_a_take_ends_with_the_line_and_is_laid_over_it(visit: Any, site: Path) -> None:
    page = step(visit, site)
    page.get_by_role("button", name="Play to the line").click()
    until(page, f"{OWN}.taking.started && piano.heard()")
    page.evaluate(
        f"""() => {{ // the hands that play the voices as the line goes on
          const {{ taking, exercise, player }} = {OWN};
          const notes = exercise.events.flatMap((event, n) =>
            event.upper.map((voice) => [event, exercise.ours[voice][n]]));
          const natural = [0, 2, 4, 5, 7, 9, 11];
          const key = ([step, alter]) => 12 * (Math.floor(step / 7) + 1) + natural[step % 7] + alter;
          const position = player.transport.position;
          for (const [event, pitch] of notes) {{
            player.transport.position = () => event.start + 0.02;
            piano.down(key(pitch));
            player.transport.position = () => event.end - 0.05;
            piano.up(key(pitch));
          }}
          player.transport.position = position;
        }}"""
    )
    page.get_by_role("button", name="Enough").click()
    until(page, f"{OWN}.taking.mode === ''")
    exercise, work = page.evaluate(f"[{OWN}.exercise, {OWN}.work]")
    good, count = agreement(exercise, exercise["ours"], work)
    assert good == count


def test_the_keys_on_the_screen_do_the_same(visit: Any, site: Path) -> None:
    page = step(visit, site)
    page.get_by_role("button", name="Play in your own time").click()
    until(page, f"{OWN}.taking.mode === 'free'")
    exercise = page.evaluate(f"{OWN}.exercise")
    first = next(n for n, event in enumerate(exercise["events"]) if event["upper"])
    for voice in exercise["events"][first]["upper"]:
        key = midi(exercise["ours"][voice][first])
        screen_key(page, key).dispatch_event("pointerdown", {"pointerId": 1, "bubbles": True})
        page.evaluate("dispatchEvent(new PointerEvent('pointerup', { pointerId: 1 }))")
    until(page, f"{OWN}.taking.at !== {first}")
    for voice in exercise["events"][first]["upper"]:
        assert page.evaluate(f"{OWN}.work[{voice!r}][{first}]") == exercise["ours"][voice][first]
