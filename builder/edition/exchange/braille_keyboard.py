"""Braille music for the keyboard, bar over bar: the right hand over the left, each bar of both beginning in
the same cell, and under both the figures of the lowest voice.

Sources: *Music Braille Code 2015* (Braille Authority of North America), from memory: notes and values (table
2), octave marks (3.2), accidentals (6), rests (5), ties (10), in-accords (11), hand signs and bar over bar
(27). A voice below another on its stave follows it behind the sign of an in-accord for the whole bar; every
line begins with the number of its bar and the signs of both hands, and every bar with an octave mark.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from builder.edition.exchange.braille import LINE, broken, wrapped
from builder.edition.exchange.braille_figures import (
    BLANK,
    COUNT,
    DIGITS,
    SIGNS,
    Piece,
    aligned,
    braille_number,
    under,
)
from builder.engraving.accidentals import Sign
from builder.engraving.figures import figured_voice
from builder.engraving.keyboard import Staves, on_staves, signs_of_staves
from builder.engraving.sheet import Sheet, sheet
from builder.engraving.writing import filled, rests
from builder.language.braille import in_braille
from builder.music import Bar, Figure, Metre, Note, Score, written

RIGHT, LEFT = "⠨⠜", "⠸⠜"
IN_ACCORD, TIE, CLOSE, DOT = "⠣⠜", "⠈⠉", "⠣⠅", "⠄"
OCTAVES = ("⠈⠈", "⠈", "⠘", "⠸", "⠐", "⠨", "⠰", "⠠", "⠠⠠")
"""Marks of the octaves from the one below the first, which begins on C1, to the one above the seventh."""
STEPS = {
    1: dict(zip("CDEFGAB", "⠽⠵⠯⠿⠷⠮⠾")),
    2: dict(zip("CDEFGAB", "⠝⠕⠏⠟⠗⠎⠞")),
    4: dict(zip("CDEFGAB", "⠹⠱⠫⠻⠳⠪⠺")),
    8: dict(zip("CDEFGAB", "⠙⠑⠋⠛⠓⠊⠚")),
}
"""Cells by value and step; sixteenths look like whole notes, thirty-seconds like halves, and so on."""
RESTS = {1: "⠍", 2: "⠥", 4: "⠧", 8: "⠭"}
_LOW = "⠴⠂⠆⠒⠲⠢⠖⠶⠦⠔"
_BREVE = "⠘⠉"
_LEFT_DOTS = 0b000111


def keyboard_braille(score: Score, *, title: str = "", language: str = "en") -> list[str]:
    """A notated score as lines of Unicode patterns: title, signature and metre, then lines for the right
    hand, the left, and the figures where there are some. A bar that no line holds goes on in further lines,
    hand after hand, its figures last, in their order; `ValueError` when the score is not notated."""
    of, (staves, _) = sheet(score), on_staves(score)
    marks = signs_of_staves(of, staves, {})
    lines = [
        *wrapped(in_braille(title or score.title, language)),
        heading(score),
        "",
    ]
    start = 0
    while start < len(score.bars):
        stop = start + 1
        pair: tuple[str, ...] = _pair(of, staves, marks, start, stop)
        while stop < len(score.bars):
            longer = _pair(of, staves, marks, start, stop + 1)
            if max(map(len, longer)) > LINE:
                break
            pair, stop = longer, stop + 1
        if max(map(len, pair)) > LINE:  # hand after hand, each broken between notes
            pair = tuple(piece for row in pair for piece in broken(row))
        lines += [line.rstrip(BLANK) for line in pair]
        start = stop
    return lines


def _pair(of: Sheet, staves: Staves, marks: Mapping[str, Sign], start: int, stop: int) -> tuple[str, ...]:
    """The lines of some bars; their bars are made equally long with blanks."""
    number = braille_number(of.score.bars[start].number)
    rows = [number + BLANK + RIGHT, BLANK * (len(number) + 1) + LEFT, BLANK * (len(number) + 2) + COUNT]
    for n in range(start, stop):
        lowest = figured_voice(of, n)
        bars, below = [], ""
        for voices in staves:
            bar, figures = _bar(of, n, voices[n], marks, lowest)
            if n == start and has_left(bar):  # after a hand sign a cell with left dots wants a dot 3 (24.2)
                bar, figures = DOT + bar, figures and BLANK + figures
            bars.append(bar)
            below = figures or below
        cells = [*bars, below]
        wide = max(map(len, cells))
        between = "" if n == start else BLANK
        rows = [row + between + bar.ljust(wide, BLANK) for row, bar in zip(rows, cells, strict=True)]
    return tuple(rows if rows[2].strip(BLANK) != COUNT else rows[:2])


def has_left(cells: str) -> bool:
    """Whether the first cell has dots on its left, so that a dot 3 parts it from what stands before."""
    return bool((ord(cells[0]) - 0x2800) & _LEFT_DOTS)


def _bar(of: Sheet, n: int, voices: Sequence[str], marks: Mapping[str, Sign], lowest: str) -> tuple[str, str]:
    """One bar of one hand, its voices from the highest with in-accord signs between them, and the figures
    under the voice that has them."""
    bar = of.score.bars[n]
    music, below = "", ""
    for voice in (v for v in voices if of.bars[v][n]):
        pieces = _voice(of, bar, of.bars[voice][n], marks, of.score.figures if voice == lowest else ())
        music, below = aligned(pieces, music + IN_ACCORD if music else "", below)
    last = bar is of.score.bars[-1] and of.score.closed
    return (music or RESTS[1]) + (CLOSE if last else ""), below


def _voice(
    of: Sheet, bar: Bar, notes: Sequence[Note], marks: Mapping[str, Sign], figures: Sequence[Figure]
) -> list[Piece]:
    """The notes and rests of a voice in a bar. Each bar begins with an octave mark: the one before it may
    have been another voice."""
    pieces, before = [], None
    for item in filled(notes, bar):
        cells, before = note_cells(of, bar, item, marks, before)
        pieces.append(Piece(cells, under(item, figures)))
    return pieces


def note_cells(
    of: Sheet, bar: Bar, item: Note, marks: Mapping[str, Sign], before: int | None
) -> tuple[str, int | None]:
    """The cells of a note or rest, and the step from which the next octave mark is judged (`before` is that
    of the note before; None: a mark stands in any case)."""
    if item.pitch is None:
        if item.duration == bar.length:
            return RESTS[1], before
        written_out = rests(item.onset - bar.line, item.duration)
        return "".join(_value(length, RESTS) for _, length in written_out), before
    sign = marks.get(item.id)
    out = SIGNS[sign.alter] if sign else ""
    step = item.pitch.diatonic
    if before is None or _marked(before, step):
        out += OCTAVES[item.pitch.octave]
    cells = {value: row[item.pitch.letter[0]] for value, row in STEPS.items()}
    out += _value(item.duration, cells)
    return out + (TIE if item.tied and item.end < of.score.end else ""), step


def _marked(before: int, step: int) -> bool:
    """Whether a note needs an octave mark after another: a sixth or more always, a fourth or fifth where it
    is in another octave, less never (3.2).

    >>> _marked(28, 33), _marked(28, 31), _marked(32, 35), _marked(34, 35)
    (True, False, True, False)
    """
    distance = abs(step - before)
    return distance >= 5 or (distance >= 3 and step // 7 != before // 7)


def _value(length: Fraction, cells: dict[int, str]) -> str:
    """A note or rest of a length; a breve is a whole note, its sign, and the note again."""
    value, dots = written(length) or ("", 0)
    if value in ("breve", "longa"):
        times = 2 if value == "breve" else 4
        return _BREVE.join([cells[1]] * times) + DOT * dots
    plain = int(value)
    while plain > 8:
        plain //= 16
    return cells[plain or 1] + DOT * dots


def heading(score: Score) -> str:
    """Signature and metre, in the middle of a line."""
    return _centred(_signature(score) + _metre(score.metre))


def _signature(score: Score) -> str:
    """Up to three signs are written out, more are counted (6.5)."""
    fifths = score.signature.fifths
    sign = SIGNS[1] if fifths > 0 else SIGNS[-1]
    if abs(fifths) > 3:
        return "⠼" + DIGITS[abs(fifths)] + sign
    return sign * abs(fifths)


def _metre(metre: Metre) -> str:
    """C and cut C, else upper and lower figures (7)."""
    if metre.symbol in ("C", "C|"):
        return "⠨⠉" if metre.symbol == "C" else "⠸⠉"
    upper = "".join(DIGITS[int(d)] for d in str(metre.count))
    return "⠼" + upper + "".join(_LOW[int(d)] for d in str(metre.unit))


def _centred(cells: str) -> str:
    return BLANK * ((LINE - len(cells)) // 2) + cells
