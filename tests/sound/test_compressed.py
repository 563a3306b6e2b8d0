"""What a compressed recording keeps of the sound, beside the same recording without loss."""

from __future__ import annotations

from fractions import Fraction as F
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.sound import TempoMap, blocks, encode, perform
from builder.sound.pipes import RATE

Spectrum = NDArray[np.float64]
FRAME = 8192
STRONG = 40.0
"""Decibels below the loudest third of an octave: weaker ones are masked by their neighbours."""
LINES = ("D5 C5 B4 C5 D5", "F4 G4 D4 A4 F4", "A3 G3 G3 F3 A3", "D3 E3 G2 F3 D3")


def piece() -> Score:
    """Four voices in half notes, each beat another chord."""
    parts = [
        Part(
            voice,
            tuple(Note(F(2 * n), F(2), Pitch.parse(name)) for n, name in enumerate(line.split())),
        )
        for voice, line in zip(("cantus", "altus", "tenor", "bassus"), LINES, strict=True)
    ]
    bars = tuple(Bar(n + 1, F(4 * n), F(4)) for n in range(3))
    return notated(Score("compressed", Version.PLAIN, Metre.parse("C"), Signature(), bars, tuple(parts)))


def thirds(sound: Spectrum) -> Spectrum:
    """Power in each third of an octave from 63 Hz to 16 kHz."""
    count = len(sound) // FRAME
    frames = sound[: count * FRAME, 0].reshape(count, FRAME) * np.hanning(FRAME)
    power = (np.abs(np.fft.rfft(frames, axis=1)) ** 2).sum(axis=0)
    pitch = np.fft.rfftfreq(FRAME, 1 / RATE)
    middles = 1000 * 2.0 ** (np.arange(-12, 13) / 3)
    edges = [(pitch >= m * 2 ** (-1 / 6)) & (pitch < m * 2 ** (1 / 6)) for m in middles]
    return np.array([power[inside].sum() for inside in edges])


def peaks(sound: Spectrum, least: float) -> Spectrum:
    """The partials of at least this share of the strongest: where the spectrum's peaks lie, between lines."""
    power = np.log(np.abs(np.fft.rfft(sound[: 1 << 18, 0] * np.hanning(min(len(sound), 1 << 18)))) + 1e-12)
    found = []
    for n in np.flatnonzero((power[1:-1] > power[:-2]) & (power[1:-1] > power[2:])) + 1:
        if power[n] > power.max() + np.log(least) and n > 300:
            low, top, high = power[n - 1 : n + 2]
            found.append(n + 0.5 * (low - high) / (low - 2 * top + high))
    return np.array(found)


def decibels(ratio: Spectrum | float) -> Spectrum:
    return np.asarray(10 * np.log10(ratio))


@pytest.fixture(scope="module", params=["principale", "principale, ottava, quintadecima and decimanona"])
def both(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory):
    """The same sound without loss and compressed, with the size of the compressed file."""
    folder: Path = tmp_path_factory.mktemp("sound")
    paths = [folder / "a.wav", folder / "a.mp3"]
    played = perform(piece(), TempoMap(((F(0), 500_000),)))
    encode(blocks(played, request.param), paths)
    read = [soundfile.read(path)[0] for path in paths]
    return *read, paths[1].stat().st_size


def test_it_is_as_long_and_begins_at_the_same_sample(both) -> None:
    exact, heard, _ = both
    assert abs(len(heard) - len(exact)) <= 1200
    stretch = slice(RATE, RATE + FRAME)
    near = [float(np.dot(exact[stretch, 0], heard[RATE + lag : RATE + FRAME + lag, 0])) for lag in (-9, 0, 9)]
    assert near[1] == max(near)


def test_level_pitch_and_spectrum_are_those_of_the_sound_without_loss(both) -> None:
    exact, heard, _ = both
    heard = heard[: len(exact)]
    exact = exact[: len(heard)]
    assert abs(decibels((heard**2).sum() / (exact**2).sum())) < 0.05
    before, after = thirds(exact), thirds(heard)
    strong = decibels(before / before.max()) > -STRONG
    assert np.abs(decibels(after / before))[strong].max() < 0.5
    # Fainter ones are no partials: lobes beside those that last for one stroke only.
    exactly, now = peaks(exact, 0.1), peaks(heard, 0.02)
    assert len(exactly) > 20
    nearest = now[np.abs(now[None, :] - exactly[:, None]).argmin(axis=1)]
    assert (1200 * np.abs(np.log2(nearest / exactly))).max() < 1


def test_the_noise_it_adds_lies_below_the_music_in_every_strong_band(both) -> None:
    exact, heard, _ = both
    length = min(len(exact), len(heard))
    added, music = thirds(heard[:length] - exact[:length]), thirds(exact[:length])
    below = decibels(added / music)
    level = decibels(music / music.max())
    assert below[level > -15].max() < -20
    assert below[level > -30].max() < -12


def test_a_minute_of_it_takes_about_a_megabyte(both) -> None:
    exact, _, size = both
    assert 95_000 < size * 8 / (len(exact) / RATE) < 165_000
