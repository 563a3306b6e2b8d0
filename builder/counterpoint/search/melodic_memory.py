"""What each upper voice has sung so far, and what that makes of the notes it may sing next.

The lattice remembers one interval, and that of one or two voices. A path that is drawn note by note may
remember more at no cost to the search: the last change of every voice, how long it has stood, its highest
note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from builder.music import VOICES

Array = np.ndarray[Any, np.dtype[Any]]

REMEMBERED = (
    *("turning", "shuttle", "back-step", "running"),
    *("standing", "second-peak", "inner-leap", "frozen"),
)
"""The costs that are counted here, by name (see `costs.COSTS`)."""


@dataclass(frozen=True, slots=True, eq=False)
class Memory:
    """Of so many drawn paths (rows) and all `VOICES` (columns), in staff steps."""

    pitch: Array
    """The note that sounds; 0 for a voice that does not."""
    change: Array
    """Steps of the last change of note; 0 before the first."""
    before: Array
    """The note before the last change."""
    stood: Array
    """Over how many sonorities the note has been repeated or held."""
    peak: Array
    """The highest note so far."""

    @classmethod
    def empty(cls, paths: int) -> Memory:
        return cls(*(np.zeros((paths, len(VOICES)), dtype=np.int64) for _ in range(5)))

    def occurrences(self, upper: Sequence[str], d: Array) -> dict[str, Array]:
        """How often each remembered cost occurs when the voices go on to notes `d` (paths x candidates x
        voices): paths x candidates each."""
        place = [VOICES.index(v) for v in upper]
        pitch, change, before, stood, peak = (
            x[:, None, place] for x in (self.pitch, self.change, self.before, self.stood, self.peak)
        )
        sung = pitch > 0
        move = np.where(sung, d - pitch, 0)
        share = np.where(np.arange(len(place)) == 0, 1.0, 0.5)
        turns = (move * change < 0) & (abs(change) <= 2)
        inner = (abs(change) > 2) & (stood == 0) & (move * change > 0)
        stepped = (abs(change) == 1) & (stood == 0)
        inner = inner * np.where(np.arange(len(place)) == 0, 0.0, 1.0)
        return {
            "turning": (turns * share).sum(axis=2),
            "shuttle": ((move != 0) & sung & (d == before) & (change != 0)).astype(float) @ share,
            "back-step": (stepped & (move == -change)) @ share,
            "running": (stepped & (move == change)) @ share,
            "standing": ((move == 0) & sung & (stood > 0)).astype(float) @ share,
            "second-peak": ((move > 0) & (d == peak)).astype(float)[:, :, 0],
            "inner-leap": inner.sum(axis=2),
            "frozen": ((move == 0) & sung & (stood > 2)).all(axis=2),
        }

    def after(self, upper: Sequence[str], d: Array) -> Memory:
        """What is remembered when the voices have gone on to notes `d` (paths x voices)."""
        place = [VOICES.index(v) for v in upper]
        found = np.zeros((5, len(d), len(VOICES)), dtype=np.int64)
        pitch, change, before, stood, peak = (
            x[:, place] for x in (self.pitch, self.change, self.before, self.stood, self.peak)
        )
        same = pitch == d
        moved = (pitch > 0) & ~same
        found[0][:, place] = d
        found[1][:, place] = np.where(moved, d - pitch, change)
        found[2][:, place] = np.where(moved, pitch, before)
        found[3][:, place] = np.where(same, stood + 1, 0)
        found[4][:, place] = np.maximum(peak, d)
        return Memory(*found)

    def take(self, rows: Array) -> Memory:
        return Memory(*(x[rows] for x in (self.pitch, self.change, self.before, self.stood, self.peak)))
