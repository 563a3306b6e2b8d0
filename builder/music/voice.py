"""Voices, clefs and signatures."""

from __future__ import annotations

from dataclasses import dataclass

from builder.music.keyboard import LOWEST_KEY
from builder.music.pitch import STEPS, Pitch

VOICES = ("cantus", "altus", "tenor", "bassus")
"""From the highest to the lowest."""

WRITTEN: dict[str, tuple[Pitch, Pitch]] = {
    "cantus": (Pitch.parse("B3"), Pitch.parse("E5")),
    "altus": (Pitch.parse("E3"), Pitch.parse("A4")),
    "tenor": (Pitch.parse("C3"), Pitch.parse("F4")),
    "bassus": (Pitch.parse("F2"), Pitch.parse("B3")),
}
"""Written compass in the natural clefs: the stave and about one step (common practice)."""

KEYBOARD: dict[str, tuple[Pitch, Pitch]] = {
    "cantus": (Pitch.parse("G3"), Pitch.parse("A5")),
    "altus": (Pitch.parse("D3"), Pitch.parse("D5")),
    "tenor": (Pitch.parse("A2"), Pitch.parse("A4")),
    "bassus": (LOWEST_KEY, Pitch.parse("D4")),
}
"""How far a voice may go in a realisation at the keyboard (common practice)."""

_LINE_OF = {"G": 32, "C": 28, "F": 24}


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: its letter and the line it names, counted from below.

    >>> Clef.parse("C1").bottom
    Pitch('C4')
    >>> Clef.parse("F4").bottom
    Pitch('G2')
    """

    letter: str
    line: int

    @classmethod
    def parse(cls, text: str) -> Clef:
        """Read `C1`, `G2`, `F4` …; `ValueError` when it is not a clef."""
        if len(text) == 2 and text[0] in _LINE_OF and text[1] in "12345":
            return cls(text[0], int(text[1]))
        raise ValueError(f"{text!r} is not a clef such as C1, C3, C4, F4 or G2")

    @property
    def bottom(self) -> Pitch:
        """The natural pitch on the lowest line."""
        return Pitch(_LINE_OF[self.letter] - 2 * (self.line - 1))

    @property
    def compass(self) -> tuple[Pitch, Pitch]:
        """What the stave holds without ledger lines, with one ledger line of tolerance each way; an F clef
        goes down to the lowest key of the organ.

        >>> [str(p) for p in Clef.parse("F4").compass]
        ['C2', 'D4']
        """
        low = self.bottom.diatonic
        return LOWEST_KEY if self.letter == "F" else Pitch(low - 3), Pitch(low + 11)

    @property
    def name(self) -> str:
        return f"{self.letter}{self.line}"

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class Signature:
    """A key signature as the accidentals it writes, in order.

    >>> Signature.parse("Bb").alter(6), Signature.parse("none").fifths
    (-1, 0)
    """

    accidentals: tuple[str, ...] = ()

    @classmethod
    def parse(cls, text: str) -> Signature:
        """Read `none` or accidentals such as `Bb` or `F# C#`; `ValueError` otherwise."""
        if text == "none":
            return cls()
        found = tuple(text.split())
        count = len(found)
        if found and found in (tuple(_FLATS[:count]), tuple(_SHARPS[:count])):
            return cls(found)
        raise ValueError(f"{text!r} is not a signature such as none, Bb or F#")

    @classmethod
    def of_fifths(cls, fifths: int) -> Signature:
        """The signature of so many sharps, or of so many flats below nought.

        >>> str(Signature.of_fifths(-2)), str(Signature.of_fifths(1))
        ('Bb Eb', 'F#')
        """
        return cls((_FLATS if fifths < 0 else _SHARPS)[: abs(fifths)])

    @property
    def fifths(self) -> int:
        """Sharps counted upwards, flats downwards."""
        return sum(1 if a.endswith("#") else -1 for a in self.accidentals)

    def alter(self, step: int) -> int:
        """What the signature does to a step (0 for C to 6 for B), in semitones."""
        for accidental in self.accidentals:
            if accidental[0] == STEPS[step]:
                return 1 if accidental.endswith("#") else -1
        return 0

    def pitch(self, diatonic: int) -> Pitch:
        """The pitch that the signature gives on a staff step."""
        return Pitch(diatonic, self.alter(diatonic % 7))

    def __str__(self) -> str:
        return " ".join(self.accidentals) or "none"


_FLATS = ("Bb", "Eb", "Ab", "Db", "Gb", "Cb", "Fb")
_SHARPS = ("F#", "C#", "G#", "D#", "A#", "E#", "B#")
