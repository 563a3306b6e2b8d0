"""Every MEI and MusicXML that we write against the official schemas.

Sources: MEI 5.1 customization CMN (Music Encoding Initiative); MusicXML 4.0 (W3C Music Notation Community
Group). Their folder is named by VERSET_SCHEMAS; without it MusicXML falls back to the copy of the 3.1 schema
among partitura's package data, which knows nothing of what came with 4.0 and has none of MEI: there verovio,
which knows MEI, must load without complaint.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from course import course_setting
from lxml import etree

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.edition.imprint import Imprint
from builder.engraving import clefs_of, given_mei, keyboard_mei, open_mei
from builder.music import notated
from builder.setting.setting import Setting
from builder.source import Verset, parse

SOURCES = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
FOLDER = os.environ.get("VERSET_SCHEMAS", "")

EVERYTHING = """---
title: "All & <signs>"
verset:
  metre: 3/2
  signature: Bb
  tone: 2
  beat: half = 40
  readings:
    - {bar: 2, voice: cantus, source: "B flat", adopted: "B natural"}
    - {bar: 5, source: "no figures", adopted: "6/5"}
  composer: {name: "A & B", attributed: true}
  place: "here"
  date: 1641
  witnesses:
    - siglum: 1'x
      library: L
      shelfmark: S
      folio: 3v
      date: about 1641
      description: "words"
      link: https://example.org/a?b=1&c=2
      copy-text: true
      pictures:
        - {file: a/b.png, licence: CC0-1.0, credit: L, zones: [{bars: 1-2, box: [0, 1, 20, 30]}]}
    - {siglum: B}
  relation: "B was copied from the first."
  method: "The first is followed."
  editors: [N. N., {name: M. M., role: reviewer, orcid: 0000-0002-1825-0097}]
  published:
    {publisher: P, place: Q, series: S, isbn: 0-306-40615-2, ismn: M-2600-0043-8, doi: 10.1000/182}
---

```given
cantus C1 | G4/2 D5/2 Eb5/2 | D5/4. C5/8 B(n)4/4 A4/16 G4/16 A4/8 G4/2 | F(#)4/2~ F#4/4
altus  C3 | R/4 G4/2{(6)} | D4/2{(6)/(5)} Eb4/1{7:4 6/4:4 -:4 6:4}
altus  C3 | D4/2{6/(4) 5/3} F4/8{#6} G4/16 A4/16 Bb4/4{#} A4/2
bassus F4 | G3/1{9/7/4 8/6/3} F#3/2 | F3/1.{#4/2} | G3/breve.{(n)}
```

```readings
cantus 1:1 1'x   | G4/4 R/4 "a \"stain\" & a hole"
altus  5:2 B     | E(b)4/1{7:4 6/5:2.}
altus  5 C4 1'x B | _
```

```fingering
cantus 1 | 4-3 _ 5
altus plain 4 | 2 1
```

```ossia
cantus 2 | D5/8 Eb5/8 D5/8 C5/8 _/1
altus plain 4 | F4/4 G4/4 _/1
```
"""


def setting(path: Path) -> Setting:
    return course_setting(path.stem)


@cache
def everything() -> Verset:
    return parse(EVERYTHING, "everything.md")


@cache
def mei_schema() -> Any:
    return etree.RelaxNG(etree.parse(Path(FOLDER) / "mei-CMN-5.1.rng"))


ATTRIBUTES = {
    "xml.xsd": ("http://www.w3.org/XML/1998/namespace", ("lang", "space", "id", "base")),
    "xlink.xsd": (
        "http://www.w3.org/1999/xlink",
        ("type", "href", "role", "title", "show", "actuate", "label", "from", "to"),
    ),
}


class Local(etree.Resolver):
    """The schema imports two small files by web address: take them from beside it, or, where they are
    not, declare the attributes that they would."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def resolve(self, url: str, public: str | None, context: Any) -> Any:
        name = url.rsplit("/", 1)[-1]
        if (self.folder / name).is_file() or name not in ATTRIBUTES:
            return self.resolve_filename(str(self.folder / name), context)
        space, names = ATTRIBUTES[name]
        declared = "".join(f'<xs:attribute name="{n}" type="xs:string"/>' for n in names)
        head = f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{space}">'
        return self.resolve_string(f"{head}{declared}</xs:schema>", context)


@cache
def musicxml_schema() -> Any:
    import partitura

    folder = Path(FOLDER or Path(partitura.__file__).parent / "assets")
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local(folder))
    return etree.XMLSchema(etree.parse(folder / "musicxml.xsd", parser))


def check_mei(text: str) -> None:
    if not FOLDER:
        import verovio

        toolkit = verovio.toolkit()
        assert toolkit.loadData(text)
        assert "Error" not in toolkit.getLog()
        return
    schema = mei_schema()
    schema.validate(etree.fromstring(text.encode()))
    assert [f"{e.line}: {e.message}" for e in schema.error_log] == []


SINCE_4_0 = (("figured-bass", "placement"),)
"""Elements and their attributes that we write and MusicXML 3.1 lacks."""


def check_musicxml(text: str) -> None:
    schema, tree = musicxml_schema(), etree.fromstring(text.encode())
    for name, attribute in () if FOLDER else SINCE_4_0:
        for found in tree.iter(name):
            found.attrib.pop(attribute, None)
    schema.validate(tree)
    assert [f"{e.line}: {e.message}" for e in schema.error_log] == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_every_mei_of_the_course_is_valid(path: Path) -> None:
    own = setting(path)
    clefs = clefs_of(own.verset)
    check_mei(given_mei(own.verset, own.scores["given"]))
    for score in own.scores.values():
        check_mei(mei(own.verset, score))
        check_mei(mei(own.verset, score, keyboard=True, by=Imprint(version="1.2.0")))
        check_mei(keyboard_mei(score, figured=True, names=True))
        check_mei(open_mei(score, clefs, figured=True))


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_every_musicxml_of_the_course_is_valid(path: Path) -> None:
    own = setting(path)
    check_musicxml(given_musicxml(own.verset, own.scores["given"]))
    for score in own.scores.values():
        check_musicxml(musicxml(score, composer="Anon", rights="CC0", tempo=own.verset.tempo))
        check_musicxml(keyboard_musicxml(score, rights="CC0", tempo=own.verset.tempo, edition="1.2.0"))


def whole(verset: Verset) -> list[Callable[[], str]]:
    score = notated(verset.score())
    by = Imprint(authors=("A. Editor", "B. Editor"), publisher="A Press", licence="CC-BY-4.0")
    return [
        lambda: mei(verset, score, by=by),
        lambda: mei(verset, score, by=Imprint(licence="free to use")),
        lambda: given_mei(verset, score, slashed=True),
        lambda: keyboard_mei(score, figured=True),
        lambda: given_mei(verset, score.excerpt(score.bars[2].onset, score.bars[4].end)),
    ]


@pytest.mark.parametrize("case", range(5))
def test_mei_with_every_sign_of_the_source_is_valid(case: int) -> None:
    check_mei(whole(everything())[case]())


def test_musicxml_with_every_sign_of_the_source_is_valid() -> None:
    score = notated(everything().score())
    check_musicxml(given_musicxml(everything(), score, composer="N. N.", rights="CC BY 4.0"))
    check_musicxml(musicxml(score))
    check_musicxml(keyboard_musicxml(score))


def test_a_wrong_document_is_refused() -> None:
    """The check can fail."""
    broken = (
        given_mei(everything(), notated(everything().score()))
        .replace("<layer", "<lair")
        .replace("</layer", "</lair")
    )
    if FOLDER:
        with pytest.raises(AssertionError):
            check_mei(broken)
    with pytest.raises(AssertionError):
        check_musicxml(
            musicxml(notated(everything().score())).replace("<step>", "<tep>").replace("</step>", "</tep>")
        )
