"""What comes out of the pipes, measured in the rendered audio against published values and acoustics."""

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.sound import TempoMap, perform, render

RATE = 44_100
STEADY = TempoMap(((Fraction(0), 500_000),))

# J. M. Barbour, Tuning and Temperament (1951), quarter-comma meantone, cents above C (from memory, agreeing
# with the open archive of tunings in music21, see test_music_temperament). A is 440 Hz: ISO 16.
BARBOUR = {
    **{"C": 0.0, "C#": 76.05, "D": 193.16, "Eb": 310.26, "E": 386.31, "F": 503.42},
    **{"F#": 579.47, "G": 696.58, "G#": 772.63, "A": 889.74, "Bb": 1006.84, "B": 1082.89},
}
COMPASS = [f"{letter}{octave}" for octave in (2, 3, 4, 5) for letter in BARBOUR] + ["C6"]


def heard(
    names: str, registration: str = "principale", *, quarters: int = 10, **options: object
) -> NDArray[np.float32]:
    """One chord of the named notes, held."""
    bars = (Bar(1, Fraction(0), Fraction(quarters)),)
    parts = tuple(
        Part(voice, (Note(Fraction(0), Fraction(quarters), Pitch.parse(name)),))
        for voice, name in zip(("cantus", "altus", "tenor", "bassus"), names.split())
    )
    score = notated(Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, parts))
    return render(perform(score, STEADY), registration, **options)  # type: ignore[arg-type]


def peak(sound: NDArray[np.float32], near: float) -> float:
    """Hertz of the spectral peak nearest a pitch: a long window, and a parabola through its top."""
    count = len(sound)
    size = 1 << 20
    level = np.log(np.abs(np.fft.rfft(sound * np.blackman(count), size)) + 1e-12)
    low, high = (int(near * 2 ** (c / 1200) * size / RATE) for c in (-60, 60))
    top = low + int(np.argmax(level[low : high + 1]))
    a, b, c = level[top - 1 : top + 2]
    return float((top + (a - c) / (a - 2 * b + c) / 2) * RATE / size)


@pytest.mark.parametrize("name", COMPASS)
def test_every_note_of_the_compass_sounds_at_the_published_pitch(name: str) -> None:
    pitch = Pitch.parse(name)
    published = 440.0 * 2 ** ((BARBOUR[pitch.letter] - BARBOUR["A"]) / 1200 + pitch.octave - 4)
    sound = heard(name)[RATE // 2 : RATE * 9 // 2].sum(axis=1)
    assert abs(1200 * np.log2(peak(sound, published) / published)) < 0.5


def test_a_is_440_hertz() -> None:
    sound = heard("A4")[RATE // 2 : RATE * 9 // 2].sum(axis=1)
    assert peak(sound, 440) == pytest.approx(440.0, abs=0.1)  # ISO 16


def beats(sound: NDArray[np.float32], around: float) -> float:
    """Beats a second of the two partials near a pitch, from the swelling of that narrow band."""
    count = len(sound)
    spectrum = np.fft.fft(sound)
    pitch = np.fft.fftfreq(count, 1 / RATE)
    band = np.exp(-(((pitch - around) / 6.0) ** 4)) * (pitch > 0)
    swell = np.abs(np.fft.ifft(spectrum * band))[RATE // 2 : -RATE // 2]
    swell = (swell - swell.mean()) * np.hanning(len(swell))
    size = 1 << 20
    level = np.abs(np.fft.rfft(swell, size))
    low = int(0.6 * size / RATE)
    return float((low + np.argmax(level[low : int(12 * size / RATE)])) * RATE / size)


@pytest.mark.parametrize(("name", "wanted"), [("C4", 2.0), ("G4", 2.583), ("C5", 3.0), ("A5", 4.125)])
def test_the_fiffaro_beats_as_its_pipes_are_tuned(name: str, wanted: float) -> None:
    """Two tones a little apart beat at the difference of their frequencies (elementary acoustics); the
    rate wanted is the rank's own table."""
    sound = heard(name, "principale and fiffaro", quarters=20, room=None, wind=None)[: RATE * 10].sum(axis=1)
    hertz = 440.0 * 2 ** ((BARBOUR[name[0]] - BARBOUR["A"]) / 1200 + int(name[1]) - 4)
    assert beats(sound, hertz) == pytest.approx(wanted, abs=0.12)


def test_the_fiffaro_is_silent_in_the_bass() -> None:
    alone = heard("G3", "principale", room=None, wind=None)
    both = heard("G3", "principale and fiffaro", room=None, wind=None)
    assert np.abs(alone / np.abs(alone).max() - both / np.abs(both).max()).max() < 1e-4


@pytest.mark.parametrize(("low", "high"), [("C4", "G4"), ("D4", "A4"), ("F3", "C4"), ("A3", "E4")])
def test_tempered_fifths_beat_at_three_times_the_lower_less_twice_the_upper(low: str, high: str) -> None:
    """The third partial of the lower note against the second of the upper (elementary acoustics),
    sizes from the published table."""
    lower, upper = (440.0 * 2 ** ((BARBOUR[n[0]] - BARBOUR["A"]) / 1200 + int(n[1]) - 4) for n in (low, high))
    sound = heard(f"{high} {low}", quarters=20, room=None, wind=None)[: RATE * 10].sum(axis=1)
    assert beats(sound, 3 * lower) == pytest.approx(3 * lower - 2 * upper, abs=0.12)


def test_a_pure_third_does_not_beat_and_the_tempered_fifth_does() -> None:
    """Slow wandering of the pipes (below one swing a second) is life, not beating."""

    def beating(chord: str, around: float) -> float:
        sound = heard(chord, quarters=20, room=None, wind=None)[: RATE * 10].sum(axis=1)
        pitch = np.fft.fftfreq(len(sound), 1 / RATE)
        band = np.exp(-(((pitch - around) / 6.0) ** 4)) * (pitch > 0)
        swell = np.abs(np.fft.ifft(np.fft.fft(sound) * band))[RATE:-RATE]
        level = np.abs(np.fft.rfft((swell / swell.mean() - 1) * np.hanning(len(swell))))
        slow = np.fft.rfftfreq(len(swell), 1 / RATE)
        return float(4 * level[(slow > 1.5) & (slow < 6)].max() / len(swell))

    c4 = 440.0 * 2 ** (-BARBOUR["A"] / 1200)
    assert beating("E4 C4", 5 * c4) < 0.08
    assert beating("G4 C4", 3 * c4) > 0.3
