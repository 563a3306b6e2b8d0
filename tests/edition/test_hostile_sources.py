"""Hostile texts in every field of sources and edition go through every output as they are, or are refused."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import markdown
import numpy as np
import pymupdf
import pytest
import soundfile
import yaml
from lxml import etree

from builder.edition.apparatus import readings, witnesses
from builder.edition.book.book import Book, book
from builder.edition.exchange.braille_line import brf
from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.imprint import Imprint
from builder.edition.pdf.sheet import pdf
from builder.edition.release import deposit
from builder.edition.release.release import About, citation
from builder.language.texts import edition_texts
from builder.music import Version
from builder.pages.build import Making, build_lesson
from builder.setting.setting import Defaults, Setting, set_verset
from builder.sound import encode
from builder.source import SourceErrors, parse
from builder.source.mei import parse_mei
from builder.source.provenance import Provenance
from builder.source.write import write

TEXTS = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "]]> <!-- --> <?php ?>",
    "&lt; &amp; &#0; &nope;",
    '#import "/etc/passwd": * #eval("1") $x$ @here <label>',
    "*bold* _it_ `code` [a](javascript:alert(1)) ![x](y) ~~~",
    "{{ 7*7 }} {% raw %} ${x} %(x)s {title} {0}",
    "key: [a, {b: c}] # no comment - x | > & *a !!python/object",
    "'single' \"double\" ’ “ ” « »",
    'back\\slash \\n \\u0041 \\"',
    "- one",
    "| a | b |",
    "```given",
    "W" * 4000,
    "word " * 600 + "end",
    "מזמור לדוד (א) 12",
    "المزمور ١٢",
    "讃美歌 😀 clef 𝄞",
    "e\u0301\u0301\u0301\u0323 combining",
    "a\u00a0b\u200bc\u00ad",
    "1640",
    "null",
    "=1+1",
    "../../etc/passwd",
)
FIELDS = (
    *("title", "composer", "place", "date", "library", "shelfmark", "folio", "when", "description", "credit"),
    *(
        "licence",
        "relation",
        "method",
        "editor",
        "transcriber",
        "publisher",
        "pub_place",
        "pub_date",
        "series",
    ),
    *("remark", "source", "adopted"),
)
SOURCE = """---
title: {title}
verset:
  metre: C
  signature: none
  beat: half = 240
  composer: {{name: {composer}}}
  place: {place}
  date: {date}
  witnesses:
    - {{siglum: A, library: {library}, shelfmark: {shelfmark}, folio: {folio}, date: {when},
        description: {description}, pictures: [{{file: none.png, licence: {licence}, credit: {credit}}}]}}
  relation: {relation}
  method: {method}
  editors: [{{name: {editor}}}, {{name: {transcriber}, role: transcriber}}]
  published: {{publisher: {publisher}, place: {pub_place}, date: {pub_date}, series: {series}}}
  readings:
    - {{bar: 1, source: {source}, adopted: {adopted}}}
---

```given
cantus C1 | D5/2 C#5/2 | D5/1
bassus F4 | A2/1{{#}} | D3/1{{#}}
```

```readings
cantus 1:1 A | D5/4 D5/4 "{remark}"
```
"""
TURNS = range(len(TEXTS))


def texts_of(turn: int) -> dict[str, str]:
    """Each field with a text of the table; over all turns every field has every text."""
    return {field: TEXTS[(n + turn) % len(TEXTS)] for n, field in enumerate(FIELDS)}


def quoted(texts: dict[str, str]) -> dict[str, str]:
    told = {field: json.dumps(text, ensure_ascii=False) for field, text in texts.items()}
    return told | {"remark": texts["remark"]}


@cache
def setting(turn: int) -> Setting:
    return set_verset(parse(SOURCE.format(**quoted(texts_of(turn))), "amen.md"))


def plain(text: str) -> str:
    """A text as front matter and elements have it: blanks run together."""
    return " ".join(text.split())


def squeezed(text: str) -> str:
    return "".join(text.split())


def fields_of(said: Provenance) -> Iterator[tuple[str, str]]:
    assert said.composer
    (witness,), (picture,) = said.witnesses, said.witnesses[0].pictures
    yield from (("composer", said.composer.name), ("place", said.place), ("date", said.date))
    yield from (("library", witness.library), ("shelfmark", witness.shelfmark), ("folio", witness.folio))
    yield from (("when", witness.date), ("description", witness.description))
    yield from (("credit", picture.credit), ("licence", picture.licence))
    yield from (("relation", said.relation), ("method", said.method))
    yield from zip(("editor", "transcriber"), (e.name for e in said.editors))
    own = said.published
    yield from (("publisher", own.publisher), ("pub_place", own.place), ("pub_date", own.date))
    yield "series", own.series


@pytest.mark.parametrize("turn", TURNS)
def test_every_field_is_read_as_it_stands_and_written_back(turn: int) -> None:
    verset, texts = setting(turn).verset, texts_of(turn)
    for field, text in fields_of(verset.provenance):
        assert plain(text) == plain(texts[field]), field
    again = parse(write(verset))
    assert again.provenance == verset.provenance
    assert [v.remark for v in again.variants] == [v.remark for v in verset.variants]
    assert [(r.source, r.adopted) for r in again.readings] == [(r.source, r.adopted) for r in verset.readings]


@pytest.mark.parametrize("turn", TURNS)
def test_mei_is_well_formed_and_gives_the_same_back_with_and_without_the_carried_source(turn: int) -> None:
    verset = setting(turn).verset
    text = mei(verset, setting(turn).scores[Version.GIVEN], by=Imprint(authors=("x",), licence="<&>"))
    etree.fromstring(text.encode())
    assert parse_mei(text.encode()).provenance == verset.provenance
    bare = re.sub(r"<extMeta>.*?</extMeta>", "", text, flags=re.DOTALL)
    told = dict(fields_of(parse_mei(bare.encode()).provenance))
    for field, value in fields_of(verset.provenance):
        assert squeezed(told[field]) == squeezed(value), field
    assert squeezed(parse_mei(bare.encode()).variants[0].remark) == squeezed(verset.variants[0].remark)


@pytest.mark.parametrize("turn", TURNS)
def test_musicxml_is_well_formed_and_names_them(turn: int) -> None:
    own = setting(turn)
    for text in (
        given_musicxml(own.verset, own.scores[Version.GIVEN], rights="<&>"),
        musicxml(own.scores[Version.PLAIN], said=own.verset.provenance),
    ):
        root = etree.fromstring(text.encode())
        names = [squeezed(e.text or "") for e in root.iter("creator")]
        assert squeezed(texts_of(turn)["composer"]) in names
        assert squeezed(texts_of(turn)["editor"]) in names


@pytest.mark.parametrize("turn", TURNS)
def test_citation_and_deposit_say_the_same(turn: int) -> None:
    said, texts = setting(turn).verset.provenance, texts_of(turn)
    about = About("v", texts["title"], "1.0.0", (), "MIT", "t", abstract=texts["method"], said=said)
    card = yaml.safe_load(citation(about))
    assert card["title"] == texts["title"] and card["abstract"] == texts["method"]
    for person, editor in zip(card["authors"], said.editors):
        names = [person[k] for k in ("name", "family-names", "given-names") if k in person]
        assert all(isinstance(name, str) for name in names)
        assert squeezed("".join(names)) == squeezed(editor.name.replace(",", "", 1))
    made = deposit.files(
        deposit.Deposit(
            texts["title"], "1.0.0", "MIT", "", "en", said.editors, texts["method"], year="2026", said=said
        )
    )
    assert sorted(made) == ["metadata/datacite.xml", "metadata/dublin-core.xml"]
    for text in made.values():
        root = etree.fromstring(text.encode())
        values = {squeezed(e.text or "") for e in root.iter() if isinstance(e.tag, str)}
        assert squeezed(texts["title"]) in values
        assert squeezed(said.composer.name if said.composer else "") in values


def as_printed(text: str) -> str:
    """Letters alone; print has ligatures and the quotation marks of its language."""
    return re.sub("[\"'“”„‘’‚′″]", "’", squeezed(text)).replace("fi", "ﬁ")


@pytest.mark.parametrize("turn", TURNS)
def test_print_is_made_and_its_metadata_are_exact(turn: int) -> None:
    own = setting(turn)
    made = pdf(own, imprint=Imprint(authors=(TEXTS[turn],), licence=TEXTS[turn], title=TEXTS[turn - 1]))
    with pymupdf.open(stream=made) as doc:
        assert not doc.is_repaired and len(doc) < 40
        packet = re.sub(r"<\?xpacket.*?\?>", "", doc.get_xml_metadata()).strip("\ufeff")
        everything = squeezed("".join(page.get_text() for page in doc))
    root = ET.fromstring(packet)
    (creator,) = root.iter("{http://purl.org/dc/elements/1.1/}creator")
    assert squeezed("".join(creator.itertext())) == squeezed(texts_of(turn)["composer"])
    for field, value in fields_of(own.verset.provenance):
        if value.isascii() and "-" not in value and "W" not in value and "..." not in value:
            # letters that print joins or hyphens that it adds are not what is asked here
            assert as_printed(value)[:12] in as_printed(everything), field


def test_a_book_with_them_on_its_title_page_is_made() -> None:
    for turn in (0, 5, 11):
        own = setting(turn)
        text = TEXTS[turn]
        front = Book(text, text, (text,), "1", text, text, (text,), text, text, said=own.verset.provenance)
        assert book([own], front).startswith(b"%PDF")


@pytest.mark.parametrize("turn", TURNS)
def test_report_braille_and_words_carry_them(turn: int) -> None:
    own, texts = setting(turn), texts_of(turn)
    w = edition_texts("en")
    assert squeezed(texts["library"]) in squeezed(" ".join(witnesses(own.verset.provenance, w)))
    assert squeezed(texts["remark"])[1:] in squeezed("".join(told.text for told in readings(own.verset, w)))
    brf(own.scores[Version.PLAIN], title=texts["title"]).decode("ascii")


def test_audio_carries_them_in_its_tags(tmp_path: Path) -> None:
    tone = np.sin(np.arange(4410)[:, None] * np.array([0.06, 0.06])).astype(np.float32)
    for n, text in enumerate(TEXTS):
        tags = {"title": text, "artist": text, "copyright": text, "comment": text}
        paths = [tmp_path / f"{n}.flac", tmp_path / f"{n}.mp3"]
        encode(tone, paths, tags)
        with soundfile.SoundFile(paths[0]) as file:
            assert file.copyright == text and file.artist == text
        assert soundfile.info(paths[1]).duration > 0.09


def test_pages_show_them_as_words_only(tmp_path: Path) -> None:
    """No text of a source is an element of the page; the only scripts and pictures are the page's own."""
    for turn in (0, 1, 5, 6):
        source = tmp_path / "amen.md"
        source.write_text(SOURCE.format(**quoted(texts_of(turn))), "utf-8")
        (tmp_path / "none.png").write_bytes(
            b"\x89PNG\r\n\x1a\n" + bytes(4) + b"IHDR" + (10).to_bytes(4, "big") * 2 + bytes(8)
        )
        work = tmp_path / f"work-{turn}"
        work.mkdir()
        lesson, _ = build_lesson(source, Making("amen.md", Defaults(), audio=False, pdf=False), work)
        for page in lesson.pages:
            words = page.markdown.partition("\n---\n")[2]  # the front matter is no words
            made = markdown.markdown(words, extensions=["attr_list", "md_in_html", "tables"])
            elements = Elements()
            elements.feed(made + "".join(page.slots.values()))
            assert not elements.wrong, (turn, page.uri, elements.wrong)


class Elements(HTMLParser):
    """Collects elements that only a text of the source can have brought."""

    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if any(name.startswith("on") for name in told) or (told.get("href") or "").startswith("javascript:"):
            self.wrong.append(f"{tag} {told}")
        own = (told.get("src") or "").startswith("verset-root:assets/")
        if (tag == "script" and told.get("type") != "application/json" and not own) or (
            tag == "img" and told.get("src") in ("x", "y")
        ):
            self.wrong.append(f"{tag} {told}")


STEERING = ("a\x1b[31mb", "a\x07b", "a\u202eb", "a\u2066b", "a\ufffeb", "a\x00b")


@pytest.mark.parametrize("field", [f for f in FIELDS if f != "remark"])
def test_what_would_steer_a_terminal_or_turn_a_line_is_refused_in_every_field(field: str) -> None:
    for text in STEERING:
        texts = texts_of(3) | {field: text}
        told = quoted(texts) | {field: json.dumps(text)}
        with pytest.raises(SourceErrors):
            parse(SOURCE.format(**told))


def test_the_same_in_a_file_of_music_is_shown_as_a_sign() -> None:
    own = setting(0)
    said = replace(own.verset.provenance, place="a\u202eb", method="c\x9bd\u2066")
    text = mei(replace(own.verset, provenance=said), own.scores[Version.GIVEN])
    bare = re.sub(r"<extMeta>.*?</extMeta>", "", text, flags=re.DOTALL)
    again = parse_mei(bare.encode()).provenance
    assert again.place == "a\ufffdb" and "\u2066" not in again.method
