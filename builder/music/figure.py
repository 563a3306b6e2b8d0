"""Figures: what a source writes over the given line."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

SIGNS = {"#": 1, "b": -1, "n": 0}
SIGN_OF = {alter: sign for sign, alter in SIGNS.items()}


@dataclass(frozen=True, slots=True)
class FigureSign:
    """One sign of a stack: `6`, `#6`, a lone `#` (an altered third), `(6)`.

    `number` is the interval above the lowest note (3 for a lone accidental);
    `sign` is `#`, `b`, `n` or empty; `lone` when only the accidental is written;
    `editorial` when the editor supplies it.

    >>> str(FigureSign(6, "#")), str(FigureSign(3, "#", lone=True)), str(FigureSign(6, editorial=True))
    ('#6', '#', '(6)')
    """

    number: int
    sign: str = ""
    lone: bool = False
    editorial: bool = False

    def __str__(self) -> str:
        text = self.sign if self.lone else f"{self.sign}{self.number}"
        return f"({text})" if self.editorial else text


@dataclass(frozen=True, slots=True)
class Figure:
    """One stack of signs in time. `signs` run from the top; empty with `dash` when the sonority
    before is held. Onset and duration are in quarter notes, absolute."""

    onset: Fraction
    duration: Fraction
    signs: tuple[FigureSign, ...]
    dash: bool = False

    @property
    def editorial(self) -> bool:
        return bool(self.signs) and all(s.editorial for s in self.signs)

    def __str__(self) -> str:
        return "-" if self.dash else "/".join(map(str, self.signs))
