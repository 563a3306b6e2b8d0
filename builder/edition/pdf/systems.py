"""Music for print: MEI to one vector picture a system, its lines broken evenly.

The pictures are those of the pages: signs and figures as outlines, so that the typesetter needs no
music font; only words stay words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

import verovio

from builder.edition.pdf.breaks import broken, even_lines, natural_widths, together
from builder.engraving.engrave import OPTIONS, dialect, picture
from builder.engraving.reduced_svg import lean

TEXT_FONT = "Libertinus Serif"
_LEFT, _RIGHT = 3.0, 0.5
"""Millimetres by which a picture hangs out of its column, at the size in which it is drawn."""
_SPACE = 1.8
"""Millimetres between two stave lines as pictures are drawn; print scales them."""
_SPACING = 0.25
"""Room that notes take by their values, verovio's own; larger signs on the same page stand closer."""


@dataclass(frozen=True, slots=True)
class Sign:
    """The numbers of readings that begin at a place, in millimetres from the picture's left upper corner to
    where their base line begins."""

    numbers: tuple[int, ...]
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class System:
    """One system of music: an SVG picture with its width and height in millimetres, how far it hangs
    out of its column left and right (bar numbers, the last bar line), how many bars it holds, and where
    readings begin."""

    svg: str
    width: float
    height: float
    left: float
    right: float
    bars: int
    signs: tuple[Sign, ...] = ()


@lru_cache(maxsize=64)
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
    `ValueError` when the MEI holds no music. The latest are remembered: a version stands in the edition
    and on a sheet of its own.
    """
    mei = dialect(mei)
    size = space / _SPACE
    page = round((width / size + _LEFT + _RIGHT) * 10)
    if justify:
        close: dict[str, float] = {"spacingLinear": _SPACING / size}
        lines = _engraved(mei, apart, **close, pageWidth=page).getPageCount()
        long = _drawn(mei, apart, **close, pageWidth=100000, breaks="none", noJustification=True)
        mei = broken(mei, _lines(mei, natural_widths(long[0]), round(lines * room), page * 10.0))
        drawn = _drawn(mei, apart, **close, pageWidth=page, breaks="encoded", minLastJustification=0.0)
    else:
        drawn = _drawn(mei, apart, pageWidth=page, adjustPageWidth=True, noJustification=True)
    return tuple(_system(svg, size) for svg in drawn)


def _lines(mei: str, widths: list[float], lines: int, column: float) -> list[int]:
    """How many bars stand on each line."""
    sizes = together(mei, widths, column)
    ends = [sum(sizes[:n]) for n in range(len(sizes) + 1)]
    joined = [sum(widths[a:b]) for a, b in pairwise(ends)]
    at, found = 0, []
    for count in even_lines(joined, lines):
        found.append(sum(sizes[at : at + count]))
        at += count
    return found


def _drawn(mei: str, apart: int, **options: float | str | bool) -> list[str]:
    """The pictures that verovio makes, one a system."""
    toolkit = _engraved(mei, apart, **options)
    return [toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())]


@cache
def _toolkit() -> Any:
    verovio.enableLog(verovio.LOG_ERROR)
    return verovio.toolkit()


def _engraved(mei: str, apart: int, **options: float | str | bool) -> Any:
    """The music laid out, one system a page, by a toolkit that serves all calls: what it was told before is
    forgotten first."""
    toolkit = _toolkit()
    toolkit.resetOptions()
    own = {
        "breaksNoWidow": False,
        "pageHeight": 100,  # lower than a system, so that each has a page to itself
        "pageMarginLeft": round(_LEFT * 10),
        "pageMarginRight": round(_RIGHT * 10),
        "pageMarginTop": 10,
        "pageMarginBottom": 0,
        "spacingStaff": apart,
    }
    toolkit.setOptions(OPTIONS | own | options)
    if not toolkit.loadData(mei):
        raise ValueError("the music could not be engraved")
    return toolkit


def _system(svg: str, size: float) -> System:
    """A picture at its size in print; `size` is 1 as it is drawn."""
    drawn = lean(svg)
    width, height = drawn.width * size / 100, drawn.height * size / 100
    sized = f'<svg width="{width:g}mm" height="{height:g}mm" '
    text = picture(drawn, font=TEXT_FONT).replace("<svg ", sized, 1)
    # Signs are filled shapes: a hairline around them would make them bold on a screen.
    text = text.replace('<path id="g', '<path stroke="none" id="g')
    bars = text.count('class="measure"')
    signs = tuple(_signs(text, drawn.top, size))
    # The typesetter sets them, as links to the report.
    text = _SIGN.sub("", text)
    return System(text, width, height, _LEFT * size, _RIGHT * size, bars, signs)


_SIGN = re.compile(r'<text stroke="none" id="reading-sign-\d+" x="([-\d.]+)" y="([-\d.]+)"[^>]*>(.*?)</text>')
_MARGIN = re.compile(r'<g transform="translate\(([-\d.]+), ?([-\d.]+)\)">')


def _signs(text: str, top: float, size: float) -> Iterator[Sign]:
    """The numbers of readings with the places where their base lines begin, in millimetres."""
    margin = _MARGIN.search(text)
    right, down = (float(margin[1]), float(margin[2])) if margin else (0.0, 0.0)
    for found in _SIGN.finditer(text):
        numbers = tuple(int(n) for n in re.findall(r">(\d+)</a>", found[3]))
        x, y = float(found[1]) + right, float(found[2]) + down - top
        yield Sign(numbers, x * size / 100, y * size / 100)
