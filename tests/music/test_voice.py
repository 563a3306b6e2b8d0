"""Voices, clefs, signatures."""

import pytest

from builder.music import KEYBOARD, VOICES, WRITTEN, Clef, Pitch, Signature


@pytest.mark.parametrize(
    ("clef", "bottom"),
    [("C1", "C4"), ("C2", "A3"), ("C3", "F3"), ("C4", "D3"), ("F3", "B2"), ("F4", "G2"), ("G2", "E4")],
)
def test_a_clef_names_its_line(clef: str, bottom: str) -> None:
    assert Clef.parse(clef).bottom == Pitch.parse(bottom)
    assert str(Clef.parse(clef)) == clef


@pytest.mark.parametrize("text", ["", "C", "C0", "C6", "D4", "c1", "C11", "1C"])
def test_what_is_not_a_clef_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a clef"):
        Clef.parse(text)


def test_a_voice_fits_the_stave_of_its_natural_clef() -> None:
    for voice, clef in zip(VOICES, ("C1", "C3", "C4", "F4")):
        low, high = Clef.parse(clef).compass
        assert low.diatonic <= WRITTEN[voice][0].diatonic and WRITTEN[voice][1].diatonic <= high.diatonic


def test_voices_go_down_from_cantus_to_bassus() -> None:
    for compass in (WRITTEN, KEYBOARD):
        bottoms = [compass[voice][0].midi for voice in VOICES]
        assert bottoms == sorted(bottoms, reverse=True)


def test_a_signature_alters_its_steps_in_every_octave() -> None:
    flat = Signature.parse("Bb")
    assert flat.pitch(Pitch.parse("B3").diatonic) == Pitch.parse("Bb3")
    assert flat.pitch(Pitch.parse("A3").diatonic) == Pitch.parse("A3")
    assert (flat.fifths, Signature.parse("F# C#").fifths, Signature.parse("none").fifths) == (-1, 2, 0)


@pytest.mark.parametrize("text", ["", "Eb", "C# F#", "Bb Bb", "Bb F#", "b", "NONE"])
def test_what_is_not_a_signature_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a signature"):
        Signature.parse(text)
