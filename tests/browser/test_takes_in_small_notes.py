"""A voice played in small notes over the plain version is judged against its skeleton. What is expected comes
from the rulebook: the patterns of the tables that a page offers carry what the check says of each."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from performers import midi
from playwright.sync_api import Page
from test_takes import step
from waiting import until

OWN = "document.querySelector('.verset-player').verset.own"
GRACED = f"""([voice, notes]) => {{
  const {{ taking, exercise }} = {OWN};
  const graced = taking.gracedOf({{ voice, work: exercise.ours }}, notes);
  return {{ small: graced.judged(), lost: graced.lost() }};
}}"""
PATTERNS = "JSON.parse(document.querySelector('.verset-gracing').textContent)"


def plain_notes(exercise: dict[str, Any], voice: str) -> list[tuple[float, float, int]]:
    """The plain notes of a voice of our own setting: start, end, key."""
    rows = zip(exercise["events"], exercise["ours"][voice])
    return [(e["start"], e["end"], midi(pitch)) for e, pitch in rows if pitch and voice in e["upper"]]


def broken(exercise: dict[str, Any], note: dict[str, Any], pattern: dict[str, Any]) -> list[dict[str, float]]:
    """The voice of a plain note as keys in time, with a pattern in place of that note."""
    heads: list[tuple[float, int]] = []
    for start, end, key in plain_notes(exercise, note["voice"]):
        if start > note["start"] - 0.01 and end < note["end"] + 0.01:
            if start < note["start"] + 0.01:
                heads += [(at, midi([step_, alter])) for at, _, step_, alter, _ in pattern["notes"]]
        elif not heads or heads[-1][1] != key or abs(start - note["end"]) < 0.01:
            heads.append((start, key))
    last = exercise["events"][-1]["end"]
    ends = [at for at, _ in heads[1:]] + [last]
    return [{"key": key, "on": at, "off": end - 0.02} for (at, key), end in zip(heads, ends)]


def is_wrong(pattern: dict[str, Any]) -> bool:
    """Whether the check finds a clash that nothing excuses."""
    return ["dissonance", "error"] in pattern["met"]


@pytest.mark.parametrize("name", ["altus", "cadence"])
def test_patterns_are_judged_as_the_check_judges_them(visit: Any, site: Path, name: str) -> None:
    page: Page = step(visit, site, name)
    exercise, notes = page.evaluate(f"[{OWN}.exercise, {PATTERNS}]")
    same = asked = 0
    for note in notes:
        for pattern in note["patterns"]:
            found = page.evaluate(GRACED, [note["voice"], broken(exercise, note, pattern)])
            asked += 1
            same += any(small["rules"] for small in found["small"]) == is_wrong(pattern)
    # Over all steps of the demonstration course 96 of 100 agree; most others are accents on a strong beat
    # while another voice moves as well.
    assert asked > 30 and same >= 0.9 * asked, (same, asked)


def test_a_clash_that_is_left_by_leap_is_told_with_its_place_and_the_plain_notes_are_found(
    visit: Any, site: Path
) -> None:
    page: Page = step(visit, site, "altus")
    exercise, notes = page.evaluate(f"[{OWN}.exercise, {PATTERNS}]")
    note, pattern = next(
        (note, pattern)
        for note in notes
        for pattern in note["patterns"]
        if not pattern["met"] and len(pattern["notes"]) > 3
    )
    voice = note["voice"]
    played = broken(exercise, note, pattern)
    found = page.evaluate(GRACED, [voice, played])
    assert not found["lost"] and not any(small["rules"] for small in found["small"])
    kinds = {small["kind"] for small in found["small"]}
    assert "plain" in kinds and kinds & {"passing", "neighbour"}
    # A small note is put elsewhere: a tritone over the lowest voice, reached and left by leap.
    at = next(k for k, key in enumerate(played) if key["on"] > note["start"] + 0.01)
    n = max(n for n, event in enumerate(exercise["events"]) if event["start"] <= played[at]["on"] + 0.01)
    low = midi(exercise["events"][n]["bass"])
    wrong = [{**key} for key in played]
    wrong[at]["key"] = low + 18
    told = page.evaluate(GRACED, [voice, wrong])["small"][at]
    assert told["rules"] and told["kind"] in ("clash", "belongs"), told
    # A plain note that is never touched is lost.
    without = [
        key for key in played if not (key["key"] == played[-1]["key"] and key["on"] > note["end"] + 0.2)
    ]
    if len(without) < len(played):
        assert page.evaluate(GRACED, [voice, without])["lost"]


def test_the_page_sounds_the_plain_version_without_the_voice_and_says_how_it_stands(
    visit: Any, site: Path
) -> None:
    page: Page = step(visit, site, "altus")
    page.get_by_role("button", name="Play the chosen voice in small notes").click()
    until(page, f"{OWN}.taking.started")
    voice = page.evaluate(f"{OWN}.pen.voice")
    assert page.evaluate(f"[...{OWN}.player.silent]") == [voice]
    assert page.evaluate(f"{OWN}.player.transport.settings.version") == "plain"
    page.evaluate(
        f"""() => {{ // the plain notes, each begun with its upper neighbour after it
          const {{ taking, exercise, player }} = {OWN}, voice = {OWN}.pen.voice;
          const natural = [0, 2, 4, 5, 7, 9, 11];
          const key = ([step, alter]) => 12 * (Math.floor(step / 7) + 1) + natural[step % 7] + alter;
          const {{ position }} = player.transport;
          exercise.events.forEach((event, n) => {{
            const pitch = exercise.ours[voice][n];
            if (!pitch) return;
            player.transport.position = () => event.start;
            taking.press(key(pitch), false);
            player.transport.position = () => event.end - 0.03;
            taking.release(key(pitch));
          }});
          player.transport.position = position;
        }}"""
    )
    page.get_by_role("button", name="Enough").click()
    until(page, f"{OWN}.taking.mode === ''")
    said = page.evaluate(f"{OWN}.taking.said.textContent")
    assert "0 of 0 small notes" in said and "plain notes are kept" in said, said
    assert page.evaluate(f"{OWN}.player.silent.size") == 0
    assert page.locator(".verset-takes li").count() == 1
    assert page.evaluate(f"{OWN}.work[{voice!r}].every((each) => each === null)"), "the reader's work stays"


def test_hands_that_are_early_or_late_mean_the_same_sixteenths(visit: Any, site: Path) -> None:
    """Every other key is 25 ms early, every other late: 50 of the 125 ms of a sixteenth."""
    page: Page = step(visit, site, "altus")
    exercise, notes = page.evaluate(f"[{OWN}.exercise, {PATTERNS}]")
    meant = f"""([voice, notes]) => {{
      const {{ taking, exercise }} = {OWN};
      const graced = taking.gracedOf({{ voice, work: exercise.ours }}, notes);
      return graced.small.map((_, k) => graced.meantAt(k));
    }}"""
    same = asked = 0
    for note in notes:
        for pattern in note["patterns"]:
            exact = broken(exercise, note, pattern)
            hands = [{**key, "on": key["on"] + (0.025, -0.025)[k % 2]} for k, key in enumerate(exact)]
            one, other = (page.evaluate(meant, [note["voice"], keys]) for keys in (exact, hands))
            same, asked = same + sum(map(float.__eq__, map(float, one), map(float, other))), asked + len(one)
    assert asked > 200 and same >= 0.98 * asked, (same, asked)
