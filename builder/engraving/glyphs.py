"""Outlines and widths of the music font's signs, and figures set with them.

Figures are drawn from the SMuFL range of figured bass (U+EA50 on; Standard Music Font Layout 1.4),
as outlines: a page or a print needs no music font.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import verovio

FONT = "Leipzig"
SCALE = 0.72
"""Size of a sign of a stave in the units of a picture: 720 to the em, 180 to the stave space."""

_CODES = ("EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61")
_DIGITS = dict(zip("0123456789", _CODES, strict=True))
_STROKED = {"2": "EA53", "4": "EA56", "5": "EA59", "6": "EA5C", "7": "EA5F"}
_ACCIDENTALS = {"♭": "EA64", "♮": "EA65", "♯": "EA66"}
_FIGURED_BASS = range(0xEA50, 0xEA70)
"""Code points of figures; verovio sets accidentals in figures with them."""
_STROKE = "\u0338"
_BRACKETS = "[]"
_DASHES = "–-"
_BRACKET_ADVANCE = 90.0
_DASH_ADVANCE = 250.0
_APART = 36.0
"""What an accidental keeps from the number behind it beside its own room, in font units."""
_HALF_HEAD = 157.0
"""Half the width of a black note head, in font units."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A sign of a figure at its place: `code` is a font sign's, or `[`, `]`, `–` that are drawn."""

    code: str
    x: float
    y: float


@cache
def _data() -> Path:
    return Path(verovio.__file__).parent / "data"


@cache
def outline(code: str) -> str:
    """A sign's outline as SVG path data in whole numbers, 1000 units to the em, upwards. `code` is its code
    point in SMuFL.

    >>> outline("E0A4")[:18]
    'M0-39c0 68 73 172 '
    """
    text = (_data() / FONT / f"{code}.xml").read_text("utf-8")
    found = re.search(r' d="([^"]+)"', text)
    assert found is not None
    return compact(found[1])


@cache
def _metrics() -> dict[str, dict[str, str]]:
    return {g.get("c", ""): g.attrib for g in ET.parse(_data() / f"{FONT}.xml").getroot()}


@cache
def box(code: str) -> tuple[float, float, float, float]:
    """The box around a sign of the music font: left edge, lower edge, width and upper edge, in font units
    (250 to a stave space), upwards from the line it stands on. `code` is its code point in SMuFL.

    The head of a black note (U+E0A4) is a little higher than a stave space:

    >>> left, low, wide, high = box("E0A4")
    >>> high - low
    266.0
    """
    left, low, wide, high = (float(_metrics()[code][k]) for k in "xywh")
    return left, low, wide, low + high


def compact(path: str) -> str:
    """Path data with whole numbers and without needless spaces.

    >>> compact("M77.72 30.74c-1 0.4 2 -3 4.06 0.5")
    'M78 31c-1 0 2-3 4 0'
    """
    rounded = re.sub(r"-?\d*\.\d+(e-?\d+)?", lambda m: str(round(float(m[0]))), path)
    rounded = rounded.replace(",", " ")
    return re.sub(r"\s*([A-Za-z])\s*|\s+(?=-)", lambda m: m[1] or "", rounded).strip()


def signs(text: str) -> tuple[str, ...]:
    """The signs of one row of figures.

    >>> signs("[♯6]"), signs("6\u0338")
    (('[', 'EA66', 'EA5B', ']'), ('EA5C',))
    """
    found: list[str] = []
    for n, char in enumerate(text):
        following = text[n + 1 : n + 2]
        if char in _DIGITS:
            stroked = following == _STROKE and char in _STROKED
            found.append(_STROKED[char] if stroked else _DIGITS[char])
        elif char in _ACCIDENTALS:
            found.append(_ACCIDENTALS[char])
        elif ord(char) in _FIGURED_BASS:
            found.append(f"{ord(char):X}")
        elif char in _BRACKETS:
            found.append(char)
        elif char in _DASHES:
            found.append("–")
    return tuple(found)


def width(code: str) -> float:
    """How far a sign takes the pen to the right, in font units (250 to a stave space).

    A G clef (U+E050), and a bracket, which is drawn and not taken from the font:

    >>> width("E050"), width("[")
    (646.0, 90.0)
    """
    if code in _BRACKETS:
        return _BRACKET_ADVANCE
    return _DASH_ADVANCE if code == "–" else float(_metrics()[code]["h-a-x"])


def place(row: Sequence[str], x: float, y: float, left: float) -> tuple[Mark, ...]:
    """Set a row over a note whose head begins at `x`: the number in the middle of the head, an
    accidental before it, unless that would run into what ends at `left`."""
    body = [c for c in row if c in _NUMBERS] or [c for c in row if c not in _BRACKETS]
    if not body:
        return ()
    before = sum(map(_advance, row[: row.index(body[0])]))
    start = x + (_HALF_HEAD - sum(map(width, body)) / 2 - before) * SCALE
    pen = max(start, min(left, x))
    marks = []
    for code in row:
        marks.append(Mark(code, pen, y))
        pen += _advance(code) * SCALE
    return tuple(marks)


def _advance(code: str) -> float:
    return width(code) + (_APART if code in _ACCIDENTALS.values() else 0.0)


def end(marks: Sequence[Mark]) -> float:
    """Where a row ends."""
    return max((m.x + width(m.code) * SCALE for m in marks), default=float("-inf"))


_NUMBERS = frozenset(_DIGITS.values()) | frozenset(_STROKED.values())
