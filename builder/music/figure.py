"""Figures: what a source writes over the given line."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

SIGNS = {"#": 1, "b": -1, "n": 0, "##": 2, "bb": -2}
SHOWN = {"#": "♯", "b": "♭", "n": "♮", "##": "♯♯", "bb": "♭♭", "": ""}
"""The signs as print shows them."""
DASH = "–"
SIGN_OF = {alter: sign for sign, alter in SIGNS.items()}


def signed(natural: int, sign: str) -> int:
    """The alteration of a letter with a sign in a figure: a sharp raises it by a semitone (a flat becomes
    natural, a sharp a double sharp), a flat lowers it, a natural removes what is there.

    >>> signed(0, "#"), signed(-1, "#"), signed(1, "#"), signed(0, "b"), signed(-1, "n")
    (1, 0, 2, -1, 0)
    """
    return 0 if sign == "n" else max(-2, min(2, natural + SIGNS.get(sign, 0)))


@dataclass(frozen=True, slots=True)
class FigureSign:
    """One sign of a stack: `6`, `#6`, a lone `#` (an altered third), `(6)`.

    `number` is the interval above the lowest note, 2 to 12 (3 for a lone accidental);
    `sign` is `#`, `b`, `n`, `##`, `bb` or empty; `lone` when only the accidental is written;
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

    @property
    def shown(self) -> str:
        """As print shows it: the accidental before the number; in brackets when the editor supplies it.

        >>> FigureSign(6, "#").shown, FigureSign(3, "b", lone=True, editorial=True).shown
        ('♯6', '[♭]')
        """
        text = SHOWN[self.sign] + ("" if self.lone else str(self.number))
        return f"[{text}]" if self.editorial else text


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

    @property
    def shown(self) -> str:
        """As print shows it, in one line.

        >>> Figure(Fraction(0), Fraction(1), (FigureSign(6), FigureSign(5, "b"))).shown
        '6/♭5'
        """
        return DASH if self.dash else "/".join(sign.shown for sign in self.signs)
