"""What was chosen by ear goes into the source as text, and is then what is set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.counterpoint import alternatives
from builder.language.texts import page_texts
from builder.music import Score
from builder.pages.gracing import Graces
from builder.pages.keeping import other_way
from builder.setting.setting import Setting, set_verset
from builder.source import Verset, parse

VERSETS = Path(__file__).parents[2] / "content" / "versets"
FENCE = "```"


@pytest.fixture(scope="module")
def verset() -> Verset:
    return source("")


def source(block: str) -> Verset:
    """The second verset with a block below its given line."""
    text = (VERSETS / "second.md").read_text("utf-8")
    head, line, rest = text.partition(f"{FENCE}given\n")
    music, close, words = rest.partition(f"{FENCE}\n")
    return parse(f"{head}{line}{music}{close}\n{block}\n{words}", "second.md")


def notes(score: Score, start: object, end: object) -> set[object]:
    return {
        (part.voice, note.onset, note.duration, note.pitch)
        for part in score.parts
        for note in part.notes
        if note.pitch and start <= note.onset < end  # type: ignore[operator]
    }


@pytest.fixture(scope="module")
def setting(verset: Verset) -> Setting:
    return set_verset(verset)


def test_the_other_way_of_a_step_becomes_the_setting(setting: Setting) -> None:
    verset, analysis = setting.verset, setting.analysis
    kept = 0
    for step in analysis.steps[1:3]:
        ways = alternatives(verset, analysis, 2, within=(step.start, step.end))
        if len(ways) < 2:
            continue
        block = other_way(setting, ways[1].score, step)
        assert block.startswith(f"{FENCE}plain\n") and block.endswith(FENCE)
        pinned = source(block)
        again = alternatives(pinned, analyse(pinned), 1)[0]
        assert notes(again.score, step.start, step.end) == notes(ways[1].score, step.start, step.end)
        assert not any(finding.rule == "figure-unsounded" for finding in again.findings)
        kept += 1
    assert kept


def test_graces_that_were_kept_become_the_diminution(setting: Setting) -> None:
    step = setting.analysis.steps[-1]
    data = Graces(setting, page_texts("en")).of(step.start, step.end)
    place = next(each for each in data if any(not pattern["met"] for pattern in each["patterns"]))
    pattern = next(each for each in place["patterns"] if not each["met"])
    graced = set_verset(source(f"{FENCE}diminished\n{pattern['pin']}\n{FENCE}"))
    struck = {
        (note.pitch.diatonic, note.pitch.alter, float(note.duration))
        for note in graced.diminution.score.part(place["voice"]).notes
        if note.pitch
    }
    assert {(step_, alter, length) for _, length, step_, alter, _ in pattern["notes"]} <= struck


def test_of_a_moved_verset_nothing_is_offered_for_the_source(setting: Setting) -> None:
    moved = replace(setting, original=setting.verset)
    step = setting.analysis.steps[1]
    ways = alternatives(setting.verset, setting.analysis, 2, within=(step.start, step.end))
    assert other_way(moved, ways[-1].score, step) == ""
    data = Graces(moved, page_texts("en")).of(step.start, step.end)
    assert all(pattern["pin"] == "" for each in data for pattern in each["patterns"])
