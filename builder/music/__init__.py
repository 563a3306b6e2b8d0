"""The vocabulary: pitch, interval, value, metre, clef, figure, note, part and score.

Immutable, hashable and exact: time is a `Fraction` of quarter notes, pitch is spelled.
Knows nothing of sources, rules, pages or sound.
"""

from builder.music.figure import Figure, FigureSign
from builder.music.pitch import Interval, Pitch, spelled
from builder.music.score import VERSIONS, Note, Part, Score, Version, notated
from builder.music.temperament import QUARTER_COMMA, TUNINGS, Tuning
from builder.music.time import Bar, Metre, Place, bar_at, clipped, metrical_weight, place, written
from builder.music.tuner import Missing, Remedy, missing, read_tuning, tuning_for
from builder.music.voice import KEYBOARD, VOICES, WRITTEN, Clef, Signature

__all__ = [
    "KEYBOARD",
    "QUARTER_COMMA",
    "TUNINGS",
    "VERSIONS",
    "VOICES",
    "WRITTEN",
    "Bar",
    "Clef",
    "Figure",
    "FigureSign",
    "Interval",
    "Metre",
    "Missing",
    "Note",
    "Part",
    "Pitch",
    "Place",
    "Remedy",
    "Score",
    "Signature",
    "Tuning",
    "Version",
    "bar_at",
    "clipped",
    "metrical_weight",
    "missing",
    "notated",
    "place",
    "read_tuning",
    "spelled",
    "tuning_for",
    "written",
]
