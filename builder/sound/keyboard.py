"""The keyboard: which keys there are, and what a player takes instead of one that is not."""

from __future__ import annotations

from fractions import Fraction

from builder.music import Pitch, Score, place
from builder.sound.ranks import HIGH_KEY, LOW_KEY, SHORT_OCTAVE_LACKS


def played_key(pitch: Pitch, short_octave: bool = False) -> Pitch:
    """The pitch that is played: itself or, where a short octave (C/E) has no key for it, its octave.

    >>> played_key(Pitch.parse("F#2"), short_octave=True), played_key(Pitch.parse("F#2"))
    (Pitch('F#3'), Pitch('F#2'))
    """
    if short_octave and pitch.midi in SHORT_OCTAVE_LACKS:
        return Pitch(pitch.diatonic + 7, pitch.alter)
    return pitch


def keyboard_warnings(score: Score, short_octave: bool = False) -> tuple[str, ...]:
    """Notes that the keyboard (C2 to C6) has no key for, with bar and beat, in order of time."""
    found: list[tuple[Fraction, str]] = []
    for part in score.parts:
        for note in part.sounding():
            if note.pitch is None:
                continue
            where = f"{place(score.bars, score.metre, note.onset)}, {part.voice}"
            if not LOW_KEY <= note.pitch.midi <= HIGH_KEY:
                text = f"{where}: {note.pitch} lies off the keyboard (C2 to C6) and is silent"
                found.append((note.onset, f"{text}; transpose, or write another octave"))
            elif played_key(note.pitch, short_octave) != note.pitch:
                text = f"{where}: a short octave has no {note.pitch}; {played_key(note.pitch, True)} sounds"
                found.append((note.onset, f"{text}; take the octave in another voice, or a full keyboard"))
    return tuple(text for _, text in sorted(found))
