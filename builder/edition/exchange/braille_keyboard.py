"""Braille music for the keyboard, bar over bar: the right hand over the left, each bar of both beginning in
the same cell, and under both the figures of the lowest voice.

Sources: De Garmo, *Introduction to Braille Music Transcription* (2005), whose examples ours are held against:
notes and values, rests, ties, octave marks, accidentals, hand signs, bar over bar; and music21's translator,
beside which in-accords and the metronome mark are held. From memory, after *Music Braille Code 2015* (Braille
Authority of North America): the order of in-accords (11). The voices of a stave follow one
another behind the sign of an in-accord for the whole bar, in the right hand from the highest, in the left
from the lowest, so that the figured voice comes first; every line begins with the number of its bar and the
signs of both hands, and every bar with an octave mark.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from builder.edition.exchange.braille import LINE, wrapped
from builder.edition.exchange.braille_figures import (
    BLANK,
    COUNT,
    DIGITS,
    SIGNS,
    Piece,
    aligned,
    braille_number,
    filled_up,
    lines,
    under,
    width,
)
from builder.edition.exchange.braille_groups import written_as_eighths
from builder.engraving.accidentals import Sign
from builder.engraving.figures import figured_voice
from builder.engraving.keyboard import Staves, on_staves, signs_of_staves
from builder.engraving.sheet import Sheet, sheet
from builder.engraving.writing import filled, rests
from builder.language.braille import in_braille
from builder.music import Bar, Figure, Metre, Note, Score, written

Tempo = tuple[Fraction, Fraction]
"""What is counted, in quarter notes, and how many a minute."""
RIGHT, LEFT = "⠨⠜", "⠸⠜"
IN_ACCORD, TIE, CLOSE, DOT, EQUALS = "⠣⠜", "⠈⠉", "⠣⠅", "⠄", "⠶"
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


def keyboard_braille(
    score: Score, *, title: str = "", language: str = "en", tempo: Tempo | None = None
) -> list[str]:
    """A notated score as lines of Unicode patterns: title, metronome mark, signature and metre, then lines
    for the right hand, the left, and the figures where there are some. A bar that no line holds goes on in
    further lines, hand after hand, each with its figures below. `ValueError` for what is not notated."""
    of, (staves, _) = sheet(score), on_staves(score)
    marks = signs_of_staves(of, staves, {})
    made = [*wrapped(in_braille(title or score.title, language)), heading(score, tempo), ""]
    start = 0
    while start < len(score.bars):
        stop = start + 1
        pair = _pair(of, staves, marks, start, stop)
        while stop < len(score.bars):
            longer = _pair(of, staves, marks, start, stop + 1)
            if max(map(len, longer)) > LINE:
                break
            pair, stop = longer, stop + 1
        if max(map(len, pair)) > LINE:
            pair = tuple(_one_by_one(of, staves, marks, start))
        made += [line.rstrip(BLANK) for line in pair]
        start = stop
    return made


def _pair(of: Sheet, staves: Staves, marks: Mapping[str, Sign], start: int, stop: int) -> tuple[str, ...]:
    """The lines of some bars; their bars are made equally long with blanks."""
    heads = _heads(of, start)
    made = [*heads, BLANK * (len(heads[0]) - 1) + COUNT]
    for n in range(start, stop):
        bars, below = [], ""
        for pieces in _hands(of, n, staves, marks):
            if n == start and has_left(pieces[0].cells):
                pieces = [Piece(DOT), *pieces]
            bar, figures = aligned(pieces, "", "")
            bars.append(bar)
            below = figures or below
        cells = [*bars, below]
        wide = max(map(len, cells))
        between = "" if n == start else BLANK
        made = [row + between + bar.ljust(wide, BLANK) for row, bar in zip(made, cells, strict=True)]
    return tuple(made if made[2].strip(BLANK) != COUNT else made[:2])


def _one_by_one(of: Sheet, staves: Staves, marks: Mapping[str, Sign], n: int) -> Iterator[str]:
    """The lines of one bar that no line holds: hand after hand, each broken between notes."""
    for head, pieces in zip(_heads(of, n), _hands(of, n, staves, marks), strict=True):
        left = [Piece(DOT), *pieces] if has_left(pieces[0].cells) else pieces
        while width(head, [left]) > LINE:
            done, left = filled_up(head, left)
            yield from done
            head = BLANK * len(head)
        yield from lines(head, [left])


def _heads(of: Sheet, n: int) -> tuple[str, str]:
    """What stands before the bars of each hand: the number of the bar and the sign of the hand."""
    number = braille_number(of.score.bars[n].number)
    return number + BLANK + RIGHT, BLANK * (len(number) + 1) + LEFT


def has_left(cells: str) -> bool:
    """Whether the first cell has dots on its left: after a hand sign or a word a dot 3 parts it (24.2)."""
    return bool((ord(cells[0]) - 0x2800) & _LEFT_DOTS)


def _hands(of: Sheet, n: int, staves: Staves, marks: Mapping[str, Sign]) -> list[list[Piece]]:
    """One bar of each hand with in-accord signs between its voices, the right hand's from the highest, the
    left hand's from the lowest, and the figures under the voice that has them."""
    bar, lowest = of.score.bars[n], figured_voice(of, n)
    last = [Piece(CLOSE)] if bar is of.score.bars[-1] and of.score.closed else []
    made = []
    for hand, voices in enumerate(staves):
        pieces: list[Piece] = []
        sounding = [voice for voice in voices[n] if of.bars[voice][n]]
        for voice in reversed(sounding) if hand else sounding:
            pieces += [Piece(IN_ACCORD)] if pieces else []
            figures = of.score.figures if voice == lowest else ()
            before = None  # the bar before may have been another voice's
            items = filled(of.bars[voice][n], bar)
            eighths = written_as_eighths(items, bar, of.score.metre, [f.onset for f in figures])
            for place, item in enumerate(items):
                short = place in eighths
                piece, before = note_piece(of, bar, item, marks, before, figures, as_eighth=short)
                pieces.append(piece)
        made.append([*(pieces or [Piece(RESTS[1])]), *last])
    return made


def note_piece(
    of: Sheet,
    bar: Bar,
    item: Note,
    marks: Mapping[str, Sign],
    before: int | None,
    figures: Sequence[Figure],
    *,
    as_eighth: bool = False,
) -> tuple[Piece, int | None]:
    """A note or rest with the figures that begin while it sounds, and the step from which the next octave
    mark is judged (`before` is that of the note before; None: a mark stands in any case). `as_eighth`: it
    is written so behind the first of its group."""
    told = under(item, figures)
    if item.pitch is None:
        if item.duration == bar.length:
            return Piece(RESTS[1], told), before
        written_out = rests(item.onset - bar.line, item.duration)
        return Piece("".join(_value(length, RESTS) for _, length in written_out), told), before
    sign = marks.get(item.id)
    raised = SIGNS[sign.alter] if sign else ""
    step, octave = item.pitch.diatonic, OCTAVES[item.pitch.octave]
    cells = {value: row[item.pitch.letter[0]] for value, row in STEPS.items()}
    note = (cells[8] if as_eighth else _value(item.duration, cells)) + (
        TIE if item.tied and item.end < of.score.end else ""
    )
    needed = before is None or _marked(before, step)
    first = raised + octave + note
    return Piece(first if needed else raised + note, told, first, as_eighth), step


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


def heading(score: Score, tempo: Tempo | None = None) -> str:
    """Metronome mark, where there is one, signature and metre, in the middle of a line."""
    mark = metronome(tempo) + BLANK if tempo else ""
    return _centred(mark + _signature(score) + _metre(score.metre))


def metronome(tempo: Tempo) -> str:
    """The note that is counted, without its octave, and how many there are a minute, to the nearest whole.

    >>> metronome((Fraction(2), Fraction(60)))
    '⠝⠶⠼⠋⠚'
    """
    value, rate = tempo
    cells = {each: row["C"] for each, row in STEPS.items()}
    return _value(value, cells) + EQUALS + COUNT + "".join(DIGITS[int(d)] for d in str(round(rate)))


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
