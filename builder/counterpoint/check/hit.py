"""A rule met in a score, and the notes it is met by."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

import numpy as np

from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.slices import Grid
from builder.language.texts import Phrase
from builder.music import Pitch, spelled


class Hit(NamedTuple):
    """A rule met: when, how many voices sound, which voices it concerns (highest first) and what is seen."""

    rule: str
    onset: Fraction
    sounding: int
    voices: tuple[str, ...]
    detail: Phrase
    lowest: bool = False
    """Whether one of two voices that move is the lowest, before and after."""


def pitch_at(grid: Grid, voice: int, column: int) -> Pitch:
    """What a voice sounds at an onset."""
    return spelled(int(grid.d[voice, column]), int(grid.m[voice, column]))


def note_at(grid: Grid, voice: int, column: int) -> tuple[str, Pitch]:
    """A voice with what it sounds at an onset."""
    return grid.voices[voice], pitch_at(grid, voice, column)


def sounding(grid: Grid, column: int) -> tuple[tuple[str, ...], tuple[Pitch, ...]]:
    """The voices that sound at an onset, with their pitches."""
    up = np.flatnonzero(grid.sounds[:, column]).tolist()
    return tuple(grid.voices[v] for v in up), tuple(pitch_at(grid, v, column) for v in up)


def ends(grid: Grid) -> Array:
    """First and last onsets, and those where a voice enters or falls silent."""
    count = grid.count
    found = np.zeros(len(count), dtype=bool)
    if len(count):
        found[0] = found[-1] = True
        found[1:] |= count[1:] != count[:-1]
    return found
