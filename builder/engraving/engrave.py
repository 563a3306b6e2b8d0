"""MEI to SVG through verovio.

One toolkit serves a process. Verovio has a dialect of its own in three things, which is put right
here and nowhere else: a voice's name is set as a second row over the figures, so that figures stay
next to the stave; short stacks of figures are filled from above, so that all stand on one line; and
an editorial accidental, which verovio draws above the stave however it is enclosed, is drawn as any
other in brackets.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from functools import cache
from html import escape
from typing import Any

import verovio

from builder.engraving.glyphs import FONT
from builder.engraving.reduced_svg import System, lean
from builder.engraving.tempo import told
from builder.engraving.tree import NAMESPACE, element

OPTIONS: dict[str, Any] = {
    "font": FONT,
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "breaksNoWidow": True,
    "adjustPageHeight": True,
    "systemMaxPerPage": 1,
    "pageHeight": 60000,
    "pageMarginLeft": 30,
    "pageMarginRight": 0,
    "pageMarginTop": 15,
    "pageMarginBottom": 15,
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "svgFormatRaw": True,
    "svgAdditionalAttribute": ["measure@n"],
    "smuflTextFont": "none",
    "xmlIdSeed": 1,
    "scale": 100,
    "spacingStaff": 9,
    # In half spaces: lines and stems 0.12 of a space, as engravers' handbooks have them.
    "staffLineWidth": 0.24,
    "stemWidth": 0.24,
}
TEXT_FONT = "serif"


@cache
def _toolkit() -> Any:
    verovio.enableLog(verovio.LOG_ERROR)
    return verovio.toolkit()


def systems(
    mei: str, pages: Sequence[tuple[float, float]], *, justify: bool = True
) -> tuple[tuple[System, ...], ...]:
    """Engrave MEI for several pages at the cost of one reading: each is a width in pixels and a
    scale in percent; at 100 percent a stave is 72 pixels high. With `justify` off a short line stays
    short. `ValueError` when verovio finds no music.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> [len(page) for page in systems(given_mei(verset, score), [(300, 40), (900, 40)])]
    [2, 1]
    """
    toolkit = _toolkit()
    found = []
    for n, (width, scale) in enumerate(pages):
        toolkit.setOptions(
            OPTIONS | {"pageWidth": round(width * 100 / scale), "noJustification": not justify}
        )
        if n:
            toolkit.redoLayout()
        elif not toolkit.loadData(dialect(mei)):
            raise ValueError("the music could not be engraved")
        found.append(tuple(lean(toolkit.renderToSVG(p + 1)) for p in range(toolkit.getPageCount())))
    return tuple(found)


def svg(
    mei: str, *, width: float = 340, scale: float = 40, label: str = "", font: str = TEXT_FONT
) -> tuple[str, ...]:
    """Engrave MEI as SVG pictures, one a system, each complete in itself.

    `width` is in pixels; `scale` in percent (at 40 a stave is about 29 pixels high). Notes keep their ids
    as `data-id`, measures their numbers as `data-n`. `label` tells a screen reader what the picture
    shows; `font` is the family for words.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> [len(svg(given_mei(verset, score), width=width)) for width in (300, 900)]
    [2, 1]
    """
    (found,) = systems(mei, [(width, scale)])
    return tuple(picture(s, label=counted(label, n, len(found)), font=font) for n, s in enumerate(found))


def picture(system: System, *, label: str = "", font: str = TEXT_FONT) -> str:
    """One system as a picture complete in itself.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> ((system, *_),) = systems(given_mei(verset, score), [(900, 40)])
    >>> picture(system, label="Two voices").count("Two voices")
    1
    """
    defs = f"<defs>{''.join(system.glyphs[name] for name in sorted(system.glyphs))}</defs>"
    spoken = f'role="img" aria-label="{escape(label)}"' if label else 'aria-hidden="true"'
    box = f"0 {system.top} {system.width} {system.height}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="music" viewBox="{box}" fill="currentColor"'
        f' stroke="currentColor" font-family="{escape(font)}" {spoken}>{defs}{system.body}</svg>'
    )


def counted(label: str, n: int, count: int) -> str:
    """What a screen reader says of one system of several.

    >>> counted("Given line", 0, 3)
    'Given line (1/3)'
    """
    return f"{label} ({n + 1}/{count})" if label and count > 1 else label


def dialect(mei: str) -> str:
    """An MEI document in the form from which verovio sets what we mean: voices' names stand in a row above
    the figures, stacks of figures are filled to one height so that they line up, and accidentals in brackets
    are drawn as such.

    >>> from builder.engraving.given import given_mei
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> mei = given_mei(verset, notated(verset.score()))
    >>> '<dir type="voice" staff="1" tstamp="1" place="above">Altus' in mei
    True
    >>> '<harm n="2" staff="1" tstamp="1" place="above">Altus' in dialect(mei)
    True
    """
    root = ET.fromstring(mei.replace(f' xmlns="{NAMESPACE}"', "", 1))
    tallest = max((len(stack) for stack in root.iter("fb")), default=0)
    for measure in root.iter("measure"):
        for n, child in enumerate(list(measure)):
            if child.tag == "harm":
                child.set("n", "1")
                _fill(child, tallest)
            elif child.tag == "dir" and child.get("type") == "voice":
                measure[n] = element(
                    "harm",
                    text=child.text or "",
                    n="2",
                    **{k: v for k, v in child.attrib.items() if k in _KEPT},
                )
            elif child.tag == "tempo":
                child.text = told(child)
    for accidental in root.iter("accid"):
        if accidental.get("enclose"):
            accidental.attrib.pop("func", None)
    root.set("xmlns", NAMESPACE)
    return ET.tostring(root, encoding="unicode")


_KEPT = ("staff", "tstamp", "place")


def _fill(harm: ET.Element, rows: int) -> None:
    if harm.get("place") == "above":
        for stack in harm.iter("fb"):
            for _ in range(rows - len(stack)):
                stack.insert(0, element("f"))
