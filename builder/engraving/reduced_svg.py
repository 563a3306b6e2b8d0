"""From verovio's SVG to what a page needs of it.

Kept: the drawing; groups for system, measure (its number in `data-n`), staff, note (its id in
`data-id`) with notehead and stem, harm (figures), and the numbers of readings. Dropped: all other groups and
ids, indentation, fonts. Signs are drawn once and used by name; figures
are set anew with outlines, each number centred over its note. Colour is `currentColor`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import escape

from builder.engraving.barlines import TICK, ticked
from builder.engraving.corrections import MOVE, TEMPO, settle
from builder.engraving.given import SIGN
from builder.engraving.glyphs import SCALE, compact, end, outline, place, signs
from builder.engraving.tempo import placed

_GAP = 120.0
"""Least distance between two figures, in the units of a picture."""
_WORDS = {"mNum": "number", "dir": "name", "label": "label", "labelAbbr": "label"}
_KEPT = ("system", "staff", "notehead", "stem")
_LINE = re.compile(r"M([-\d.]+) ([-\d.]+) L([-\d.]+) ([-\d.]+)$")


@dataclass(slots=True)
class Drawing:
    """One system being written: what is drawn, the signs it uses, where the last figure of each
    row ended."""

    out: list[str] = field(default_factory=list)
    glyphs: dict[str, str] = field(default_factory=dict)
    pens: dict[float, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class System:
    """One system: drawing, the signs it uses (id to definition), width and height in the units of
    the drawing, 180 to a stave space, and the upper edge it begins from."""

    body: str
    glyphs: dict[str, str]
    width: int
    height: int
    top: int = 0


def lean(source: str) -> System:
    """Reduce verovio's SVG of one page, which holds one system, to what a page of ours needs.

    The layer goes, the note keeps its id, the stem is drawn in fewer signs:

    >>> stem = '<g class="stem" id="s1"><path d="M120 500 L120 590" stroke-width="18"/></g>'
    >>> inner = f'<g class="layer" id="y"><g class="note" id="n1">{stem}</g></g>'
    >>> svg = f'<svg><svg viewBox="0 0 300 800"><g class="system">{inner}</g></svg></svg>'
    >>> print(lean(svg).body.removesuffix("</g></g></g>"))
    <g class="system"><g class="note" data-id="n1"><g class="stem"><path stroke-width="18" d="M120 500V590"/>
    """
    root = ET.fromstring(source.replace(' xmlns="http://www.w3.org/2000/svg"', "", 1))
    inner = root.find("svg")
    assert inner is not None
    wide, high = (round(float(n)) for n in inner.attrib["viewBox"].split()[2:])
    top = round(settle(inner))
    drawing = Drawing()
    for child in inner:
        _draw(child, drawing)
    return System(_joined("".join(drawing.out)), drawing.glyphs, wide, high - top, top)


def _draw(node: ET.Element, drawing: Drawing) -> None:
    if node.tag == "g":
        _group(node, drawing)
    elif node.tag == "use":
        _use(node, drawing)
    elif node.tag == "path":
        drawing.out.append(_path(node))
    elif node.tag in ("polygon", "polyline", "rect", "ellipse"):
        kept = {k: v for k, v in node.attrib.items() if k not in ("class", "id")}
        drawing.out.append(f"<{node.tag}{_attributes(kept)}/>")
    elif node.tag == "text":
        drawing.out += _words(node, "")


def _group(node: ET.Element, drawing: Drawing) -> None:
    kinds = node.get("class", "").split()
    if "placeholder" in kinds:
        return
    kind = kinds[0] if kinds else ""
    if kind == "harm":
        _harm(node, drawing)
        return
    if SIGN in kinds:
        drawing.out += [_numbers(node.get("id", ""), text) for text in node.iter("text")]
        return
    if kind == "tempo":
        _tempo(node, drawing)
        return
    if kind in _WORDS:
        drawing.out += [word for text in node.iter("text") for word in _words(text, _WORDS[kind])]
        return
    if TICK in kinds:
        ticked(node)
    opening = _opening(node, kind)
    if opening:
        drawing.out.append(opening)
    for child in node:
        _draw(child, drawing)
    if opening:
        drawing.out.append("</g>")


def _opening(node: ET.Element, kind: str) -> str:
    """The tag of a group that is kept, else nothing."""
    if kind == "page-margin":
        return f"<g{_attributes({'transform': node.get('transform', '')})}>"
    if kind == "note":
        return f'<g class="note" data-id="{escape(node.get("id", ""))}">'
    if kind == "measure":
        return f'<g class="measure" data-n="{escape(node.get("data-n", ""))}">'
    return f'<g class="{kind}">' if kind in _KEPT else ""


def _use(node: ET.Element, drawing: Drawing) -> None:
    moved = MOVE.match(node.get("transform", ""))
    assert moved is not None
    code = node.attrib["href"][1:5]
    x, y, scale = float(moved[1]), float(moved[2]), float(moved[3])
    drawing.out.append(_sign(drawing, code, scale, x, y))


def _sign(drawing: Drawing, code: str, scale: float, x: float, y: float) -> str:
    name = f"g{code}-{round(scale * 100)}"
    if name not in drawing.glyphs:
        turned = f"scale({scale:g},{-scale:g})"  # a font's outlines run upwards
        drawing.glyphs[name] = f'<path id="{name}" transform="{turned}" d="{outline(code)}"/>'
    return f'<use href="#{name}" x="{x:g}" y="{y:g}"/>'


def _path(node: ET.Element) -> str:
    kept = {k: v for k, v in node.attrib.items() if k not in ("class", "id", "d")}
    data = node.attrib["d"]
    line = _LINE.match(data)
    if line and line[2] == line[4]:
        data = f"M{line[1]} {line[2]}H{line[3]}"
    elif line and line[1] == line[3]:
        data = f"M{line[1]} {line[2]}V{line[4]}"
    else:
        data = compact(data)
    return f'<path{_attributes(kept)} d="{data}"/>'


def _joined(drawn: str) -> str:
    """Neighbouring straight lines of one thickness become one path."""
    pattern = re.compile(r'(<path stroke-width="\d+" d=")([MHV\d .-]+)"/>(?:\1([MHV\d .-]+)"/>)+')

    def join(match: re.Match[str]) -> str:
        return match[1] + "".join(re.findall(r' d="([^"]+)"', match[0])) + '"/>'

    return pattern.sub(join, drawn)


def _words(node: ET.Element, kind: str) -> Iterator[str]:
    text = " ".join("".join(node.itertext()).split())
    sizes = [t.get("font-size", "") for t in node.iter("tspan") if t.get("font-size")]
    size = next((s.removesuffix("px") for s in reversed(sizes) if s != "0px"), "405")
    if text:
        kept = {k: node.get(k, "") for k in ("x", "y", "text-anchor")} | {"font-size": size, "class": kind}
        if kind == "number":  # verovio centres it on the edge of the page, where half of it is lost
            kept |= {"x": "0", "text-anchor": "start"}
        slanted = ' font-style="italic"' if kind in ("number", "name") else ""
        yield f'<text stroke="none"{_attributes(kept)}{slanted}>{escape(text, quote=False)}</text>'


def _tempo(node: ET.Element, drawing: Drawing) -> None:
    """The metronome mark: signs of the font, then words."""
    for text in node.iter("text"):
        y = float(text.get("y", 0))
        drawing.out.append('<g class="tempo">')
        for what, x in placed("".join(text.itertext()).strip(), float(text.get("x", 0)), TEMPO):
            if "=" in what:
                drawing.out.append(f'<text stroke="none" x="{x:g}" y="{y:g}" font-size="405">{what}</text>')
            else:
                drawing.out.append(_sign(drawing, what, TEMPO, x, y))
        drawing.out.append("</g>")


def _numbers(id: str, node: ET.Element) -> str:
    """The numbers of readings that begin at a place, each a link to its reading."""
    links = (
        f'<a href="#reading-{number}">{number}</a>'
        for number in "".join(node.itertext()).split()
        if number.isdecimal()
    )
    place = {name: node.get(name, "") for name in ("x", "y")}
    kept = _attributes({"id": id, **place, "font-size": "300", "class": "sign"})
    return f'<text stroke="none"{kept} font-weight="bold">{" ".join(links)}</text>'


def _harm(node: ET.Element, drawing: Drawing) -> None:
    """A stack of figures, or the name of a voice, which verovio sets in the row above them."""
    stack = node.find("g[@class='fb']")
    if stack is None:
        drawing.out += [word for text in node.iter("text") for word in _words(text, "name")]
        return
    drawing.out.append(f'<g class="harm" data-id="{escape(node.get("id", ""))}">')
    for text in stack.iter("text"):
        x, y = float(text.get("x", 0)), float(text.get("y", 0))
        row = place(signs("".join(text.itertext())), x, y, drawing.pens.get(y, float("-inf")) + _GAP)
        drawing.pens[y] = max(end(row), drawing.pens.get(y, float("-inf")))
        for mark in row:
            drawing.out.append(_mark(drawing, mark.code, round(mark.x), round(mark.y)))
    drawing.out.append("</g>")


def _mark(drawing: Drawing, code: str, x: int, y: int) -> str:
    if code == "–":
        return f'<path stroke-width="22" d="M{x + 10} {y - 128}h160"/>'
    if code in "[]":
        near, far = (x + 50, x + 15) if code == "[" else (x + 15, x + 50)
        return f'<path fill="none" stroke-width="18" d="M{near} {y + 45}H{far}V{y - 315}H{near}"/>'
    return _sign(drawing, code, SCALE, x, y)


def _attributes(of: dict[str, str]) -> str:
    return "".join(f' {name}="{escape(value)}"' for name, value in of.items() if value)
