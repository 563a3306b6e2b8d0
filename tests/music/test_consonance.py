"""Which intervals agree: over the lowest note third, fifth, sixth, octave (Zarlino 1558; from memory)."""

from __future__ import annotations

import pytest

from builder.music import Interval, Pitch
from builder.music.consonance import CLASHES, consonant

OVER_C4 = {
    "C4": True, "E4": True, "Eb4": True, "G4": True, "A4": True, "Ab4": True, "C5": True, "E5": True,
    "G5": True, "D4": False, "Db4": False, "F4": False, "F#4": False, "Gb4": False, "G#4": False,
    "B4": False, "Bb4": False, "D5": False, "F5": False, "C#4": False, "D#4": False, "A#4": False,
}  # fmt: skip
BETWEEN_UPPER_VOICES = {"F4", "F#4", "Gb4", "F5"}


@pytest.mark.parametrize("name", OVER_C4)
def test_what_agrees_with_the_lowest_note_and_what_agrees_between_upper_voices_only(name: str) -> None:
    interval = Interval.between(Pitch.parse("C4"), Pitch.parse(name))
    size = interval.steps, interval.semitones
    assert consonant(*size) == OVER_C4[name]
    assert consonant(*size, over_lowest=False) == (OVER_C4[name] or name in BETWEEN_UPPER_VOICES)
    place = size[0] % 7 * 12 + size[1] % 12
    assert [CLASHES[0][place], CLASHES[1][place]] == [
        not consonant(*size, over_lowest=False),
        not consonant(*size),
    ]
