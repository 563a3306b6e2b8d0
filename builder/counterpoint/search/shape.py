"""What a note of the line asks of the voices above it, whatever came before; and how much of their melody is
remembered with it."""

from __future__ import annotations

from dataclasses import dataclass

from builder.counterpoint.figured_bass.sonority import Variant
from builder.music import Pitch

NEUTRAL, HELD, SKIPPED_UP, SKIPPED_DOWN, LEAPT_UP, LEAPT_DOWN = range(6)
KINDS = 6
"""How a voice came to its note: by step or anew, by keeping it, by a third or a wider leap up or down."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What the voicings of an event depend on; equal shapes share their voicings."""

    bass: Pitch
    voice: str
    upper: tuple[str, ...]
    variants: tuple[Variant, ...]
    opening: bool = False
    closing: bool = False
    cadence: bool = False
    strong: bool = True
    pins: tuple[tuple[str, Pitch], ...] = ()
    loose: int = 0
    """0: all rules on; 1: voices may stand further apart, or leave their compass; 2: a tone may lack."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """The voices of two sonorities in a row: those of the setting, highest first, and the given line's."""

    upper: tuple[str, ...]
    bass: str
    then: tuple[str, ...]
    then_bass: str

    @classmethod
    def of(cls, a: Shape, b: Shape) -> Meeting:
        return cls(a.upper, a.voice, b.upper, b.voice)


def contexts(upper: int) -> int:
    """Number of melodic contexts kept with each voicing: of both voices when there are two above the
    line, of the highest otherwise."""
    return 1 if upper == 0 else KINDS * KINDS if upper == 2 else KINDS


def tracked_voices(upper: tuple[str, ...]) -> tuple[str, ...]:
    """The voices whose melody is remembered from one sonority to the next."""
    return upper[:2] if len(upper) == 2 else upper[:1]
