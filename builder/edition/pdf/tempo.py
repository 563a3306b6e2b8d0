"""The metronome mark as a note sign, drawn with the outlines of the music font.

Sources: Standard Music Font Layout 1.4, ranges *metronome marks* and *individual notes*.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from builder.edition.pdf.data import minutes, spoken_time, tempo
from builder.engraving.glyphs import box, outline
from builder.language.texts import EditionTexts
from builder.music import written
from builder.source.verset import Verset

_NOTES = {"breve": "ECA0", "1": "ECA2", "2": "ECA3", "4": "ECA5", "8": "ECA7"}
_DOT = "ECB7"
_GAP = 90.0
"""Font units between a note and its dot."""
_SIZE = 0.0042
"""Millimetres to a font unit: a half note is as high as a line of words."""


def mark(verset: Verset, w: EditionTexts) -> tuple[str, dict[str, Any]]:
    """The note that is counted as a picture, and the fact as the templates take it: size in millimetres, what
    follows the note, and the whole in words for who cannot see it."""
    beat, rate = verset.tempo
    value, dots = written(Fraction(beat)) or ("4", 0)
    codes = [_NOTES[value], *[_DOT] * dots]
    pen, parts, top, foot = 0.0, [], 0.0, 0.0
    for code in codes:
        left, low, wide, high = box(code)
        parts.append(f'<path transform="translate({pen - left:g},0) scale(1,-1)" d="{outline(code)}"/>')
        pen += wide + _GAP
        top, foot = max(top, high), min(foot, low)
    width, height = pen - _GAP, top - foot
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {-top:g} {width:g} {height:g}" '
        f'width="{width * _SIZE:g}mm" height="{height * _SIZE:g}mm">{"".join(parts)}</svg>'
    )
    rest = w("fact.rate", rate=f"{float(rate):g}", time=spoken_time(minutes(verset)))
    told = {
        "width": width * _SIZE,
        "height": height * _SIZE,
        "drop": -foot * _SIZE,
        "rest": rest,
        "alt": tempo(verset, w).partition(" = ")[0],
    }
    return svg, told
