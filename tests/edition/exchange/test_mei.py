"""MEI for the library: header, editorial markup, critical notes."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from builder.edition.exchange.mei import mei
from builder.edition.imprint import UNSIGNED, Imprint
from builder.engraving.tree import XML_ID
from builder.music import Version, notated
from builder.source import Verset, parse

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
    assert "small" in (head.findtext("fileDesc/sourceDesc/source/bibl/annot/p") or "")


def test_what_is_not_stated_is_not_invented() -> None:
    head = opened().find("meiHead")
    assert head is not None
    assert head.find(".//publisher") is None
    assert head.find(".//composer") is None
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
    assert (adopted.get("resp"), source.get("source")) == ("#editor", "#source")
    assert {a.get(XML_ID) for a in opened().iter()} >= {"editor", "source"}
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
