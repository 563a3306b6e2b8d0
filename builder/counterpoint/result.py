"""What realising and checking give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import Figure, Pitch, Place, Score


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule met in a score. `severity`: `error`, `warning` or `note`; `allowed` holds the reason of
    a licence that silences it; `mend` says what would put it right."""

    rule: str
    severity: str
    onset: Fraction
    place: Place
    voices: tuple[str, ...]
    message: str
    mend: str = ""
    allowed: str = ""


@dataclass(frozen=True, slots=True)
class Sonority:
    """One event of the realisation: the given pitch, the figure in force in full, who supplied it
    (`source`, `editor`; `held` where the sonority before goes on over a passing note), and the pitch of
    each sounding voice, highest first."""

    onset: Fraction
    duration: Fraction
    bass: Pitch
    figure: Figure | None
    full: tuple[str, ...]
    supplied: str
    voices: tuple[tuple[str, Pitch], ...]


@dataclass(frozen=True, slots=True)
class Realisation:
    """A verset set in voices. `score` has one part for each voice, highest first, each with its
    stretch of the given line in it; `cost` is the sum of `costs_by_bar` (bar -> name -> cost)."""

    score: Score
    sonorities: tuple[Sonority, ...]
    findings: tuple[Finding, ...]
    cost: float
    costs_by_bar: Mapping[int, Mapping[str, float]] = field(default_factory=dict)
