"""What stands over a note of the bass, as far as cadences are concerned."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from builder.analysis.line import Sung
from builder.music import Figure, Interval, Pitch, Signature
from builder.music.figure import signed

TRIAD = "5/3"
SIXTH = "6"
SEVENTH = "7"
SIX_FOUR = "6/4"
FOURTH = "5/4"
SECOND = "2"
OTHER = "other"


def sonority(figure: Figure | None) -> str:
    """Which of the sonorities of a cadence a stack of figures is. An octave or a ninth that falls
    to it changes nothing.

    >>> from builder.music import FigureSign
    >>> sonority(None), sonority(Figure(Fraction(0), Fraction(1), (FigureSign(5), FigureSign(4))))
    ('5/3', '5/4')
    """
    if figure is None:
        return TRIAD
    numbers = {(s.number - 1) % 7 + 1 if s.number > 9 else s.number for s in figure.signs} - {8, 9, 1}
    if 2 in numbers:
        return SECOND
    if numbers <= {3, 5}:
        return TRIAD
    if numbers == {6, 4}:
        return SIX_FOUR
    if 4 in numbers and 3 not in numbers and 6 not in numbers:
        return FOURTH
    if 7 in numbers and numbers <= {7, 5, 3}:
        return SEVENTH
    return SIXTH if 6 in numbers and numbers <= {6, 5, 3} else OTHER


def stacks(note: Sung) -> tuple[tuple[str, Figure | None, Fraction], ...]:
    """The sonorities over a note in time: kind, figure, duration. A dash lengthens the one before;
    a note without figures has the third and fifth."""
    found: list[tuple[str, Figure | None, Fraction]] = []
    for figure in note.figures:
        if figure.dash and found:
            kind, first, duration = found[-1]
            found[-1] = kind, first, duration + figure.duration
        else:
            stack = None if figure.dash else figure
            found.append((sonority(stack), stack, figure.duration))
    return tuple(found) or ((TRIAD, None, note.duration),)


def row(notes: Iterable[Sung]) -> tuple[tuple[str, Figure | None, Fraction], ...]:
    """The sonorities over several notes, one after the other."""
    return tuple(stack for note in notes for stack in stacks(note))


def over(bass: Pitch, figure: Figure | None, number: int, signature: Signature) -> Pitch:
    """The pitch a figure puts at an interval above the bass, as signature and signs have it.

    >>> over(Pitch.parse("G3"), None, 3, Signature.parse("Bb"))
    Pitch('Bb3')
    """
    plain = signature.pitch(bass.diatonic + number - 1)
    for sign in figure.signs if figure else ():
        if sign.number == number and sign.sign:
            return Pitch(plain.diatonic, signed(plain.alter, sign.sign))
    return plain


def is_major(bass: Pitch, above: Pitch) -> bool:
    """Whether a third or sixth over the bass is major."""
    return Interval.between(bass, above).quality == "M"
