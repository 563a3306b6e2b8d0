"""Accidentals in force: how long an accidental of the given line is remembered, and what it leaves in doubt.

It holds until it is contradicted, within the phrase. A sharp that has risen its semitone has done its duty
at the end of its bar. (Common practice. In the even-numbered chorales of J. S. Bach in music21's corpus the
other voices keep the altered form in the next bar 74 times in 95 where the bass did not resolve it, and one
time in two where it did, so that a note is made of what comes from another bar.)
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from builder.counterpoint.figured_bass.accidentals import expected
from builder.counterpoint.figured_bass.beats import Beats
from builder.counterpoint.figured_bass.sonority import Variant
from builder.music import Figure, Pitch, Signature
from builder.source import Verset
from builder.source.verset import GivenNote


@dataclass(frozen=True, slots=True)
class Force:
    """What is in force over one given note."""

    alters: tuple[tuple[int, int], ...] = ()
    """Letters altered against the signature: step (0 C to 6 B), alteration."""
    distant: frozenset[int] = frozenset()
    """Those that were altered in an earlier bar."""

    def over(self, bass: Pitch, number: int, signature: Signature) -> Pitch:
        """The tone that a number has over a bass note."""
        diatonic = bass.diatonic + number - 1
        return Pitch(diatonic, dict(self.alters).get(diatonic % 7, signature.alter(diatonic % 7)))


class Doubt(NamedTuple):
    """A tone that another reader might alter otherwise."""

    step: int
    alter: int
    other: int
    """How the other reader would alter it."""
    why: str
    """`line`: the given line altered it in an earlier bar; `interval`: the figure gives an odd interval."""


class _Altered(NamedTuple):
    alter: int
    bar: int
    spent: bool
    """A sharp that rises to its goal at once."""


def in_force(verset: Verset, beats: Beats, closes: Collection[Fraction]) -> list[Force]:
    """What is in force over every sounding note of the given line, in time.

    `closes`: onsets of the notes that end a phrase.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE.replace("B4/4 A4", "Bb4/4 A4"))
    >>> [force.alters for force in in_force(verset, Beats(verset), ())][3:6]
    [(), ((6, -1),), ((6, -1),)]
    """
    line = [g for g in verset.given if g.note.pitch is not None]
    pitches = [g.note.pitch for g in line if g.note.pitch is not None]
    signature, figured = verset.signature, bool(verset.figures)
    found: list[Force] = []
    now: dict[int, _Altered] = {}
    for n, (given, pitch) in enumerate(zip(line, pitches)):
        bar = beats.bar(given.note.onset).number
        before = line[n - 1].note if n else given.note
        if n and (before.end < given.note.onset or before.onset in closes):
            now = {}
        now = {step: a for step, a in now.items() if not a.spent or a.bar == bar}
        after = pitches[n + 1] if n + 1 < len(line) else None
        own = signature.alter(pitch.step)
        now.pop(pitch.step, None)
        if pitch.alter != own:
            spent = pitch.alter > own and after is not None and after.diatonic - pitch.diatonic == 1
            now[pitch.step] = _Altered(pitch.alter, bar, spent)
        here = {step: a.alter for step, a in now.items()}
        coming = () if figured or after is None or after.step == pitch.step else (after,)
        for tone in coming:
            # Without figures, which would say so, the next note tells as well.
            if tone.alter != signature.alter(tone.step):
                here.setdefault(tone.step, tone.alter)
        far = frozenset(step for step, a in now.items() if a.bar != bar)
        found.append(Force(tuple(sorted(here.items())), far))
        for step in _signed(given, pitch):
            now.pop(step, None)
    return found


def _signed(given: GivenNote, bass: Pitch) -> Iterator[int]:
    """Letters that a sign over a note contradicts or confirms: the line's accidental is then forgotten."""
    for figure in given.figures:
        for sign in figure.signs:
            step = (bass.diatonic + sign.number - 1) % 7
            if sign.sign and step != bass.step:
                yield step


def doubts(
    bass: Pitch, figure: Figure | None, variant: Variant, force: Force, signature: Signature
) -> Iterator[Doubt]:
    """What a sonority leaves in doubt."""
    signs = {(s.number - 1) % 7 for s in figure.signs if s.sign} if figure else set()
    altered = dict(force.alters)
    for member in variant.members:
        step = (bass.diatonic + member.offset) % 7
        if member.offset in signs or step == bass.step:
            continue
        own = signature.alter(step)
        if member.number in variant.doubts:
            yield Doubt(step, member.alter, expected(bass, member.number, member.alter), "interval")
        elif step in force.distant and member.alter == altered[step]:
            yield Doubt(step, member.alter, own, "line")
