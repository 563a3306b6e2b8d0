"""Music for print: MEI to one vector picture a system, with nothing left for a music font to do.

Verovio draws figured bass as text in the private code points of a music font. A browser takes that
font from the picture; a typesetter does not. Here every such text is replaced by the outlines of the
same font, and set anew as an engraver sets figures: the digit centred over the note, an accidental
hanging out to the left, a bracket around both.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import verovio

from builder.edition.pdf_breaks import broken, even_lines, natural_widths

FONT = "Leipzig"
TEXT_FONT = "Libertinus Serif"
SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"

# Figures in the SMuFL range of figured bass (U+EA50 on; published), brackets from its accidentals.
_NUMBERS = ("EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61")
_DIGITS = {str(n): code for n, code in enumerate(_NUMBERS)}
_FIGURES = {
    **_DIGITS,
    **{"♭": "EA64", "♮": "EA65", "♯": "EA66", "b": "EA64", "n": "EA65", "#": "EA66"},
    **{"𝄪": "EA67", "𝄫": "EA63", "(": "E26A", ")": "E26B"},
}
_SLASHED = {"2": "EA53", "4": "EA56", "5": "EA58", "6": "EA5C", "7": "EA5E", "9": "EA62"}
_BRACKETS = ("E26A", "E26B", "[", "]")
# What the music font lacks: outlines of our own, 1000 units to the em, as wide as the first number.
_OWN = {
    "[": (115.0, "M30 -60H100V-32H62V388H100V416H30Z"),
    "]": (115.0, "M85 -60H15V-32H53V388H15V416H85Z"),
    "–": (300.0, "M20 150H280V190H20Z"),
}
_LEFT, _RIGHT = 3.0, 0.5
"""Millimetres by which a picture hangs out of its column."""
_FIGURE_SIZE = 800.0
"""Size of the figures in a picture's units, at 1000 units to the em: a digit 1.6 spaces high."""
_HALF_DIGIT = 0.178 * _FIGURE_SIZE


@dataclass(frozen=True, slots=True)
class System:
    """One system of music: an SVG picture with its width and height in millimetres, how far it hangs
    out of its column left and right (bar numbers, the last bar line), and how many bars it holds."""

    svg: str
    width: float
    height: float
    left: float
    right: float
    bars: int


def systems(
    mei: str,
    *,
    width: float,
    space: float = 1.75,
    apart: int = 12,
    room: float = 1.0,
    justify: bool = True,
) -> tuple[System, ...]:
    """Engrave MEI for a column `width` millimetres wide, one picture a system.

    `space` is the distance of two stave lines in millimetres: 1.75 is a stave 7 mm high, the size of
    a player's book. Staves of a system are at least `apart` half spaces from each other. `room`
    sets bars so much wider than they need. With `justify` off a short line stays short (an incipit).
    `ValueError` when the MEI holds no music.
    """
    page = round((width + _LEFT + _RIGHT) * 10)
    size: dict[str, float] = {"unit": space * 5, "spacingStaff": apart}
    if justify:
        lines = _drawn(mei, pageWidth=page, **size)
        long = _drawn(mei, pageWidth=100000, **size, breaks="none", noJustification=True)
        mei = broken(mei, even_lines(natural_widths(long[0]), round(len(lines) * room)))
        drawn = _drawn(mei, pageWidth=page, **size, breaks="encoded", minLastJustification=0.0)
    else:
        drawn = _drawn(mei, pageWidth=page, **size, adjustPageWidth=True, noJustification=True)
    return tuple(_system(svg) for svg in drawn)


def _drawn(mei: str, **options: float | str | bool) -> list[str]:
    """The pages that verovio makes; a page is lower than a system, so that each holds one."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "font": FONT,
            "header": "none",
            "footer": "none",
            "breaks": "auto",
            "pageHeight": 100,
            "adjustPageHeight": True,
            "pageMarginLeft": round(_LEFT * 10),
            "pageMarginRight": round(_RIGHT * 10),
            "pageMarginTop": 10,
            "pageMarginBottom": 10,
            "xmlIdSeed": 1,
            "scale": 100,
            **options,
        }
    )
    if not toolkit.loadData(mei):
        raise ValueError("the music could not be engraved")
    return [toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())]


def _system(svg: str) -> System:
    root = ET.fromstring(re.sub(r"(?s)<style.*?</style>", "", svg))
    inner = root.find(f"{{{SVG}}}svg")
    assert inner is not None
    wide, high = map(float, inner.attrib["viewBox"].split()[2:])
    bars = sum(e.attrib.get("class") == "measure" for e in root.iter())
    inner.set("font-family", TEXT_FONT)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag == f"{{{SVG}}}text":
                _set_text(parent, child)
    _strip(root)
    root.set("width", f"{wide / 100}mm")
    root.set("height", f"{high / 100}mm")
    text = ET.tostring(root, encoding="unicode")
    return System(text, wide / 100, high / 100, _LEFT, _RIGHT, bars)


def _strip(root: ET.Element) -> None:
    """Drop what only a page with a script needs: ids (but for the shapes used again) and classes; and
    say in attributes what the style sheet said."""
    for element in root.iter():
        kind = element.attrib.pop("class", "")
        if kind == "placeholder" or " placeholder" in kind or kind.startswith("placeholder"):
            element.set("display", "none")
        if kind == "mNum":
            element.set("font-style", "italic")
        if "id" in element.attrib and not re.match(r"E[0-9A-F]{3}", element.attrib["id"]):
            del element.attrib["id"]
        tag = element.tag.removeprefix(f"{{{SVG}}}")
        if tag in ("path", "polygon", "polyline", "rect", "ellipse"):
            element.attrib.setdefault("stroke", "currentColor")
        element.text = (element.text or "").strip() or None if tag not in ("tspan", "text") else element.text
        element.tail = None if tag not in ("tspan",) else element.tail


def _set_text(parent: ET.Element, text: ET.Element) -> None:
    """Replace a text that has signs of the music font in it by outlines; leave words as words."""
    content = "".join(t.strip() for t in text.itertext())
    is_figure = parent.attrib.get("class") == "fb"
    if not is_figure and not re.search("[\ue000-\uf8ff]", content):
        return
    x, y = float(text.attrib.get("x", 0)), float(text.attrib.get("y", 0))
    group = ET.Element(f"{{{SVG}}}g", {"fill": "currentColor"})
    size = _FIGURE_SIZE / 1000
    for code, at in _placed(content, x):
        lift = _HALF_DIGIT if code in ("E26A", "E26B") else 0.0  # drawn about their middle
        move = f"translate({at:.1f}, {y - lift:.1f}) scale({size:g}, {-size:g})"
        ET.SubElement(group, f"{{{SVG}}}path", {"transform": move, "d": _outline(code), "stroke": "none"})
    parent[list(parent).index(text)] = group


def _placed(content: str, x: float) -> Iterator[tuple[str, float]]:
    """Each sign's code point and the place of its left edge. `x` is the left edge of the note."""
    codes = [_code(sign) for sign in re.findall("[^\\s\u0338]\u0338?", content)]
    digits = {*_DIGITS.values(), *_SLASHED.values()}
    body = [c for c in codes if c in digits] or [c for c in codes if c not in _BRACKETS]
    if not body:
        return
    first = codes.index(body[0])
    size = _FIGURE_SIZE / 1000
    centre = x + 113.0  # half a note head
    at = centre - sum(_advance(c) for c in body) * size / 2 - sum(_advance(c) for c in codes[:first]) * size
    for code in codes:
        yield code, at
        at += _advance(code) * size


def _code(sign: str) -> str:
    """Code point of a sign's outline in the music font, or the sign itself when it is our own."""
    if len(sign) == 2 and sign[0] in _SLASHED:
        return _SLASHED[sign[0]]
    if sign in _FIGURES:
        return _FIGURES[sign]
    if sign in _OWN:
        return sign
    code = f"{ord(sign):X}"
    if not re.fullmatch("E[0-9A-F]{3}", code):
        raise ValueError(f"figure {sign!r} has no shape in print")
    return code


@cache
def _outline(code: str) -> str:
    """The outline of a sign as an SVG path, 1000 units to the em, upwards."""
    if code in _OWN:
        return _OWN[code][1]
    path = Path(verovio.__file__).parent / "data" / FONT / f"{code}.xml"
    found = re.search(r' d="([^"]+)"', path.read_text(encoding="utf-8"))
    assert found is not None
    return found[1]


@cache
def _advances() -> dict[str, float]:
    path = Path(verovio.__file__).parent / "data" / f"{FONT}.xml"
    return {
        g.attrib["c"]: float(g.attrib["h-a-x"]) for g in ET.parse(path).getroot() if g.attrib.get("h-a-x")
    }


def _advance(code: str) -> float:
    return _OWN[code][0] if code in _OWN else _advances()[code]


ET.register_namespace("", SVG)
ET.register_namespace("xlink", _XLINK)
