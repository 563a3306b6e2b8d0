"""A small page of music for the reader's tests: a verset of our own, written out by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import material

from builder.engraving import flow, given_mei, keyboard_mei, page_svg
from builder.language.texts import page_texts as words
from builder.music import Bar, Clef, Metre, Note, Part, Pitch, Score, Signature, notated
from builder.music.time import VALUES
from builder.pages import assets, player
from builder.pages.lesson import ROOT
from builder.pages.told import note_name
from builder.sound import play_data as data_of
from builder.source import Verset, parse

BARS = 8

SOURCE = """---
title: Sample
verset:
  metre: C
  signature: none
  beat: half = 52
  tuning: equal
  registration: principale
---

```given
cantus C1 | D5/2 A4/4 B4/4 | C5/2 B4/2
altus  C3 | A4/2 D4/4 E4/4 | F4/2{6} E4/2{6}
bassus F4 | D4/4 C4/4 Bb3/2 | A3/2 G3/2{6} | A3/1{#} | D3/breve{#}
```
"""
BASS = "R/1 R/1 R/1 R/1 D4/4 C4/4 Bb3/2 A3/2 G3/2 A3/1 D3/breve"
PLAIN = {
    "cantus": "D5/2 A4/4 B4/4 C5/2 B4/2 C5/2 D5/2 D5/2 C#5/2 D5/2 D5/2 C5/2 Bb4/2 A4/4 D5/2 C#5/4 D5/breve",
    "altus": "R/1 R/1 A4/2 D4/4 E4/4 F4/2 E4/2 F4/4 A4/4 G4/2 E4/2 D4/2 E4/4 F4/4 E4/2 F#4/breve",
    "bassus": BASS,
}
DIMINISHED = {
    **PLAIN,
    "cantus": "D5/2 A4/4 B4/4 C5/2 B4/2 C5/4 B4/8 C5/8 D5/2 D5/2 C#5/2 D5/4 E5/8 F5/8 D5/2 "
    "C5/4 A4/4 Bb4/4 D5/8 C5/8 A4/8 B4/8 D5/4 C#5/8 B4/8 C#5/4 D5/breve",
}


@cache
def verset() -> Verset:
    return parse(SOURCE, "sample.md")


def score(version: str, lines: Mapping[str, str]) -> Score:
    """A score from words such as `D5/2`."""
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4 if n < BARS - 1 else 8)) for n in range(BARS))
    parts = []
    for voice, line in lines.items():
        notes, now = [], Fraction(0)
        for word in line.split():
            name, value = word.split("/")
            pitch = None if name == "R" else Pitch.parse(name)
            notes.append(Note(now, VALUES[value], pitch))
            now += VALUES[value]
        parts.append(Part(voice, tuple(notes)))
    return notated(Score("Sample", version, Metre.parse("C"), Signature(), bars, tuple(parts)))


@cache
def play_data() -> dict[str, Any]:
    return data_of(verset(), scores())


def scores() -> dict[str, Score]:
    return {
        "given": notated(verset().score()),
        "plain": score("plain", PLAIN),
        "diminished": score("diminished", DIMINISHED),
    }


@cache
def engraved() -> tuple[str, dict[str, dict[str, tuple[str, ...]]]]:
    """Signs once, and each version's systems by width."""
    blocks = {
        version: flow(given_mei(verset(), of) if version == "given" else keyboard_mei(of), label=version)
        for version, of in scores().items()
    }
    modern = replace(verset(), given=tuple(replace(g, clef=Clef("G", 2)) for g in verset().given))
    blocks["modern"] = flow(given_mei(modern, scores()["given"]), label="modern")
    defs, bodies = page_svg(svg for block in blocks.values() for row in block.values() for svg in row)
    left = iter(bodies)
    return defs, {
        v: {w: tuple(next(left) for _ in row) for w, row in block.items()} for v, block in blocks.items()
    }


def write_page(
    folder: Path,
    *,
    language: str = "en",
    scheme: str = "default",
    span: tuple[float, float] = (0, 99),
    playing: Sequence[Mapping[str, Any]] = (),
) -> Path:
    """A page on disk with all of its files; `scheme` as the theme calls it, `default` or `slate`; `playing`:
    recordings of one's own playing."""
    text = words(language)
    data = play_data()
    defs, drawn = engraved()
    blocks = [
        player.music(
            defs if n == 0 else "",
            row,
            "given" if name == "modern" else name,
            text(f"versions.{'given' if name == 'modern' else name}").capitalize(),
            text,
            clefs={"given": "original", "modern": "modern"}.get(name, ""),
            later=name == "diminished",
        )
        for n, (name, row) in enumerate(drawn.items())
    ]
    versions = list(scores())
    section = player.player(
        data,
        versions,
        {version: [f"files/{version}.mp3"] for version in versions},
        span[0],
        min(span[1], data["end"]),
        text,
        names={
            note.id: note_name(note, text)
            for of in scores().values()
            for part in of.parts
            for note in part.notes
            if note.pitch
        },
        playing=playing,
    ).replace(ROOT, "")
    folder.mkdir(parents=True, exist_ok=True)
    for asset in assets.all_assets():
        path = folder / asset.uri
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(asset.content)
    page = folder / f"sample-{language}-{scheme}.html"
    page.write_text(
        f'<!doctype html><html lang="{language}"><head><meta charset="utf-8"><title>Sample</title>'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"{_theme()}"
        '<link rel="stylesheet" href="assets/verset/reader.css">'
        '<script src="assets/verset/reader.js" defer></script></head>'
        f'<body data-md-color-scheme="{scheme}" data-md-color-primary="indigo"><main class="md-content">'
        f'<article class="md-content__inner md-typeset"><h1>Sample</h1><p>{"Words of a teacher. " * 12}</p>'
        f"{''.join(blocks)}{section}<p>{'More words. ' * 60}</p></article></main></body></html>",
        "utf-8",
    )
    return page


def _theme() -> str:
    """The style of the theme, inline as far as colours and type go."""
    styles = sorted((Path(material.__file__).parent / "templates/assets/stylesheets").glob("*.min.css"))
    return "".join(f"<style>{path.read_text('utf-8')}</style>" for path in styles)
