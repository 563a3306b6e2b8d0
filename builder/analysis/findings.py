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
    """An entry of a voice; `evidence` says why it is what it is.

    `kind`: `theme`; `exact` (an answer by the same intervals), `modal` (by the same steps, with semitones
    elsewhere), `tonal` (final and fifth change places), `altered` (bent elsewhere); `free`. `matched`
    counts the notes that imitate; `end` is where the imitation ends; `taken` is where the voice takes the
    line, with the notes that link to the theme."""

    voice: str
    onset: Fraction
    end: Fraction
    place: Place
    pitch: Pitch
    clef: Clef
    kind: str
    matched: int
    evidence: str
    taken: Fraction


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reason for a judgement: words and weight (positive speaks for it). A `remark` is told whatever
    it weighs: a transposition, or that sources differ."""

    text: str
    weight: float
    remark: bool = False


@dataclass(frozen=True, slots=True)
class ToneReading:
    """A tone weighed: 1 to 8, total weight and the reasons; the letter of its final, and how many fifths
    higher it stands than in the table (lower when negative)."""

    tone: int
    weight: float
    evidence: tuple[Evidence, ...]
    final: str = ""
    fifths: int = 0

    @property
    def told(self) -> tuple[str, ...]:
        """What speaks for the tone, and what is told of it in any case."""
        return tuple(e.text for e in self.evidence if e.weight > 0 or e.remark)

    @property
    def against(self) -> tuple[str, ...]:
        """What speaks against it."""
        return tuple(e.text for e in self.evidence if e.weight < 0 and not e.remark)


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
    `cadence`; `voices` sound in it, highest first.

    It is shown from `start` to `end` in quarter notes, at any beat. What it teaches begins at `onset`: the
    note before it, on which the step before ended, is shown too."""

    name: str
    kind: str
    start: Fraction
    onset: Fraction
    end: Fraction
    voices: tuple[str, ...]
    first: Place
    last: Place
    """The beats on which it begins and ends."""

    @property
    def first_bar(self) -> int:
        return self.first.bar

    @property
    def last_bar(self) -> int:
        return self.last.bar


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything found in a verset. `tones` runs from the likeliest to those that come near it; `chosen` is
    the reading of `tone`, which the source may have named against the music; `warnings` are things a
    musician should look at (such a tone among them)."""

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
    chosen: ToneReading | None = None
