"""What a plan says."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from builder.music import Pitch, Place
from builder.plan.motif import Motif


@dataclass(frozen=True, slots=True)
class Statement:
    """A voice takes up a motif: from `onset` to `end` (of its last move), in quarters. `leader` is the voice
    that had it before. `pitch` is what it begins on, `steps` how far from where the leader began, once it is
    found. `others`: what it may take up instead, where the motif cannot be sung."""

    motif: Motif
    voice: str
    onset: Fraction
    end: Fraction
    place: Place
    leader: str
    pitch: Pitch | None = None
    steps: int = 0
    others: tuple[Motif, ...] = ()

    @property
    def times(self) -> tuple[Fraction, ...]:
        """When each note of the motif begins."""
        return tuple(accumulate(self.motif.lengths[:-1], initial=self.onset))


@dataclass(frozen=True, slots=True)
class Rest:
    """A voice is silent from `start` to `end`, to come in again with what it states then."""

    voice: str
    start: Fraction
    end: Fraction
    place: Place


@dataclass(frozen=True, slots=True)
class Countersubject:
    """What the voice that has just had the theme sings against an entry of another: `first` where it is heard
    first, else it returns."""

    voice: str
    against: str
    start: Fraction
    end: Fraction
    place: Place
    first: bool


@dataclass(frozen=True, slots=True)
class Clausula:
    """A voice's part in a cadence: `cantizans` (the leading note rises), `tenorizans` (falls by step to the
    final), `altizans` (keeps or takes the fifth), `bassizans` (leaps to the final)."""

    kind: str
    voice: str
    start: Fraction
    onset: Fraction
    place: Place
    degree: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan: `statements` in time; `growth` for each bar how much movement is wanted (1: as much as on the
    whole). What could not be carried out is no longer in it when it is shown."""

    motifs: tuple[Motif, ...] = ()
    statements: tuple[Statement, ...] = ()
    rests: tuple[Rest, ...] = ()
    countersubject: tuple[Countersubject, ...] = ()
    clausulae: tuple[Clausula, ...] = ()
    growth: tuple[float, ...] = ()
