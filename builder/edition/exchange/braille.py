"""Paper for braille: lines of words and pages, broken and numbered, and the file an embosser takes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from builder.language.braille import in_braille

LINE = 40
"""Cells in a line of the paper commonly embossed."""
PAGE = 25
"""Lines on a page."""


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
