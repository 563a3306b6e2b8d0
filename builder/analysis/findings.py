"""What analysis finds, each with its evidence."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from builder.music import Clef, Pitch, Place


@dataclass(frozen=True, slots=True)
class Theme:
    """The theme: number of notes of the first entry that the others imitate, and its length in
    quarter notes."""

    notes: int
    length: Fraction
    pitches: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of a voice. `kind`: `theme`, `exact`, `tonal`, `free`; `evidence` says why.
    `matched` counts the notes that imitate; `end` is where the imitation ends."""

    voice: str
    onset: Fraction
    end: Fraction
    place: Place
    pitch: Pitch
    clef: Clef
    kind: str
    matched: int
    evidence: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reason for a judgement: words and weight (positive speaks for it)."""

    text: str
    weight: float


@dataclass(frozen=True, slots=True)
class ToneReading:
    """A tone weighed: 1 to 8, total weight and the reasons."""

    tone: int
    weight: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Cadence:
    """A cadence. `kind`: `semplice`, `composta`, `doppia`, `mi`, `half`, `evaded`.
    `start` is where its formula begins, `onset` where it closes; `degree` is the letter it closes
    on (`D`, `Bb`)."""

    start: Fraction
    onset: Fraction
    place: Place
    degree: str
    kind: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Step:
    """A step of the lesson. `name` is a voice, `cadence`, `cadence-1` …; `kind` is `entry` or
    `cadence`; from `start` to `end` in quarter notes; `voices` sound in it, highest first."""

    name: str
    kind: str
    start: Fraction
    end: Fraction
    voices: tuple[str, ...]
    first_bar: int
    last_bar: int


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything found in a verset. `tones` runs from the likeliest; `warnings` are things a
    musician should look at (a tone given in the source that the music contradicts)."""

    theme: Theme
    entries: tuple[Entry, ...]
    voices: int
    final: str
    tones: tuple[ToneReading, ...]
    tone: int
    cadences: tuple[Cadence, ...]
    sections: tuple[tuple[Fraction, Fraction], ...]
    steps: tuple[Step, ...]
    warnings: tuple[str, ...] = ()
