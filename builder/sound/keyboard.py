"""The keyboard: what a player takes instead of a key that is not there."""

from __future__ import annotations

from builder.music import Pitch
from builder.music.keyboard import SHORT_OCTAVE_LACKS


def played_key(pitch: Pitch, short_octave: bool = False) -> Pitch:
    """The pitch that is played: itself or, where a short octave (C/E) has no key for it, its octave.

    >>> played_key(Pitch.parse("F#2"), short_octave=True), played_key(Pitch.parse("F#2"))
    (Pitch('F#3'), Pitch('F#2'))
    """
    if short_octave and pitch.midi in SHORT_OCTAVE_LACKS:
        return Pitch(pitch.diatonic + 7, pitch.alter)
    return pitch
