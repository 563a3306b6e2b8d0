"""Where the rests of a voice stand on a stave that it shares with others (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from builder.engraving.glyphs import box
from builder.music.time import VALUES

_SIGNS = {"breve": "E4E2", "1": "E4E3", "2": "E4E4", "4": "E4E5", "8": "E4E6", "16": "E4E7", "32": "E4E8"}
_OF_LENGTH = {VALUES[value]: sign for value, sign in _SIGNS.items() if value in VALUES}
_STEP = 125.0
"""Font units to a step of the stave."""
_HEAD = box("E0A4")[3] / _STEP
_STEM = 7.0
"""How far a stem reaches from its head, in steps: an octave."""
_AIR = 0.8
"""Least room between a rest and what stands over or under it, in steps."""
_MIDDLE, _EDGE = 4, 8
"""The middle line and the outermost one, in steps."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A note near a rest: when it sounds, how many steps above the lowest line it stands, and the way
    of its stem."""

    start: Fraction
    end: Fraction
    step: int
    stem: str = ""


@dataclass(frozen=True, slots=True)
class Room:
    """What stands around the rests of a voice in a bar: its own notes, those of the others on the stave, when
    these have rests, and whether it lies above them."""

    own: Sequence[Neighbour]
    others: Sequence[Neighbour]
    silent: Sequence[tuple[Fraction, Fraction]]
    above: bool

    def step(self, start: Fraction, length: Fraction) -> int:
        """The line of a rest, in steps above the lowest one: as near to its own voice as the others allow,
        clear of the heads and stems in its column, beyond every note that sounds, and on an outer line where
        another voice rests with it.

        A quarter rest with F4 stands on the fourth line, with A4 on the highest one, and over A4 held from
        before as high as the note of its own voice that follows:

        >>> zero, one, two, three = map(Fraction, range(4))
        >>> low, struck, held = Neighbour(one, two, 1), Neighbour(one, two, 3), Neighbour(zero, two, 3)
        >>> high = Neighbour(two, three, 6)
        >>> [Room(own, [other], (), True).step(one, one)
        ...  for own, other in (((), low), ((), struck), ([high], held))]
        [6, 8, 6]
        """
        bottom, top = (edge / _STEP for edge in box(_OF_LENGTH[length])[1::2])
        if not self.above:
            bottom, top = -top, -bottom
        least = [self._edge(n) + _AIR - bottom for n in self.others if n.start == start]
        sounding = [n for n in self.others if n.start < start + length and start < n.end]
        least += [self._height(n) + 2 - (bottom + top) / 2 for n in sounding]
        before = [self._height(n) for n in self.own if n.end <= start][-1:]
        after = [self._height(n) for n in self.own if n.start >= start + length][:1]
        near = min(max(_MIDDLE, min([*before, *after], default=_MIDDLE)), _EDGE) // 2 * 2
        if any(a < start + length and start < b for a, b in self.silent):
            near = _EDGE
        found = 2 * ceil(max([near, *least]) / 2)
        return found if self.above else _EDGE - found

    def _height(self, note: Neighbour) -> float:
        """Steps from the line that is the lowest for a voice above and the highest for one below."""
        return note.step if self.above else _EDGE - note.step

    def _edge(self, note: Neighbour) -> float:
        """Where a note ends towards the rest."""
        return self._height(note) + (_STEM if note.stem == ("up" if self.above else "down") else _HEAD)
