"""Names and numbers of pitches, intervals, values and signatures against music21 and partitura."""

from __future__ import annotations

import random
from fractions import Fraction

import partitura.utils.music as partitura_music
import pytest

from builder.music import Clef, Interval, Pitch, Signature, written
from builder.music.time import VALUES, dotted

music21 = pytest.importorskip("music21")


def theirs(pitch: Pitch) -> str:
    """A pitch in music21's spelling: its flats are minus signs."""
    return pitch.name[0] + pitch.name[1:].replace("b", "-")


ALL = [Pitch(diatonic, alter) for diatonic in range(7, 50) for alter in range(-2, 3)]


def test_key_numbers_are_those_of_music21_and_partitura() -> None:
    for pitch in ALL:
        assert pitch.midi == music21.pitch.Pitch(theirs(pitch)).midi
        step, octave = pitch.letter[0], pitch.octave
        assert pitch.midi == partitura_music.pitch_spelling_to_midi_pitch(step, pitch.alter, octave)


def test_staff_steps_are_those_of_music21() -> None:
    for pitch in ALL:
        # music21 counts C4 as 29, from 1; ours counts it as 28, from 0
        assert pitch.diatonic + 1 == music21.pitch.Pitch(theirs(pitch)).diatonicNoteNum


def test_names_of_intervals_are_those_of_music21() -> None:
    chance = random.Random(1)
    for _ in range(600):
        low, high = sorted(chance.sample(ALL, 2), key=lambda p: (p.diatonic, p.midi))
        other = music21.interval.Interval(music21.pitch.Pitch(theirs(low)), music21.pitch.Pitch(theirs(high)))
        ours = Interval.between(low, high)
        assert ours.semitones == other.semitones
        assert ours.number == abs(other.generic.value)
        if ours.steps:
            assert ours.name == other.name, (low, high)


def test_going_up_an_interval_is_music21_s_transposition() -> None:
    chance = random.Random(2)
    for _ in range(200):
        low = Pitch(chance.randrange(14, 40), chance.randint(-1, 1))
        name = chance.choice(
            ["m2", "M2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "M6", "m7", "M7", "P8", "M10"]
        )
        up = music21.interval.Interval(name).transposePitch(music21.pitch.Pitch(theirs(low)))
        interval = Interval(
            music21.interval.Interval(name).generic.staffDistance, music21.interval.Interval(name).semitones
        )
        if abs(low.up(interval).alter) <= 2:
            assert theirs(low.up(interval)) == up.nameWithOctave


def test_clefs_have_the_lowest_line_of_music21() -> None:
    for name in ("G1", "G2", "C1", "C2", "C3", "C4", "C5", "F3", "F4", "F5"):
        assert Clef.parse(name).bottom.diatonic + 1 == music21.clef.clefFromString(name).lowestLine


def test_signatures_alter_the_steps_of_music21() -> None:
    for text in ("none", "Bb", "Bb Eb", "F#", "F# C# G#"):
        signature = Signature.parse(text)
        other = music21.key.KeySignature(signature.fifths)
        altered = {a.replace("-", "b") for a in (p.name for p in other.alteredPitches)}
        assert set(signature.accidentals) == altered


@pytest.mark.parametrize("name", VALUES)
@pytest.mark.parametrize("dots", [0, 1, 2])
def test_values_last_as_long_as_music21_says(name: str, dots: int) -> None:
    types = {"longa": "longa", "breve": "breve", "1": "whole", "2": "half", "4": "quarter", "8": "eighth"}
    types |= {"16": "16th", "32": "32nd", "64": "64th"}
    other = music21.duration.Duration(type=types[name], dots=dots)
    assert dotted(VALUES[name], dots) == Fraction(other.quarterLength)
    assert written(Fraction(other.quarterLength)) == (name, dots)
