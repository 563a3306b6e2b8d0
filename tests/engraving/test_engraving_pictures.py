"""Pictures of systems: ids kept, signs shared, small, the same every time."""

from __future__ import annotations

import gzip
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise
from math import hypot

import pytest

from builder.engraving import WIDTHS, flow, given_mei, keyboard_mei, open_mei, page_svg, svg
from builder.engraving.engrave import dialect
from builder.engraving.glyphs import box, place, signs
from builder.music import Score, notated
from builder.pages.assets import style
from builder.source import Verset

SVG = "{http://www.w3.org/2000/svg}"
Make = Callable[..., Verset]
Voices = Callable[[Verset], Score]


def ids_in(pictures: tuple[str, ...]) -> list[str]:
    return [
        g.attrib["data-id"]
        for one in pictures
        for g in ET.fromstring(one).iter(f"{SVG}g")
        if g.get("class") == "note"
    ]


def test_every_note_is_drawn_once_under_its_id(four: Score) -> None:
    drawn = ids_in(svg(keyboard_mei(four), width=500, scale=40))
    assert sorted(drawn) == sorted(n.id for part in four.parts for n in part.notes if n.pitch)


def test_every_bar_is_drawn_under_its_number(first: Verset) -> None:
    score = notated(first.score()).excerpt(first.bars[4].onset, first.bars[9].end)
    pictures = svg(given_mei(first, score), width=340, scale=40)
    assert re.findall(r'class="measure" data-n="(\d+)"', "".join(pictures)) == ["5", "6", "7", "8", "9", "10"]


def test_narrow_music_takes_more_systems_and_each_picture_is_one(first: Verset) -> None:
    pages = flow(given_mei(first, notated(first.score())))
    assert list(pages) == list(WIDTHS)
    assert len(pages["narrow"]) > len(pages["wide"])
    assert all(one.count('<g class="system">') == 1 for row in pages.values() for one in row)


def test_a_page_defines_each_sign_once_and_every_sign_it_uses(first: Verset, four: Score) -> None:
    given = svg(given_mei(first, notated(first.score())))
    defs, bodies = page_svg([*given, *svg(keyboard_mei(four))])
    defined = re.findall(r'id="([^"]+)"', defs)
    assert len(defined) == len(set(defined))
    assert {name for body in bodies for name in re.findall(r'href="#([^"]+)"', body)} == set(defined)
    assert not any("<defs>" in body or " id=" in body for body in bodies)


def test_the_pictures_of_a_page_leave_the_thickness_of_most_lines_to_the_style_sheet(four: Score) -> None:
    whole = svg(keyboard_mei(four))
    _, bodies = page_svg(whole)
    lines_of_music = r":where\(\.music\) :where\(path:not\(\[stroke-width\]\)\) \{\s*stroke-width: (\d+)px"
    rule = re.search(lines_of_music, style())
    assert rule
    for one, body in zip(whole, bodies, strict=True):
        lines = re.findall(r"<path([^>]*) d=", re.sub("<defs>.*</defs>", "", one))
        left = re.findall(r"<path([^>]*) d=", body)
        said = (re.search(r'stroke-width="(\d+)"', line) for line in lines)
        here = (re.search(r'stroke-width="(\d+)"', line) for line in left)
        assert [s and s[1] for s in said] == [s[1] if s else rule[1] for s in here]
        assert body.count('class="stem"') == one.count('class="stem"')
        assert body.count('class="notehead"') == one.count('class="notehead"')
        assert sum(line == "" or 'class="stem"' in line for line in left) > len(left) / 2


def test_pictures_need_no_font_no_network_and_no_colour_of_their_own(first: Verset) -> None:
    whole = "".join(svg(given_mei(first, notated(first.score()))))
    assert not re.search("[\ue000-\uf8ff]", whole)
    assert not re.search(r"font-face|<style|<script|#[0-9a-f]{6}|black", whole)
    assert set(re.findall(r'https?://[^"]+', whole)) == {"http://www.w3.org/2000/svg"}
    assert 'fill="currentColor"' in whole


def test_the_figure_six_is_drawn_with_the_sign_of_the_music_font(first: Verset) -> None:
    """U+EA5B is figured bass 6, U+EA66 its sharp (SMuFL 1.4, range figured bass)."""
    score = notated(first.score())
    harms = re.findall(r'<g class="harm"[^>]*>(.*?)</g>', "".join(svg(given_mei(first, score))))
    codes = [re.findall(r'href="#g(\w+)-', harm) for harm in harms]
    assert codes[:3] == [["EA5B"], ["EA5D"], ["EA66", "EA5B"]]
    slashed = "".join(svg(given_mei(first, score, slashed=True)))
    assert 'href="#gEA5C-' in slashed


def test_figures_do_not_run_into_each_other(first: Verset) -> None:
    for width in (300, 340, 700):
        for one in svg(given_mei(first, notated(first.score())), width=width, scale=36):
            uses = re.findall(r'<use href="#g(EA\w\w)-72" x="(-?\d+)" y="(-?\d+)"', one)
            rows: dict[str, list[int]] = {}
            for _, x, y in uses:
                rows.setdefault(y, []).append(int(x))
            for row in rows.values():
                assert row == sorted(row)
                assert all(b - a > 80 for a, b in pairwise(row))


def test_the_number_of_a_bar_stands_clear_of_a_tenor_clef(first: Verset) -> None:
    score = notated(first.score()).excerpt(first.bars[5].onset, first.bars[7].end)
    (one,) = svg(given_mei(first, score), width=340, scale=40)
    number = re.search(r'<text [^>]*y="([-\d.]+)"[^>]*class="number"', one)
    clef = re.search(r'href="#gE05C-72" x="[\d.]+" y="([-\d.]+)"', one)
    assert number and clef
    top_of_clef = float(clef[1]) - box("E05C")[3] * 0.72
    assert float(number[1]) < top_of_clef - 120, "two thirds of a space"


def test_figures_stand_clear_of_stems_and_nothing_is_cut_off(first: Verset) -> None:
    met = 0
    for width in (300, 340, 700):
        for one in svg(given_mei(first, notated(first.score())), width=width, scale=40):
            figures = re.findall(r'<use href="#gEA\w\w-72" x="(-?\d+)" y="(-?\d+)"', one)
            stems = re.findall(r'class="stem"><path[^>]* d="M(\d+) (\d+)V(\d+)"', one)
            for x, y in figures:
                below = [min(int(a), int(b)) for at, a, b in stems if 0 <= int(at) - int(x) < 200]
                assert all(top > int(y) for top in below)
                met += len(below)
            edge = re.search(r'viewBox="0 (-?\d+) ', one)
            heights = [float(y) - 300 for _, y in figures]
            heights += [float(y) - 230 for y in re.findall(r'<text [^>]*y="([-\d.]+)"', one)]
            assert edge and int(edge[1]) <= min(heights)
    assert met, "some figures stand over a stem that points up"


def test_a_number_is_centred_over_the_note_head_and_its_accidental_hangs_before_it() -> None:
    alone = place(signs("6"), 1000, 0, float("-inf"))
    raised = place(signs("♯6"), 1000, 0, float("-inf"))
    assert raised[1].x == pytest.approx(alone[0].x)
    assert raised[0].x < alone[0].x


SHARED = """
cantus C1 | D5/2 A4/4. B4/8
altus  C3 | A4/2 F(#)4/2 | G4/2 F(#)4/4 E(b)4/4 | D4/1
"""
ABOVE = "cantus 2 | A4/2 D5/2 | G4/2 A4/2 | F(#)4/1"


def _heads_and_signs(picture: str) -> tuple[dict[str, tuple[float, float]], list[tuple[str, float, float]]]:
    """Note heads by the id of their note, and accidentals with the id of the note they belong to."""
    heads, accidentals = {}, []
    for note in ET.fromstring(picture).iter(f"{SVG}g"):
        if note.get("class") != "note":
            continue
        own = note.attrib["data-id"]
        for use in note.iter(f"{SVG}use"):
            code, at = use.attrib["href"][2:6], (float(use.attrib["x"]), float(use.attrib["y"]))
            if code in ("E0A2", "E0A3", "E0A4"):
                heads[own] = at
            elif code in ("E260", "E261", "E262"):
                accidentals.append((own, *at))
    return heads, accidentals


@pytest.mark.parametrize("width", [300, 690])
def test_every_accidental_is_nearest_to_its_own_note(make: Make, voices: Voices, width: int) -> None:
    """Two voices share the upper stave, and the editor's sharp belongs to the lower of them."""
    score = voices(make(SHARED, ABOVE))
    editorial = {n.id for part in score.parts for n in part.notes if n.editorial}
    seen = set()
    for mei in (keyboard_mei(score), open_mei(score)):
        for one in svg(mei, width=width, scale=40):
            heads, accidentals = _heads_and_signs(one)
            for own, x, y in accidentals:
                nearest = min(heads, key=lambda other: hypot(heads[other][0] - x, heads[other][1] - y))
                assert nearest == own
                assert abs(heads[own][1] - y) < 1, "on the line or space of its note"
                seen.add(own)
    assert editorial <= seen


def test_editorial_figures_are_drawn_in_brackets() -> None:
    assert [m.code for m in place(signs("[♭6]"), 0, 0, float("-inf"))] == ["[", "EA64", "EA5B", "]"]


def test_a_screen_reader_is_told_what_each_picture_shows(first: Verset) -> None:
    mei = given_mei(first, notated(first.score()))
    pictures = svg(mei, width=340, label='Given line & "figures"')
    roots = [ET.fromstring(one) for one in pictures]
    assert [r.get("role") for r in roots] == ["img"] * len(roots)
    assert roots[0].get("aria-label") == f'Given line & "figures" (1/{len(roots)})'
    assert ET.fromstring(svg(mei, width=340)[0]).get("aria-hidden") == "true"


def test_every_system_at_every_width_is_told_with_its_number(first: Verset) -> None:
    drawn = flow(given_mei(first, notated(first.score())), label="Given line")
    for row in drawn.values():
        told = [ET.fromstring(one).get("aria-label") for one in row]
        assert told == [f"Given line ({n}/{len(row)})" for n in range(1, len(row) + 1)]


def test_figures_above_the_line_stand_on_one_base(first: Verset) -> None:
    """A stack of one figure is filled up from above to the height of the tallest."""
    root = ET.fromstring(dialect(given_mei(first, notated(first.score()))))
    stacks = [element for element in root.iter() if element.tag.endswith("}fb")]
    assert len({len(stack) for stack in stacks}) == 1
    assert all(stack[-1].text for stack in stacks) and not all(stack[0].text for stack in stacks)


def test_a_step_page_with_all_its_music_stays_light(first: Verset, four: Score) -> None:
    """Three versions at every width: far below 300 kB, and below 30 kB as it travels."""
    score = notated(first.score())
    meis = (given_mei(first, score), keyboard_mei(score, figured=True), open_mei(score))
    defs, bodies = page_svg(one for mei in meis for row in flow(mei).values() for one in row)
    page = (defs + "".join(bodies)).encode()
    assert len(page) < 250_000
    assert len(gzip.compress(page)) < 30_000


def test_what_is_no_music_is_refused() -> None:
    with pytest.raises(ValueError, match="engraved"):
        svg("<mei></mei>")


PROGRAM = """
import hashlib
from pathlib import Path
from builder.engraving import given_mei, keyboard_mei, svg
from builder.edition.exchange.midi import midi
from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import musicxml
from builder.music import notated
from builder.source import read
verset = read(Path("content/versets/first.md"))
score = notated(verset.score())
texts = [mei(verset, score), musicxml(score), *svg(given_mei(verset, score)), *svg(keyboard_mei(score))]
print(hashlib.sha256("".join(texts).encode() + midi(score, verset.tempo)).hexdigest())
"""


def test_the_same_music_gives_the_same_bytes_in_every_process() -> None:
    runs = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env={"PYTHONHASHSEED": seed, "PATH": "", "TZ": zone},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(runs) == 1
