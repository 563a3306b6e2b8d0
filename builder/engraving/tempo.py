"""The metronome mark over the first bar, with the note that is counted as a sign.

Sources (published): MEI Guidelines 5.1, `tempo` with `mm`; Standard Music Font Layout 1.4, ranges *metronome
marks* and *individual notes*.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction

from builder.engraving.glyphs import box
from builder.engraving.tree import element
from builder.music import written
from builder.source import Verset

_NOTES = {"breve": "ECA0", "1": "ECA2", "2": "ECA3", "4": "ECA5", "8": "ECA7"}
_DOT = "ECB7"
_GAP = 90.0
"""Font units between a note and its dot; twice as many before the words."""
_BEGINS = 0xE000
"""From here on characters are the font's own."""


def tempo_element(verset: Verset) -> ET.Element:
    """The mark of a verset in MEI.

    >>> from builder.source import EXAMPLE, parse
    >>> sorted(tempo_element(parse(EXAMPLE)).items())[:2]
    [('mm', '52'), ('mm.unit', '2')]
    """
    beat, rate = verset.tempo
    value, dots = written(Fraction(beat)) or ("4", 0)
    counted = {"mm": f"{float(rate):g}", "mm_unit": value, "mm_dots": str(dots) if dots else ""}
    return element("tempo", tstamp="1", staff="1", place="above", **counted)


def told(mark: ET.Element) -> str:
    """The mark as a row of characters, notes as those of the music font.

    >>> told(element("tempo", mm="40", mm_unit="2", mm_dots="1")).encode("unicode_escape").decode()
    '\\\\ueca3\\\\uecb7 = 40'
    """
    codes = [_NOTES.get(mark.get("mm.unit", ""), _NOTES["4"]), *[_DOT] * int(mark.get("mm.dots", "0"))]
    return f"{''.join(chr(int(code, 16)) for code in codes)} = {mark.get('mm', '')}"


def placed(text: str, x: float, scale: float) -> Iterator[tuple[str, float]]:
    """The signs of such a row by their codes, and last its words, each with where it begins from `x` on;
    `scale` is the size of a font unit.

    >>> [(what, round(x)) for what, x in placed("\\ueca3 = 52", 100, 0.5)]
    [('ECA3', 99), ('= 52', 343)]
    """
    for n, char in enumerate(text):
        if ord(char) < _BEGINS:
            yield text[n:].strip(), x + _GAP * scale
            return
        code = f"{ord(char):X}"
        left, _, wide, _ = box(code)
        yield code, x - left * scale
        x += (wide + _GAP) * scale
