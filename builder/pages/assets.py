"""What runs in the reader's browser: where it lies, and which files a site carries of it."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import yaml

from builder.counterpoint.rules.page_tables import rule_words, tables
from builder.engraving.glyphs import outline, width
from builder.language.texts import languages, page_texts

HOME = "assets/verset"
"""Folder of the reader's files on a site."""

SCRIPT_ORDER = (
    "elements",
    "timeline",
    "pipes",
    "room",
    "sound",
    "recording",
    "transport",
    "music",
    "marks",
    "panel",
    "pencil",
    "desk",
    "classroom",
    "keyboard",
    "keys",
    "theme",
    "shelf",
    "choice",
    "player",
    "opening",
    "start",
)
OWN_ORDER = (
    "borrowed",
    "work",
    "musicxml",
    "clash",
    "figures",
    "judge",
    "rulings",
    "sheet",
    "accidentals",
    "layout",
    "written",
    "drawn",
    "paper",
    "gracing",
    "writing",
    "changes",
    "pen",
    "told",
    "hands",
    "laying",
    "take",
    "graces",
    "midifile",
    "midi",
    "taking",
    "trying",
    "answers",
    "lent",
)
DRILL_ORDER = (
    "borrowed_own",
    "boxes",
    "stave",
    "stage",
    "naming",
    "setting",
    "marking",
    "sheets",
    "session",
    "patterns",
    "drills",
)
"""The pieces of the reader's script, in the order in which they are joined. A page opened from a disk
may not load modules, so that the pieces become one classic script."""
ZONES_ORDER = ("zones",)
"""The script of the page that marks bars on a picture of a source, which no course carries."""


FONT = "Libertinus Serif"
"""The letters of page and print."""


@dataclass(frozen=True, slots=True)
class Asset:
    """A file that the site carries: where it goes, and what is in it."""

    uri: str
    content: bytes


def pipe_file(name: str, data: str) -> str:
    """The script of a rank of recorded pipes, which the page loads when a note is to sound.

    >>> pipe_file("pipes-ottava-0.js", "[]")
    '(window.versetPipes??={})["pipes-ottava-0.js"]=[];\\n'
    """
    return f"(window.versetPipes??={{}})[{json.dumps(name)}]={data};\n"


@cache
def source_folder() -> Path:
    """The folder `site_src`: inside the installed package, or beside it in a checkout.

    >>> (source_folder() / "licences.yaml").is_file()
    True
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "site_src", package.parent / "site_src"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"site_src is neither in {package} nor beside it: the installation is broken")


@cache
def script() -> str:
    """The reader's script in one piece, closed in itself, without its comments."""
    return _joined(SCRIPT_ORDER)


@cache
def own_script() -> str:
    """The script of the exercises, which needs the reader's script beside it."""
    return _joined(OWN_ORDER)


@cache
def drill_script() -> str:
    """The script of the drills, which needs those of the reader and of the exercises beside it."""
    return _joined(DRILL_ORDER)


@cache
def zones_script() -> str:
    """The script of the page that marks bars on a picture."""
    return _joined(ZONES_ORDER)


def _joined(names: Iterable[str]) -> str:
    folder = source_folder() / "script"
    pieces = [_bare((folder / f"{name}.js").read_text("utf-8")) for name in names]
    return '(() => {\n"use strict";\n' + "\n".join(pieces) + "\n})();\n"


def _bare(text: str) -> str:
    """A script without indentation, types and comments (but for one behind code that has quotation marks).

    >>> _bare("// why\\n  /** what */\\n  go(/** @type {Place} */ (there)); // now\\n")
    'go((there));'
    """
    text = re.sub(r"/\*\*.*?\*/ ?", "", text, flags=re.DOTALL)
    text = re.sub(r"(?<=[;{,]) // [^\"'`\n]*$", "", text, flags=re.MULTILINE)
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith("//"))


@cache
def style() -> str:
    """The reader's style sheet in one piece, in the order of the files' names."""
    folder = source_folder() / "style"
    return "\n".join(path.read_text("utf-8") for path in sorted(folder.glob("*.css")))


def scripts() -> tuple[Asset, ...]:
    """Scripts that every page of a course loads.

    >>> [asset.uri for asset in scripts()]
    ['assets/verset/reader.js']
    """
    return (Asset(f"{HOME}/reader.js", script().encode()),)


def own_scripts(language: str = "en", kept: str = "") -> tuple[Asset, ...]:
    """Scripts that only pages with an exercise load: the rules as tables (`kept`, or made here) and in words,
    and the exercise."""
    made = (glyphs(), f"window.versetVerdicts={kept or rule_tables()};\n", rules(language), own_script())
    return tuple(Asset(uri, text.encode()) for uri, text in zip(own_uris(language), made))


def own_uris(language: str = "en") -> tuple[str, ...]:
    """Where these scripts go; the tables of the rules take their time to make, their names none."""
    return tuple(f"{HOME}/{name}.js" for name in ("glyphs", "verdicts", f"rules-{language}", "own"))


GLYPHS = (
    *("E050", "E05C", "E062", "E08A", "E08B", *(f"E08{n}" for n in range(10))),
    *("E0A0", "E0A2", "E0A3", "E0A4", "E240", "E241", "E242", "E243"),
    *("E260", "E261", "E262", "E26C", "E26D"),
    *("EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61", "EA64", "EA65", "EA66"),
)
"""Signs that an exercise is drawn with: clefs, metres, heads, flags, accidentals, figures (SMuFL 1.4)."""


@cache
def glyphs() -> str:
    """Outline and width of each sign of an exercise, 1000 units to the em."""
    data = json.dumps({code: [outline(code), width(code)] for code in GLYPHS}, separators=(",", ":"))
    return f"window.versetGlyphs={data};\n"


@cache
def rules(language: str) -> str:
    """Title, sentence and advice of every rule, for the exercises of a language."""
    data = json.dumps(rule_words(language), ensure_ascii=False, separators=(",", ":"))
    return f"window.versetRules={data};\n"


@cache
def rule_tables() -> str:
    """The rules as tables, for the exercises, in JSON. They take about a second to make."""
    return json.dumps(tables(), ensure_ascii=False, separators=(",", ":"))


def words_uri(language: str) -> str:
    """Where a language has what the scripts say: the same for all pages, so a browser loads it once."""
    return f"{HOME}/words-{language}.js"


@cache
def reader_words(language: str) -> str:
    """What the scripts of music and exercises say, in a language.

    >>> reader_words("de").startswith('window.versetWords={"')
    True
    """
    words = page_texts(language)
    data = {
        **words.section("reader"),
        "versionNames": words.section("versions"),
        "voiceNames": words.section("voices"),
        **{name: words.section(name) for name in ("names", "try", "midi", "take")},
    }
    return f"window.versetWords={json.dumps(data, ensure_ascii=False, separators=(',', ':'))};\n"


def styles() -> tuple[Asset, ...]:
    """Style sheets that every page of a course loads.

    >>> (sheet,) = styles()
    >>> sheet.uri, b".verset-player" in sheet.content
    ('assets/verset/reader.css', True)
    """
    return (Asset(f"{HOME}/reader.css", style().encode()),)


_STEADY = (
    "@keyframes verset-letters{from{visibility:hidden}}.md-main{animation:verset-letters 60ms step-end}\n"
)
"""The page's words are shown a moment late, when their letters are there: no line is seen to break anew."""


def fonts() -> tuple[Asset, ...]:
    """The style sheet that brings the letters of the printed book to the page, for courses that name no font
    of their own. They stand in it as data: a page opened from a disk may load no font from another folder.

    >>> (sheet,) = fonts()
    >>> sheet.uri, sheet.content.count(b"@font-face")
    ('assets/verset/fonts.css', 3)
    """
    folder = source_folder() / "fonts"
    faces = []
    for path in sorted(folder.glob("*.woff2")):
        *_, weight, slope = path.stem.split("-")
        data = base64.b64encode(path.read_bytes()).decode()
        faces.append(
            f'@font-face{{font-family:"{FONT}";font-style:{slope};font-weight:{weight};font-display:block;'
            f'src:url(data:font/woff2;base64,{data}) format("woff2")}}\n'
        )
    return (
        Asset(f"{HOME}/fonts.css", f':root{{--md-text-font:"{FONT}"}}\n{_STEADY}{"".join(faces)}'.encode()),
    )


def shims() -> tuple[Asset, ...]:
    """Small scripts that stand in for what a page opened from a disk may not do. They must run before those
    of the theme, in the order of their names.

    >>> [asset.uri for asset in shims()]
    ['assets/verset/iframe-worker.js']
    """
    folder = source_folder() / "shims"
    return tuple(Asset(f"{HOME}/{path.name}", path.read_bytes()) for path in sorted(folder.glob("*.js")))


def all_assets(kept: str = "") -> tuple[Asset, ...]:
    """Every file of the reader's page that a site carries. `kept`: the tables of the rules where they are
    made already; all else is taken from this package each time.

    >>> [asset.uri for asset in all_assets()][:2]
    ['assets/verset/reader.js', 'assets/verset/words-en.js']
    """
    own = dict.fromkeys(a for language in languages() for a in own_scripts(language, kept))
    drills = Asset(f"{HOME}/drills.js", drill_script().encode())
    words = (Asset(words_uri(language), reader_words(language).encode()) for language in languages())
    told = Asset(f"{HOME}/licences.txt", licences().encode())
    return (*scripts(), *words, *styles(), *fonts(), *own, drills, *shims(), told)


def licences() -> str:
    """What a site brings its readers that is not the course's own: each with its licence (SPDX), where it is
    met, and the package and version it was taken from."""
    lines = []
    for item in yaml.safe_load((source_folder() / "licences.yaml").read_text("utf-8")):
        try:
            origin = f"{item['from']} {version(item['from'])}"
        except PackageNotFoundError:
            origin = item["from"]
        lines.append(f"{item['what']}: {item['licence']}; {item['where']}; from {origin}")
    return "\n".join(lines) + "\n"
