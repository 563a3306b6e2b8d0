"""Fingers and ossias above notes: in the engraver's document, in pictures, and in the encodings."""

from __future__ import annotations

import re
import sys
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from course import VERSETS, course_setting

from builder.edition.book.book import Book, chapter
from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.engraving.aids import fingers, with_aids
from builder.engraving.engrave import svg
from builder.engraving.given import given_mei
from builder.engraving.keyboard import keyboard_mei
from builder.music import Version, notated
from builder.setting.setting import Setting, set_verset
from builder.source import EXAMPLE, parse
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from geometry import astray, collisions, named_boxes

ADDED = """
```fingering
cantus 1 | 3 2 3 2 4-3 | 1 _ 2
altus plain 4 | 2 1
bassus plain 6 | 5 4 3 2
cantus diminished 6 | 2 3 4 5
```

```ossia
altus 3 | D4/8 E4/8 D4/8 E4/8 _/2
cantus plain 6 | D5/8 E5/8 D5/8 C5/8 _/2
```
"""


@cache
def own() -> Setting:
    path = next(p for p in VERSETS if p.stem == "eighth")
    return set_verset(parse(path.read_text("utf-8") + ADDED, "eighth.md"))


def test_fingers_stand_at_the_notes_that_are_struck() -> None:
    verset, score = own().verset, own().scores[Version.GIVEN]
    notes = [n for n in score.part("cantus").notes if n.pitch]
    found = fingers(verset, score)
    assert [found.get(n.id, "") for n in notes[:8]] == ["3", "2", "3", "2", "4-3", "1", "", "2"]
    assert {*found} <= {n.id for n in notes}


@pytest.mark.parametrize("version", [Version.GIVEN, Version.PLAIN, Version.DIMINISHED])
def test_each_version_has_its_own(version: Version) -> None:
    verset, score = own().verset, own().scores[version]
    drawn = given_mei(verset, score) if version == Version.GIVEN else keyboard_mei(score)
    root = ET.fromstring(with_aids(drawn, verset, score).replace(" xmlns=", " x=", 1))
    told = [(f.get("startid", "").lstrip("#"), f.text) for f in root.iter("fing")]
    assert dict(told) == fingers(verset, score) and len(told) == {"given": 7, "plain": 6}.get(version, 1)
    assert [o.find("oStaff/layer") is not None for o in root.iter("ossia")] == [True] * (
        version != Version.DIMINISHED
    )


def test_fingers_without_a_note_are_told() -> None:
    """The diminished cantus strikes one note in bar 6, where four fingers are given."""
    (told,) = [text for text in own().warnings() if "fingering" in text]
    assert told.startswith("fingering in bar 6, cantus, diminished: 4 fingers for")


def test_an_ossia_repeats_what_it_leaves_open() -> None:
    verset, score = own().verset, own().scores[Version.GIVEN]
    root = ET.fromstring(with_aids(given_mei(verset, score), verset, score).replace(" xmlns=", " x=", 1))
    bar = next(m for m in root.iter("measure") if m.get("n") == "3")
    (above,) = bar.iter("oStaff")
    names = [f"{n.get('pname')}{n.get('oct')}" for n in above.iter("note")]
    line = [f"{n.get('pname')}{n.get('oct')}" for n in bar.findall("ossia/staff")[0].iter("note")]
    assert names == ["d4", "e4", "d4", "e4", *line[-2:]]


def test_nothing_overlaps_and_no_accidental_goes_astray() -> None:
    pictures = chapter(own(), Book("")).pictures
    music = {k: svg for k, svg in pictures.items() if any(v in k for v in ("given", "plain", "diminished"))}
    assert sum(svg.count(">4-3<") for svg in music.values()) == 1
    assert {k: [*collisions(svg), *astray(svg)] for k, svg in music.items()} == {k: [] for k in music}


@cache
def every_note_fingered() -> tuple[str, ...]:
    """The plain setting in four voices, some notes of which cross to the other stave, a finger for each."""
    course = course_setting("first")
    score = course.scores[Version.PLAIN]
    whole = range(1, len(score.bars) + 1)
    rows = "".join(f"{v} plain 1 | {' | '.join('1 2 3 4' for _ in whole)}\n" for v in course.verset.voices)
    source = course.verset.path
    verset = parse(Path(source).read_text("utf-8") + f"\n```fingering\n{rows}```\n", "first.md")
    drawn = with_aids(keyboard_mei(score), verset, score)
    crossing = re.findall(r'<note xml:id="([^"]+)"[^>]* staff="1"', drawn)
    fingers_there = re.findall(r'<fing startid="#([^"]+)" staff="1" place="below"', drawn)
    assert crossing and fingers_there == crossing
    return svg(drawn, width=900)


def test_no_finger_stands_in_a_stave_or_on_a_note() -> None:
    pictures = every_note_fingered()
    found = 0
    for drawn in pictures:
        rows = re.findall(r"M([-\d.]+) ([-\d.]+)H([-\d.]+)", drawn)
        lines = sorted({float(y) for x, y, end in rows if float(end) - float(x) > 700})  # no ledger lines
        staves = [(lines[n], lines[n + 4]) for n in range(0, len(lines), 5)]
        heads = [box for code, box in named_boxes(drawn) if "E0A0" <= code <= "E0A4"]
        for x, y in re.findall(r'<text stroke="none" x="([-\d.]+)" y="([-\d.]+)"[^>]*>[1-5]<', drawn):
            left, foot, found = float(x), float(y), found + 1
            top = foot - 200
            assert not any(upper + 20 < (foot + top) / 2 < lower - 20 for upper, lower in staves)
            assert not any(b[0] < left + 60 < b[2] and b[1] < (foot + top) / 2 < b[3] for b in heads)
    assert found > 60


def test_figures_stay_at_the_line_under_an_ossia() -> None:
    """The system with an ossia has its figures as near to the stave as without."""
    with_it = next(svg for k, svg in chapter(own(), Book("")).pictures.items() if "given-1" in k)
    figures = [
        float(y)
        for part in re.findall(r'<g class="harm".*?</g>', with_it)
        for y in re.findall(r' y="(\S+?)"', part)
    ]
    lines = [float(y) for y in re.findall(r"M[-\d.]+ ([-\d.]+)H", with_it)]
    longest = max(lines.count(y) for y in lines)
    stave = min(y for y in lines if lines.count(y) == longest)
    assert figures and all(stave - 600 < y < stave for y in figures)


def test_the_encodings_have_them_and_give_them_back() -> None:
    verset, given = own().verset, own().scores[Version.GIVEN]
    xml = given_musicxml(verset, given)
    assert re.findall(r"<fingering[^>]*>(.)<", xml) == ["3", "2", "3", "2", "4", "3", "1", "2"]
    assert xml.count('substitution="yes"') == 1
    for read in (parse_mei(mei(verset, given).encode()), parse_musicxml(xml.encode())):
        assert (read.fingers, read.ossias) == (verset.fingers, verset.ossias)
        assert not {"fingering", "ossia"} & {loss.kind for loss in read.lost}
    plain = own().scores[Version.PLAIN]
    asked = fingers(verset, plain)
    for made in (musicxml(plain, fingering=asked), keyboard_musicxml(plain, fingering=asked)):
        assert made.count("<fingering>") == 6


def test_of_a_file_that_carries_no_source_they_are_told_as_lost() -> None:
    made = re.sub(r"<extMeta>.*?</extMeta>", "", mei(own().verset, own().scores[Version.GIVEN]), flags=re.S)
    lost = {loss.kind: loss.bars for loss in parse_mei(made.encode()).lost}
    assert (lost["fingering"], lost["ossia"]) == ((1, 2), (3,))


def test_a_note_that_is_held_takes_no_finger() -> None:
    verset = parse(EXAMPLE.replace("B4/8 | C5/4", "B4/8~ | B4/4") + "\n```fingering\ncantus 2 | 5 4\n```\n")
    score = notated(verset.score())
    struck = [n for n in score.part("cantus").notes if n.pitch and n.onset >= 4][1:]
    assert fingers(verset, score) == {struck[0].id: "5", struck[1].id: "4"}
