"""A voice that the source writes at once with the given line, above it."""

from __future__ import annotations

import re

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.engraving.given import given_mei, given_notes
from builder.music import notated
from builder.source import SourceErrors, Verset, parse, write
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

SOURCE = """---
title: Two at once
verset: {metre: C, signature: none}
---
```given
cantus C1 | D5/2 C5/4 B4/4 | A4/2 G4/2
altus  C3 | A4/2 G4/4 F4/4 | E4/2 D4/2 | D4/1
cantus 3 | R/4 C5/4 B4/2 | _/2 A4/4 G4/4 | F4/1
```
"""


def notes(verset: Verset) -> list[str]:
    return [f"{g.voice} {g.note.onset} {g.note.pitch} {g.clef.name}" for g in verset.beside]


def test_a_voice_beside_the_line_stands_in_its_clef_from_its_bar_on() -> None:
    verset = parse(SOURCE)
    assert notes(verset) == [
        "cantus 9 C5 C3",
        "cantus 10 B4 C3",
        "cantus 14 A4 C3",
        "cantus 15 G4 C3",
        "cantus 16 F4 C3",
    ]
    assert [g.voice for g in verset.given] == ["cantus"] * 5 + ["altus"] * 6


def test_it_is_written_and_read_again_in_every_format() -> None:
    verset = parse(SOURCE)
    assert "cantus 3 | R/4 C5/4 B4/2 | _/2 A4/4 G4/4 | F4/1\n```\n" in write(verset)
    score = notated(verset.score())
    for again in (
        parse(write(verset)),
        parse_mei(mei(verset, score).encode()),
        parse_musicxml(given_musicxml(verset, score).encode()),
    ):
        assert notes(again) == notes(verset)
        assert [(g.voice, g.note.onset, g.note.pitch) for g in again.given] == [
            (g.voice, g.note.onset, g.note.pitch) for g in verset.given
        ]


def test_it_stays_in_the_setting_and_is_the_source_s() -> None:
    verset = parse(SOURCE)
    plain = realise(verset, analyse(verset)).score
    heard = {(n.onset, str(n.pitch)) for n in plain.part("cantus").notes}
    assert {(9, "C5"), (10, "B4"), (14, "A4"), (16, "F4")} <= heard
    ours = {(n.onset, str(n.pitch)) for _, n in given_notes(verset, notated(plain))}
    assert (9, "C5") in ours and (12, "E4") in ours


def test_it_is_engraved_as_a_second_layer_with_stems_up() -> None:
    verset = parse(SOURCE)
    text = given_mei(verset, notated(verset.score()))
    measures = re.findall(r"<measure.*?</measure>", text, re.DOTALL)
    assert [m.count("<layer ") for m in measures] == [1, 1, 2, 2, 2]
    assert 'type="beside"' in measures[2] and 'stem.dir="up"' in measures[2].partition('type="beside"')[2]
    assert 'stem.dir="down"' in measures[2].partition('type="beside"')[0]


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("cantus 3 |", "tenor 3 |", "the tenor pinned before it has entered"),
        ("cantus 3 |", "altus 3 |", "the altus pinned where it has the given line"),
        ("cantus 3 | R/4", "cantus 3 | R/2", "a bar of 5 quarters"),
        ("cantus 3 |", "cantus 9 |", "notes pinned in bar 9"),
        ("cantus 3 | R/4 C5/4", "cantus 3 | R/4 C5/4{6}", "figures over a pinned note"),
    ],
)
def test_what_is_wrong_beside_the_line_is_told(old: str, new: str, found: str) -> None:
    with pytest.raises(SourceErrors) as wrong:
        parse(SOURCE.replace(old, new))
    assert found in [e.found for e in wrong.value.errors]
