"""What a verset source says, with a position on every symbol."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import (
    VOICES,
    Bar,
    Clef,
    Figure,
    Interval,
    Metre,
    Note,
    Part,
    Place,
    Score,
    Signature,
    Tuning,
    Version,
    place,
    tuning_for,
)
from builder.source.blanks import Blank
from builder.source.playing import Playing
from builder.source.provenance import NOTHING_SAID, Provenance
from builder.source.span import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class GivenNote:
    """A note or rest of the given line with the voice and clef it is written in and the figures
    over it (none: unfigured)."""

    note: Note
    voice: str
    clef: Clef
    figures: tuple[Figure, ...] = ()
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Pin:
    """Notes set by hand in a `plain` or `diminished` block: one voice from one bar. Stretches left
    to the engine (`_`) are simply not covered by `notes`; rests are pinned silence."""

    version: Version
    voice: str
    notes: tuple[Note, ...]
    spans: tuple[Span, ...] = ()
    beside: bool = False
    """Whether the source itself has them, at once with the given line: a second voice on its stave."""


@dataclass(frozen=True, slots=True)
class Loss:
    """Something of a file that is not kept (`ornament`, `fermata`, `lyrics` …), and the bars that have it."""

    kind: str
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the teacher divides the lesson: a time in quarter notes, between two notes of the given line."""

    onset: Fraction
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Licence:
    """A rule silenced in one bar, or throughout (bar 0), with the reason. `voices` empty: any.

    >>> Licence("direct-fifth", 7, "horn fifths").holds(7), Licence("direct-fifth", 0, "horn fifths").holds(3)
    (True, True)
    """

    rule: str
    bar: int
    because: str
    voices: tuple[str, ...] = ()
    span: Span = NOWHERE
    of_course: bool = False
    """Whether the course gives it, to all its versets."""

    def holds(self, bar: int) -> bool:
        """Whether it silences its rule in a bar."""
        return self.bar in (0, bar)


@dataclass(frozen=True, slots=True)
class Reading:
    """A critical note: what the source has and what is adopted."""

    bar: int
    source: str
    adopted: str
    voice: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Variant:
    """What some witnesses have for a stretch of the given line: their own notes in the place of those from
    `start` to `end` (quarter notes), which the `voice` has. No notes: the witnesses have nothing there.
    `remark` is the editor's."""

    voice: str
    start: Fraction
    end: Fraction
    sigla: tuple[str, ...]
    notes: tuple[GivenNote, ...] = ()
    remark: str = ""
    span: Span = field(default=NOWHERE, compare=False)

    @property
    def length(self) -> Fraction:
        """How long the witnesses' notes last."""
        return sum((g.note.duration for g in self.notes), Fraction(0))


@dataclass(frozen=True, slots=True)
class Fingers:
    """Fingers for the notes that a voice strikes in a version, bar by bar from the bar `first`: each `1` to
    `5`, a change such as `4-3`, or nothing."""

    version: Version
    voice: str
    first: int
    bars: tuple[tuple[str, ...], ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Ossia:
    """Other notes that may be played in the place of those of a voice in a version."""

    version: Version
    voice: str
    notes: tuple[Note, ...]
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Settings:
    """What the front matter asks beyond the music. None or empty: the course's default."""

    tuning: str = ""
    pitch: float | None = None
    """Hertz of A4."""
    registration: str = ""
    level: int | None = None
    """Of diminution: 1 in voices, 2 in small notes, 3 full."""
    density: float | None = None
    """How many small notes at levels 2 and 3, as a share of the usual number."""
    seed: int = 0
    move: str = ""
    """Another pitch than the one written, as an interval in words: `a tone lower`."""
    moved: str = ""
    """How far the notes stand already from the pitch at which the verset was first set."""
    costs: Mapping[str, float] = field(default_factory=dict)
    """Weights of named costs of the realisation."""
    exercise: tuple[Blank, ...] = ()
    """What a student puts in on the pages, where not all voices of all bars; the rest stands there."""
    unfinished: bool = False
    """Whether the line is still to be gone on with: nobody is advised to play it in a service."""

    @property
    def tuned(self) -> Tuning:
        """The tuning that is asked for; quarter-comma where none is."""
        return tuning_for(self.tuning)


@dataclass(frozen=True, slots=True)
class Verset:
    """One verset as its source gives it.

    `name` is the file's stem; `tempo` is (beat value in quarters, beats a minute).
    `intro` is the Markdown before the first heading; `words` maps a heading in lower case
    (a voice, `cadence`) to the Markdown under it.
    """

    name: str
    path: str
    title: str
    metre: Metre
    signature: Signature
    bars: tuple[Bar, ...]
    given: tuple[GivenNote, ...]
    tone: int | None = None
    tempo: tuple[Fraction, Fraction] = (Fraction(2), Fraction(52))
    settings: Settings = Settings()
    pins: tuple[Pin, ...] = ()
    cuts: tuple[Cut, ...] = ()
    licences: tuple[Licence, ...] = ()
    readings: tuple[Reading, ...] = ()
    variants: tuple[Variant, ...] = ()
    """What witnesses have for notes of the given line, in its order."""
    fingers: tuple[Fingers, ...] = ()
    ossias: tuple[Ossia, ...] = ()
    provenance: Provenance = NOTHING_SAID
    playing: tuple[Playing, ...] = ()
    """Recordings of one's own playing."""
    from_start: tuple[str, ...] = ()
    """Voices that sound from the first note on, without having had the line."""
    intro: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    headings: Mapping[str, Span] = field(default_factory=dict, compare=False)
    """Where each heading of `words` stands."""
    lost: tuple[Loss, ...] = ()
    """What a MusicXML or MEI file has beyond this."""
    unmoved: Verset | None = field(default=None, compare=False, repr=False)
    """The verset at its written pitch, where this one is at another."""

    @property
    def end(self) -> Fraction:
        return self.bars[-1].end

    @property
    def moved_by(self) -> Interval:
        """How far it stands above its written pitch."""
        if self.unmoved is None:
            return Interval(0, 0)
        first, written = (next(g.note.pitch for g in v.given if g.note.pitch) for v in (self, self.unmoved))
        return Interval(first.diatonic - written.diatonic, first.midi - written.midi)

    def place(self, onset: Fraction) -> Place:
        return place(self.bars, self.metre, onset)

    @property
    def voices(self) -> tuple[str, ...]:
        """The voices that take the given line or sound from the start, from the highest to the lowest."""
        heard = {g.voice for g in self.given} | {*self.from_start}
        return tuple(v for v in VOICES if v in heard)

    def given_at(self, time: Fraction) -> GivenNote | None:
        """The given note or rest at a time."""
        n = bisect_right(self.given, time, key=lambda g: g.note.onset) - 1
        return self.given[n] if n >= 0 and time < self.given[n].note.end else None

    def above(self, time: Fraction) -> tuple[str, ...]:
        """The voices that sound above the given line at a time: those that have entered and lie
        higher than the voice that has the line; none while the line rests."""
        now = self.given_at(time)
        if now is None or now.note.pitch is None:
            return ()
        entered = {g.voice for g in self.given if g.note.onset <= time and g.note.pitch}
        entered |= {*self.from_start}
        return tuple(v for v in VOICES[: VOICES.index(now.voice)] if v in entered)

    def lemma(self, variant: Variant) -> tuple[GivenNote, ...]:
        """The notes and rests of the given line that a variant stands for."""
        return tuple(g for g in self.given if variant.start <= g.note.onset < variant.end)

    @property
    def figures(self) -> tuple[Figure, ...]:
        return tuple(f for g in self.given for f in g.figures)

    @property
    def beside(self) -> tuple[GivenNote, ...]:
        """What the source has at once with the line: notes of a voice above it, in the line's clef."""
        found = []
        for pin in self.pins:
            for n, note in enumerate(pin.notes if pin.beside else ()):
                line = self.given_at(note.onset)
                if note.pitch and line:
                    span = pin.spans[n] if n < len(pin.spans) else NOWHERE
                    found.append(GivenNote(note, pin.voice, line.clef, (), span))
        return tuple(found)

    def score(self) -> Score:
        """What the source has: the given line, each stretch in the part of the voice that has it, and what
        stands beside it."""
        written = sorted((*self.given, *self.beside), key=lambda g: g.note.onset)
        parts = tuple(
            Part(v, tuple(g.note for g in written if g.voice == v and g.note.pitch)) for v in self.voices
        )
        return Score(self.title, Version.GIVEN, self.metre, self.signature, self.bars, parts, self.figures)
