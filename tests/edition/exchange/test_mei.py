"""MEI for the library: header, editorial markup, critical notes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

from course import course_setting

from builder.edition.exchange.mei import mei
from builder.edition.imprint import UNSIGNED, Imprint
from builder.engraving.tree import XML_ID
from builder.music import Version, notated
from builder.source import Verset, parse

_path = Path(__file__).parents[2] / "source" / "test_sources_of_the_music.py"
_spec = spec_from_file_location("known_sources", _path)
assert _spec and _spec.loader
known: Any = module_from_spec(_spec)
_spec.loader.exec_module(known)

SOURCE = """---
title: A verset & its source
verset:
  metre: C
  signature: none
  tone: 4
  readings:
    - {bar: 1, voice: altus, source: "F without sharp", adopted: "F sharp"}
---

```given
cantus C1 | D5/2
altus C3 | F(#)4/2{(6) 6/(5)} | G4/1{7 6}
```
"""
BY = Imprint(authors=("A. Editor", "B. Editor"), publisher="A Press", licence="CC-BY-4.0")


def verset() -> Verset:
    return parse(SOURCE, "sources/small.md")


def opened(by: Imprint = UNSIGNED, tone: int | None = None) -> ET.Element:
    text = mei(verset(), notated(verset().score()), by=by, tone=tone)
    return ET.fromstring(text.replace(' xmlns="http://www.music-encoding.org/ns/mei"', "", 1))


def test_the_header_tells_title_people_licence_and_source() -> None:
    head = opened(BY).find("meiHead")
    assert head is not None
    assert head.findtext("fileDesc/titleStmt/title") == "A verset & its source (given)"
    people = head.findall("fileDesc/titleStmt/respStmt/name")
    assert [name.text for name in people] == ["A. Editor", "B. Editor"]
    assert head.findtext("fileDesc/pubStmt/publisher") == "A Press"
    reference = head.find("fileDesc/pubStmt/availability/useRestrict/p/ref")
    assert reference is not None
    assert (reference.text, reference.get("target")) == (BY.licence, BY.licence_url)


def test_what_is_not_stated_is_not_invented() -> None:
    head = opened().find("meiHead")
    assert head is not None
    assert head.find(".//publisher") is None
    assert head.find(".//composer") is None
    assert head.find("fileDesc/sourceDesc") is None
    assert head.find("fileDesc/pubStmt/unpub") is not None


def test_the_tone_stands_in_the_header() -> None:
    terms = [t.text for t in opened(tone=1).iter("term")]
    assert terms == ["Tone 4"]


def test_an_editorial_accidental_is_marked_as_supplied_by_the_editor() -> None:
    root = opened()
    (note,) = [n for n in root.iter("note") if n.find("supplied") is not None]
    supplied = note.find("supplied")
    assert supplied is not None
    assert supplied.get("resp") == "#editor"
    sign = supplied.find("accid")
    assert sign is not None
    assert (sign.get("accid"), sign.get("func")) == ("s", "edit")
    assert [e for e in root.iter() if e.get(XML_ID) == "editor"]


def test_figures_of_the_editor_are_marked_as_supplied_and_others_are_not() -> None:
    stacks = [[child.tag for child in fb] for fb in opened().iter("fb")]
    assert stacks == [["supplied"], ["f", "supplied"], ["f"], ["f"]]


def test_a_critical_note_points_to_the_notes_it_speaks_of() -> None:
    (app,) = opened().iter("app")
    adopted, source = app.find("lem"), app.find("rdg")
    assert adopted is not None and source is not None
    assert (adopted.findtext("annot/p"), source.findtext("annot/p")) == ("F sharp", "F without sharp")
    assert (adopted.get("resp"), source.get("source")) == ("#editor", None)
    assert "editor" in {a.get(XML_ID) for a in opened().iter()}
    # the first symbol of its bar is a rest
    assert [a.get("plist") for a in app.iter("annot")] == ["#given-altus-1-2"] * 2


def test_lengths_are_also_counted_in_parts_of_a_quarter_note() -> None:
    root = opened()
    unit = int(next(s.get("ppq", "0") for s in root.iter("staffDef")))
    assert [int(n.get("dur.ppq", "0")) / unit for n in root.iter("note")] == [2, 2, 4]


def test_a_realisation_is_written_in_open_score() -> None:
    from dataclasses import replace

    score = notated(replace(verset().score(), version=Version.PLAIN))
    root = ET.fromstring(mei(verset(), score).replace(' xmlns="http://www.music-encoding.org/ns/mei"', "", 1))
    assert [s.findtext("label") for s in root.iter("staffDef")] == ["Cantus", "Altus"]
    assert {h.get("staff") for h in root.iter("harm")} == {"2"}


def apparatus() -> ET.Element:
    whole = known.parse(known.GOOD)
    text = mei(whole, notated(whole.score()), by=BY)
    return ET.fromstring(text.replace(' xmlns="http://www.music-encoding.org/ns/mei"', "", 1))


def test_the_header_has_composer_witnesses_people_and_numbers() -> None:
    head = apparatus().find("meiHead")
    assert head is not None
    composers = head.findall(".//composer")
    assert [c.findtext("persName") for c in composers] == ["Aldwin, John"] * 2
    assert {c.get("type") for c in composers} == {"attributed"}
    sources = head.findall("fileDesc/sourceDesc/source")
    assert [(s.get("label"), s.get("type")) for s in sources] == [
        ("A", "copy-text"),
        ("B", None),
        ("Cc", None),
    ]
    first = sources[0]
    told = [
        first.findtext(f"bibl/{path}") for path in ("repository/corpName", "repository/identifier", "date")
    ]
    assert told == ["A library", "12", "1641"]
    said = [(s.findtext("resp"), s.findtext("name")) for s in head.findall("fileDesc/titleStmt/respStmt")]
    assert said == [("editor", "Teacher, Anna"), ("transcriber", "Friend")]
    assert head.find(".//name[@codedval='0000-0002-1825-0097'][@auth='ORCID']") is not None
    numbers = {i.get("type"): i.text for i in head.findall("fileDesc/pubStmt/identifier")}
    assert numbers == {
        "ISMN": "979-0-2600-0043-8",
        "ISBN": "978-0-306-40615-7",
        "DOI": "10.1000/182",
    }
    work = head.find("workList/work")
    assert work is not None
    assert [work.findtext(f"creation/{tag}") for tag in ("date", "geogName")] == [
        "1641-05-03",
        "Aldwinsbury",
    ]


def test_a_reading_has_its_own_notes_and_its_witness_and_points_to_its_lemma() -> None:
    root = apparatus()
    first, *_, last = [app for app in root.iter("app") if app.get(XML_ID)]
    lemma, reading = first.find("lem"), first.find("rdg")
    assert lemma is not None and reading is not None
    assert first.get("type") == "emendation value"
    assert (lemma.get("resp"), lemma.get("source")) == ("#editor", "#source-B #source-Cc")
    assert (reading.get("source"), reading.findtext("annot/p")) == ("#source-A", 'the "dot" is lost')
    assert [(n.get("pname"), n.get("dur")) for n in reading.findall("note")] == [("a", "4"), ("b", "4")]
    (pointer,) = lemma.findall("annot")
    ids = {n.get(XML_ID) for n in root.iter("note")}
    assert {name.removeprefix("#") for name in pointer.get("plist", "").split()} <= ids
    missing = last.find("rdg")
    assert missing is not None
    assert (last.get("type"), missing.get("cause"), list(missing)) == ("variant missing", "missing", [])


def test_pictures_have_surfaces_with_zones_and_measures_point_to_them() -> None:
    root = apparatus()
    (surface,) = root.iter("surface")
    graphic = surface.find("graphic")
    assert graphic is not None and (graphic.get("target"), surface.findtext("figDesc/seg")) == (
        "b/3.png",
        "CC0-1.0",
    )
    (zone,) = surface.findall("zone")
    assert [zone.get(side) for side in ("ulx", "uly", "lrx", "lry")] == ["1", "2", "31", "42"]
    assert [m.get("facs") for m in root.iter("measure")] == ["#zone-1-1", "#zone-1-1", None, None]


def test_what_the_editor_realises_is_told_from_the_given_line() -> None:
    own = course_setting("first")
    text = mei(own.verset, own.scores[Version.PLAIN])
    root = ET.fromstring(text.replace(' xmlns="http://www.music-encoding.org/ns/mei"', "", 1))
    given = [n for n in root.iter("note") if n.get("resp") is None]
    line = [n for part in own.scores[Version.GIVEN].parts for n in part.notes if n.pitch]
    assert len(given) == len(line)
    assert {n.get("resp") for n in root.iter("note")} == {None, "#editor"}
