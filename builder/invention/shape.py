"""How dull a phrase is where it stands: of several that could, one is taken that is not."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby

from builder.invention.closing import Sung
from builder.music import Metre

AGAIN, STRONG, HIGHEST, LEAP, SHUTTLE = 0.5, 0.35, 0.4, 0.25, 0.8
"""What each weighs: a note said again; a letter on a strong part, by how many of the strong parts before
had it too; the highest note of the line where it was touched before; a leap of a fourth and more; a strong
part in which the line is back where it was two strong parts before (our own judgement;
`tests/worth/inventions.py` has the rates that come of them, beside Palestrina's)."""
REMEMBERED = 4
"""Strong parts that are remembered."""


def dullness(line: Sequence[Sung], new: int, start: Fraction, metre: Metre) -> float:
    """How dull the last `new` notes of a line are behind the others: the more the worse. `start`: when the
    line begins, in quarter notes from the beginning of a bar.

    >>> from builder.music import Pitch
    >>> def line(names: str) -> list[Sung]:
    ...     return [Sung(Pitch.parse(name), Fraction(2)) for name in names.split()]
    >>> common = Metre.parse("C")
    >>> there = dullness(line("D3 F3 C3 F3 C3 C3"), 5, Fraction(0), common)
    >>> there > dullness(line("D3 F3 E3 A3 G3 C3"), 5, Fraction(0), common)
    True
    """
    steps = [note.pitch.diatonic for note in line]
    strong: list[int] = []
    found, time = 0.0, start
    for n, (note, step) in enumerate(zip(line, steps)):
        counts = n >= len(line) - new
        if counts and n:
            move = abs(step - steps[n - 1])
            found += AGAIN * (not move) + LEAP * (move > 2)
        if metre.weight(time) > 1 or (
            metre.count % 2 and metre.weight(time) > 0 and note.length > metre.beat
        ):
            if counts:
                found += STRONG * strong[-REMEMBERED:].count(step % 7)
                found += SHUTTLE * (strong[-2:-1] == [step % 7])
            strong.append(step % 7)
        time += note.length
    return found + HIGHEST * max(0, _touched(steps) - 1)


def _touched(steps: Sequence[int]) -> int:
    """How often a line comes to its highest note; staying on it is once."""
    return sum(high for high, _ in groupby(step == max(steps) for step in steps))
