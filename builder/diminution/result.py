"""What diminishing gives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from builder.counterpoint import Finding
from builder.music import Note, Score


@dataclass(frozen=True, slots=True)
class Choice:
    """A pattern set in place of plain notes: which voice and when, the table entry's id and the
    trade's name for it, the plain note (and the next), and the notes that stand for it."""

    voice: str
    onset: Fraction
    duration: Fraction
    pattern: str
    name: str
    plain: Note
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Diminution:
    """A diminished realisation at one level of density (1 to 3)."""

    score: Score
    level: int
    seed: int
    choices: tuple[Choice, ...]
    findings: tuple[Finding, ...]
    cost: float
