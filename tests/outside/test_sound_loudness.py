"""Loudness by the maintained library over the whole file; true peak of a wave whose crest is known."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.sound import TempoMap, encode, perform, render
from builder.sound.encode import measure_loudness, true_peak

RATE = 44_100


def sound(quarters: int = 16, registration: str = "ripieno") -> np.ndarray:
    parts = []
    for voice, names in (("cantus", "D5 C#5 D5 F5"), ("bassus", "D3 A3 Bb3 D3")):
        notes = (
            Note(Fraction(n * quarters, 4), Fraction(quarters, 4), Pitch.parse(name))
            for n, name in enumerate(names.split())
        )
        parts.append(Part(voice, tuple(notes)))
    bars = (Bar(1, Fraction(0), Fraction(quarters)),)
    score = notated(Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, tuple(parts)))
    return render(perform(score, TempoMap(((Fraction(0), 500_000),))), registration)


@pytest.mark.parametrize("ending", [".flac", ".mp3"])
def test_files_have_the_programme_loudness_of_r_128(tmp_path: Path, ending: str) -> None:
    """EBU R 128: −23 LUFS, measured as ITU-R BS.1770-4 says by pyloudnorm over the whole decoded file."""
    (made,) = encode(sound(), tmp_path / f"a{ending}")
    audio, rate = soundfile.read(made.path)
    assert pyloudnorm.Meter(rate).integrated_loudness(audio) == pytest.approx(-23.0, abs=0.01)


def test_loudness_in_pieces_is_loudness_of_the_whole() -> None:
    rng = np.random.default_rng(3)
    swell = 10 ** (
        np.interp(np.arange(RATE * 75), RATE * np.array([0, 20, 31, 60, 75]), [-20, -30, -70, -10, -25]) / 20
    )
    whole = (rng.normal(size=(RATE * 75, 2)) * swell[:, None]).astype(np.float32)
    size = 30 * RATE
    pieces = [whole[n : n + size] for n in range(0, len(whole), size)]
    library = pyloudnorm.Meter(RATE).integrated_loudness(whole.astype(np.float64))
    assert measure_loudness(pieces) == pytest.approx(library, abs=0.02)
    quiet = np.concatenate((np.zeros((RATE * 2 // 5, 2), np.float32), whole))
    library = pyloudnorm.Meter(RATE).integrated_loudness(quiet.astype(np.float64))
    assert measure_loudness(pieces, RATE * 2 // 5) == pytest.approx(library, abs=0.02)


@pytest.mark.parametrize("hertz", [RATE / 4, RATE / 6, 3000.0])
def test_true_peak_finds_the_crest_between_samples(hertz: float) -> None:
    """A sine of amplitude 1 has its crest at 0 dB, wherever the samples fall (ITU-R BS.1770-4, annex 2
    allows an under-read of 0.7 dB at four times oversampling below 0.45 of the rate; from memory)."""
    t = np.arange(RATE)
    ends = np.clip(np.minimum(t, RATE - t) / 2000, 0, 1)  # a wave that starts at once is no sine
    wave = (np.sin(2 * np.pi * hertz * t / RATE + np.pi / 4) * ends).astype(np.float32)
    assert true_peak([np.stack([wave, wave], 1)]) == pytest.approx(0.0, abs=0.15)


def test_true_peak_stays_below_minus_one(tmp_path: Path) -> None:
    """Peaky sound that would pass −1 dB at the loudness wanted is made softer instead."""
    clicks = np.zeros((RATE * 5, 2), np.float32)
    clicks[:: RATE // 10] = 1.0
    (made,) = encode(clicks, tmp_path / "clicks.flac", loudness=-10.0)
    audio, _ = soundfile.read(made.path)
    assert made.true_peak < -1.0
    assert 20 * np.log10(np.abs(audio).max()) < -1.0
