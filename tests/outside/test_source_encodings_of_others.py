"""Files that other libraries write are read, and what they read in ours is what we read.

verovio turns MusicXML into MEI; music21 writes and reads MusicXML.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import verovio

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.music import notated
from builder.source import Verset, parse, read
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

CONTENT = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
HARD = """---
title: An example
verset: {metre: 6/4, signature: Bb, beat: dotted half = 40}
---
```given
cantus C1 | D5/2 A4/4. B4/8 C5/4~ C5/8 Bb4/8 | B4/4 Bb4/4 R/1
tenor  C4 | A3/2.{7 6/5} G3/2.{6/5:2 -:4} | F3/1.{(b)/4:2. n:2.} | D3/1.{#}
```
"""


def versets() -> list[Verset]:
    return [*(read(path) for path in CONTENT), parse(HARD)]


def heard(verset: Verset) -> list[tuple[object, ...]]:
    return [
        (g.voice, g.clef, g.note.onset, g.note.duration, g.note.pitch, g.note.tied, g.figures)
        for g in verset.given
        if g.note.pitch
    ]


@pytest.mark.parametrize("verset", versets(), ids=lambda v: v.name)
def test_verovio_s_mei_of_our_musicxml_is_read_as_the_same_verset(verset: Verset) -> None:
    toolkit = verovio.toolkit()
    assert toolkit.loadData(given_musicxml(verset, notated(verset.score())))
    again = parse_mei(toolkit.getMEI().encode())
    assert (again.metre, again.signature, again.bars, again.title) == (
        verset.metre,
        verset.signature,
        verset.bars,
        verset.title,
    )
    # brackets of supplied figures are not kept by that conversion, all else is
    assert [h[:-1] for h in heard(again)] == [h[:-1] for h in heard(verset)]
    bare = [[(s.number, s.sign) for s in f.signs] for f in again.figures if f.signs]
    assert bare == [[(s.number, s.sign) for s in f.signs] for f in verset.figures if f.signs]


@pytest.mark.parametrize("verset", versets(), ids=lambda v: v.name)
def test_verovio_s_mei_of_our_mei_is_read_as_the_same_verset(verset: Verset) -> None:
    toolkit = verovio.toolkit()
    assert toolkit.loadData(mei(verset, notated(verset.score())))
    assert [h[:-1] for h in heard(parse_mei(toolkit.getMEI().encode()))] == [h[:-1] for h in heard(verset)]


def test_musicxml_that_music21_writes_is_read_with_voices_from_its_clefs() -> None:
    music21 = pytest.importorskip("music21")
    part = music21.stream.Part()
    for number, (clef, notes) in enumerate(
        (("C1", "d'2 a4. b8"), ("C3", "a2 d4 e4"), ("C4", "d2~ d2"), ("F4", "A1")), 1
    ):
        measure = music21.stream.Measure(number=number)
        if number == 1:
            measure.append(music21.meter.TimeSignature("C"))
            measure.append(music21.key.KeySignature(-1))
        measure.append(music21.clef.clefFromString(clef))
        for note in music21.converter.parse(f"tinynotation: 4/4 {notes}").flatten().notes:
            measure.append(note)
        part.append(measure)
    data = music21.musicxml.m21ToXml.GeneralObjectExporter(part).parse()
    verset = parse_musicxml(data)
    assert verset.metre.symbol == "C" and str(verset.signature) == "Bb"
    assert [g.voice for g in verset.given] == ["cantus"] * 3 + ["altus"] * 3 + ["tenor"] * 2 + ["bassus"]
    theirs = [(n.pitch.midi, n.quarterLength) for n in part.flatten().notes]
    assert [(g.note.pitch.midi, g.note.duration) for g in verset.given if g.note.pitch] == theirs


@pytest.mark.parametrize("verset", versets(), ids=lambda v: v.name)
def test_music21_reads_the_same_notes_as_we_do(verset: Verset, tmp_path: Path) -> None:
    music21 = pytest.importorskip("music21")
    path = tmp_path / "verset.musicxml"
    path.write_text(given_musicxml(verset, notated(verset.score())), "utf-8")
    theirs = [
        (n.getOffsetInHierarchy(stream), n.quarterLength, n.pitch.midi)
        for stream in [music21.converter.parse(path, forceSource=True)]
        for n in stream.recurse().notes
    ]
    ours = [(g.note.onset, g.note.duration, g.note.pitch.midi) for g in read(path).given if g.note.pitch]
    assert ours == theirs
