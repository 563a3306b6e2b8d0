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

from builder.edition.exchange.braille import LINE
from builder.music import Figure, FigureSign, Note

BLANK = "\u2800"
COUNT, STACK, NEXT, HOLD, EDITOR, HYPHEN = "⠼", "⠌", "⠤", "⠒", "⠶", "⠐"
SIGNS = {1: "⠩", -1: "⠣", 0: "⠡", 2: "⠩⠩", -2: "⠣⠣"}
DIGITS = "⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊"
_ALTERS = {"#": 1, "b": -1, "n": 0, "##": 2, "bb": -2}


@dataclass(frozen=True, slots=True)
class Piece:
    """A note or rest in cells, the figures that stand under it, and for a note `first`: its cells where it is
    the first of a line, with the mark of its octave in any case. One that is `held` stands in one line with
    the piece before it."""

    cells: str
    figures: str = ""
    first: str = ""
    held: bool = False


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


def marked(pieces: Iterable[Piece]) -> list[Piece]:
    """Pieces of which the first note is the first of its line.

    >>> marked([Piece("⠥"), Piece("⠏", first="⠨⠏"), Piece("⠗", first="⠨⠗")])[1].cells
    '⠨⠏'
    """
    made = list(pieces)
    at = next((n for n, piece in enumerate(made) if piece.first), None)
    if at is not None:
        made[at] = Piece(made[at].first, made[at].figures, made[at].first)
    return made


def rows(head: str, bars: Sequence[Sequence[Piece]]) -> tuple[str, str]:
    """A line of music behind its head, a blank between bars, and the line of figures under it (empty where
    it has none)."""
    music, below = head, ""
    if any(piece.figures for bar in bars for piece in bar):
        below = BLANK * (len(music) - 1) + COUNT
    for n, bar in enumerate(bars):
        music, below = aligned(bar, music + BLANK if n else music, below)
        wanted = bars[n + 1][0].figures if n + 1 < len(bars) else ""
        if wanted and len(below) > len(music):
            music = music.ljust(len(below), BLANK)
    return music, below


def width(head: str, bars: Sequence[Sequence[Piece]]) -> int:
    """Cells that the longer line of music and figures takes."""
    return max(map(len, rows(head, bars)))


def lines(head: str, bars: Sequence[Sequence[Piece]]) -> list[str]:
    """The line of music, and that of its figures where it has some."""
    music, below = rows(head, bars)
    return [music, below] if below else [music]


def filled_up(head: str, bar: Sequence[Piece]) -> tuple[list[str], list[Piece]]:
    """The lines of as much of a bar as one line holds, with the music hyphen, and what goes on in the next,
    its first note with the mark of its octave; one piece always goes in.

    >>> made, left = filled_up("⠁⠀", [Piece("⠹", "", "⠐⠹")] * 45)
    >>> [len(line) for line in made], made[0][-1], len(left), left[0].cells
    ([40], '⠐', 8, '⠐⠹')
    """
    count = len(bar) - 1
    while count > 1 and width(head, [[*bar[:count], Piece(HYPHEN)]]) > LINE:
        count -= 1
    while count > 1 and bar[count].held:
        count -= 1
    return lines(head, [[*bar[:count], Piece(HYPHEN)]]), marked(bar[count:])


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
