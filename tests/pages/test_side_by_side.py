"""Diminutions of the same two bars beside one another, and versions that sound like another."""

from __future__ import annotations

import itertools
import re

from course import course_setting

from builder.language.texts import page_texts
from builder.music import Version
from builder.pages.practice import Stretch, practice
from builder.pages.side_by_side import distinct, side_by_side, sounded


def test_two_bars_go_from_simple_to_florid() -> None:
    """In each step in which voices are added: two bars, the same of every level, each with more notes."""
    setting = course_setting("first")
    for step in setting.analysis.steps[1:]:
        rows = side_by_side(setting, step.start, step.end)
        assert len(rows) >= 2
        assert len({tuple(b.number for b in score.bars) for _, score in rows}) == 1
        assert len(rows[0][1].bars) == 2
        counts = [sum(len(p.sounding()) for p in score.parts) for _, score in rows]
        assert all(a < b for a, b in itertools.pairwise(counts)), (step.name, counts)


def test_no_version_is_offered_that_sounds_like_another() -> None:
    setting = course_setting("first")
    for step in setting.analysis.steps:
        offered = [v for v in distinct(setting.scores, step.start, step.end) if v != Version.GIVEN]
        heard = [sounded(setting.scores[v], step.start, step.end) for v in offered]
        assert len(set(heard)) == len(heard), step.name
    first = setting.analysis.steps[0]
    assert distinct(setting.scores, first.start, first.end) == (Version.GIVEN, Version.PLAIN)


def test_the_page_shows_them_beside_one_another() -> None:
    setting = course_setting("first")
    step = setting.analysis.steps[-1]
    stretch = Stretch(step.start, step.end, tuple(setting.scores))
    html = practice(setting, stretch, {}, page_texts("en"))
    beside = html.partition('class="verset-beside"')[2].partition("</div></div>")[0]
    assert beside.count("<figure>") == beside.count("<svg") == 3
    # By this class the style sheet draws their staves and stems: without it they cannot be seen.
    assert "<path d=" in beside and len(re.findall('<svg [^>]*class="music"', beside)) == 3
    assert len(beside) < 40_000
