"""The given line as it is heard: ties joined, rests turned into breaks between phrases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from builder.music import VOICES, Clef, Figure, Metre, Part, Pitch, Version, metrical_weight
from builder.source import Verset


@dataclass(frozen=True, slots=True)
class Sung:
    """One note of the given line as heard. Times are in quarter notes.

    `after_rest`: silence stands before it (or nothing); `before_rest`: silence follows it, or the
    verset ends. `above` names the voices that sound over it.
    """

    onset: Fraction
    duration: Fraction
    pitch: Pitch
    voice: str
    clef: Clef
    editorial: bool
    figures: tuple[Figure, ...]
    above: tuple[str, ...]
    after_rest: bool = False
    before_rest: bool = False

    @property
    def end(self) -> Fraction:
        return self.onset + self.duration


Run = tuple[Sung, ...]
"""Notes of one voice that follow one another."""


def heard(verset: Verset) -> tuple[Sung, ...]:
    """The notes of the given line, ties joined, with the figures over each."""
    notes: list[Sung] = []
    tied = False
    for given in verset.given:
        note = given.note
        if note.pitch is None:
            tied = False
            continue
        last = notes[-1] if notes else None
        held = tied and last and last.pitch == note.pitch and last.voice == given.voice
        if held and last and last.end == note.onset:
            notes[-1] = replace(
                last, duration=last.duration + note.duration, figures=last.figures + given.figures
            )
        else:
            breaks = last is None or last.end < note.onset
            if breaks and last:
                notes[-1] = replace(last, before_rest=True)
            notes.append(
                Sung(
                    note.onset,
                    note.duration,
                    note.pitch,
                    given.voice,
                    given.clef,
                    note.editorial,
                    given.figures,
                    verset.above(note.onset),
                    after_rest=breaks,
                )
            )
        tied = note.tied
    if notes:
        notes[-1] = replace(notes[-1], before_rest=True)
    return tuple(notes)


def stretches(notes: Run) -> tuple[Run, ...]:
    """The line cut where another voice takes it."""
    return tuple(tuple(group) for _, group in groupby(notes, key=lambda n: n.voice))


def pinned_runs(verset: Verset, line: Sequence[Sung]) -> tuple[Run, ...]:
    """What is pinned above the line in the plain version: for each voice the notes that follow one
    another without a gap, ties joined, in the clef that the voice has in the line."""
    clefs = {n.voice: n.clef for n in reversed(line)}
    runs: list[Run] = []
    for voice in VOICES:
        pinned = Part(
            voice,
            tuple(n for p in verset.pins for n in p.notes if (p.version, p.voice) == (Version.PLAIN, voice)),
        )
        notes = [
            Sung(n.onset, n.duration, n.pitch, voice, clefs[voice], n.editorial, (), ())
            for n in replace(pinned, notes=tuple(sorted(pinned.notes, key=lambda n: n.onset))).sounding()
            if n.pitch is not None and voice in clefs
        ]
        cuts = [0, *(n for n in range(1, len(notes)) if notes[n].onset > notes[n - 1].end), len(notes)]
        for start, end in pairwise(cuts):
            run = notes[start:end]
            if run:
                run[0] = replace(run[0], after_rest=True)
                run[-1] = replace(run[-1], before_rest=True)
                runs.append(tuple(run))
    return tuple(runs)


def rises(before: Sung, after: Sung) -> bool:
    """Whether the line goes back up to a higher voice: the lower voices fall silent."""
    return VOICES.index(after.voice) < VOICES.index(before.voice)


def long_value(metre: Metre) -> Fraction:
    """The value that counts as a point of rest: half a bar, or two beats of triple time.

    >>> long_value(Metre.parse("C")), long_value(Metre.parse("3/2"))
    (Fraction(2, 1), Fraction(4, 1))
    """
    return metre.bar / 2 if metre.count % 2 == 0 else min(2 * metre.beat, metre.bar)


def weight_of(verset: Verset, onset: Fraction) -> int:
    """Metrical weight of a time (quarter notes) in a verset, as `Metre.weight`: 3 on the first beat of a bar,
    2 in its middle, 1 on its other beats, 0 between them.

    >>> from builder.source import EXAMPLE, parse
    >>> [weight_of(parse(EXAMPLE), Fraction(n, 2)) for n in range(9)]
    [3, 0, 1, 0, 2, 0, 1, 0, 3]
    """
    return metrical_weight(verset.bars, verset.metre, onset)
