"""What an editor chooses for print: paper, size of the stave, clefs, values, figures, bar lines."""

from __future__ import annotations

from dataclasses import dataclass

PAPERS = ("a4", "b4", "octavo", "letter", "landscape", "tablet")
"""Names of papers: see `builder.edition.pdf.paper`."""
STAVES = (4.0, 10.0)
"""Lowest and highest stave in millimetres."""
CLEFS = ("original", "modern")
VALUES = ("written", "halved")
FIGURES = ("all", "line")
SCORES = ("keyboard", "open")
WORDS = ("beside", "below")
BARRING = ("every", "double", "ticks")


@dataclass(frozen=True, slots=True)
class Printing:
    """Choices for print; empty or 0 where nothing is chosen. `stave` is its height in millimetres; `clefs` of
    the given line and of open scores; `values` halved: a half note is printed as a quarter; `figures` under
    the plain setting too, or at the given line alone; `score` on two staves or open; `parts`: a book for each
    voice; `barring`: a bar line behind every bar, behind every second one (double bars), or short strokes
    through the highest line of each stave (ticks); `words` in two languages side
    by side, or one below the other."""

    paper: str = ""
    stave: float = 0.0
    clefs: str = ""
    values: str = ""
    figures: str = ""
    score: str = ""
    parts: bool = False
    barring: str = ""
    words: str = ""

    @property
    def modern(self) -> bool:
        return self.clefs == "modern"

    @property
    def halved(self) -> bool:
        return self.values == "halved"

    @property
    def open_score(self) -> bool:
        return self.score == "open"


USUAL = Printing()
