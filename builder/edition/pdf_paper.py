"""Paper, and how the systems of a version lie on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from builder.edition.pdf_music import System


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
}
"""A4 (ISO 216), and a page in the shape of a tablet held sideways, 4 to 3."""

GAP = 3.5
"""Millimetres between two systems."""
HEADING = 14.0
"""Millimetres that a version's heading and note take, in round numbers."""


def paper(name: str) -> Paper:
    """A paper by name; `ValueError` names the known ones.

    >>> paper("a4").column
    170
    """
    if name not in PAPERS:
        raise ValueError(f"paper {name!r} is unknown; known are {', '.join(PAPERS)}")
    return PAPERS[name]


def laid_out(drawn: tuple[System, ...], page: Paper, first_bar: int, name: str) -> list[dict[str, Any]]:
    """The systems as the typesetter takes them: their pictures' names, sizes, bars, and where a page
    turns: over as few pages as can be, each as full as the others."""
    counts = _shares(drawn, page)
    turns = {sum(counts[:n]) for n in range(1, len(counts))}
    rows, bar = [], first_bar
    for n, system in enumerate(drawn):
        last = bar + system.bars - 1
        rows.append(
            {
                "file": f"{name}-{n + 1}.svg",
                "width": system.width,
                "height": system.height,
                "left": system.left,
                "right": system.right,
                "bars": f"bars {bar} to {last}" if last > bar else f"bar {bar}",
                "turn": n in turns,
            }
        )
        bar = last + 1
    return rows


def height(drawn: tuple[System, ...]) -> float:
    """Height of a version in millimetres with its heading."""
    return sum(s.height for s in drawn) + GAP * (len(drawn) - 1) + HEADING


def fits(drawn: tuple[System, ...], page: Paper) -> bool:
    """Whether a version stands on one page."""
    return height(drawn) <= page.depth


def _shares(drawn: tuple[System, ...], page: Paper) -> list[int]:
    """How many systems stand on each page."""
    if fits(drawn, page):
        return [len(drawn)]
    tallest = max(s.height for s in drawn) + GAP
    room = max(1, int((page.depth - HEADING + GAP) / tallest))
    pages = -(-len(drawn) // room)
    each, more = divmod(len(drawn), pages)
    return [each + (n < more) for n in range(pages)]
