"""Braille music one voice after another, and the given line, each with its figures in a line below.

Sources: *Music Braille Code 2015* (Braille Authority of North America), from memory: bars of rest counted
(5.3); the number of the bar at the head of every line; word signs for a voice that enters (22). Notes, rests
and octave marks, one for the first note of every line, and the hyphen of a bar that is interrupted are held
against the examples of De Garmo's *Introduction to Braille Music Transcription* (2005). Figures stand as
`braille_figures` says.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby

from builder.edition.exchange.braille import LINE, embossed, wrapped
from builder.edition.exchange.braille_figures import (
    BLANK,
    COUNT,
    Piece,
    braille_number,
    filled_up,
    lines,
    marked,
    width,
)
from builder.edition.exchange.braille_groups import written_as_eighths
from builder.edition.exchange.braille_keyboard import (
    CLOSE,
    DOT,
    RESTS,
    Tempo,
    has_left,
    heading,
    note_piece,
)
from builder.engraving.accidentals import Sign, signs
from builder.engraving.figures import lowest_at
from builder.engraving.given import changes, line_and_beside
from builder.engraving.sheet import Sheet, by_bar, sheet
from builder.engraving.writing import filled
from builder.language.braille import in_braille
from builder.music import Figure, Note, Score
from builder.source import Verset

WORD = "⠜"


def braille(score: Score, *, title: str = "", language: str = "en", tempo: Tempo | None = None) -> str:
    """A notated score in braille music as Unicode patterns, lines of at most 40 cells: the title, metronome
    mark, signature and metre, then each voice under its name, the figures under the lowest that sounds.
    `language` is that of the title. `ValueError` when the score is not notated."""
    of = sheet(score)
    made = _head(score, title, language, tempo)
    for part in score.parts:
        marks = signs(of.bars[part.voice], score.signature, of.continued)
        figured = [f for f in score.figures if lowest_at(score, f.onset) == part.voice]
        made += ["", *wrapped(in_braille(part.voice.capitalize()))]
        made += _music(_blocks(of, of.bars[part.voice], marks, figured, {}))
    return "\n".join(line.rstrip(BLANK) for line in made) + "\n"


def given_braille(verset: Verset, score: Score, *, language: str = "en") -> list[str]:
    """The given line of a notated `verset.score()` with its figures, as lines of Unicode patterns: where
    another voice has it, its name stands before the note."""
    of = sheet(score)
    line, _ = line_and_beside(verset, score)
    bars = by_bar(line, score.bars)
    marks = signs(bars, score.signature, of.continued)
    named = {change.onset: change.voice for change in changes(verset, score)}
    if named and min(named) < line[0].onset:
        named[line[0].onset] = named.pop(min(named))
    music = _music(_blocks(of, bars, marks, score.figures, named))
    return [line.rstrip(BLANK) for line in (*_head(score, "", language, verset.tempo), "", *music)]


def brf(score: Score, *, title: str = "", language: str = "en", tempo: Tempo | None = None) -> bytes:
    """A notated score in braille ASCII, voice after voice, as embossers and braille displays read it.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> brf(notated(parse(EXAMPLE).score())).splitlines()[0]
    b',TWO VOICES'
    """
    return embossed(braille(score, title=title, language=language, tempo=tempo).splitlines())


def given_brf(verset: Verset, score: Score, *, language: str = "en") -> bytes:
    """The given line with its figures in braille ASCII.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> given_brf(verset, notated(verset.score())).splitlines()[0]
    b',TWO VOICES'
    """
    return embossed(given_braille(verset, score, language=language))


def _head(score: Score, title: str, language: str, tempo: Tempo | None) -> list[str]:
    return [*wrapped(in_braille(title or score.title, language)), heading(score, tempo)]


def _music(blocks: Iterable[tuple[int, list[Piece]]]) -> list[str]:
    """The lines of a voice, each with as many blocks as it holds."""
    made: list[str] = []
    line: list[list[Piece]] = []
    head = ""
    for number, pieces in blocks:
        # the first note of a line has its octave mark, behind bars of rest too
        noted = any(piece.first for block in line for piece in block)
        block = pieces if noted else marked(pieces)
        if line and width(head, [*line, block]) > LINE:
            made += lines(head, line)
            line, block = [], marked(pieces)
        if not line:
            head = braille_number(number) + BLANK
        line.append(block)
        while width(head, line) > LINE:  # one bar that no line holds
            done, left = filled_up(head, line[0])
            made += done
            line = [left]
    return made + lines(head, line)


def _blocks(
    of: Sheet,
    bars: Sequence[Sequence[Note]],
    marks: Mapping[str, Sign],
    figures: Sequence[Figure],
    named: Mapping[Fraction, str],
) -> Iterator[tuple[int, list[Piece]]]:
    """Bar numbers, and what stands from there without a blank: a bar, or some bars of rest."""
    before = None
    for silent, group in groupby(enumerate(bars), lambda each: not any(n.pitch for n in each[1])):
        places = [n for n, _ in group]
        if silent:
            yield of.score.bars[places[0]].number, _closed(of, places[-1], [Piece(_rests(len(places)))])
            continue
        for n in places:
            pieces, before = _bar(of, n, bars[n], marks, figures, named, before)
            yield of.score.bars[n].number, _closed(of, n, pieces)


def _closed(of: Sheet, n: int, pieces: list[Piece]) -> list[Piece]:
    last = n == len(of.score.bars) - 1 and of.score.closed
    return [*pieces, Piece(CLOSE)] if last else pieces


def _rests(count: int) -> str:
    """Up to three bars of rest are written out, more are counted.

    >>> _rests(3), _rests(12)
    ('⠍⠍⠍', '⠼⠁⠃⠍')
    """
    return RESTS[1] * count if count < 4 else COUNT + braille_number(count) + RESTS[1]


def _bar(
    of: Sheet,
    n: int,
    notes: Sequence[Note],
    marks: Mapping[str, Sign],
    figures: Sequence[Figure],
    named: Mapping[Fraction, str],
    before: int | None,
) -> tuple[list[Piece], int | None]:
    """The notes of a bar, each with the figures that begin while it sounds, and the step of the last note;
    `before` is that of the note before the bar."""
    bar, pieces = of.score.bars[n], []
    items = filled(notes, bar)
    apart = [*named, *(figure.onset for figure in figures)]
    eighths = written_as_eighths(items, bar, of.score.metre, apart)
    for place, item in enumerate(items):
        name = named.get(item.onset, "")
        known = None if name else before
        piece, before = note_piece(of, bar, item, marks, known, figures, as_eighth=place in eighths)
        if name:
            cells = WORD + in_braille(name) + (DOT if has_left(piece.cells) else "") + piece.cells
            piece = Piece(cells, piece.figures, piece.first and cells, piece.held)
        pieces.append(piece)
    return pieces, before
