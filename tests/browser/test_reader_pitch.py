"""The page's own sound, rendered by its own script in an OfflineAudioContext (W3C Web Audio), beside the
rendered file: the same pitch for every key, and no clipping."""

from __future__ import annotations

import base64
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated, read_tuning
from builder.sound import Registration, TempoMap, perform, render
from builder.sound.pipes import key_sound
from builder.sound.play_data import rank_data
from builder.sound.ranks import RANKS

RATE = 44_100
KEYS = ["C2", "E2", "A2", "Bb2", "Eb3", "F#3", "G3", "C#4", "D4", "G#4", "A4", "B4", "Eb5", "F5", "A5"]
EACH = 2.5
"""Seconds from one key to the next."""


def in_the_page(
    page: Page, notes: list[tuple[float, float, float, int]], seconds: float, drawn: str = "principale"
) -> NDArray[np.float32]:
    """The sound of notes (from, to, hertz, voice) at full level, as the page makes it without a room."""
    text = page.evaluate(
        """async ([notes, seconds, rate, ranks]) => {
            const page = JSON.parse(document.querySelector('.verset-play').textContent).play;
            const room = {...page.room, late: 0, echoes: [], level: 1};
            const voicing = page.voicing.map(() => 1);
            const data = {...page, ranks, room, voicing}; // the whole compass, not only what this page needs
            const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
            const organ = window.versetReader.createOrgan(context, data);
            await organ.around;
            organ.setLevel(1);
            for (const note of notes) organ.note(...note);
            const sound = (await context.startRendering()).getChannelData(0);
            const bytes = new Uint8Array(sound.buffer);
            let text = '';
            const step = 32768;
            for (let k = 0; k < bytes.length; k += step)
              text += String.fromCharCode(...bytes.subarray(k, k + step));
            return btoa(text);
        }""",
        [notes, seconds, RATE, rank_data(Registration.parse(drawn))],
    )
    return np.frombuffer(base64.b64decode(text), np.float32)


def in_the_file(key: str) -> NDArray[np.float32]:
    quarters = 6
    bars = (Bar(1, Fraction(0), Fraction(quarters)),)
    part = Part("cantus", (Note(Fraction(0), Fraction(quarters), Pitch.parse(key)),))
    score = notated(Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, (part,)))
    played = perform(score, TempoMap(((Fraction(0), 500_000),)), "quarter-comma")
    return render(played, "principale", room=None).sum(axis=1)


def peak(sound: NDArray[np.float32], near: float) -> float:
    """Hertz of the spectral peak nearest a pitch: a window, and a parabola through its top."""
    size = 1 << 20
    level = np.log(np.abs(np.fft.rfft(sound * np.blackman(len(sound)), size)) + 1e-12)
    low, high = (int(near * 2 ** (c / 1200) * size / RATE) for c in (-60, 60))
    top = low + int(np.argmax(level[low : high + 1]))
    a, b, c = level[top - 1 : top + 2]
    return float((top + (a - c) / (a - 2 * b + c) / 2) * RATE / size)


def test_page_and_file_sound_at_one_pitch(visit: Any, sample_page: Callable[..., Path]) -> None:
    """Within one cent on every key tried, over the compass; both near the tuning's own figure."""
    page = visit(sample_page())
    tuning = read_tuning("quarter-comma")
    hertz = [tuning.frequency(Pitch.parse(key), 440.0) for key in KEYS]
    notes = [(k * EACH + 0.1, (k + 1) * EACH - 0.2, each, 0) for k, each in enumerate(hertz)]
    sound = in_the_page(page, notes, EACH * len(KEYS))
    for k, (key, each) in enumerate(zip(KEYS, hertz, strict=True)):
        start = int((k * EACH + 0.4) * RATE)
        own = peak(sound[start : start + int(1.8 * RATE)], each)
        file = peak(in_the_file(key)[RATE // 2 : RATE // 2 + int(1.8 * RATE)], each)
        assert abs(1200 * np.log2(own / file)) < 1, key
        assert abs(1200 * np.log2(own / each)) < 0.5, key


def test_four_voices_at_full_level_do_not_clip(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page())
    voices = page.evaluate("document.querySelector('.verset-player').verset.voices.length")
    chord = [73.2, 146.3, 220.0, 440.0]
    sound = in_the_page(page, [(0.05, 1.5, hertz, k % voices) for k, hertz in enumerate(chord)], 2)
    assert 0.05 < float(np.abs(sound).max()) < 1


def strengths(sound: NDArray[np.float32], hertz: float, count: int) -> NDArray[np.float64]:
    """Decibels of the partials against the first."""
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    pitch = np.fft.rfftfreq(len(sound), 1 / RATE)
    found = [power[abs(pitch - n * hertz) < 4].sum() for n in range(1, count + 1)]
    return np.asarray(10 * np.log10(np.array(found) / found[0]))


def test_page_and_file_have_the_same_partials(visit: Any, sample_page: Callable[..., Path]) -> None:
    """Within 4 dB to the eighth: the page has one spectrum an octave, the file one a key, voiced by hand."""
    page = visit(sample_page())
    keys = [(41, 87.31), (53, 174.61), (65, 349.23), (77, 698.46)]
    notes = [(2.0 * k + 0.1, 2.0 * k + 1.9, hertz, 0) for k, (_, hertz) in enumerate(keys)]
    sound = in_the_page(page, notes, 8.5)
    for k, (key, hertz) in enumerate(keys):
        start = int((2 * k + 0.6) * RATE)
        own = strengths(sound[start : start + RATE], hertz, 8)
        file = strengths(key_sound(hertz, key, ("principale",)).loop[:RATE], hertz, 8)
        assert np.abs(own - file).max() < 4, (key, own - file)


def test_in_the_page_too_overtones_speak_first_and_low_pipes_slowly(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    page = visit(sample_page())
    lows = []
    for hertz in (87.31, 349.23):
        sound = in_the_page(page, [(0.1, 2.4, hertz, 0)], 2.6)
        span = int(6 / hertz * RATE)
        early, late = (share(sound[int(at * RATE) :][:span], hertz) for at in (0.1, 1.5))
        assert early > late + 1.5, hertz
        level = np.abs(sound[int(0.1 * RATE) : int(0.6 * RATE)])
        steady = np.abs(sound[RATE : 2 * RATE]).max()
        lows.append(int(np.argmax(level > 0.8 * steady)) / RATE)
    assert 1.5 * lows[1] < lows[0] < 0.2


def share(sound: NDArray[np.float32], hertz: float) -> float:
    """Decibels of the third partial against the first, over a few vibrations."""
    t = np.arange(len(sound)) / RATE
    window = np.hanning(len(sound))
    first, third = (abs(np.sum(sound * window * np.exp(-2j * np.pi * n * hertz * t))) for n in (1, 3))
    return float(20 * np.log10(third / first))


def test_partials_in_the_page_slope_up_to_sixteen_kilohertz(
    visit: Any, sample_page: Callable[..., Path]
) -> None:
    """No cliff behind the partials that the page is told: octave by octave within 4 dB of the file."""
    sound = in_the_page(visit(sample_page()), [(0.1, 2.9, 87.31, 0)], 3)
    own = octaves(sound[RATE : 2 * RATE], 87.31)
    file = octaves(key_sound(87.31, 41, ("principale",)).loop[:RATE], 87.31)
    assert len(own) == 7 and np.abs(own - file).max() < 4, own - file


def octaves(sound: NDArray[np.float32], hertz: float) -> NDArray[np.float64]:
    """Decibels of the partials, octave by octave, against the first."""
    each = 10 ** (strengths(sound, hertz, 127) / 10)
    return np.array([10 * np.log10(each[2**n - 1 : 2 ** (n + 1) - 1].sum()) for n in range(7)])


@pytest.mark.parametrize("rank", ["principale", "flauto", "decimanona"])
def test_wind_in_the_page_is_as_strong_as_in_the_file_by_rank_and_register(
    visit: Any, sample_page: Callable[..., Path], rank: str
) -> None:
    """Between the partials, against the first of them."""
    page = visit(sample_page())
    keys = [(43, 97.999), (60, 261.626), (79, 783.991)]
    notes = [(2.5 * k + 0.1, 2.5 * k + 2.4, hertz, 0) for k, (_, hertz) in enumerate(keys)]
    sound = in_the_page(page, notes, 7.5, rank)
    for k, (key, hertz) in enumerate(keys):
        start = int((2.5 * k + 0.9) * RATE)
        pipe = hertz * RANKS[rank].sounding_harmonic(key)
        own = hiss(sound[start : start + RATE], pipe)
        file = hiss(key_sound(hertz, key, (rank,)).loop[:RATE], pipe)
        assert abs(own - file) < 3, (key, own, file)


def hiss(sound: NDArray[np.float32], hertz: float) -> float:
    """Decibels of what sounds between the second and sixth partials, half-way, against the first."""
    power = np.abs(np.fft.rfft(sound * np.blackman(len(sound)))) ** 2
    pitch = np.fft.rfftfreq(len(sound), 1 / RATE) / hertz
    between = (pitch > 2) & (pitch < 6) & (np.abs(pitch % 1 - 0.5) < 0.2)
    return float(10 * np.log10(power[between].mean() / power[np.abs(pitch - 1) < 0.1].max()))


def test_a_pipe_in_the_page_begins_with_a_burst_of_wind(visit: Any, sample_page: Callable[..., Path]) -> None:
    """A wide pipe's at C4 lasts some hundredth of a second (`Speech`), and is gone in the steady tone."""
    sound = in_the_page(visit(sample_page()), [(0.1, 2.9, 130.81, 0)], 3, "flauto")
    early, late = (hiss(sound[int(at * RATE) :][: RATE // 8], 261.63) for at in (0.1, 1.5))
    assert early > late + 6
