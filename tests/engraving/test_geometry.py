"""Nothing overlaps in given lines and plain settings as print draws them, and every accidental is nearest to
its own note. Of diminished versions, where three voices may share a stave, `tests/bench/bench_pages.py` tells
what it finds."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from course import course_setting

from builder.edition.book.book import Book, chapter

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from geometry import astray, collisions, rests


def systems(name: str) -> dict[str, str]:
    drawn = chapter(course_setting(name), Book("")).pictures
    kinds = ("given", "plain")
    return {key: svg for key, svg in drawn.items() if any(kind in key for kind in kinds)}


@pytest.mark.parametrize("name", ["first", "fourth", "sixth", "eighth", "second"])
def test_the_course_is_drawn_without_collisions(name: str) -> None:
    found = systems(name)
    assert len(found) > 3
    assert {key: [*collisions(svg), *astray(svg)] for key, svg in found.items()} == {key: [] for key in found}


def test_the_check_can_fail() -> None:
    """Figures moved into the stave, and an accidental moved behind another head, are found."""
    given = next(svg for key, svg in systems("eighth").items() if "given" in key and 'class="harm"' in svg)
    low = re.sub(
        r'(<g class="harm".*?</g>)',
        lambda m: re.sub(r' y="(\d+)"', lambda y: f' y="{int(y[1]) + 560}"', m[1]),
        given,
    )
    assert any(what.startswith("figure on") for what in collisions(low))
    head = '<g class="notehead"><use href="#gE0A4-72" x="{}" y="900"/></g>'
    sign = '<use href="#gE262-72" x="100" y="900"/>'
    note = '<g class="note" data-id="{}">{}</g>'
    root = '<svg xmlns="http://www.w3.org/2000/svg">{}</svg>'
    apart = root.format(note.format("a", head.format(900) + sign) + note.format("b", head.format(400)))
    assert list(astray(apart)) == ["accidental nearest to another note"]
    right = root.format(note.format("a", head.format(300) + sign) + note.format("b", head.format(900)))
    assert not list(astray(right))


@pytest.mark.parametrize(
    ("anchor", "inside", "clear"),
    [
        ("start", (0, 650), (-250, 850)),
        ("middle", (-400, 250), (-650, 450)),
        ("end", (-800, -150), (-1050, 50)),
    ],
)
def test_words_stand_where_their_anchor_puts_them(
    anchor: str, inside: tuple[int, int], clear: tuple[int, int]
) -> None:
    """A word of four letters, 400 high, at 0: it is 800 wide (SVG 2, 11.10.1)."""
    text = (
        f'<text stroke="none" x="0" y="900" text-anchor="{anchor}" font-size="400" class="name">Alto</text>'
    )

    def found(x: int) -> list[str]:
        return list(collisions(f'<svg>{text}<use href="#gE262-72" x="{x}" y="800"/></svg>'))

    assert [found(x) for x in inside] == [["word on accidental"]] * 2
    assert [found(x) for x in clear] == [[], []]


def test_a_rest_on_a_note_and_beams_that_cross_are_found() -> None:
    """Seen in a bar of three voices on one stave: both were drawn so."""
    head = '<use href="#gE0A4-72" x="300" y="900"/>'
    quarter, away = (f'<use href="#gE4E5-72" x="{x}" y="900"/>' for x in (320, 900))
    assert list(collisions(head + quarter)) == ["rest on notehead"]
    assert not list(collisions(head + away))
    assert list(collisions(quarter + '<use href="#gE4E4-72" x="300" y="1080"/>')) == ["rest on rest"]
    beam = '<polygon points="{},{} {},{} {},{} {},{}"/>'
    level, rising, under = (
        beam.format(0, a, 900, b, 900, b + 90, 0, a + 90) for a, b in ((300, 300), (500, 100), (390, 390))
    )
    assert list(collisions(level + rising)) == ["beam on beam"]
    assert not list(collisions(level + under))


def test_how_near_a_rest_is_to_either_voice_is_told_in_spaces() -> None:
    """A rest in the middle of the stave, its own note two spaces above it, another voice's three below."""
    note = '<g class="note" data-id="plain-{}-1-0"><use href="#gE0A4-72" x="{}" y="{}"/></g>'
    rest = '<use href="#gE4E5-72" x="600" y="900"/>'
    stave = note.format("cantus", 300, 540) + rest + note.format("altus", 300, 1440)
    svg = f'<svg xmlns="http://www.w3.org/2000/svg"><g data-n="1"><g class="staff">{stave}</g></g></svg>'
    ((near, off),) = rests(svg)
    assert abs(off - 2) < 0.1 and 0.9 < near < 1.3
