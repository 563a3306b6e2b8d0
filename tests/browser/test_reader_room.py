"""The room about the page's own pipes (W3C Web Audio, OfflineAudioContext) beside that of the recordings."""

from __future__ import annotations

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy
from numpy.typing import NDArray
from playwright.sync_api import Page
from script_parts import Ask

from builder.music import read_tuning
from builder.sound import CHURCH, Registration, keyboard_frequencies, rank_data, room_data, voicing_data
from builder.sound.room import response

RATE = 44_100
BANDS = [125 * 2**n for n in range(7)]
KEYS = keyboard_frequencies(read_tuning("quarter-comma"))
BYTES = """(buffer) => [0, 1].map((side) => {
    const bytes = new Uint8Array(buffer.getChannelData(side).buffer);
    let text = '';
    for (let k = 0; k < bytes.length; k += 32768)
      text += String.fromCharCode(...bytes.subarray(k, k + 32768));
    return btoa(text);
})"""


def samples(sides: list[str]) -> NDArray[np.float64]:
    return np.array([np.frombuffer(base64.b64decode(side), np.float32) for side in sides], float)


def room_of(ask: Ask, rate: int) -> NDArray[np.float64]:
    return samples(ask(f"echoesOf({rate}, given).then({BYTES})", room_data()))


def seconds_to_die(sound: NDArray[np.float64], rate: int, hertz: float) -> float:
    """Reverberation time in an octave band, from 5 to 25 decibels down on the backward sum (M. R.
    Schroeder, 1965; ISO 3382-1 calls it T20; from memory)."""
    edges = [hertz / 2**0.5, hertz * 2**0.5]
    band = scipy.signal.sosfilt(scipy.signal.butter(4, edges, "band", fs=rate, output="sos"), sound)
    decay = 10 * np.log10(np.cumsum(np.sum(band**2, axis=0)[::-1])[::-1] + 1e-30)
    five, twenty_five = (int(np.argmax(decay < decay[0] - down)) for down in (5, 25))
    return 3 * (twenty_five - five) / rate


def test_the_room_of_the_page_is_that_of_the_recordings_to_the_sample(ask: Ask) -> None:
    own, file = room_of(ask, RATE), response(CHURCH).astype(float)
    file[:, 0] -= 1  # what comes straight from the pipes has a way of its own in the page
    assert own.shape == file.shape
    assert np.abs(own - file).max() < 1e-3 * np.abs(file).max()


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_at_any_rate_of_samples_it_dies_away_alike_and_is_as_loud(ask: Ask, rate: int) -> None:
    """By octave bands; the highest has some of the band below, which sounds on for longer."""
    own, file = room_of(ask, rate), response(CHURCH).astype(float)
    file[:, 0] -= 1
    for hertz, said in zip(BANDS, CHURCH.reverberation, strict=True):
        here, there = seconds_to_die(own, rate, hertz), seconds_to_die(file, RATE, hertz)
        assert here == pytest.approx(there, rel=0.04), hertz
        assert here == pytest.approx(said, rel=0.4 if hertz == 8000 else 0.1), hertz
    for hertz in np.geomspace(65, 4000, 60):
        (here, there) = (
            np.abs(each @ np.exp(-2j * np.pi * hertz * np.arange(each.shape[1]) / r))
            for each, r in ((own, rate), (file, RATE))
        )
        assert np.abs(here - there).max() < 0.12 * there.max() + 0.05, hertz


def played(
    page: Page, notes: list[tuple[float, float, float, int]], seconds: float, drawn: str, **changes: Any
) -> NDArray[np.float64]:
    """Both sides of what the page sounds at full level."""
    registration = Registration.parse(drawn)
    data = {"ranks": rank_data(registration), "keys": KEYS, "room": room_data()}
    data |= {"voicing": voicing_data(registration, KEYS)} | changes
    return samples(
        page.evaluate(
            f"""async ([notes, seconds, rate, changes]) => {{
                const page = JSON.parse(document.querySelector('.verset-play').textContent).play;
                const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
                const organ = window.versetReader.createOrgan(context, {{...page, ...changes}});
                await organ.around;
                organ.setLevel(1);
                for (const note of notes) organ.note(...note);
                return context.startRendering().then({BYTES});
            }}""",
            [notes, seconds, RATE, data],
        )
    )


NO_ROOM = {"room": room_data() | {"late": 0, "echoes": [], "level": 1}, "voicing": [1] * len(KEYS)}


def levels(page: Page, drawn: str, **changes: Any) -> NDArray[np.float64]:
    """Decibels of every third key, held for long enough to fill the room."""
    keys = KEYS[::3]
    notes = [(5.0 * n + 0.1, 5.0 * n + 2.4, hertz, 0) for n, hertz in enumerate(keys)]
    sound = played(page, notes, 5.0 * len(keys), drawn, **changes)
    steady = [sound[:, int((5 * n + 1.2) * RATE) :][:, :RATE] for n in range(len(keys))]
    return np.array([10 * np.log10(np.mean(each**2)) for each in steady])


@pytest.mark.parametrize("drawn", ["principale", "principale and ottava"])
def test_the_room_makes_no_key_louder_or_softer(
    visit: Any, sample_page: Callable[..., Path], drawn: str
) -> None:
    """Its pipes are voiced in it, as in the recordings; those that are not differ by far more."""
    page = visit(sample_page())
    dry = levels(page, drawn, **NO_ROOM)
    wet = levels(page, drawn) - dry
    assert abs(wet.mean()) < 0.5 and wet.std() < 0.6 and np.abs(wet).max() < 1.5, wet.round(1)
    unvoiced = levels(page, drawn, voicing=[1] * len(KEYS)) - dry
    assert unvoiced.std() > 3 * wet.std(), (unvoiced.std(), wet.std())


def test_what_is_let_go_dies_away_in_the_room(visit: Any, sample_page: Callable[..., Path]) -> None:
    """Half a second behind the end it is some 15 decibels softer (2.3 seconds for sixty), not silent."""
    page, notes = visit(sample_page()), [(0.1, 2.0, 293.66, 0)]
    for changes, low, high in (({}, -30, -10), (NO_ROOM, -401, -60)):
        sound = played(page, notes, 4.5, "principale", **changes)
        held, later = (sound[:, int(at * RATE) :][:, : RATE // 2] for at in (1.4, 2.5))
        assert low < 10 * np.log10(np.sum(later**2) / np.sum(held**2) + 1e-40) < high


def test_full_chords_in_the_room_do_not_clip(visit: Any, sample_page: Callable[..., Path]) -> None:
    page = visit(sample_page())
    voices = page.evaluate("document.querySelector('.verset-player').verset.voices.length")
    chord = [73.2, 146.3, 220.0, 440.0]
    for drawn in ("principale", "ripieno"):
        sound = played(page, [(0.05, 3, hertz, k % voices) for k, hertz in enumerate(chord)], 4, drawn)
        assert 0.05 < np.abs(sound).max() < 1
