"""Figures in braille: their cells, and how they stand under the notes.

Source: *Music Braille Code 2015* (Braille Authority of North America), from memory; the code's own signs for
figured bass were not at hand. Figures stand as the code sets chords under a melody (23): the first cell of a
figure under the first cell of its note, in a line that begins with the number sign. They are figures of the
upper cells, with the signs of accidentals before them; `⠌` divides what stands one over the other, `⠤` what
follows under the same note, `⠒` holds on, `⠶` encloses what the editor supplies.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.music import Figure, FigureSign, Note

BLANK = "\u2800"
COUNT, STACK, NEXT, HOLD, EDITOR, HYPHEN = "⠼", "⠌", "⠤", "⠒", "⠶", "⠐"
SIGNS = {1: "⠩", -1: "⠣", 0: "⠡", 2: "⠩⠩", -2: "⠣⠣"}
DIGITS = "⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊"
_ALTERS = {"#": 1, "b": -1, "n": 0, "##": 2, "bb": -2}


@dataclass(frozen=True, slots=True)
class Piece:
    """A note or rest in cells, and the figures that stand under it."""

    cells: str
    figures: str = ""


def under(note: Note, figures: Iterable[Figure]) -> str:
    """The cells of the figures that begin while a note or rest sounds."""
    here = [f for f in figures if note.onset <= f.onset < note.end]
    late = NEXT if here and here[0].onset > note.onset else ""
    return late + NEXT.join(map(_figure, here))


def aligned(pieces: Sequence[Piece], music: str, below: str) -> tuple[str, str]:
    """A line of music and the line of figures under it, gone on by some notes: where a figure has no room
    yet, the music waits behind its hyphen.

    >>> aligned([Piece("⠹", "⠋⠌⠙⠤⠑"), Piece("⠱", "⠋")], "⠨", "")
    ('⠨⠹⠐⠀⠀⠀⠀⠱', '⠀⠋⠌⠙⠤⠑⠀⠋')
    """
    for n, piece in enumerate(pieces):
        if piece.figures:
            below = below.ljust(len(music), BLANK) + piece.figures
        music += piece.cells
        ahead = pieces[n + 1].figures if n + 1 < len(pieces) else ""
        if ahead and len(below) >= len(music):
            music = (music + HYPHEN).ljust(max(len(below) + 1, len(music) + 2), BLANK)
    return music, below


def braille_number(number: int) -> str:
    """A number in the upper cells, without the number sign.

    >>> braille_number(12)
    '⠁⠃'
    """
    return "".join(DIGITS[int(d)] for d in str(number))


def _figure(figure: Figure) -> str:
    """One stack: `⠩⠋⠌⠙` for a raised sixth over a fourth."""
    return HOLD if figure.dash else STACK.join(map(_sign, figure.signs))


def _sign(sign: FigureSign) -> str:
    cells = SIGNS[_ALTERS[sign.sign]] if sign.sign else ""
    if not sign.lone:
        cells += braille_number(sign.number)
    return f"{EDITOR}{cells}{EDITOR}" if sign.editorial else cells
