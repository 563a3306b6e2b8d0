"""What a rule may be asked of, when, and what it may depend on; and which judge can ask it.

A rule's predicate is a function of named features (its keyword parameters). Each feature is defined here,
once, with the values it may take; so every table of verdicts follows from the predicates, and a rule that
some judge cannot ask is told by name as soon as the rules are imported.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum, StrEnum
from typing import Any, NamedTuple

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]
Number = int | Array
"""A whole number, or an array of them."""
Truth = bool | Array
"""True or false, or an array of them."""


def absolute(number: Number) -> Number:
    """A number without its sign, or each of an array.

    >>> absolute(-4), absolute(np.array([3, -2])).tolist()
    (4, [3, 2])
    """
    return number.__abs__()


class Of(StrEnum):
    """What a rule is asked of."""

    PAIR = "pair"
    """Two voices, whichever they are."""
    NEIGHBOURS = "neighbours"
    """Two voices between which none sounds."""
    UPPER = "upper"
    """Two neighbours above the lowest voice."""
    OUTER = "outer"
    """The highest and the lowest voice."""
    MELODY = "melody"
    """One voice, from a note to its next."""
    TURN = "turn"
    """One voice, over two moves in a row."""
    SONORITY = "sonority"
    """All that sounds together."""
    NOTE = "note"
    """One struck note."""
    HAND = "hand"
    """The wider of the two hands' stretches."""
    CLASH = "clash"
    """A dissonance between two voices."""
    FIGURE = "figure"
    """A figured sonority."""
    GIVEN = "given"
    """A note of the given line."""
    PIN = "pin"
    """A note set by hand."""
    CADENCE = "cadence"
    """A cadence, or the close."""
    PATH = "path"
    """The way of the whole setting through its sonorities."""


VOICES = (Of.PAIR, Of.NEIGHBOURS, Of.UPPER, Of.OUTER)
"""Contexts of two voices."""


class When(StrEnum):
    """When a rule is asked."""

    STEP = "step"
    """From each sonority to the next."""
    BEAT = "beat"
    """From each beat to the next, whatever sounds between."""
    ONSET = "onset"
    """Wherever a note is struck."""


class Where(StrEnum):
    """A place to which a rule is confined."""

    INSIDE = "inside"
    """Not at the first or last onset, nor where a voice enters or falls silent."""
    BEAT = "beat"
    """On a beat."""
    STRUCK = "struck"
    """Where two voices or more strike together."""
    FIRM = "firm"
    """Where both voices strike together, or in the stronger half of the bar."""


class Perfect(IntEnum):
    """Perfect intervals between two voices; compound ones count as simple."""

    NONE = 0
    FIFTH = 1
    OCTAVE = 2
    UNISON = 3


CONTRARY, OBLIQUE, SIMILAR = -1, 0, 1
"""Motion of two voices."""


class Intervals(NamedTuple):
    """Intervals, one or many: staff steps and semitones, both negative downwards."""

    steps: Number
    semitones: Number


class Tone(NamedTuple):
    """A pitch, or many: staff steps above C0 and MIDI number."""

    d: Number
    m: Number


Feature = Number | Intervals | Tone
"""What a predicate depends on."""


INSTRUMENT = frozenset({"wolf", "pitch", "beyond", "tuned", "span"})
"""Features of the keyboard, its tuning and the hands."""
YES_NO = (0, 1)
FEATURES: Mapping[str, tuple[int, ...] | None] = {
    # Two voices, from one sonority or beat to the next.
    "before": tuple(Perfect),  # the perfect interval that they leave
    "after": tuple(Perfect),  # the perfect interval that they reach
    "motion": (CONTRARY, OBLIQUE, SIMILAR),
    "leaps": YES_NO,  # the higher voice leaps
    "across": None,  # from where one voice was to where the other goes, the lower voice's note first
    "chromatic": YES_NO,  # one of them goes from a note to its own altered form
    # Two voices together.
    "interval": None,  # from the lower voice to the higher
    "raised": YES_NO,  # both have the same note, raised against the signature
    "wolf": YES_NO,  # the tuning makes the interval howl
    # One voice.
    "move": None,
    "first": None,  # of two moves
    "second": None,
    # All that sounds.
    "numbers": tuple(
        range(128)
    ),  # above the lowest note, a bit for each: 1 unison or octave, 2 second, 4 third …
    "sizes": tuple(range(4096)),  # the same in semitones
    "span": tuple(range(64)),  # of a hand, in staff steps
    # One note.
    "pitch": None,
    "beyond": YES_NO,  # the voice's compass
    "tuned": YES_NO,  # the tuning has it
    # A dissonance: how it is treated.
    "manner": tuple(range(16)),
    # What a setting owes to its source.
    "lacking": YES_NO,  # a tone that the figure asks for sounds in no voice
    "alone": YES_NO,  # no voice sounds above figured notes
    "augmented": YES_NO,  # an augmented triad that no figure asks for, and that no note in passing makes
    "foreign": YES_NO,  # a voice has a note that the figure does not have
    "doubtful": YES_NO,  # a voice has a tone that another reader might alter otherwise
    "changed": YES_NO,  # another note stands in the place of the one that is due
    "undercut": YES_NO,  # another voice lies below
    "unraised": YES_NO,  # the leading note is a whole tone below the final
    "astray": YES_NO,  # the leading note does not rise to the final
    "minor": YES_NO,  # the last sonority has a minor third
    "blocked": YES_NO,  # no lawful way leads on
}
"""What predicates may depend on, with the values of each; None where it is an interval or a pitch."""

_MOTION = frozenset({"before", "after", "motion", "leaps"})
_ACROSS = frozenset({"across", "chromatic"})
_Context = tuple[Of, When]


def _voices(when: When, *features: frozenset[str]) -> dict[_Context, tuple[frozenset[str], ...]]:
    return {(of, when): features for of in VOICES}


def _one(of: Of, when: When, *features: str) -> dict[_Context, tuple[frozenset[str], ...]]:
    return {(of, when): (frozenset(features),)}


_EVERYWHERE = {
    **_one(Of.MELODY, When.STEP, "move"),
    **_one(Of.HAND, When.ONSET, "span"),
    (Of.SONORITY, When.ONSET): (frozenset({"numbers"}), frozenset({"sizes"})),
}
_IN_SCORES = {
    **_EVERYWHERE,
    **_one(Of.TURN, When.STEP, "first", "second"),
    **_one(Of.NOTE, When.ONSET, "pitch", "beyond", "tuned"),
    **_one(Of.CLASH, When.ONSET, "manner"),
    **_one(Of.FIGURE, When.ONSET, "lacking", "alone", "augmented", "foreign", "doubtful"),
    **_one(Of.CADENCE, When.ONSET, "unraised", "astray", "minor"),
    **_voices(When.STEP, _MOTION, _ACROSS),
}
JUDGES: Mapping[str, Mapping[_Context, tuple[frozenset[str], ...]]] = {
    "check": {
        **_IN_SCORES,
        **_voices(When.ONSET, frozenset({"interval", "raised", "wolf"})),
        **_voices(When.BEAT, _MOTION),
        **_one(Of.GIVEN, When.ONSET, "changed", "undercut"),
        **_one(Of.PIN, When.ONSET, "changed"),
    },
    # The search sets note against note. It knows no melody beyond a step, no tuning, and no dissonance but
    # those of its figures, which have their obligations.
    "search": {
        **_EVERYWHERE,
        **_voices(When.STEP, _MOTION, _ACROSS),
        **_voices(When.ONSET, frozenset({"interval"})),
        **_one(Of.NOTE, When.ONSET, "pitch"),
        **_one(Of.PATH, When.STEP, "blocked"),
    },
    # The page keeps the given line as it is, and knows no beats but those that its sonorities begin on.
    "page": {
        **_IN_SCORES,
        **_voices(When.ONSET, frozenset({"interval"}), frozenset({"raised", "wolf"})),
        **_one(Of.GIVEN, When.ONSET, "changed", "undercut"),
    },
}
"""Which features each judge has, together, for what it asks; where nothing is named it asks nothing."""
