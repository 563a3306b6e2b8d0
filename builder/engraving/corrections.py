"""Small corrections to verovio's layout of a system, made on its SVG before it is reduced.

The number of the bar is lifted off a high clef, the figures off a high stem. The names of
voices, which verovio sets above the tallest stack of figures in the whole piece, come down to what this
system needs; the room above is given up.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass

from builder.engraving.glyphs import box

MOVE = re.compile(r"translate\(([-\d.]+), ?([-\d.]+)\) scale\(([-\d.]+), ?([-\d.]+)\)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_AIR = 60.0
"""Least distance between things that stand above each other, in the units of a picture."""
_MARGIN = 150.0
_ASCENT, _DESCENT = 0.75, 0.25
_LETTER = 0.6
"""Heights and mean width of words, as shares of their size."""
_SIZE = 405.0
_ROW = 300.0
"""Height of a row of figures."""
_SMALL = 324.0
"""Size of the number of a bar."""
TEMPO = 0.46
"""Size of a font unit in the metronome mark: a half note is about as high as its words."""
_COUNTED = 320.0
"""Height of that note."""
_C_CLEF = "E05C"
"""Its place in the music font."""


@dataclass(frozen=True, slots=True)
class Box:
    """The room a drawing takes: from left to right, and its upper edge."""

    left: float
    right: float
    top: float


def settle(inner: ET.Element) -> float:
    """Correct a system in place; how much room above it can be given up."""
    within = {child for parent in inner.iter() for child in parent}
    harms = [g for g in inner.iter("g") if g.get("class") == "harm"]
    first = _first_line(inner)
    names = [g for g in harms if g.find("g[@class='fb']") is None and _above(g, first)]
    numbers = [t for g in inner.iter("g") if g.get("class", "").startswith("mNum") for t in g.iter("text")]
    marks = [t for g in inner.iter("g") if g.get("class") == "tempo" for t in g.iter("text")]
    apart = {e for harm in harms for e in harm.iter()} | {*numbers, *marks}
    ossia = {e for g in inner.iter("g") if g.get("class") == "oStaff" for e in g.iter()}
    boxes = [(e, b) for e in inner.iter() if e not in apart and e in within for b in _boxes(e)]
    drawn, notes = [b for _, b in boxes], [b for e, b in boxes if e not in ossia]
    figures = [t for harm in harms for t in harm.iterfind("g[@class='fb']/text") if _said(t)]
    _raise_numbers(
        numbers, [b for e in inner.iter("use") if e.attrib["href"][1:5] == _C_CLEF for b in _boxes(e)]
    )
    _raise_figures([t for t in figures if _y(t) < first], notes)
    rows = [_row(t) for t in figures]
    _bring_down(names, drawn, min((row.top for row in rows if row.top < first), default=None))
    edges = [b.top for b in (*drawn, *rows)]
    edges += [_y(t) - _ASCENT * _SMALL for t in numbers]
    edges += [_y(t) - _ASCENT * _SIZE for name in names for t in name.iter("text")]
    words = [_word(t) for t in (*numbers, *(t for name in names for t in name.iter("text")))]
    _set_over(marks, [*drawn, *rows, *words])
    edges += [_y(t) - _COUNTED for t in marks]
    edge = min(edges, default=_MARGIN)
    return max(min(edge, 0.0), edge - _MARGIN)


def _raise_numbers(numbers: list[ET.Element], clefs: list[Box]) -> None:
    """Set the number of a bar, which stands at the edge, above a C clef there: that is as high at its left
    end as anywhere."""
    for text in numbers:
        right = _LETTER * _SMALL * len(_said(text)) + _AIR
        under = min((b.top for b in clefs if b.left < right), default=_y(text) + _SIZE)
        text.set("y", f"{round(min(_y(text), under - _DESCENT * _SMALL - _AIR))}")


def _raise_figures(figures: list[ET.Element], drawn: list[Box]) -> None:
    """Set all figures of a system as much higher as the highest stem below one of them asks for."""
    lowest = max(map(_y, figures), default=0.0)
    bottom = [t for t in figures if _y(t) == lowest]
    under = [b.top for t in bottom for b in drawn if b.left < _x(t) + _ROW and b.right > _x(t)]
    by = max(0.0, lowest + _AIR - min(under, default=lowest + _AIR))
    for text in figures:
        text.set("y", f"{_y(text) - by:g}")


def _bring_down(names: list[ET.Element], drawn: list[Box], figures: float | None) -> None:
    """Set the names of a system on one line, as near to the stave as all of them allow."""
    texts = [t for name in names for t in name.iter("text")]
    if not texts:
        return
    lowest = []
    for text in texts:
        left = _x(text) - _AIR
        right = left + _LETTER * _SIZE * len(_said(text)) + 2 * _AIR
        under = [b.top for b in drawn if b.left < right and b.right > left]
        under += [figures] if figures is not None else []
        lowest.append(min(under, default=_y(text)) - _DESCENT * _SIZE - _AIR)
    y = max(min(lowest), min(map(_y, texts)))
    for text in texts:
        text.set("y", f"{y:g}")


def _set_over(marks: list[ET.Element], drawn: list[Box]) -> None:
    """Set the metronome mark over all that stands below it, as near as that allows."""
    for text in marks:
        right = _x(text) + _LETTER * _SIZE * (len(_said(text)) + 2)
        under = [b.top for b in drawn if b.left < right and b.right > _x(text)]
        text.set("y", f"{min(under, default=_y(text)) - 2 * _AIR:g}")


def _word(text: ET.Element) -> Box:
    """The room that a word takes."""
    right = _x(text) + _LETTER * _SIZE * len(_said(text))
    return Box(_x(text), right, _y(text) - _ASCENT * _SIZE)


def _above(name: ET.Element, line: float) -> bool:
    return all(_y(text) < line for text in name.iter("text"))


def _first_line(inner: ET.Element) -> float:
    """Height of the highest line of the highest stave."""
    stave = next((g for g in inner.iter("g") if g.get("class") == "staff"), None)
    line = stave.find("path") if stave is not None else None
    return float(_NUMBER.findall(line.get("d", ""))[1]) if line is not None else 0.0


def _boxes(element: ET.Element) -> Iterator[Box]:
    if element.tag == "use":
        moved = MOVE.match(element.get("transform", ""))
        if moved:
            x, y, scale = float(moved[1]), float(moved[2]), float(moved[3])
            left, _, wide, high = box(element.attrib["href"][1:5])
            yield Box(x + left * scale, x + (left + wide) * scale, y - high * scale)
    elif element.tag in ("path", "polygon", "polyline"):
        numbers = [float(n) for n in _NUMBER.findall(element.get("d") or element.get("points") or "")]
        if numbers:
            yield Box(min(numbers[::2]), max(numbers[::2]), min(numbers[1::2]))
    elif element.tag == "text" and _said(element):
        yield Box(_x(element), _x(element) + _SIZE, _y(element) - _ASCENT * _SIZE)


def _row(text: ET.Element) -> Box:
    return Box(_x(text), _x(text) + _ROW, _y(text) - _ROW)


def _said(text: ET.Element) -> str:
    return "".join(text.itertext()).strip()


def _x(text: ET.Element) -> float:
    return float(text.get("x", 0))


def _y(text: ET.Element) -> float:
    return float(text.get("y", 0))
