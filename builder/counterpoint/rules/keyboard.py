"""Rules of the instrument: what two hands reach, what the keyboard has, where its tuning howls."""

from __future__ import annotations

import numpy as np

from builder.counterpoint.rules.context import Array, Number, Of, Tone, Truth, When
from builder.counterpoint.rules.rule import ALWAYS_ERROR, ALWAYS_WARNING, Rule
from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY, SHORT_OCTAVE_LACKS, TENTH

COMMON = "common practice, no source"
PENNA = "L. Penna, Li primi albori musicali (1672), book III (from memory)"
BARBOUR = "J. M. Barbour, Tuning and Temperament (1951)"


def hand_spans(d: Array, bass: Array | int) -> Array:
    """For each voicing (rows of staff steps, highest first) over a bass: the wider of the two hands'
    stretches, when they share the notes as well as can be.

    >>> hand_spans(np.array([[35, 33, 30]]), 21).tolist()
    [5]
    """
    notes = np.column_stack((d, np.broadcast_to(bass, len(d))))
    # Notes from the top down to each, and from each down to the bass.
    above = np.maximum.accumulate(notes, axis=1) - np.minimum.accumulate(notes, axis=1)
    turned = notes[:, ::-1]
    below = (np.maximum.accumulate(turned, axis=1) - np.minimum.accumulate(turned, axis=1))[:, ::-1]
    left = np.column_stack((below[:, 1:], np.zeros(len(d), dtype=np.int64)))
    found: Array = np.maximum(above, left).min(axis=1)
    return found


def off_keyboard(*, pitch: Tone) -> Truth:
    """Below C2 or above C6."""
    return (pitch.m < LOWEST_KEY.midi) | (pitch.m > HIGHEST_KEY.midi)


def short_octave(*, pitch: Tone) -> Truth:
    """One of the four keys that a short octave (C/E) leaves out: C sharp, D sharp, F sharp, G sharp."""
    c, d, f, g = SHORT_OCTAVE_LACKS
    return (pitch.m == c) | (pitch.m == d) | (pitch.m == f) | (pitch.m == g)


def outside_compass(*, pitch: Tone, beyond: Truth) -> Truth:
    """Beyond the voice's compass; what is not on the keyboard at all is told as that."""
    there = (off_keyboard(pitch=pitch) | short_octave(pitch=pitch)) == False  # noqa: E712 - arrays too
    return beyond & there


def to_a_tenth(*, span: Number) -> Truth:
    """A hand stretched to a tenth."""
    return span == TENTH


def beyond_a_tenth(*, span: Number) -> Truth:
    """Further than any hand reaches."""
    return span > TENTH


def not_in_tuning(*, tuned: Truth) -> Truth:
    """The key sounds another note."""
    return tuned == 0


def across_the_wolf(*, wolf: Truth) -> Truth:
    """The fifth or third is out of tune by far."""
    return wolf


KEYBOARD_RULES = (
    Rule(
        "off-keyboard",
        "Note off the keyboard",
        "The keyboard goes from great C to three-line C.",
        "Bring the note in by an octave.",
        COMMON,
        Of.NOTE,
        When.ONSET,
        ALWAYS_ERROR,
        "bassus B1/1",
        "bassus B2/1",
        off_keyboard,
        says="off-keyboard",
        cost="never",
    ),
    Rule(
        "short-octave",
        "Note that a short octave lacks",
        "A short octave has no C♯, D♯, F♯ or G♯ in its lowest octave.",
        "Take the note an octave higher.",
        COMMON,
        Of.NOTE,
        When.ONSET,
        ALWAYS_WARNING,
        "bassus F#2/1",
        "bassus F#3/1",
        short_octave,
        cost="never",
    ),
    Rule(
        "hand-stretch",
        "Hand stretched to a tenth",
        "A hand takes an octave with ease and a ninth at need.",
        "Bring the voices nearer, or give a note to the other hand.",
        PENNA,
        Of.HAND,
        When.ONSET,
        ALWAYS_WARNING,
        "cantus E5/1\naltus C4/1\ntenor C3/1\nbassus C2/1",
        "cantus E5/1\naltus G4/1\ntenor C3/1\nbassus C2/1",
        to_a_tenth,
        cost="stretch",
    ),
    Rule(
        "out-of-reach",
        "More than two hands can take",
        "No hand reaches further than a tenth: these notes cannot be played together.",
        "Bring the inner voices nearer to one of the hands.",
        PENNA,
        Of.HAND,
        When.ONSET,
        ALWAYS_ERROR,
        "cantus G5/1\naltus C4/1\nbassus C2/1",
        "cantus C5/1\naltus C4/1\nbassus C2/1",
        beyond_a_tenth,
        cost="never",
    ),
    Rule(
        "not-in-tuning",
        "Note that the tuning does not have",
        "In this tuning the key sounds another note: D♯ is not E♭, A♭ is not G♯.",
        "Choose the note that is there, or an instrument with split keys.",
        BARBOUR,
        Of.NOTE,
        When.ONSET,
        ALWAYS_WARNING,
        "cantus D#5/1",
        "cantus Eb5/1",
        not_in_tuning,
        says="not-in-tuning",
        cost="unasked",
    ),
    Rule(
        "wolf",
        "Interval across the wolf",
        "This fifth or third is far too wide in the tuning chosen: it howls.",
        "Choose another note, or double one that is in tune.",
        BARBOUR,
        Of.PAIR,
        When.ONSET,
        ALWAYS_WARNING,
        "cantus D#5/1\nbassus G#3/1",
        "cantus E5/1\nbassus G#3/1",
        across_the_wolf,
        says="wolf",
        cost="unasked",
    ),
)
