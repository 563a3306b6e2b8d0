"""Patterns offered for a plain note fit its value and its way, and are judged by the check itself."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from course import course_setting

from builder.diminution import Pattern
from builder.diminution.texture import lay_out
from builder.language.texts import page_texts as words
from builder.music import Note, Pitch
from builder.pages.exercise import exercise_data
from builder.pages.gracing import PATTERNS, Graces, _met, _spread, _told, fitting
from builder.setting.setting import Setting, set_verset
from builder.source import parse

SOURCE = Path(__file__).parent.parent.parent / "content/versets/fourth.md"


@pytest.fixture(scope="module")
def setting() -> Setting:
    return course_setting(SOURCE.stem)


@pytest.fixture(scope="module")
def notes(setting: Setting) -> list[dict[str, Any]]:
    step = next(s for s in setting.analysis.steps if s.name == "tenor")
    return Graces(setting, words("en")).of(step.start, step.end)


def test_every_pattern_fills_its_note_and_sounds_as_it_is_tuned(
    notes: list[dict[str, Any]], setting: Setting
) -> None:
    assert notes
    for note in notes:
        for pattern in note["patterns"]:
            assert sum(length for _, length, *_ in pattern["notes"]) == note["length"]
            starts = [start for start, *_ in pattern["notes"]]
            assert starts == sorted(starts) and note["start"] == starts[0]
            assert len(pattern["names"].split()) == len(pattern["notes"])


def test_only_patterns_for_the_way_and_the_value_are_offered(setting: Setting) -> None:
    stems = [s for row in lay_out(setting.realisation.score).stems for s in row if s.after]
    offered = 0
    for stem in stems:
        found = fitting(stem, setting.tables)
        assert len(found) <= PATTERNS and len(set(found)) == len(found)
        offered += len(found)
        for pattern in found:
            assert pattern.value == stem.note.duration
            assert stem.after is not None
            assert pattern.interval in (None, stem.after.diatonic - stem.pitch.diatonic)
    assert offered > 50


def test_what_a_pattern_breaks_is_new_against_the_plain_setting(notes: list[dict[str, Any]]) -> None:
    patterns = [p for note in notes for p in note["patterns"]]
    faulty = [p for p in patterns if any(severity == "error" for _, severity in p["met"])]
    fine = [p for p in patterns if not p["met"]]
    # Were the plain setting's own findings counted again, no pattern would be without one.
    assert len(faulty) > 2 and len(fine) > 2


def test_a_pinned_figure_elsewhere_changes_no_verdict() -> None:
    """A figure that the source pins in one bar is ours; those offered elsewhere are judged as before."""
    pinned = SOURCE.with_name("first.md").read_text("utf-8")
    pinned += "\n```diminished\ncantus 3 | C5/4 D5/8 E5/8 _/2\n```\n"
    data = []
    for setting in (course_setting("first"), set_verset(parse(pinned, "first.md"))):
        step = setting.analysis.steps[1]
        data.append(Graces(setting, words("en")).of(step.start, step.end))
    rules = {rule for note in data[1] for p in note["patterns"] for rule, _ in p["met"]}
    assert "pin-changed" not in rules
    assert data[0] == data[1]


def test_the_cadence_says_what_must_be_raised_and_what_must_rise() -> None:
    setting = course_setting("first")
    cadence = next(c for c in setting.analysis.cadences if c.kind in ("semplice", "composta", "doppia"))
    data = exercise_data(setting, cadence.start, cadence.onset + 4, words("en"))
    assert data is not None
    close = next(e for e in data["events"] if e["at"] == float(cadence.onset))
    final = Pitch.parse(f"{cadence.degree}4")
    for key in close["rise"]:
        step, alter = map(int, key.split(","))
        assert (final.midi - Pitch(28 + step, alter).midi) % 12 == 1
    before = [e for e in data["events"] if "raise" in e]
    assert before and all(e["at"] + e["length"] == close["at"] for e in before)
    assert not set(before[0]["raise"]) & set(close["rise"])


def pattern(name: str, figure: str, density: int, interval: int | None = 2, value: int = 2) -> Pattern:
    q = Fraction(1)
    return Pattern(name, figure, interval, value * q, (0, 1), (q, q), "gentle", density, (), "A")


def test_the_sparest_and_the_busiest_are_offered_in_turn_and_figures_before_more_of_the_same() -> None:
    """Of many patterns nine: one of each density after the other, of each density different figures first."""
    note = Note(Fraction(0), Fraction(2), Pitch.parse("D5"))
    stem = SimpleNamespace(note=note, pitch=note.pitch, after=Pitch.parse("F5"))
    table = [
        *(pattern(f"a{n}", "passing", 1) for n in range(6)),
        *(pattern(f"b{n}", "turn", 1) for n in range(6)),
        pattern("c", "minuta", 3),
        pattern("way", "passing", 2, interval=-1),
        pattern("value", "passing", 2, value=4),
        pattern("any", "groppo", 2, interval=None),
    ]
    found = [p.id for p in fitting(stem, table)]  # type: ignore[arg-type]
    assert found == ["a0", "a1", "a2", "a3", "b0", "b1", "b2", "any", "c"]
    assert [p.id for p in _spread(table[:3] + table[6:8])] == ["a0", "b0", "a1", "b1", "a2"]


def test_a_clash_is_told_of_the_note_that_strikes() -> None:
    def told(rule: str, onset: int) -> tuple[str, str]:
        finding = SimpleNamespace(rule=rule, severity="error", onset=Fraction(onset))
        return _told(finding, {Fraction(1)})  # type: ignore[arg-type]

    assert told("suspension-unprepared", 1) == ("dissonance", "error") == told("suspension-unresolved", 1)
    assert told("suspension-unprepared", 2) == ("suspension-unprepared", "error")
    assert told("parallel-fifths", 1) == ("parallel-fifths", "error")


def test_notes_and_what_a_licence_allows_are_not_held_against_a_pattern() -> None:
    def finding(severity: str, allowed: str = "") -> SimpleNamespace:
        return SimpleNamespace(severity=severity, allowed=allowed)

    all_ = [finding("error"), finding("warning"), finding("note"), finding("error", "because")]
    assert [*_met(all_)] == all_[:2]  # type: ignore[arg-type]
