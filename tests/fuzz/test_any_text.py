"""Random texts of Unicode in every field go through every output, or are refused with a place."""

from __future__ import annotations

import json
import os
import random
import unicodedata
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import markdown
import mido
import pymupdf
import pytest
from lxml import etree

from builder.edition.exchange.mei import mei
from builder.edition.exchange.midi import midi
from builder.edition.exchange.musicxml import given_musicxml
from builder.edition.imprint import Imprint
from builder.edition.pdf.casting import layout
from builder.edition.pdf.paper import paper
from builder.edition.pdf.sheet import AIR, Pictures, document, heights_once, told_verset
from builder.edition.pdf.typeset import typeset
from builder.edition.service.order import parse_order
from builder.edition.service.plan import plan, service_page
from builder.language.braille import in_braille
from builder.language.glyphs import STAND_IN, printable
from builder.language.markup import md
from builder.language.texts import edition_texts as words
from builder.pages.lesson import slot
from builder.setting.report import report_json
from builder.setting.setting import set_verset
from builder.sound.id3 import id3
from builder.source import SourceErrors, Verset, parse
from builder.source.errors import UNPRINTED

COUNT = 20_000 if os.environ.get("VERSET_MANY") else 500
MUSIC = "```given\ncantus C1 | D5/2 C#5/2 | D5/1\nbassus F4 | A2/1{#} | D3/1{#}\n```\n"


def source(text: str) -> str:
    told = json.dumps(text, ensure_ascii=False)
    return f"""---
title: {told}
other: {told}
verset:
  metre: C
  signature: none
  allow: [{{rule: direct-fifth, bar: 1, because: {told}}}]
  readings: [{{bar: 1, source: {told}, adopted: {told}}}]
---

{MUSIC}"""


def any_text(dice: random.Random) -> str:
    """Characters of some blocks, or of all of Unicode; signs that mean something somewhere; marks."""
    picked: list[str] = []
    for _ in range(dice.choice((1, 3, 12))):
        start = dice.choice(
            (0x20, 0xA0, 0x250, 0x370, 0x590, 0x900, 0x2000, 0x3000, 0xAC00, 0x1D100, 0x1F300)
        )
        width = dice.choice((0x60, 0x100, 0x10FFFF - start))
        picked += (chr(c) for c in dice.choices(range(start, start + width), k=4) if not 0xD800 <= c < 0xE000)
        picked.append(
            dice.choice(
                ("<b>", "](x)", "&amp;", "*_`", "| ", "{: a}", "\\", "%s{}", "\u0301", "a", " ", "1. ")
            )
        )
    return "".join(picked).strip() or "a"


class _Texts(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.tags: set[str] = set()

    def handle_data(self, data: str) -> None:
        self.found.append(data)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.add(tag)


def shown(text: str) -> tuple[str, set[str]]:
    """What a reader sees of Markdown, and the tags that it is made of."""
    reader = _Texts()
    reader.feed(markdown.markdown(text, extensions=["tables", "attr_list", "md_in_html", "admonition"]))
    return " ".join("".join(reader.found).split()), reader.tags


@pytest.fixture(scope="module")
def base():
    return set_verset(parse(source("A")))


@pytest.fixture(scope="module")
def printed(base):
    """A verset as print has it, its pictures, and its place on the page: that of its own title and words."""
    pictures, page = Pictures(), paper("a4")
    piece = told_verset(base, page, pictures, (), words("en"))
    heights_once()(document(base.verset.title, page, Imprint("en"), [piece]), pictures)
    return piece, pictures, layout([piece], page, first=1, tail=piece["heights"]["tail"] + AIR)


def test_any_text_goes_through_every_output(base, printed) -> None:
    refused = 0
    for n in range(COUNT):
        text = any_text(random.Random(n))
        line = " ".join(text.split())
        try:
            verset = parse(source(text), "a.md")
        except SourceErrors as told:
            assert UNPRINTED.search(line) or not line, (n, text)
            assert str(told).startswith("a.md:2:")
            refused += 1
            continue
        assert (verset.title, verset.readings[0].source, verset.licences[0].because) == (line, line, line), n
        _files(base, verset, line, n)
        _pages(line, n)
        _print(printed, line, n)
    assert refused < COUNT / 2


def _files(base, verset: Verset, line: str, n: int) -> None:
    score = replace(base.scores["given"], title=line)
    signed = Imprint("en", (line,), line, line, line)
    assert (
        etree.fromstring(given_musicxml(verset, score, rights=line, editors=(line,)).encode()).findtext(
            ".//work-title"
        )
        == line
    ), n
    etree.fromstring(mei(verset, score, by=signed, tone=1).encode())
    data = midi(score, base.tempo, rights=line)
    assert line.encode() in data, n
    tag = id3({"title": line, "artist": line, "license": f"https://{line}"})
    assert tag.startswith(b"ID3")
    named = replace(base, verset=replace(verset, settings=base.verset.settings))
    assert json.loads(report_json(named.report()))["title"] == line
    assert all("\u2800" <= c <= "\u28ff" or c == " " for c in in_braille(line)), n


def _pages(line: str, n: int) -> None:
    for text in (
        f"# {md(line)}",
        f"- {md(line)}",
        f"| a |\n|---|\n| {md(line)} |",
        f"[{md(line)}](a.md)",
        md(line),
    ):
        seen, tags = shown(f"{text}\n\n{slot('x')}")
        assert line in seen or unicodedata.normalize("NFC", line) in seen, (n, text)
        assert tags <= {"h1", "p", "ul", "li", "a", "div", "table", "thead", "tbody", "tr", "th", "td"}, (
            n,
            tags,
        )
    told = json.dumps(line, ensure_ascii=False)
    order = parse_order(f"---\ntitle: {told}\nservice: {{order: [{{choir: {told}}}]}}\n---\n", "s.md")
    assert line in shown(service_page(plan(order, [])))[0], n


def _print(printed, line: str, n: int) -> None:
    told, pictures, rows = printed
    readings = [{"n": 1, "text": line}]
    critical = [{"title": "Readings", "lines": [line, line], "readings": readings}]
    piece = told | {
        "title": line,
        "critical": critical,
        "origin": [line],
        "signed": False,
        "intro": [{"t": "p", "c": [line, {"t": "em", "c": [line]}]}],
    }
    data = document(line, paper("a4"), Imprint("en", (line,), line, line, line), [piece]) | {"layout": rows}
    made = pymupdf.open(stream=typeset("verset.typ", data, pictures.files))
    # a mark may be in a font and not go with its letter: more may be replaced than `printable` foresees
    assert _letters(made.metadata["title"]) <= _letters(printable(line)) | {STAND_IN}, n


def _letters(text: str) -> set[str]:
    return {c for c in text if unicodedata.category(c)[0] not in "MC"}


def test_a_midi_file_reads_back(base, tmp_path: Path) -> None:
    (tmp_path / "a.mid").write_bytes(midi(replace(base.scores["given"], title="讃 ℣"), base.tempo))
    read = mido.MidiFile(tmp_path / "a.mid", charset="utf-8")
    assert next(m.name for m in read.tracks[0] if m.type == "track_name") == "讃 ℣"
