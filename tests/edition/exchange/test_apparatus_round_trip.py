"""MEI without the source that it carries is a source still: apparatus, witnesses and pictures come back from
`app`, `rdg`, the header and `zone` themselves."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from course import course_setting

from builder.edition.exchange.mei import mei
from builder.music import notated
from builder.source import SourceErrors, Span, Verset, parse
from builder.source.mei import parse_mei
from builder.source.variants import kinds

NOWHERE = Span(0, 0)
FRONT = """---
title: Witnesses
verset:
  metre: {metre}
  signature: {signature}
  composer: {{name: "Aldwin, John", attributed: true}}
  place: Aldwinsbury
  date: about 1640
  witnesses:
    - {{siglum: A, library: Parish library, shelfmark: Ms. 12, folio: 3v, date: 1641, copy-text: true,
        description: "A choirbook; of 40 leaves.", link: "https://example.org/a?b=1&c=2",
        pictures: [{{file: pictures/a.png, licence: CC0-1.0, credit: "The parish, its library",
        zones: [{{bars: 1-2, box: [10, 20, 300, 40]}}, {{bars: 2, box: [10, 80, 300, 40]}}]}},
        {{file: b.jpg, licence: MIT}}]}}
    - {{siglum: Bc'2, library: Another library}}
    - {{siglum: 1x}}
  relation: B was copied from A.
  method: A is followed.
  editors: ["Teacher, Anna", {{name: "Friend, Paul", role: transcriber, orcid: 0000-0002-1825-0097}}]
  published: {{publisher: A press, place: Aldwinsbury, date: 2026, series: Organ books,
    isbn: 978-0-306-40615-7, ismn: 979-0-2600-0043-8, doi: 10.5281/zenodo.1}}
  readings:
    - {{bar: 2, voice: cantus, source: "B flat", adopted: "B natural"}}
    - {{bar: 1, source: "no bar lines", adopted: "bars of four quarters"}}
---

```given
{given}
```

```readings
{readings}
```
"""
READINGS = """cantus 1:1 A   | D5/4 D5/4 "the note is struck twice"
cantus 1:3 A Bc'2 | C2 A4/4 B4/4
cantus 1:3-4.5 1x | A4/2.
cantus 2:1 A | C#5/4~ C5/4 A4/2
cantus 2:1-3 1x | R/1
altus  3:1 C4 Bc'2 | A(b)4/2
altus  4:1 A   | F4/4{5/3:8. 6:16} "he, or she, has <two> figures & a dash"
altus  4:2 Bc'2 | E4/4{[7] b}
altus  4:3 1x  | _
altus  5:1 A | R/2 D4/2"""
GIVEN = """cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
altus C3 | A4/2 D4/4. E4/8 | F4/4{6} E4/4{7 #6} D4/2 | R/2 D4/2"""


def source(
    readings: str = READINGS, *, given: str = GIVEN, metre: str = "C", signature: str = "Bb"
) -> Verset:
    text = FRONT.format(metre=metre, signature=signature, given=given, readings=readings)
    return parse(text.replace("[7]", "(7)").replace("1:3 A Bc'2 | C2", "1:3 C2 A Bc'2 |"))


def stripped(verset: Verset) -> bytes:
    """The given line as MEI, without the source that it carries."""
    text = mei(verset, notated(verset.score()))
    bare = re.sub(r"<extMeta>.*?</extMeta>", "", text, flags=re.DOTALL)
    assert bare != text
    return bare.encode()


def known(verset: Verset) -> tuple[object, ...]:
    return verset.provenance, placed(verset), tuple(replace(r, span=NOWHERE) for r in verset.readings)


def placed(verset: Verset) -> tuple[object, ...]:
    return tuple(
        replace(v, notes=tuple(replace(g, span=NOWHERE) for g in v.notes), span=NOWHERE)
        for v in verset.variants
    )


@pytest.mark.parametrize("signature", ("none", "Bb", "F# C#"))
def test_readings_witnesses_people_numbers_and_pictures_come_back(signature: str) -> None:
    verset = source(signature=signature)
    again = parse_mei(stripped(verset))
    assert known(again) == known(verset)
    assert [kinds(again, v) for v in again.variants] == [kinds(verset, v) for v in verset.variants]
    assert not again.lost


def test_the_demonstration_comes_back() -> None:
    verset = course_setting("eighth").verset
    again = parse_mei(stripped(verset))
    assert placed(again) == placed(verset)
    assert again.provenance == verset.provenance


def test_what_was_changed_in_the_apparatus_counts_more_than_what_is_carried() -> None:
    verset = source()
    text = mei(verset, notated(verset.score()))
    changed = text.replace("the note is struck twice", "it is struck three times")
    again = parse_mei(changed.encode())
    assert again.variants[0].remark == "it is struck three times"
    assert again.intro == verset.intro


def test_an_apparatus_that_another_program_took_away_is_still_carried() -> None:
    verset = source()
    text = re.sub(r"<app .*?</app>", "", mei(verset, notated(verset.score())), flags=re.DOTALL)
    assert placed(parse_mei(text.encode())) == placed(verset)


AMONG_NOTES = """<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1"><meiHead><fileDesc>
<titleStmt><title>Of another</title></titleStmt><pubStmt/><sourceDesc>
<source xml:id="s1"><bibl><title type="siglum">P</title></bibl></source>
<source xml:id="s2" label="R"><bibl/></source></sourceDesc></fileDesc></meiHead><music><body><mdiv><score>
<scoreDef meter.sym="common" keysig="0"><staffGrp><staffDef n="1" lines="5" clef.shape="C" clef.line="1"/>
</staffGrp></scoreDef><section><measure n="1"><staff n="1"><layer n="1"><note pname="d" oct="5" dur="2"/>
<app><lem source="#s1"><note pname="c" oct="5" dur="2"/></lem>
<rdg source="#s2"><beam><note pname="c" oct="5" dur="8"/><note pname="b" oct="4" dur="8" accid="f"/></beam>
<note pname="c" oct="5" dur="4"/></rdg>{more}</app></layer></staff></measure></section></score></mdiv></body>
</music></mei>"""


def test_an_apparatus_among_the_notes_is_read_too() -> None:
    """MEI Guidelines 5.1, critical apparatus: `app` with `lem` and `rdg` in the place of the notes."""
    verset = parse_mei(AMONG_NOTES.format(more="").encode())
    (variant,) = verset.variants
    assert verset.provenance.sigla == ("P", "R")
    assert [g.note.pitch.name for g in verset.given if g.note.pitch] == ["D5", "C5"]
    assert variant.sigla == ("R",) and (variant.start, variant.end) == (2, 4)
    assert [(g.note.pitch.name, g.note.duration) for g in variant.notes if g.note.pitch] == [
        ("C5", 0.5),
        ("Bb4", 0.5),
        ("C5", 1),
    ]


def test_a_reading_without_a_witness_is_told_as_not_kept() -> None:
    verset = parse_mei(AMONG_NOTES.format(more='<rdg><note pname="e" oct="5" dur="2"/></rdg>').encode())
    assert [(loss.kind, loss.bars) for loss in verset.lost] == [("reading", (1,))]


def test_a_reading_that_ends_inside_a_note_is_refused() -> None:
    text = stripped(source()).decode().replace('tstamp2="0m+3"', 'tstamp2="0m+2.75"', 1)
    with pytest.raises(SourceErrors, match="a reading that ends inside a note"):
        parse_mei(text.encode())


def drawn_readings(dice: random.Random) -> Iterator[str]:
    """Readings drawn for places of the line, each as long as what it stands for or with both ends told."""
    for place, length in (("cantus 1:1", 2), ("cantus 1:3-4.5", 2), ("altus 3:1", 2), ("altus 4:1", 1)):
        if dice.random() < 0.7:
            siglum = dice.choice(("A", "Bc'2", "1x", "A 1x"))
            remark = dice.choice(("", ' "a remark"', ' "<b>&amp; \\\\ {x} $y$"'))
            if dice.random() < 0.15:
                yield f"{place} {siglum} | _{remark}"
                continue
            notes = []
            for _ in range(length * 2):
                sign = dice.choice(("", "", "#", "b", "(#)", "(n)", "(b)"))
                figure = dice.choice(("", "", "{6}", "{#6/4}", "{(5)}", "{b}", "{7 6}"))
                notes.append(f"{dice.choice('CDEFGAB')}{sign}{dice.choice('45')}/8{figure}")
            yield f"{place} {siglum} | {' '.join(notes)}{remark}"


def test_three_hundred_drawn_apparatuses_come_back() -> None:
    seen = 0
    for seed in range(300):
        dice = random.Random(seed)
        readings = "\n".join(drawn_readings(dice)) or "% none"
        verset = source(readings, signature=dice.choice(("none", "Bb", "Bb Eb", "F#")))
        assert known(parse_mei(stripped(verset))) == known(verset), readings
        seen += len(verset.variants)
    assert seen > 700


def test_the_folder_of_a_picture_cannot_lead_out_of_the_course() -> None:
    text = stripped(source()).decode().replace('target="pictures/a.png"', 'target="../a.png"')
    again = parse_mei(text.encode())
    assert [p.file for _, p in again.provenance.facsimiles] == ["b.jpg"]
    assert Path("b.jpg").name == "b.jpg"
