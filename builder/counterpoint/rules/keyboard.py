"""Rules of the instrument: what two hands reach, what the keyboard has, where its tuning howls."""

from __future__ import annotations

from functools import lru_cache

from builder.counterpoint.rules.rule import ALWAYS_ERROR, ALWAYS_WARNING, Rule, Tone, Truth
from builder.music import Pitch, read_tuning
from builder.music.temperament import TUNINGS, Tuning

COMMON = "common practice, no source"
PENNA = "L. Penna, Li primi albori musicali (1672), book III (from memory)"
BARBOUR = "J. M. Barbour, Tuning and Temperament (1951)"

LOWEST, HIGHEST = Pitch.parse("C2").midi, Pitch.parse("C6").midi
SHORT = frozenset(Pitch.parse(p).midi for p in ("C#2", "D#2", "F#2", "G#2"))
"""Keys that a short octave (C/E) does not have."""


@lru_cache(maxsize=64)
def scale(tuning: str) -> Tuning:
    """The tuning that words ask for; quarter-comma when they are empty or not understood (the source's
    reader has told so).

    >>> scale("sixth-comma").title
    'Sixth-comma meantone'
    """
    try:
        return read_tuning(tuning)
    except ValueError:
        return TUNINGS["quarter-comma"]


def off_keyboard(tone: Tone) -> Truth:
    """Below C2 or above C6."""
    return (tone.m < LOWEST) | (tone.m > HIGHEST)


def short_octave(tone: Tone) -> Truth:
    """One of the four keys that a short octave leaves out."""
    return (tone.m == 37) | (tone.m == 39) | (tone.m == 42) | (tone.m == 44)


def ninth(span: Truth) -> Truth:
    """A hand stretched to a tenth: span in staff steps."""
    return span == 9


def beyond_tenth(span: Truth) -> Truth:
    return span > 9


KEYBOARD_RULES = (
    Rule(
        "off-keyboard",
        "Note off the keyboard",
        "The keyboard goes from great C to three-line C.",
        "Bring the note in by an octave.",
        COMMON,
        "keyboard",
        ALWAYS_ERROR,
        "bassus B1/1",
        "bassus B2/1",
        off_keyboard,
    ),
    Rule(
        "short-octave",
        "Note that a short octave lacks",
        "A short octave has no C sharp, D sharp, F sharp or G sharp in its lowest octave.",
        "Take the note an octave higher.",
        COMMON,
        "keyboard",
        ALWAYS_WARNING,
        "bassus F#2/1",
        "bassus F#3/1",
        short_octave,
    ),
    Rule(
        "hand-stretch",
        "Hand stretched to a tenth",
        "A hand takes an octave with ease and a ninth at need.",
        "Bring the voices nearer, or give a note to the other hand.",
        PENNA,
        "hands",
        ALWAYS_WARNING,
        "cantus E5/1\naltus C4/1\ntenor C3/1\nbassus C2/1",
        "cantus E5/1\naltus G4/1\ntenor C3/1\nbassus C2/1",
        ninth,
    ),
    Rule(
        "out-of-reach",
        "More than two hands can take",
        "No hand reaches further than a tenth: these notes cannot be played together.",
        "Bring the inner voices nearer to one of the hands.",
        PENNA,
        "hands",
        ALWAYS_ERROR,
        "cantus G5/1\naltus C4/1\nbassus C2/1",
        "cantus C5/1\naltus C4/1\nbassus C2/1",
        beyond_tenth,
    ),
    Rule(
        "not-in-tuning",
        "Note that the tuning does not have",
        "In this tuning the key sounds another note: D sharp is not E flat, A flat is not G sharp.",
        "Choose the note that is there, or an instrument with split keys.",
        BARBOUR,
        "keyboard",
        ALWAYS_WARNING,
        "cantus D#5/1",
        "cantus Eb5/1",
    ),
    Rule(
        "wolf",
        "Interval across the wolf",
        "This fifth or third is far too wide in the tuning chosen: it howls.",
        "Choose another note, or double one that is in tune.",
        BARBOUR,
        "keyboard",
        ALWAYS_WARNING,
        "cantus D#5/1\nbassus G#3/1",
        "cantus E5/1\nbassus G#3/1",
    ),
)
