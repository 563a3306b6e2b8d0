"""Tables of text for a terminal, whose columns line up whatever the letters."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Sequence

GAP = "  "
"""Between two columns."""


def cells(text: str) -> int:
    """How many places of a terminal a text takes: none for a mark over a letter, two for a wide letter.

    Source: Unicode Standard Annex 11, East Asian Width.

    >>> cells("Zoë"), cells("Zoe" + chr(0x308)), cells("李明")
    (3, 3, 4)
    """
    return sum(map(_places, text))


def _places(letter: str) -> int:
    if unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


def columns(rows: Sequence[Sequence[str]], right: Collection[int] = ()) -> list[str]:
    """A line for each row, its columns as wide as their widest text. `right`: columns (from 0) whose texts
    end below one another.

    >>> for line in columns([("name", "set"), ("Zoë", "9/9"), ("李明", "12/12")], right=[1]):
    ...     print(line)
    name    set
    Zoë     9/9
    李明  12/12
    """
    widths = [max(map(cells, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        room = [" " * (width - cells(text)) for text, width in zip(row, widths, strict=True)]
        texts = (
            f"{r}{t}" if n in right else f"{t}{r}" for n, (t, r) in enumerate(zip(row, room, strict=True))
        )
        lines.append(GAP.join(texts).rstrip())
    return lines
