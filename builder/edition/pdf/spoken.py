"""The notes of a system in words, for who cannot see the picture: voice by voice, bar by bar."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from itertools import groupby

from builder.edition.apparatus import pitch_name, value_name
from builder.language.texts import EditionTexts
from builder.music import Bar, Note, Score


def notes_told(score: Score, first: int, last: int, w: EditionTexts) -> str:
    """The notes of some bars, both ends with them: each voice with its bars, each note with its value; a
    value is said when it changes. A voice that is silent throughout is left out.

    >>> from builder.language.texts import edition_texts
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE).score())
    >>> notes_told(score, 1, 2, edition_texts())
    'Cantus: bar 1, D5 half, A4 dotted quarter, B4 eighth; bar 2, C5 quarter, B4, A4 half.'
    """
    bars = [bar for bar in score.bars if first <= bar.number <= last]
    told = (_voice(score, part.voice, part.notes, bars, w) for part in score.parts)
    return " ".join(text for text in told if text)


def _voice(score: Score, voice: str, notes: tuple[Note, ...], bars: list[Bar], w: EditionTexts) -> str:
    told = []
    for bar in bars:
        first, last = (bisect_left(notes, time, key=lambda n: n.onset) for time in (bar.onset, bar.end))
        here = [n for n in notes[first:last] if n.pitch]
        if here:
            told.append(f"{w('alt.bar', bar=bar.number)}, {', '.join(_row(here, w))}")
    return f"{w.voice(voice).capitalize()}: {'; '.join(told)}." if told else ""


def _row(notes: list[Note], w: EditionTexts) -> Iterator[str]:
    for length, group in groupby(notes, key=lambda n: n.duration):
        first, *more = group
        yield f"{pitch_name(first, w)} {value_name(length, w)}"
        yield from (pitch_name(note, w) for note in more)
