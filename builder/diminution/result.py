"""What diminishing gives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from builder.counterpoint import Finding, Phrase
from builder.music import Note, Score
from builder.plan import Plan


@dataclass(frozen=True, slots=True)
class Choice:
    """A pattern set in place of a plain note: which voice and when, the table entry's id and the
    trade's name for it, the plain note, and the notes that stand for it.

    `after` is the plain note it goes to, if any. `late`: quarter notes by which the plain note
    comes late (0 for nearly all). `pinned`: set by hand; then `pattern` is empty unless the notes
    are a known pattern, and `replaced` holds every plain note of the stretch (at most others only
    `plain`). `source` is the table entry's.
    """

    voice: str
    onset: Fraction
    duration: Fraction
    pattern: str
    name: str
    plain: Note
    notes: tuple[Note, ...]
    after: Note | None = None
    late: Fraction = Fraction(0)
    pinned: bool = False
    replaced: tuple[Note, ...] = ()
    character: str = ""
    source: str = ""
    reason: Phrase | None = None
    """Why it is here, in the words of the plan."""


@dataclass(frozen=True, slots=True)
class Diminution:
    """A diminished realisation at one level of density (1 to 3)."""

    score: Score
    level: int
    seed: int
    choices: tuple[Choice, ...]
    findings: tuple[Finding, ...]
    cost: float
    plan: Plan
    """What it was made from, as far as it was carried out."""
    otherwise: tuple[int, ...] = ()
    """The bars of a moved verset in which its notes are not those of the written pitch."""
