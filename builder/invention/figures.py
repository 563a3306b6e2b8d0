"""Figures over a drawn line: how likely each sonority is over a note was learned from the masters' basses;
what nothing prepares is left out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from random import Random

from builder.invention.melody import learned
from builder.music import Figure, Interval, Pitch, Signature

PASSING, PLAIN, SIXTH, FOURTH, SEVENTH, FIFTH_SIXTH = "passing", "5", "6", "4 3", "7 6", "5 6"
DOUBLE = "5/3 6/4 5/4 5/3"
"""The four sonorities of the double cadence."""
SONORITIES = (PLAIN, SIXTH, FOURTH, SEVENTH, FIFTH_SIXTH, PASSING)
"""What may stand over a note: third and fifth; sixth; fourth or seventh held over and falling; fifth and then
sixth; nothing new, since the note only passes."""
_STACKS = {
    PLAIN: ((0, 2, 4),),
    SIXTH: ((0, 2, 5),),
    FOURTH: ((0, 3, 4), (0, 2, 4)),
    SEVENTH: ((0, 2, 6), (0, 2, 5)),
    FIFTH_SIXTH: ((0, 2, 4), (0, 2, 5)),
}
_HALVED = (FOURTH, SEVENTH, FIFTH_SIXTH)
CLOSING = 4.0
"""How much likelier a seventh that falls is where the theme closes a step lower."""
DRAWN_SEVENTH = 0.2
"""How often a seventh that is drawn stands where the learned chance would have it: what must be prepared is
likelier among the ways of a short line than in the masters' lines, and closes bring sevenths of their own."""
_HELD = {FOURTH: 3, SEVENTH: 6}
"""The tone that must sound before, in staff steps above the bass."""


@dataclass(frozen=True, slots=True)
class Bass:
    """A note of the line as its figures see it: pitch, length in quarter notes, metrical weight, what must
    stand over it (empty: it is drawn), and whether a leading note is raised in it; `closes`: whether the
    theme closes behind it, a step lower."""

    pitch: Pitch
    length: Fraction
    weight: int
    fixed: str = ""
    raised: bool = False
    closes: bool = False

    def with_fixed(self, sonority: str) -> Bass:
        """The same note, with what must stand over it."""
        return replace(self, fixed=sonority)


def features(
    before: int | None, after: int | None, length: Fraction, weight: int, place: str
) -> tuple[str, ...]:
    """What the chance of a sonority depends on: the moves to and from the note (staff steps; None: there is
    no note), its length and weight, and what stands a step and a fifth above (`place`).

    >>> features(-1, 1, Fraction(2), 3, "mi")
    ('bias', 'to -1', 'from 1', 'to -1 from 1', 'long 2', 'weight 3', 'place mi', 'place mi from 1')
    """
    to, on = _size(before), _size(after)
    size = "short" if length < 1 else "1" if length < 2 else "2" if length < 4 else "4"
    return (
        "bias",
        f"to {to}",
        f"from {on}",
        f"to {to} from {on}",
        f"long {size}",
        f"weight {weight}",
        f"place {place}",
        f"place {place} from {on}",
    )


def _size(move: int | None) -> str:
    return "none" if move is None else str(max(-4, min(4, move)))


def place_of(pitch: Pitch, signature: Signature) -> str:
    """What the signature has over a note: `false` (no perfect fifth), `mi` (a semitone above), `fa` (a
    semitone below), `other`.

    >>> [place_of(Pitch.parse(name), Signature()) for name in ("B3", "E3", "F3", "D3")]
    ['false', 'mi', 'fa', 'other']
    """
    if Interval.between(pitch, signature.pitch(pitch.diatonic + 4)).semitones != 7:
        return "false"
    if Interval.between(pitch, signature.pitch(pitch.diatonic + 1)).semitones == 1:
        return "mi"
    below = Interval.between(signature.pitch(pitch.diatonic - 1), pitch).semitones
    return "fa" if below == 1 else "other"


@cache
def _weights(above: int) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = learned()["figures"][str(above)]
    return found


def chance(sonority: str, found: Sequence[str], above: int) -> float:
    """How much a sonority weighs beside the others over a note with these features, under so many voices."""
    table = _weights(above).get(sonority, {})
    return math.exp(sum(table.get(feature, 0.0) for feature in found))


def sonorities(
    notes: Sequence[Bass],
    above: int,
    signature: Signature,
    dice: Random,
    *,
    sounding: frozenset[Pitch] | None = None,
) -> tuple[str, ...] | None:
    """A sonority for each note, drawn; None where what is fixed cannot be prepared. `sounding`: the tones
    (octave 4) that sound before the first note, where that is known."""
    rows = [_possible(notes, n, above, signature) for n in range(len(notes))]
    if sounding is not None:
        rows[0] = {s: w for s, w in rows[0].items() if _prepared(notes[0], s, sounding, signature)}
    onward: list[dict[str, float]] = [dict.fromkeys(rows[-1], 1.0)]
    for n in range(len(notes) - 2, -1, -1):
        ways = {}
        for s in rows[n]:
            after = {
                t: w * onward[0][t]
                for t, w in rows[n + 1].items()
                if _joins(notes, n, s, t, signature, above)
            }
            ways[s] = sum(after.values())
        onward.insert(0, ways)
    found: list[str] = []
    for n, row in enumerate(rows):
        weights = {
            s: w * onward[n][s]
            for s, w in row.items()
            if not n or _joins(notes, n - 1, found[-1], s, signature, above)
        }
        if not sum(weights.values()):
            return None
        found.append(dice.choices(list(weights), list(weights.values()))[0])
    return tuple(found)


def _possible(notes: Sequence[Bass], n: int, above: int, signature: Signature) -> dict[str, float]:
    """What may stand over a note, whatever stands before it, with its weight."""
    note = notes[n]
    if note.fixed:
        return {note.fixed: 1.0}
    before = note.pitch.diatonic - notes[n - 1].pitch.diatonic if n else None
    after = notes[n + 1].pitch.diatonic - note.pitch.diatonic if n + 1 < len(notes) else None
    place = place_of(note.pitch, signature)
    seen = features(before, after, note.length, note.weight, place)
    row = {}
    for s in SONORITIES:
        passes = note.weight < 1 and note.length < 1 and before in (-1, 1) and after in (-1, 1)
        if (s == PASSING) != passes:
            continue
        shortest = 1 if note.closes and s == SEVENTH else 2
        if s in _HALVED and (note.length < shortest or note.length == 3 or note.weight < 1):
            continue
        if s in (PLAIN, FIFTH_SIXTH, FOURTH) and place == "false":
            continue
        fourth = Interval.between(note.pitch, signature.pitch(note.pitch.diatonic + 3)).semitones
        if s == FOURTH and fourth != 5:
            continue
        falls = (CLOSING if note.closes else DRAWN_SEVENTH) if s == SEVENTH else 1
        row[s] = chance(s, seen, above) * falls
    return row


def tones(note: Bass, sonority: str, signature: Signature, above: int = 3) -> frozenset[Pitch]:
    """The tones (in octave 4) of the last part of a sonority over a note; of a sixth under one voice the
    sixth alone.

    >>> c = Bass(Pitch.parse("C3"), Fraction(2), 3)
    >>> sorted(str(p) for p in tones(c, SEVENTH, Signature()))
    ['A4', 'C4', 'E4']
    """
    stack: tuple[int, ...] = _STACKS.get(sonority, ((0,),))[-1]
    if above == 1 and 5 in stack:
        stack = 0, 5
    found = [note.pitch, *(signature.pitch(note.pitch.diatonic + n) for n in stack[1:])]
    return frozenset(pitch_class(p) for p in found)


def sonority_of(figures: Sequence[Figure]) -> str | None:
    """Which of the sonorities a note's figures are; None: another one.

    >>> from builder.music import FigureSign
    >>> sonority_of(()), sonority_of((Figure(Fraction(0), Fraction(1), (FigureSign(6),)),))
    ('5', '6')
    """
    numbers = [{s.number for s in f.signs} for f in figures]
    if not figures:
        return PLAIN
    if figures[0].dash:
        return PASSING
    first, last = numbers[0], numbers[-1]
    if len(numbers) == 1:
        return PLAIN if first <= {3, 5, 8} else SIXTH if first <= {3, 6, 8} else None
    if 4 in first and 6 not in first and 2 not in first and last <= {3, 5, 8}:
        return FOURTH
    if 7 in first and 6 in last:
        return SEVENTH
    if first <= {3, 5, 8} and 6 in last and 5 not in last:
        return FIFTH_SIXTH
    return None


def pitch_class(pitch: Pitch) -> Pitch:
    """The tone in octave 4."""
    return Pitch(28 + pitch.step, pitch.alter)


def _prepared(note: Bass, sonority: str, before: frozenset[Pitch], signature: Signature) -> bool:
    held = _HELD.get(sonority)
    if held is None:
        return True
    tone = signature.pitch(note.pitch.diatonic + held)
    return pitch_class(tone) in before


def _joins(
    notes: Sequence[Bass], n: int, sonority: str, following: str, signature: Signature, above: int
) -> bool:
    """Whether one sonority may follow another: what is held over sounds before, and a leading note finds its
    octave."""
    if sonority == PASSING and n:
        return following not in _HELD
    if notes[n].closes and sonority in (SIXTH, SEVENTH) and following not in (PLAIN, FIFTH_SIXTH):
        return False
    return _prepared(notes[n + 1], following, tones(notes[n], sonority, signature, above), signature)


def written_figures(note: Bass, sonority: str, signature: Signature) -> str:
    """The figures of a sonority as a source writes them, in braces; empty for third and fifth.

    >>> a = Bass(Pitch.parse("A2"), Fraction(2), 3, raised=True)
    >>> written_figures(a, FOURTH, Signature()), written_figures(a, PLAIN, Signature())
    ('{4 #}', '{#}')
    """
    third = _sign(note, 2, 4, signature) if note.raised and not note.closes else ""
    sixth = _sign(note, 5, 9, signature) if note.raised else ""
    body = {
        PLAIN: third,
        SIXTH: f"{sixth}6",
        FOURTH: f"4 {third or 3}",
        SEVENTH: f"7 {sixth}6",
        FIFTH_SIXTH: "5 6",
        PASSING: "-" if note.length >= 1 else "",
    }.get(sonority, sonority)
    return f"{{{body}}}" if body else ""


def _sign(note: Bass, step: int, semitones: int, signature: Signature) -> str:
    """The sign that makes a tone above the bass major; empty where it is so."""
    tone = signature.pitch(note.pitch.diatonic + step)
    if Interval.between(note.pitch, tone).semitones >= semitones:
        return ""
    return "n" if tone.alter < 0 else "#"
