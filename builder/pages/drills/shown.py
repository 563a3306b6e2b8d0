"""What a drill draws on a stave, as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from builder.music import Pitch

Task = dict[str, Any]
"""A task: `id` (by which the page remembers it), `step` from 1, `ask` (what is said of it), what is shown,
and what is right."""

Shown = list[Any]
"""A note that is drawn: length in quarter notes, staff step (None for a rest), alteration, the clef that is
put before it (empty where the one before holds), and the number of the bar that it begins (0 for none)."""


def shown(pitch: Pitch | None, length: Fraction | int = 2, clef: str = "", bar: int = 0) -> Shown:
    """A note to be drawn.

    >>> shown(Pitch.parse("D4"), 4, "C3")
    [4.0, 29, 0, 'C3', 0]
    """
    step, alter = (pitch.diatonic, pitch.alter) if pitch else (None, 0)
    return [float(length), step, alter, clef, bar]


def right(notes: Sequence[Pitch], kind: str = "") -> dict[str, Any]:
    """An answer that is right: its notes, and what kind of answer it is."""
    return {"kind": kind, "notes": [[p.diatonic, p.alter] for p in notes]}


def tune(
    key: str, step: int, drawn: Sequence[Shown], answer: Sequence[Pitch], fifths: int = 0, **ask: Any
) -> Task:
    """A task whose answer is these notes."""
    return {
        "id": key,
        "step": step,
        "ask": ask,
        "shown": list(drawn),
        "fifths": fifths,
        "right": [right(answer)],
    }
