"""The eight tones as used at the organ.

The table (north Italy, 17th century) and the reciting notes of the psalm tones are from memory of the
general literature. Sources differ, mostly about the third, fifth and seventh: where they do, a tone
has several forms, ours first.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from builder.music import Interval, Pitch

_FIFTH = Interval(4, 7)
_FOURTH = Interval(3, 5)


@dataclass(frozen=True, slots=True)
class Form:
    """Where a tone stands: its final, where its versets close, its signature, its reciting note, the
    letters on which entries begin, and its usual cadences, the chief one first."""

    final: str
    close: str
    signature: str
    reciting: str
    entries: tuple[str, ...]
    cadences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone: its number and its forms, ours first."""

    number: int
    forms: tuple[Form, ...]

    @property
    def kind(self) -> str:
        """`authentic` or `plagal`: its melodies lie above the final, or on both sides of it.

        >>> [tone.kind for tone in TONES[:2]]
        ['authentic', 'plagal']
        """
        return "authentic" if self.number % 2 else "plagal"


@cache
def moved(name: str, fifths: int) -> str:
    """A letter moved by fifths, upwards when positive.

    >>> moved("D", -1), moved("F", 1), moved("Bb", 2)
    ('G', 'C', 'C')
    """
    pitch = Pitch.parse(f"{name}4")
    for _ in range(abs(fifths)):
        pitch = pitch.up(_FIFTH if fifths > 0 else _FOURTH)
    return pitch.letter


def _form(final: str, signature: str, reciting: str, cadences: str, close: str = "") -> Form:
    return Form(final, close or final, signature, reciting, (final, moved(final, 1)), tuple(cadences.split()))


TONES = (
    Tone(1, (_form("D", "none", "A", "D A F"),)),
    Tone(2, (_form("G", "Bb", "Bb", "G D Bb"),)),
    Tone(3, (_form("A", "none", "C", "A E C", close="E"), _form("E", "none", "C", "E A C"))),
    Tone(4, (_form("E", "none", "A", "E A G"),)),
    Tone(5, (_form("C", "none", "G", "C G E"), _form("F", "none", "C", "F C A"))),
    Tone(6, (_form("F", "Bb", "A", "F C A"), _form("F", "none", "A", "F C A"))),
    Tone(
        7,
        (
            _form("D", "Bb", "G", "D A F"),
            _form("A", "none", "D", "A E C"),
            _form("E", "F#", "A", "E B G"),
            _form("G", "none", "D", "G D C"),
        ),
    ),
    Tone(8, (_form("G", "none", "C", "G C D"),)),
)
