"""A small page of music for the reader's tests: a verset of our own, written out by hand."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import verovio

from builder.engraving.keyboard import keyboard_mei
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, notated
from builder.music.time import VALUES
from builder.pages import assets, player
from builder.pages.words import words

BARS = 8
SECONDS = Fraction(60, 104)
"""Length of a quarter note."""

GIVEN = {
    "cantus": "D5/2 A4/4 B4/4 C5/2 B4/2",
    "altus": "R/1 R/1 A4/2 D4/4 E4/4 F4/2 E4/2",
    "bassus": "R/1 R/1 R/1 R/1 D4/4 C4/4 Bb3/2 A3/2 G3/2 A3/1 D3/breve",
}
PLAIN = {
    "cantus": "D5/2 A4/4 B4/4 C5/2 B4/2 C5/2 D5/2 D5/2 C#5/2 D5/2 D5/2 C5/2 Bb4/2 A4/4 D5/2 C#5/4 D5/breve",
    "altus": "R/1 R/1 A4/2 D4/4 E4/4 F4/2 E4/2 F4/4 A4/4 G4/2 E4/2 D4/2 E4/4 F4/4 E4/2 F#4/breve",
    "bassus": GIVEN["bassus"],
}
DIMINISHED = {
    **PLAIN,
    "cantus": "D5/2 A4/4 B4/4 C5/2 B4/2 C5/4 B4/8 C5/8 D5/2 D5/2 C#5/2 D5/4 E5/8 F5/8 D5/2 "
    "C5/4 A4/4 Bb4/4 D5/8 C5/8 A4/8 B4/8 D5/4 C#5/8 B4/8 C#5/4 D5/breve",
}


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


def play_data(scores: Mapping[str, Score]) -> dict[str, Any]:
    """The page's play data, after the agreed form."""
    plain = scores["plain"]
    voices = [part.voice for part in plain.parts]

    def seconds(time: Fraction) -> float:
        return round(float(time * SECONDS), 5)

    versions: dict[str, list[Any]] = {}
    for name, of in scores.items():
        versions[name] = []
        for part in of.parts:
            for heard in part.sounding():
                assert heard.pitch is not None
                pieces = [
                    [n.id, seconds(n.onset)]
                    for n in part.notes
                    if n.pitch and heard.onset <= n.onset < heard.end
                ]
                hertz = round(440 * 2 ** ((heard.pitch.midi - 69) / 12), 3)
                ends = seconds(heard.end)
                versions[name].append([seconds(heard.onset), ends, hertz, voices.index(part.voice), pieces])
    return {
        "v": 1,
        "voices": voices,
        "end": seconds(plain.end),
        "bars": [[bar.number, seconds(bar.onset)] for bar in plain.bars],
        "beats": [seconds(Fraction(n)) for n in range(int(plain.end))],
        "versions": versions,
        "ranks": [
            {"name": "principale", "ratio": 1, "gain": 1, "harmonics": [1, 0.5, 0.3, 0.15, 0.1], "detune": 0},
            {"name": "ottava", "ratio": 2, "gain": 0.5, "harmonics": [1, 0.3, 0.1], "detune": 0},
        ],
        "level": 0.4,
    }


def systems(mei: str, width: int) -> list[str]:
    """One SVG for each system."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "svgHtml5": True,
            "svgViewBox": True,
            "header": "none",
            "footer": "none",
            "pageWidth": width,
            "pageHeight": 700,
            "adjustPageHeight": True,
            "scale": 50,
            "pageMarginLeft": 20,
            "pageMarginRight": 20,
            "pageMarginTop": 20,
            "pageMarginBottom": 20,
            "breaks": "auto",
        }
    )
    toolkit.loadData(mei)
    return [toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())]


def scores() -> dict[str, Score]:
    return {
        "given": score("given", GIVEN),
        "plain": score("plain", PLAIN),
        "diminished": score("diminished", DIMINISHED),
    }


def write_page(
    folder: Path, *, language: str = "en", scheme: str = "default", span: tuple[float, float] = (0, 99)
) -> Path:
    """A page on disk with all of its files; `scheme` as the theme calls it, `default` or `slate`."""
    text = words(language)
    made = scores()
    data = play_data(made)
    blocks = [
        player.music(
            "",
            {"wide": systems(keyboard_mei(of), 2000), "narrow": systems(keyboard_mei(of), 1000)},
            version,
            text(f"versions.{version}").capitalize(),
            text,
        )
        for version, of in made.items()
    ]
    section = player.player(
        data, list(made), {v: [f"files/{v}.mp3"] for v in made}, span[0], min(span[1], data["end"]), text
    )
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
    import material

    styles = sorted((Path(material.__file__).parent / "templates/assets/stylesheets").glob("*.min.css"))
    return "".join(f"<style>{path.read_text('utf-8')}</style>" for path in styles)
