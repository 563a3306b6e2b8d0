"""A diminution pattern: what stands in a table."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from builder.music import Note, Pitch, Signature
from builder.music.time import VALUES, dotted

NUMBERS = ("unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave")
INTERVALS: dict[str, int | None] = {
    "any": None,
    "unison": 0,
    **{
        f"{name} {way}": sign * n
        for n, name in enumerate(NUMBERS)
        if n
        for way, sign in (("up", 1), ("down", -1))
    },
}
"""Name of the way to the next plain note -> staff steps (None: whatever follows)."""

DIVIDED = {
    "breve": Fraction(8),
    "dotted whole": Fraction(6),
    "whole": Fraction(4),
    "dotted half": Fraction(3),
    "half": Fraction(2),
    "dotted quarter": Fraction(3, 2),
    "quarter": Fraction(1),
}
"""Name of the value divided -> length in quarter notes."""

WHERE = ("opening", "middle", "cadence")
_TOKEN = re.compile(r"(-?\d{1,2})(?:/(breve|1|2|4|8|16|32)(\.{0,2}))?$")


@dataclass(frozen=True, slots=True)
class Pattern:
    """One table entry.

    `steps` are staff steps from the plain note, `lengths` quarter notes; `interval` is the way to
    the next plain note in staff steps (None: any) and `value` the length of plain note it divides.
    `density` is the lowest level of diminution (1 to 3) that uses it; `where` the places it suits.
    A pattern that does not begin on the plain note brings it late (`late` quarter notes).
    """

    id: str
    figure: str
    interval: int | None
    value: Fraction
    steps: tuple[int, ...]
    lengths: tuple[Fraction, ...]
    character: str
    density: int
    where: tuple[str, ...]
    source: str

    @property
    def late(self) -> Fraction:
        """How long after the plain onset the plain note is heard, in quarter notes."""
        return sum(self.lengths[: self.steps.index(0)], Fraction(0))

    @property
    def interval_name(self) -> str:
        return next(name for name, steps in INTERVALS.items() if steps == self.interval)

    def example(self, start: Pitch, signature: Signature | None = None) -> tuple[Note, ...]:
        """The pattern on a plain note, with the plain note it goes to (a second up when any), for a
        page that shows it.

        >>> turn = Pattern("t", "turn", 1, Fraction(2), (0, -1, 0), (Fraction(1), *[Fraction(1, 2)] * 2),
        ...                "turning", 1, WHERE, "our own")
        >>> [str(n.pitch) for n in turn.example(Pitch.parse("D5"))]
        ['D5', 'C5', 'D5', 'E5']
        """
        signature = signature or Signature()
        notes, now = [], Fraction(0)
        for step, length in zip(self.steps, self.lengths, strict=True):
            notes.append(Note(now, length, signature.pitch(start.diatonic + step)))
            now += length
        target = start.diatonic + (1 if self.interval is None else self.interval)
        return (*notes, Note(now, self.value, signature.pitch(target)))


def read_notes(text: str) -> tuple[tuple[int, ...], tuple[Fraction, ...]]:
    """Steps and lengths of a pattern as a table writes it; a value holds until the next one.

    Raises `ValueError` that names the symbol it cannot read.

    >>> read_notes("0/4. -1/16 0")
    ((0, -1, 0), (Fraction(3, 2), Fraction(1, 4), Fraction(1, 4)))
    """
    steps, lengths = [], []
    length: Fraction | None = None
    for word in text.split():
        match = _TOKEN.match(word)
        if not match:
            raise ValueError(f"{word!r} is not a staff step and value such as 0/4, -1/8 or 2")
        if match[2]:
            length = dotted(VALUES[match[2]], len(match[3]))
        if length is None:
            raise ValueError(f"{word!r} has no value; the first note needs one, as in 0/4")
        steps.append(int(match[1]))
        lengths.append(length)
    return tuple(steps), tuple(lengths)


def density_of(lengths: tuple[Fraction, ...], value: Fraction) -> int:
    """The lowest level that uses such a division: 1 for a note or two added in eighths or longer,
    2 for eighths throughout or a pair of sixteenths that ends a longer value, 3 for the rest.

    >>> density_of((Fraction(1), Fraction(1)), Fraction(2)), density_of((Fraction(1, 4),) * 8, Fraction(2))
    (1, 3)
    """
    short = sum(1 for length in lengths if length < Fraction(1, 2))
    if short > 2 or min(lengths) < Fraction(1, 4) or (short and value < 2):
        return 3
    if short or len(lengths) > 3 or len(lengths) > 2 * value:
        return 2
    return 1
