"""A verset moved for the choir is the same setting moved: note for note wherever compass and keys hold it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from course import course_setting

from builder.analysis import analyse
from builder.counterpoint import Realisation, realise, said
from builder.music import Pitch, Score, bar_at
from builder.music.voice import KEYBOARD
from builder.setting.reading import read_verset
from builder.setting.setting import (
    Defaults,
    as_played,
    is_error,
    set_otherwise,
    set_verset,
    with_defaults,
)
from builder.setting.transpose import SUITABLE
from builder.source import Verset

CONTENT = Path(__file__).parents[2] / "content"
VERSETS = sorted((CONTENT / "versets").glob("*.md"))
MOVES = [f"a {name} {way}" for name in SUITABLE for way in ("lower", "higher")]


@cache
def written(path: Path) -> tuple[Verset, Score]:
    verset = with_defaults(read_verset(path), Defaults())
    verset = replace(verset, settings=replace(verset.settings, move=""))
    return verset, realise(verset, analyse(verset), tuning=verset.settings.tuned).score


def at(verset: Verset, move: str) -> Verset | None:
    """The verset so moved, where it can be written there."""
    try:
        return as_played(replace(verset, settings=replace(verset.settings, move=move)), Defaults())
    except ValueError:
        return None


def higher(score: Score, semitones: int) -> Iterator[tuple[object, ...]]:
    for part in score.parts:
        for n in part.sounding():
            assert n.pitch
            yield part.voice, n.onset, n.duration, n.pitch.midi + semitones


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_a_moved_verset_is_the_same_setting_wherever_its_compass_allows_it(path: Path) -> None:
    verset, plain = written(path)
    same = 0
    for move in MOVES:
        there = at(verset, move)
        if there is None:
            continue
        analysis = analyse(there)
        home = analyse(verset)
        assert analysis.tone == home.tone
        assert [(r.tone, r.weight) for r in analysis.tones] == [(r.tone, r.weight) for r in home.tones], move
        assert analysis.warnings == home.warnings, move
        plain_there = realise(there, analysis, tuning=there.settings.tuned)
        score, (bars, why) = plain_there.score, set_otherwise(there, plain_there)
        due = list(higher(plain, there.moved_by.semitones))
        fits = all(KEYBOARD[v][0].midi <= midi <= KEYBOARD[v][1].midi for v, _, _, midi in due)
        if fits:
            assert list(higher(score, 0)) == due, move
            assert bars == why == ()
        else:
            assert bool(bars) == bool(why) == (list(higher(score, 0)) != due), move
        same += list(higher(score, 0)) == due
    assert same >= 5, f"{same} of {len(MOVES)} moves"


def test_bars_that_compass_forces_to_be_otherwise_are_told_in_every_language() -> None:
    verset, _ = written(VERSETS[1])
    setting = set_verset(replace(verset, settings=replace(verset.settings, move="a fifth higher")))
    assert setting.otherwise
    for language, word, why in (
        ("en", "bars", "cantus C6 is beyond the compass"),
        ("it", "battute", "canto do6 è fuori della sua estensione"),
        ("de", "Takten", "Cantus c‴ liegt außerhalb des Umfangs"),
    ):
        told = [text for text in setting.warnings(language) if f"{word} {setting.otherwise[0]}" in text]
        assert told and why in told[0], setting.warnings(language)


def in_tones(name: str, move: str) -> tuple[Verset, Realisation]:
    verset, _ = written(CONTENT / "tones" / f"{name}.md")
    there = at(verset, move)
    assert there
    return there, realise(there, analyse(there), tuning=there.settings.tuned)


def test_a_place_without_a_way_names_the_note_that_the_compass_takes_from_a_moved_verset() -> None:
    _, plain = in_tones("first-duo", "a fourth higher")
    (found,) = (f for f in plain.findings if is_error(f))
    assert found.rule == "no-way"
    for language, told in (
        ("en", "cantus D6 (bar 8, beat 3), which is beyond the compass"),
        ("it", "canto re6 (battuta 8, tempo 3), che qui è fuori della sua estensione"),
        ("de", "Cantus d‴ (Takt 8, Schlag 3), hier außerhalb des Umfangs"),
    ):
        assert told in found.told(language)[0]


def test_a_sixth_over_the_line_that_only_a_note_beyond_the_compass_sounds_is_told() -> None:
    there, plain = in_tones("fifth-duo", "a fifth higher")
    (found,) = (f for f in plain.findings if is_error(f))
    line = there.given_at(found.onset)
    assert line and str(line.note.pitch) == "D5" and "6" in str(line.figures[0])
    # The figure's only note above D5 and below C6 is B5; the cantus ends with A5.
    assert found.rule == "compass" and "B5" in found.told()[0] and str(KEYBOARD["cantus"][1]) == "A5"


def test_a_note_that_the_tuning_lacks_is_told_where_it_forces_a_change() -> None:
    there, plain = in_tones("fifth-four", "a tone higher")
    bars, why = set_otherwise(there, plain)
    assert bars == (10,) and [said(phrase) for phrase in why] == ["the tuning has no A♯"]


def test_a_leading_note_that_the_source_signs_leads_though_the_tuning_lacks_it() -> None:
    there, plain = in_tones("third-duo", "a tone higher")
    assert not there.settings.tuned.has(Pitch.parse("D#5"))
    assert "D#5" in [str(n.pitch) for n in plain.score.part("cantus").notes]
    assert set_otherwise(there, plain) == ((), ())
    assert not any(f.rule == "leading-note" for f in plain.findings)


@pytest.mark.parametrize(("name", "move"), [("sixth", "a tone lower"), ("second", "a semitone higher")])
def test_a_moved_verset_has_the_same_diminutions(name: str, move: str) -> None:
    home = course_setting(name)
    there = at(home.verset, move)
    assert there
    moved = set_verset(there)
    for level in (1, 2, 3):
        before, after = home.diminutions[level], moved.diminutions[level]
        assert list(higher(after.score, 0)) == list(higher(before.score, there.moved_by.semitones)), level
        assert [c.name for c in after.choices] == [c.name for c in before.choices]
        assert [c.reason and c.reason.key for c in after.choices] == [
            c.reason and c.reason.key for c in before.choices
        ]
        assert after.otherwise == ()


def test_what_compass_forces_in_the_diminutions_is_told_and_the_rest_stays() -> None:
    home = course_setting("sixth")
    there = at(home.verset, "a fifth higher")
    assert there
    moved = set_verset(there)
    for level in (1, 2, 3):
        due = {*higher(home.diminutions[level].score, there.moved_by.semitones)}
        own = {*higher(moved.diminutions[level].score, 0)}
        differ = {bar_at(there.bars, onset).number for _, onset, *_ in due ^ own}
        assert {*moved.diminutions[level].otherwise} == differ
        assert not any(map(is_error, moved.diminutions[level].findings))
        assert len(due & own) > 0.3 * len(due)
    assert moved.diminutions[3].otherwise
    told = [text for text in moved.warnings("de") if "Diminutionen" in text]
    assert bool(told) == bool({*moved.diminutions[3].otherwise} - {*moved.otherwise})
