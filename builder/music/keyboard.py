"""The keyboard and the hands on it, once for all rooms (common practice, no source)."""

from __future__ import annotations

from builder.music.pitch import Pitch

LOWEST_KEY, HIGHEST_KEY = Pitch.parse("C2"), Pitch.parse("C6")
SHORT_OCTAVE_LACKS = tuple(Pitch.parse(name).midi for name in ("C#2", "D#2", "F#2", "G#2"))
"""MIDI numbers of the keys that a short octave (C/E) leaves out."""

OCTAVE, NINTH, TENTH = 7, 8, 9
"""Stretches of a hand in staff steps: an octave at ease, a ninth at need, a tenth at most."""
