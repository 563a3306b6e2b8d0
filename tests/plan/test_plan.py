"""What a plan says before any note of a setting in voices is written."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.language.texts import languages, texts
from builder.music import Pitch, Place
from builder.plan import Plan, make_plan, motifs, picture, told
from builder.plan.motif import Motif
from builder.plan.plan import Statement
from builder.source import Verset, read

ROOT = Path(__file__).parents[2]


@cache
def _plain(name: str) -> tuple[Verset, Analysis, Realisation]:
    verset = read(ROOT / "content" / "versets" / f"{name}.md")
    analysis = analyse(verset)
    return verset, analysis, realise(verset, analysis)


def planned(name: str, seed: int = 0) -> Plan:
    return make_plan(*_plain(name), Random(seed))


def test_the_motifs_are_the_head_of_the_theme_its_inversion_and_its_end() -> None:
    """D5 A4 B4 C5 B4 A4: a fourth down, then by step up; its end goes up and down again."""
    verset, analysis, _ = _plain("first")
    found = {m.kind: m.steps for m in motifs(verset, analysis)}
    assert found["head"] == (-3, 1, 1)
    assert found["inverted"] == (3, -1, -1)
    assert found["tail"] == (1, -1, -1)


@pytest.mark.parametrize("name", ("first", "second", "fourth"))
def test_statements_go_from_voice_to_voice_clear_of_entries_and_closes(name: str) -> None:
    verset, analysis, _ = _plain(name)
    plan = planned(name)
    assert plan.statements
    for one, two in zip(plan.statements, plan.statements[1:]):
        assert one.voice != two.voice or len(verset.above(two.onset)) == 1
        assert two.onset - one.onset >= 3
    for s in plan.statements:
        assert s.voice in verset.above(s.onset)
        assert not any(c.start <= s.onset < c.onset for c in analysis.cadences)
        assert not any(e.onset - 1 < s.onset < e.onset + 2 for e in analysis.entries)


def test_the_free_one_of_two_voices_answers_the_line() -> None:
    """What the tenor has just sung, in its own values, no sooner than a quarter and no later than eight after
    it; then the theme."""
    verset, _, _ = _plain("sixth")
    line = [s for n in range(4) for s in planned("sixth", n).statements if s.motif.kind == "line"]
    assert len(line) > 8 and {s.voice for s in line} == {"cantus"} and {s.leader for s in line} == {"tenor"}
    given = {g.note.onset: g.note for g in verset.given if g.voice == "tenor"}
    for s in line:
        for motif in (s.motif, *s.others):
            started = [t for t, n in given.items() if s.onset - 8 <= t < s.onset and n.pitch == motif.first]
            assert any(
                [given[t + sum(motif.lengths[:k])].duration for k in range(4)] == list(motif.lengths)
                for t in started
                if all(t + sum(motif.lengths[:k]) in given for k in range(4))
            )


def test_what_the_line_sang_is_told_with_its_voice_and_step() -> None:
    motif = Motif("line", (1, 1, 1), (Fraction(1),) * 4, Pitch.parse("C4"))
    place = Place(3, Fraction(1))
    made = Statement(motif, "cantus", Fraction(8), Fraction(11), place, "tenor", steps=7)
    assert told(Plan(statements=(made,)))[0].startswith("The cantus takes up a figure of the line in bar 3")
    assert len({told(Plan(statements=(made,)), k) for k in ("en", "it", "de")}) == 3


def test_a_rest_ends_where_its_voice_comes_in_and_lasts_two_to_six_quarters() -> None:
    plan = planned("first")
    coming = {(s.voice, s.onset) for s in plan.statements}
    assert plan.rests
    assert all((r.voice, r.end) in coming and 2 <= r.end - r.start <= 6 for r in plan.rests)


def test_every_close_has_its_leading_note() -> None:
    _, analysis, _ = _plain("first")
    plan = planned("first")
    leading = {c.onset for c in plan.clausulae if c.kind == "cantizans"}
    assert leading == {c.onset for c in analysis.cadences}


def test_movement_grows_and_is_calm_after_a_close() -> None:
    verset, analysis, _ = _plain("first")
    growth = planned("first").growth
    assert len(growth) == len(verset.bars) and growth[-1] > growth[0]
    close = next(c.onset for c in analysis.cadences if c.onset > Fraction(20))
    bar = verset.place(close).bar
    assert growth[bar] < growth[bar - 1] + 0.05


def test_a_plan_is_told_in_three_languages_and_drawn() -> None:
    verset, analysis, _ = _plain("first")
    plan = planned("first")
    for language in ("en", "it", "de"):
        sentences = told(plan, language)
        assert len(sentences) >= len(plan.statements) and all(s.endswith(".") for s in sentences)
        assert not any("{" in s for s in sentences)
    drawn = picture(plan, verset, analysis, "the plan")
    assert drawn.count("<rect") > len(plan.statements) and 'aria-label="the plan"' in drawn


def test_all_languages_have_the_same_sentences() -> None:
    assert len({frozenset(texts("plan", language).texts) for language in languages()}) == 1


def test_the_same_dice_make_the_same_plan_and_others_another() -> None:
    assert planned("first", 1) == planned("first", 1)
    several = [planned("first", n).statements for n in range(4)]
    assert len({tuple((s.voice, s.onset, s.motif.kind) for s in found) for found in several}) > 1
