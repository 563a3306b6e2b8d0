"""Where a teacher leaves some voices or bars to the student, a take is read as these: our notes stand for the
rest, whether they are played or not."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from performers import DRAW, ERRORS, LIVE, READ, agreement, performance
from playwright.sync_api import Page
from test_takes import OWN, step

STANDS = f"""
(stands) => {{ const own = {OWN}; own.exercise.stands = stands;
  own.pen.replace(Object.fromEntries(own.exercise.voices.map((v) =>
    [v, own.exercise.ours[v].map((p, n) => stands[v][n] ? p : null)]))); }}
"""


def restricted(page: Page, kind: str) -> tuple[Any, dict[str, list[bool]]]:
    """The exercise of a page with one voice that stands, one that stands in its second half, or a middle
    stretch of all in which nothing is left to play."""
    exercise = page.evaluate(f"{OWN}.exercise")
    count, (first, *others) = len(exercise["events"]), exercise["voices"]
    rows = {
        "a voice": {first: [True] * count},
        "half a voice": {first: [n >= count // 2 for n in range(count)]},
        "a stretch of all": {
            v: [count // 4 <= n < 3 * count // 4 for n in range(count)] for v in (first, *others)
        },
    }[kind]
    stands = {v: rows.get(v, [False] * count) for v in exercise["voices"]}
    page.evaluate(STANDS, stands)
    return exercise, stands


def left_out(work: Any, stands: dict[str, list[bool]]) -> Any:
    """What the student plays of a setting."""
    return {v: [None if at else pitch for pitch, at in zip(work[v], stands[v])] for v in stands}


@pytest.mark.parametrize("kind", ["a voice", "half a voice", "a stretch of all"])
@pytest.mark.parametrize("also", [False, True], ids=["our notes silent", "our notes played too"])
def test_what_is_played_goes_to_the_voices_that_are_asked_for(
    visit: Any, site: Path, kind: str, also: bool
) -> None:
    page = step(visit, site, "cadence")
    exercise, stands = restricted(page, kind)
    work, same, notes = exercise["ours"], 0, 0
    for n in range(4):
        played = work if also else left_out(work, stands)
        found = page.evaluate(READ, performance(exercise, played, random.Random(f"beside {n}"), line=n == 3))[
            "work"
        ]
        for voice, row in stands.items():
            assert all(found[voice][k] == work[voice][k] for k, at in enumerate(row) if at and work[voice][k])
        good, count = agreement(exercise, work, found)
        same, notes = same + good, notes + count
    assert same >= 0.97 * notes > 40, (same, notes)


def test_faults_against_our_notes_are_found(visit: Any, site: Path) -> None:
    """Another lawful setting's altus, played below our own cantus, clashes with it somewhere."""
    page = step(visit, site, "cadence")
    exercise, stands = restricted(page, "a voice")
    voice = exercise["voices"][1]
    met = 0
    for n in range(6):
        drawn = page.evaluate(DRAW, n + 1)
        mixed = {**exercise["ours"], voice: drawn[voice]}
        wanted = page.evaluate(ERRORS, mixed)
        played = performance(exercise, left_out(mixed, stands), random.Random(f"fault {n}"))
        found = page.evaluate(READ, played)["work"]
        assert found[exercise["voices"][0]] == exercise["ours"][exercise["voices"][0]]
        met += any(wanted) and any(page.evaluate(ERRORS, found))
    assert met >= 3


def test_our_notes_stay_on_the_paper_as_the_take_goes_on(visit: Any, site: Path) -> None:
    page = step(visit, site, "cadence")
    exercise, stands = restricted(page, "a voice")
    played = performance(exercise, left_out(exercise["ours"], stands), random.Random("live"))
    took = page.evaluate(LIVE, [played, 60])
    first = exercise["voices"][0]
    assert took["live"][first] == took["work"][first] == exercise["ours"][first]


def test_in_free_time_the_page_waits_where_something_is_left_to_play(visit: Any, site: Path) -> None:
    page = step(visit, site, "cadence")
    exercise, stands = restricted(page, "a stretch of all")
    page.get_by_role("button", name="Play in your own time").click()
    waits = []
    for _ in exercise["events"]:
        at = page.evaluate(f"{OWN}.taking.at")
        if at < 0:
            break
        waits.append(at)
        page.evaluate(f"{OWN}.taking.onward()")  # as when the sonority is whole
    open_places = [
        n for n, event in enumerate(exercise["events"]) if any(not stands[v][n] for v in event["upper"])
    ]
    assert waits == open_places
