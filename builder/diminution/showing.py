"""A pattern set out as a little score, for a page that shows the tables."""

from __future__ import annotations

from fractions import Fraction

from builder.diminution.pattern import Pattern
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version

MIDDLE = Pitch.parse("B4")
"""Around here an example lies well on one stave."""


def shown(pattern: Pattern, start: Pitch | None = None, signature: Signature | None = None) -> Score:
    """The pattern over the plain notes it stands for: cantus diminished, altus the plain notes an
    octave below, in one bar for the pattern and one for the note it goes to.

    Without `start` the example is laid around the middle of the treble stave.

    >>> from builder.diminution import patterns
    >>> score = shown(next(p for p in patterns() if p.id == "second-up-turn-1/half"))
    >>> [str(n.pitch) for n in score.part("cantus").notes]
    ['B4', 'A4', 'B4', 'C5']
    """
    signature = signature or Signature()
    if start is None:
        span = (*pattern.steps, pattern.interval or 0)
        start = signature.pitch(MIDDLE.diatonic - (max(span) + min(span)) // 2)
    notes = pattern.example(start, signature)
    below = [Pitch(p.diatonic - 7, p.alter) for p in (start, notes[-1].pitch) if p is not None]
    plain = tuple(Note(k * pattern.value, pattern.value, pitch) for k, pitch in enumerate(below))
    metre = Metre.parse("3/2" if pattern.value.numerator % 3 == 0 else "C|")
    bars = (Bar(1, Fraction(0), pattern.value), Bar(2, pattern.value, pattern.value))
    parts = Part("cantus", notes), Part("altus", plain)
    return Score(pattern.id, Version.DIMINISHED, metre, signature, bars, parts)
