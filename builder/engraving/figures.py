"""Figures as MEI writes them: a stack in time, above the line or below the stave."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

from builder.engraving.tree import beats, element
from builder.music import Bar, FigureSign, Score

ACCIDENTALS = {"#": "♯", "b": "♭", "n": "♮", "##": "♯♯", "bb": "♭♭", "": ""}
SLASH = "\u0338"
"""The combining stroke: `6` with it is the sixth raised by a semitone."""
SLASHED = (2, 4, 5, 6)
"""Numbers that are commonly printed with a stroke when raised."""
DASH = "–"


def sign_text(sign: FigureSign, *, slashed: bool = False) -> str:
    """A sign as printed: the accidental before the number, or a stroke through it; in brackets
    when the editor supplies it.

    >>> sign_text(FigureSign(6, "#")), sign_text(FigureSign(3, "b", lone=True, editorial=True))
    ('♯6', '[♭]')
    """
    if slashed and sign.sign == "#" and not sign.lone and sign.number in SLASHED:
        shown = f"{sign.number}{SLASH}"
    else:
        shown = ACCIDENTALS[sign.sign] + ("" if sign.lone else str(sign.number))
    return f"[{shown}]" if sign.editorial else shown


def figures(
    score: Score, bar: Bar, *, staff: int = 1, place: str = "above", slashed: bool = False
) -> Iterator[ET.Element]:
    """The figures of one bar."""
    count = 0
    for figure in score.figures:
        if not bar.onset <= figure.onset < bar.end:
            continue
        count += 1
        rows = [sign_text(s, slashed=slashed) for s in figure.signs] or [DASH]
        yield element(
            "harm",
            element("fb", *(element("f", text=row) for row in rows)),
            id=f"{score.version}-figure-{bar.number}-{count}",
            staff=str(staff),
            tstamp=beats(score.metre, bar, figure.onset),
            place=place,
        )
