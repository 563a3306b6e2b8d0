"""Which accidentals are written: the rule of the bar.

An accidental holds for its line or space until the end of the bar; a note held over the barline
needs none. A sign is repeated as a reminder where the bar before, or another octave of the same
bar, had a different one (common practice, no source). An editorial accidental stands in brackets
before its own note, so that it belongs to no other voice of the stave, and holds for no other note.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from builder.music import Note, Signature


@dataclass(frozen=True, slots=True)
class Sign:
    """An accidental to be written. `kind`: `plain`, `reminder` or `editorial`."""

    alter: int
    kind: str


def signs(
    bars: Sequence[Iterable[Note]], signature: Signature, continued: frozenset[str]
) -> Mapping[str, Sign]:
    """The accidentals of one stave by note id. `bars` holds the notes of all voices on the stave,
    bar by bar; `continued` the ids of notes that are held from the note before.

    >>> from fractions import Fraction as F
    >>> from builder.music import Pitch
    >>> row = [Note(F(n), F(1), Pitch.parse(p), id=str(n)) for n, p in enumerate(("F#4", "F#4", "F4"))]
    >>> {id: sign.alter for id, sign in signs([row], Signature(), frozenset()).items()}
    {'0': 1, '2': 0}
    """
    found: dict[str, Sign] = {}
    before: dict[int, int] = {}
    for bar in bars:
        now: dict[int, int] = {}
        held: dict[int, int] = {}
        supplied: dict[int, int] = {}
        for note in sorted(bar, key=lambda n: n.onset):
            if note.pitch is None:
                continue
            line, alter = note.pitch.diatonic, note.pitch.alter
            usual = signature.alter(line % 7)
            if note.id in continued:
                if alter != usual:
                    held[line] = alter
            elif note.editorial:
                found[note.id] = Sign(alter, "editorial")
                supplied[line] = alter
            elif alter != now.get(line, usual):
                found[note.id] = Sign(alter, "plain")
                now[line] = alter
            elif line not in now and _doubtful(line, alter, now, supplied | held, before):
                found[note.id] = Sign(alter, "reminder")
                now[line] = alter
        heard = supplied | held | now
        before = {line: alter for line, alter in heard.items() if alter != signature.alter(line % 7)}
    return found


def _doubtful(
    line: int, alter: int, now: Mapping[int, int], held: Mapping[int, int], before: Mapping[int, int]
) -> bool:
    """Whether a reader may still have another sign for this note in mind."""
    octaves = any(other % 7 == line % 7 and sign != alter for other, sign in now.items())
    return octaves or held.get(line, alter) != alter or before.get(line, alter) != alter
