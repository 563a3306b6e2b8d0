"""Figures as MEI writes them: a stack in time, above the line or below the stave."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction

from builder.engraving.sheet import Sheet
from builder.engraving.tree import beats, element
from builder.music import Bar, FigureSign, Score
from builder.music.figure import DASH

SLASH = "\u0338"
"""The combining stroke: `6` with it is the sixth raised by a semitone."""
SLASHED = (2, 4, 5, 6)
"""Numbers that are commonly printed with a stroke when raised."""


def sign_text(sign: FigureSign, *, slashed: bool = False) -> str:
    """A sign as engraved: as it is shown, or the number with a stroke through it where it is raised.

    >>> sign_text(FigureSign(6, "#")), sign_text(FigureSign(6, "#"), slashed=True)
    ('♯6', '6\u0338')
    """
    if not slashed or sign.sign != "#" or sign.lone or sign.number not in SLASHED:
        return sign.shown
    return f"[{sign.number}{SLASH}]" if sign.editorial else f"{sign.number}{SLASH}"


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


def lowest_at(score: Score, onset: Fraction) -> str:
    """The lowest voice that sounds at a time, in quarter notes; empty where none does.

    >>> from builder.source import EXAMPLE, parse
    >>> score = parse(EXAMPLE).score()
    >>> lowest_at(score, Fraction(0)), lowest_at(score, Fraction(99))
    ('cantus', '')
    """
    sounding = [part.voice for part in score.parts if part.at(onset)]
    return sounding[-1] if sounding else ""


def figured_voice(of: Sheet, n: int) -> str:
    """The voice that has the figures of bar `n` (from 0): the lowest that sounds at its first figure, else at
    all; empty in a silent bar.

    >>> from builder.engraving.sheet import sheet
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> of = sheet(notated(parse(EXAMPLE).score()))
    >>> [figured_voice(of, n) for n in range(len(of.score.bars))]
    ['cantus', 'cantus', 'altus', 'altus']
    """
    bar = of.score.bars[n]
    onsets = [f.onset for f in of.score.figures if bar.onset <= f.onset < bar.end]
    if onsets:
        return lowest_at(of.score, onsets[0])
    sounding = [part.voice for part in of.score.parts if of.bars[part.voice][n]]
    return sounding[-1] if sounding else ""
