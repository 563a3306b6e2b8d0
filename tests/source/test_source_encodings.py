"""MusicXML and MEI with figured bass are read into the same verset, and tell what is wrong."""

from __future__ import annotations

import random
import zipfile
from fractions import Fraction
from pathlib import Path

import pytest

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.music import notated
from builder.source import SourceError, SourceErrors, Verset, front_text, parse, read, read_mei, read_musicxml
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

CONTENT = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))

SOURCE = """---
title: An example
verset: {metre: C|, signature: Bb, beat: half = 60}
---
```given
cantus C1 | D5/2 A4/4. B(n)4/8 | C5/2~ C5/4 Bb4/4
tenor  C4 | A3/2{7 (#6)} G3/2{6/5:4. -:8} | F3/1{(b)/4:2 n:2} | D3/breve{#}
```
"""


def heard(verset: Verset) -> list[tuple[object, ...]]:
    """What must be the same whatever the format."""
    return [
        (
            g.voice,
            g.clef,
            g.note.onset,
            g.note.duration,
            g.note.pitch,
            g.note.tied,
            g.note.editorial,
            g.figures,
        )
        for g in verset.given
        if g.note.pitch
    ]


def same(one: Verset, other: Verset) -> None:
    assert heard(one) == heard(other)
    assert (one.metre, one.signature, one.bars, one.title) == (
        other.metre,
        other.signature,
        other.bars,
        other.title,
    )


def as_musicxml(verset: Verset) -> bytes:
    return given_musicxml(verset, notated(verset.score())).encode()


def as_mei(verset: Verset) -> bytes:
    return mei(verset, notated(verset.score())).encode()


def errors(data: bytes, read_as=parse_musicxml) -> tuple[SourceError, ...]:
    with pytest.raises(SourceErrors) as caught:
        read_as(data, "verset.xml")
    return caught.value.errors


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_our_own_musicxml_and_mei_read_back_into_the_same_verset(path: Path) -> None:
    verset = read(path)
    same(parse_musicxml(as_musicxml(verset)), verset)
    same(parse_mei(as_mei(verset)), verset)
    assert parse_musicxml(as_musicxml(verset)).tempo == verset.tempo


def test_editorial_signs_dashes_and_ties_survive_both_formats() -> None:
    verset = parse(SOURCE)
    same(parse_musicxml(as_musicxml(verset)), verset)
    same(parse_mei(as_mei(verset)), verset)


@pytest.mark.parametrize("ending", [".musicxml", ".xml", ".mxl", ".mei"])
def test_a_file_is_read_by_its_ending(ending: str, tmp_path: Path) -> None:
    verset, path = parse(SOURCE), tmp_path / f"verset{ending}"
    if ending == ".mxl":
        with zipfile.ZipFile(path, "w") as packed:
            container = '<container><rootfiles><rootfile full-path="music.xml"/></rootfiles></container>'
            packed.writestr("META-INF/container.xml", container)
            packed.writestr("music.xml", as_musicxml(verset))
    else:
        path.write_bytes(as_mei(verset) if ending == ".mei" else as_musicxml(verset))
    same(read(path), verset)
    assert read(path).path == str(path) and read(path).name == "verset"
    assert (read_mei if ending == ".mei" else read_musicxml)(path) == read(path)


def test_front_matter_that_a_file_carries_keeps_what_the_format_has_no_words_for() -> None:
    text = SOURCE.replace(
        "beat:", 'tone: 2, level: 3, allow: [{rule: direct-fifth, bar: 1, because: "x"}], beat:'
    )
    verset = parse(text)
    field = f'<miscellaneous-field name="verset">{front_text(verset)}</miscellaneous-field>'
    field = f"<miscellaneous>{field}</miscellaneous>"
    music = as_musicxml(verset).replace(b"</identification>", field.encode() + b"</identification>")
    again = parse_musicxml(music)
    assert (again.tone, again.settings, again.tempo) == (2, verset.settings, verset.tempo)
    assert [x.because for x in again.licences] == ["x"]
    extra = f"<extMeta>{front_text(verset)}</extMeta></meiHead>"
    again = parse_mei(as_mei(verset).replace(b"</meiHead>", extra.encode()))
    assert (again.tone, again.settings, again.tempo) == (2, verset.settings, verset.tempo)
    wrong = music.replace(b"metre: C|", b"metre: 3/2")
    assert [e.found for e in errors(wrong)] == ["the metre 3/2"]


NOTE = "<note><pitch><step>{0}</step><octave>{1}</octave></pitch><duration>{2}</duration></note>"
CLEF = "<attributes><clef><sign>{0}</sign><line>{1}</line></clef></attributes>"
HEAD = (
    "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)


def document(*bars: str) -> bytes:
    """A MusicXML document as a person might write it, with nothing that could be left out."""
    measures = "\n".join(f'<measure number="{n}">\n{bar}\n</measure>' for n, bar in enumerate(bars, 1))
    return f'<score-partwise>\n<part id="a">\n{measures}\n</part>\n</score-partwise>'.encode()


def figured(number: str, sign: str = "", place: str = "prefix", duration: str = "") -> str:
    mark = f"<{place}>{sign}</{place}>" if sign else ""
    parts = (
        (mark, f"<figure-number>{number}</figure-number>")
        if place == "prefix"
        else (f"<figure-number>{number}</figure-number>", mark)
    )
    last = f"<duration>{duration}</duration>" if duration else ""
    return f"<figured-bass><figure>{''.join(parts)}</figure>{last}</figured-bass>"


NATURAL = [("C", 1, "D5"), ("C", 3, "A4"), ("C", 4, "D4"), ("F", 4, "A3")]
HIGH = [("G", 2, "D5"), ("C", 2, "A4"), ("C", 3, "D4"), ("F", 3, "A3")]


@pytest.mark.parametrize("clefs", [NATURAL, HIGH], ids=["natural", "high"])
def test_clefs_alone_say_which_voice_has_the_line(clefs) -> None:
    bars = [CLEF.format(sign, line) + NOTE.format(pitch[0], pitch[1], 4) for sign, line, pitch in clefs]
    verset = parse_musicxml(document(HEAD + bars[0], *bars[1:]))
    assert [g.voice for g in verset.given] == ["cantus", "altus", "tenor", "bassus"]


def test_a_named_voice_keeps_the_line_until_the_next_name() -> None:
    name = "<direction><direction-type><words>Tenore</words></direction-type></direction>"
    bars = [
        HEAD + CLEF.format("C", 4) + name + NOTE.format("C", 4, 4),
        CLEF.format("F", 4) + NOTE.format("G", 3, 4),
    ]
    assert [g.voice for g in parse_musicxml(document(*bars)).given] == ["tenor", "tenor"]


@pytest.mark.parametrize(
    ("bass", "shown"),
    [
        (figured("6"), ["6"]),
        (figured("6", "sharp"), ["#6"]),
        (figured("6", "slash", "suffix"), ["#6"]),
        (figured("7", "flat", "suffix"), ["b7"]),
        (figured("", "natural"), ["n"]),
        (figured("7", duration="3") + figured("6", duration="1"), ["7", "6"]),
        (figured("7", duration="1") + figured("6"), ["7", "6"]),
    ],
)
def test_figured_bass_is_read_as_other_programs_write_it(bass: str, shown: list[str]) -> None:
    verset = parse_musicxml(document(HEAD + CLEF.format("F", 4) + bass + NOTE.format("D", 3, 4)))
    assert [str(f) for f in verset.figures] == shown
    assert sum(f.duration for f in verset.figures) == 4


def test_an_upbeat_is_filled_with_rests() -> None:
    bars = document(HEAD + CLEF.format("C", 1) + NOTE.format("D", 5, 1), NOTE.format("G", 4, 4))
    verset = parse_musicxml(bars.replace(b'number="1"', b'number="1" implicit="yes"'))
    assert [(g.note.onset, g.note.pitch is None) for g in verset.given] == [(0, True), (3, False), (4, False)]
    assert [e.found for e in errors(bars)] == ["a bar of 1 quarter"]


C1 = HEAD + CLEF.format("C", 1)
WRONG = [
    ((C1 + NOTE.format("D", 5, 3), NOTE.format("D", 5, 4)), "a bar of 3 quarters", 4),
    ((C1 + NOTE.format("D", 5, 4) + "<forward><duration>4</duration></forward>",), "<forward>", 4),
    ((C1 + NOTE.format("D", 5, 4).replace("<pitch>", "<grace/><pitch>", 1),), "a grace note", 4),
    ((HEAD + NOTE.format("D", 5, 4),), "a note before any clef", 4),
    ((CLEF.format("C", 1) + NOTE.format("D", 5, 4),), "no metre", 1),
    ((HEAD + CLEF.format("TAB", 5) + NOTE.format("D", 5, 4),), "the clef TAB5", 4),
    ((C1 + NOTE.format("H", 5, 4),), "the pitch H5", 4),
    ((C1 + NOTE.format("D", 8, 4),), "D8 under the clef C1", 4),
    (
        (C1 + NOTE.format("D", 5, 4), HEAD.replace("4<", "3<", 1) + NOTE.format("D", 5, 4)),
        "a change of metre",
        7,
    ),
    ((C1 + NOTE.format("D", 5, 4), ""), "an empty bar", 6),
    ((C1 + figured("13") + NOTE.format("D", 5, 4),), "the figure 13", 4),
    ((C1 + figured("6", "vertical", "suffix") + NOTE.format("D", 5, 4),), "a figure with vertical", 4),
    ((C1 + figured("6", duration="5") + NOTE.format("D", 5, 4),), "figures that outlast their note", 4),
    ((C1 + "<note><rest/><duration>4</duration></note>",), "no notes", 1),
]


@pytest.mark.parametrize(("bars", "found", "line"), WRONG, ids=[w[1] for w in WRONG])
def test_what_a_verset_cannot_hold_is_told_with_its_line(bars, found: str, line: int) -> None:
    told = errors(document(*bars))
    assert found in [e.found for e in told]
    assert next(e.line for e in told if e.found == found) == line
    assert all(e.text for e in told)


def test_bars_and_beats_are_told_for_encoded_files_too() -> None:
    (error,) = errors(document(C1 + NOTE.format("D", 5, 2) + NOTE.format("D", 8, 2)))
    assert str(error.place) == "bar 1, beat 3"


@pytest.mark.parametrize("read_as", [parse_musicxml, parse_mei])
def test_files_that_could_do_harm_are_refused(read_as) -> None:
    bomb = '<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;&b;">]><a>&c;</a>'
    assert [e.found for e in errors(bomb.encode(), read_as)] == ["an entity of the file's own"]
    outside = '<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><a>&b;</a>'
    assert [e.found for e in errors(outside.encode(), read_as)] == ["an entity of the file's own"]
    deep = b"<a>" * 5000
    assert [e.found for e in errors(deep, read_as)] == ["elements nested too deeply"]
    for data in (b"", b"no music", b"<a>", b"\xff\xfe<", b"<a/>", b"<score-partwise/>", b"<mei/>"):
        assert errors(data, read_as)


def test_a_packed_file_that_is_none_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "verset.mxl"
    path.write_bytes(b"PK\x03\x04 nothing")
    with pytest.raises(SourceErrors, match="a packed file that cannot be read"):
        read(path)


def test_mei_with_a_tuplet_is_refused() -> None:
    tuplet = as_mei(parse(SOURCE)).replace(b"<note ", b"<tuplet/><note ", 1)
    assert "a tuplet" in [e.found for e in errors(tuplet, parse_mei)]


def test_in_mei_a_written_accidental_holds_for_its_bar_and_the_signature_after_it() -> None:
    layers = (
        '<note pname="b" oct="4" dur="4" accid="n"/><note pname="b" oct="4" dur="2" dots="1"/>',
        '<note pname="b" oct="4" dur="1"/>',
    )
    measures = "".join(f'<measure><staff n="1"><layer>{layer}</layer></staff></measure>' for layer in layers)
    text = (
        '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
        '<scoreDef key.sig="1f" meter.count="4" meter.unit="4"><staffGrp>'
        '<staffDef n="1" lines="5" clef.shape="C" clef.line="1"/></staffGrp></scoreDef>'
        f"<section>{measures}</section></score></mdiv></body></music></mei>"
    )
    assert [str(g.note.pitch) for g in parse_mei(text.encode()).given] == ["B4", "B4", "Bb4"]


@pytest.mark.parametrize("read_as", [parse_musicxml, parse_mei])
def test_a_damaged_file_gives_a_verset_or_errors(read_as) -> None:
    """Random damage from a fixed seed: the readers never stop with anything but their own errors."""
    verset, chance = parse(SOURCE), random.Random(7)
    whole = (as_mei if read_as is parse_mei else as_musicxml)(verset)
    tokens = whole.replace(b"<", b"\n<").split(b"\n")
    for _ in range(400):
        data = list(tokens)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(data))
            action = chance.randrange(4)
            if action == 0:
                del data[at]
            elif action == 1:
                data.insert(at, chance.choice(tokens))
            elif action == 2:
                data[at] = data[at].replace(
                    b"1", chance.choice([b"0", b"-1", b"x", b"99", b"1e9", b"\xc3\xa9"])
                )
            else:
                data[at] = data[at][: chance.randrange(len(data[at]) + 1)]
        try:
            read_as(b"".join(data), "verset.xml")
        except SourceErrors as wrong:
            assert all(e.found and e.expected and str(e) for e in wrong.errors)


def test_the_lengths_of_figures_come_from_the_next_figure() -> None:
    verset = parse_mei(as_mei(parse(SOURCE)))
    assert [f.duration for f in verset.figures] == [1, 1, Fraction(3, 2), Fraction(1, 2), 2, 2, 8]
