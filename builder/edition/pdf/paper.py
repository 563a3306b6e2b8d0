"""Paper, and how the systems of a version lie on it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from builder.edition.pdf.spoken import notes_told
from builder.edition.pdf.systems import System
from builder.language.texts import EditionTexts
from builder.music import Score
from builder.source.printing import Printing


@dataclass(frozen=True, slots=True)
class Paper:
    """A page: size and margins in millimetres, distance of stave lines, and whether pages are read in
    openings of two (a bound book) or one by one (a tablet)."""

    name: str
    width: float
    height: float
    margin: float
    space: float
    openings: bool

    @property
    def column(self) -> float:
        """Width of the music in millimetres."""
        return self.width - 2 * self.margin

    @property
    def depth(self) -> float:
        """Height of the music in millimetres."""
        return self.height - 2 * self.margin


PAPERS = {
    "a4": Paper("a4", 210, 297, 20, 1.75, True),
    "tablet": Paper("tablet", 240, 180, 12, 2.0, False),
    "b4": Paper("b4", 250, 353, 24, 2.0, True),
    "octavo": Paper("octavo", 171.45, 266.7, 14, 1.5, True),
    "letter": Paper("letter", 215.9, 279.4, 20, 1.75, True),
    "landscape": Paper("landscape", 297, 210, 16, 1.75, True),
}
"""A4, A4 on its side and B4 (ISO 216), letter (ANSI/ASME Y14.1, size A), octavo of music (6¾ by 10½ inches,
common practice), and a page in the shape of a tablet held sideways, 4 to 3. Staves are as high as players'
books have them."""

GAP = 3.5
"""Millimetres between two systems."""
HEADING = 14.0
"""Millimetres that a version's heading and note take, in round numbers."""
TITLE = 24.0
"""Millimetres that the title of a sheet takes, in round numbers."""


def paper(name: str) -> Paper:
    """A paper by name; `ValueError` names the known ones.

    >>> paper("a4").column
    170
    """
    if name not in PAPERS:
        raise ValueError(f"paper {name!r} is unknown; known are {', '.join(PAPERS)}")
    return PAPERS[name]


def chosen_paper(name: str, printing: Printing) -> Paper:
    """The paper asked for, else the one that the editor chose, else A4, with staves as high as chosen.

    >>> chosen_paper("", Printing(paper="b4", stave=6.0)).space
    1.5
    """
    page = paper(name or printing.paper or "a4")
    return replace(page, space=printing.stave / 4) if printing.stave else page


def laid_out(drawn: tuple[System, ...], score: Score, name: str, w: EditionTexts) -> list[dict[str, Any]]:
    """The systems of a score as the typesetter takes them: their pictures' names, sizes, and their bars and
    notes in words."""
    rows, bar = [], score.bars[0].number
    for n, system in enumerate(drawn):
        last = bar + system.bars - 1
        bars = w("alt.bars", first=bar, last=last) if last > bar else w("alt.bar", bar=bar)
        rows.append(
            {
                "file": f"{name}-{n + 1}.svg",
                "width": system.width,
                "height": system.height,
                "left": system.left,
                "right": system.right,
                "bars": f"{bars}. {notes_told(score, bar, last, w)}",
                "signs": [{"numbers": list(s.numbers), "x": s.x, "y": s.y} for s in system.signs],
            }
        )
        bar = last + 1
    return rows


def height(drawn: tuple[System, ...], gap: float = GAP, head: float = HEADING) -> float:
    """Height of a version in millimetres with its heading, or what else stands over it."""
    return sum(s.height for s in drawn) + gap * (len(drawn) - 1) + head


def fits(drawn: tuple[System, ...], page: Paper, gap: float = GAP, head: float = HEADING) -> bool:
    """Whether a version stands on one page."""
    return height(drawn, gap, head) <= page.depth
