"""Sheets are cast off as the book is: pages full, none half empty where the music fills more than one."""

from __future__ import annotations

import pymupdf
from course import course_setting

from builder.edition.pdf.casting import Block, cast
from builder.edition.pdf.filling import empty_shares, fullest
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet
from builder.setting.setting import Setting, set_verset
from builder.source import parse

WALK = ("D3/4 E3/4{6} F3/4 G3/4", "A3/4 F3/4 G3/4 A3/4", "Bb3/4 A3/4{6} G3/4 F3/4", "E3/4{6} F3/4 D3/2")


def long_verset(bars: int) -> Setting:
    line = " | ".join(WALK[n % 4] for n in range(bars))
    text = (
        "---\ntitle: Long\nverset: {metre: C, signature: none}\n---\n```given\n"
        f"cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2\ntenor C4 | {line} | D3/1\n```\n"
    )
    return set_verset(parse(text))


def feet(made: bytes) -> list[float]:
    """How far the last ink above the foot is from it, in millimetres, page by page."""
    found = []
    with pymupdf.open(stream=made) as doc:
        for page in doc:
            foot = page.rect.height - 20 * 72 / 25.4
            ink = [d["rect"].y1 for d in page.get_drawings() if d["rect"].y1 < foot + 4]
            ink += [block[3] for block in page.get_text("blocks") if block[3] < foot + 4]
            found.append((foot - max(ink)) / 72 * 25.4)
    return found


def test_the_pages_of_a_long_sheet_are_full() -> None:
    own = long_verset(46)
    for made in (single(own, "plain"), single(own, "diminished"), student_sheet(own)):
        left = feet(made)
        assert len(left) > 1
        assert max(left) < 0.3 * 257, left


def test_the_last_page_of_a_verset_is_not_nearly_empty() -> None:
    for bars in (8, 12, 30):
        left = feet(pdf(long_verset(bars)))
        # who answers for the edition stands at the foot, so what is left is above it
        assert all(space < 0.6 * 257 for space in left[:-1])
        assert not any(space > 0.85 * 257 for space in left)


def test_a_short_sheet_is_as_long_as_its_music() -> None:
    assert len(feet(single(course_setting("sixth"), "given"))) == 1


def test_words_that_follow_are_counted_when_pages_are_filled() -> None:
    blocks = [Block("system", 0, 0, n, 50.0) for n in range(5)]
    alone = cast(blocks, 260, openings=False)
    assert sum(each.turn for each in alone) == 1 or sum(each.turn for each in alone) == 2
    rows = [{"turn": each.turn, "gap": each.gap, "height": each.block.height} for each in alone]
    assert empty_shares(rows, 260, tail=300)[-1] > 0
    followed = cast(blocks, 260, openings=False, tail=20.0)
    # five systems fill a page; the words alone on the second would leave it empty
    assert sum(each.turn for each in followed) == 2
    assert [n for n, each in enumerate(followed) if each.turn][1] < 5


def test_another_size_is_tried_only_where_a_page_would_be_half_empty() -> None:
    asked: list[float] = []

    def make(size: float) -> float:
        asked.append(size)
        return size

    assert fullest(make, lambda size: [0.1, 0.2]) == 1.0 and asked == [1.0]
    assert fullest(make, lambda size: [0.9]) == 1.0 and asked == [1.0, 1.0]
    assert fullest(make, lambda size: [0.1] if size == 0.88 else [0.1, 0.5]) == 0.88
