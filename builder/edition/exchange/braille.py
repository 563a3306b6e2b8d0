"""Braille music, one voice after another, and the file an embosser takes.

The signs are music21's (after the *New International Manual of Braille Music Notation*, 1996). Figures
are not put into braille: music21 has no signs for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from builder.edition.exchange.musicxml import musicxml
from builder.language.braille import in_braille
from builder.music import Score

LINE = 40
"""Cells in a line of the paper commonly embossed."""
PAGE = 25
"""Lines on a page."""


def braille(score: Score, *, title: str = "", language: str = "en") -> str:
    """A notated score in braille music as Unicode patterns, lines of at most 40 cells: the title, then
    each voice under its name. `language` is that of the title. Loads music21, which takes about half a
    second."""
    from music21 import converter

    parsed: Any = converter.parse(musicxml(score, title="-"), format="musicxml")
    lines = wrapped(in_braille(title or score.title, language))
    for part in parsed.parts:
        lines += ["", *wrapped(in_braille(str(part.partName))), *_music(part)]
    return "\n".join(line.rstrip("\u2800 ") for line in lines) + "\n"


def _music(part: Any) -> list[str]:
    """The lines of one voice. A bar that no line holds is broken between two notes, with the music hyphen."""
    from music21.braille import translate
    from music21.braille.text import BrailleTextException

    for width in (LINE, 4 * LINE, 16 * LINE, 256 * LINE):
        try:
            # Notation is complete as parsed; to have it made again would cut a breve that outlasts the metre.
            music = translate.partToBraille(part, inPlace=True, maxLineLength=width)
        except BrailleTextException:
            continue
        return [piece for line in music.splitlines() for piece in broken(line)]
    raise ValueError(f"{part.partName}: a bar that is too long for braille")


_NOTE = re.compile("[⠩⠣⠡]?[⠈⠘⠸⠐⠨⠰⠠]{0,2}[⠙⠑⠋⠛⠓⠊⠚⠝⠕⠏⠟⠗⠎⠞⠹⠱⠫⠻⠳⠪⠺⠽⠵⠯⠿⠷⠮⠾]")
"""A note with what stands before it: its accidental and the mark of its octave."""
_HYPHEN = "⠐"
_INDENT = "\u2800\u2800"


def broken(line: str) -> list[str]:
    """A line as lines that fit, broken between notes, at a blank where there is one."""
    lines = []
    while len(line) > LINE:
        within = line[: LINE - 1]
        starts = [m.start() for m in _NOTE.finditer(within) if m.start() > len(_INDENT)]
        blank = within.rfind("\u2800")
        if blank > len(_INDENT):
            lines.append(line[:blank])
            line = _INDENT + line[blank + 1 :]
        else:
            at = starts[-1] if starts else LINE - 1
            lines.append(line[:at] + _HYPHEN)
            line = _INDENT + line[at:]
    return [*lines, line]


def brf(score: Score, *, title: str = "", language: str = "en") -> bytes:
    """The same in braille ASCII, 25 lines a page, as embossers and braille displays read it."""
    return embossed(braille(score, title=title, language=language).splitlines())


def embossed(lines: Sequence[str]) -> bytes:
    """Lines of patterns as braille ASCII, 25 lines a page, from the second page on with its number at the end
    of the first line."""
    from music21.braille import basic

    ascii_braille: Callable[[str], str] = basic.brailleUnicodeToBrailleAscii
    pages: list[str] = []
    left = list(lines)
    while left:
        count = PAGE - bool(pages)
        # from the second page on the first line has its number alone
        numbered = [_number(len(pages) + 1)] if pages else []
        pages.append("\r\n".join(ascii_braille(line) for line in [*numbered, *left[:count]]))
        left = left[count:]
    return ("\r\n\f".join(pages) + "\r\n").encode("ascii")


def _number(page: int) -> str:
    """The number of a page at the right end of a line."""
    return in_braille(str(page)).rjust(LINE, "\u2800")


def wrapped(words: str) -> list[str]:
    """Literary braille broken at blanks, and inside a word that is longer than a line."""
    lines = [""]
    for word in (w[n : n + LINE] for w in words.split() for n in range(0, len(w), LINE)):
        joined = f"{lines[-1]}\u2800{word}" if lines[-1] else word
        if len(joined) <= LINE:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines
