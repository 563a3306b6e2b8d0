"""The metronome mark stands over the first bar, as a note sign, clear of all below it.

Source (published): SMuFL 1.4, *Metronome marks*: U+ECA3 half note, U+ECA5 quarter note, U+ECB7 dot.
"""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from course import course_setting

from builder.engraving import given_mei, keyboard_mei, open_mei, svg
from builder.engraving.aids import with_aids
from builder.music import Version, notated
from builder.source import EXAMPLE, parse

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from geometry import named_boxes

MARK = re.compile(r'<g class="tempo">(.*?)</g>')


def marked(beat: Fraction = Fraction(2), rate: int = 52) -> str:
    verset = replace(parse(EXAMPLE), tempo=(beat, Fraction(rate)))
    score = notated(verset.score())
    return "".join(svg(with_aids(given_mei(verset, score), verset, score), width=300))


@pytest.mark.parametrize(
    ("beat", "codes"),
    [
        (Fraction(2), ["ECA3"]),
        (Fraction(1), ["ECA5"]),
        (Fraction(3), ["ECA3", "ECB7"]),
        (Fraction(8), ["ECA0"]),
    ],
)
def test_the_value_that_is_counted_is_a_note_sign(beat: Fraction, codes: list[str]) -> None:
    (mark,) = MARK.findall(marked(beat))
    assert [code for code, _ in named_boxes(mark)] == codes
    assert re.findall(r">([^<]+)</text>", mark) == ["= 52"]


@pytest.mark.parametrize("name", ["first", "fourth", "sixth"])
@pytest.mark.parametrize("version", [Version.GIVEN, Version.PLAIN, Version.DIMINISHED])
def test_the_mark_is_above_all_that_stands_under_it(name: str, version: Version) -> None:
    own = course_setting(name)
    score = own.scores[version]
    written = {
        Version.GIVEN: [given_mei(own.verset, score)],
        Version.PLAIN: [keyboard_mei(score, figured=True), open_mei(score, {})],
        Version.DIMINISHED: [keyboard_mei(score)],
    }[version]
    for mei in written:
        first, *others = svg(with_aids(mei, own.verset, score))
        assert not any(MARK.search(other) for other in others)
        (mark,) = MARK.findall(first)
        rest = MARK.sub("", first)
        boxes = [box for _, box in named_boxes(mark)]
        left, foot = boxes[0][0], max(box[3] for box in boxes)
        right = left + 1300
        under = [box for _, box in named_boxes(rest) if box[0] < right and box[2] > left]
        assert under and all(foot < box[1] for box in under)
        words = re.findall(r'<text stroke="none" x="([-\d.]+)" y="([-\d.]+)"', rest)
        assert all(foot < float(y) - 200 for x, y in words if left < float(x) < right)
        top = float(re.search(r'viewBox="0 (-?\d+)', first)[1])  # type: ignore[index]
        assert min(box[1] for box in boxes) > top


def test_an_excerpt_from_within_has_no_mark() -> None:
    verset = parse(EXAMPLE)
    score = notated(verset.score())
    later = score.excerpt(score.bars[1].onset, score.end)
    assert not MARK.search("".join(svg(with_aids(given_mei(verset, later), verset, score))))
