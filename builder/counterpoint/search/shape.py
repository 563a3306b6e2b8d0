"""What a note of the line asks of the voices above it, whatever came before."""

from __future__ import annotations

from dataclasses import dataclass

from builder.counterpoint.figured_bass.sonority import Variant
from builder.music import Pitch


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
