"""The rendered sound: whole, clean, placed in a room, and the same each time."""

import hashlib
import os
from fractions import Fraction as F
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.sound import CHURCH, TempoMap, blocks, encode, perform, render
from builder.sound.encode import BREATH
from builder.sound.pipes import key_sound
from builder.sound.render import Wind
from builder.sound.room import Room, response

RATE = 44_100
MANY = bool(os.environ.get("VERSET_MANY"))


def played(*lines: str, bars: int = 2, tuning: str = "quarter-comma"):  # type: ignore[no-untyped-def]
    parts = []
    for voice, line in zip(("cantus", "altus", "tenor", "bassus"), lines):
        words = line.split()
        length = F(4 * bars, 1 << (len(words) - 1).bit_length())  # the rest of the line is silent
        notes = (Note(n * length, length, None if w == "R" else Pitch.parse(w)) for n, w in enumerate(words))
        parts.append(Part(voice, tuple(notes)))
    measure = tuple(Bar(n + 1, F(4 * n), F(4)) for n in range(bars))
    score = notated(Score("", Version.PLAIN, Metre.parse("C"), Signature(), measure, tuple(parts)))
    return perform(score, TempoMap(((F(0), 500_000),)), tuning)


CADENCE = (
    *("D5 D5 C5 D5 D5 C#5 D5 D5", "A4 G4 G4 F4 A4 A4 F#4 F#4"),
    *("F4 Bb3 E4 F4 D4 E4 A3 A3", "D3 G3 C3 Bb2 F3 A2 D3 D3"),
)


def loudest_above(sound: np.ndarray, hertz: float) -> float:
    """The loudest moment of what lies above a pitch, against the loudest moment of the whole."""
    spectrum = np.fft.rfft(sound, axis=0)
    spectrum[np.fft.rfftfreq(len(sound), 1 / RATE) < hertz] = 0
    return float(np.abs(np.fft.irfft(spectrum, len(sound), axis=0)).max() / np.abs(sound).max())


@pytest.mark.parametrize("registration", ["principale", "principale and fiffaro", "principale and flauto"])
def test_no_key_clicks_when_it_goes_down_or_is_let_go(registration: str) -> None:
    """A click is energy where the pipes have none: above 14 kHz."""
    sound = render(played(*CADENCE), registration, room=None)
    assert loudest_above(sound, 14_000) < 10 ** (-60 / 20)


def test_sound_begins_at_once_and_dies_away_to_nothing() -> None:
    sound = render(played(*CADENCE), "principale")
    assert np.abs(sound[: int(0.06 * RATE)]).max() > 0.1 * np.abs(sound).max()
    assert np.abs(sound[-100:]).max() < 1e-4 * np.abs(sound).max()


@pytest.mark.parametrize("registration", ["principale", "ripieno"])
def test_nothing_clips_even_with_full_chords(registration: str) -> None:
    sound = render(played(*CADENCE), registration)
    assert np.abs(sound).max() < 0.9
    assert np.isfinite(sound).all()


def test_blocks_make_the_same_sound_as_one_piece_and_every_time() -> None:
    music = played(*CADENCE, bars=8)
    whole = render(music, "principale and fiffaro")
    again = np.concatenate(list(blocks(music, "principale and fiffaro")))
    assert np.array_equal(whole, again)
    assert np.abs(np.diff(whole[:, 0])).max() < 0.3 * np.abs(whole).max()


def test_a_held_key_goes_on_past_the_length_of_its_loop_without_a_seam() -> None:
    sound = render(played("A4", bars=8), "principale", room=None, wind=None)[RATE : 15 * RATE, 0]
    level = np.sqrt(np.mean(sound[: len(sound) // 4410 * 4410].reshape(-1, 4410) ** 2, axis=1))
    assert level.max() / level.min() < 1.1
    jumps = np.abs(np.diff(sound, 2))
    assert jumps.max() < 1.2 * np.median(
        jumps.reshape(-1)[: len(jumps) // 441 * 441].reshape(-1, 441).max(axis=1)
    )


def test_two_voices_on_one_key_sound_one_pipe() -> None:
    alone, unison = (render(m, "principale", room=None) for m in (played("A4"), played("A4", "A4")))
    assert np.array_equal(alone, unison)


def test_pipes_stand_left_and_right() -> None:
    left, right = (render(played(p), "principale", room=None) for p in ("C4", "C#4"))
    assert np.std(left[:, 0]) > 1.5 * np.std(left[:, 1])
    assert np.std(right[:, 1]) > 1.5 * np.std(right[:, 0])


def test_the_overtones_speak_before_the_fundamental() -> None:
    sound = render(played("C3"), "principale", room=None, wind=None)[:, 0]

    def share(start: float) -> float:
        window = sound[int(start * RATE) : int((start + 0.03) * RATE)] * np.hanning(int(0.03 * RATE))
        level = np.abs(np.fft.rfft(window, RATE))
        return float(level[100:165].max() / level[230:300].max())

    assert share(0.0) < 0.8 * share(0.6)


def test_the_wind_sags_a_little_under_a_full_chord() -> None:
    music = played("D5", "A4", "F#4", "D3", bars=1)
    rigid, living = (render(music, "ripieno", room=None, wind=w) for w in (None, Wind()))
    steady = slice(RATE, 3 * RATE // 2)
    drop = 20 * np.log10(np.std(living[steady]) / np.std(rigid[steady]))
    assert -0.8 < drop < -0.1


def test_the_room_sounds_on_as_long_as_it_is_said_to() -> None:
    """Reverberation time from the slope of the backward sum of the response (M. R. Schroeder, 1965)."""
    for seconds in (1.0, 2.0):
        echo = response(Room(reverberation=(seconds,) * 7)).astype(float)
        decay = 10 * np.log10(np.cumsum(echo[0, ::-1] ** 2)[::-1] + 1e-12)
        decay -= decay[0]
        five, twenty = (int(np.argmax(decay < d)) for d in (-8, -28))
        assert 3 * (twenty - five) / RATE == pytest.approx(seconds, rel=0.12)


def test_a_room_is_louder_the_further_one_stands() -> None:
    near, far = (np.sum(response(Room(distance=d)) ** 2) for d in (1.5, 6.0))
    assert far > 2 * near
    assert np.array_equal(response(CHURCH), response(Room()))


@pytest.mark.parametrize("ending", [".flac", ".mp3", ".wav"])
def test_files_are_the_same_bytes_every_time_and_carry_their_tags(tmp_path: Path, ending: str) -> None:
    tags = {"title": "Più versetti: B♭", "comment": "für Übende", "artist": "principale"}
    music, sums = played(*CADENCE), []
    for name in ("one", "two"):
        (made,) = encode(blocks(music, "principale"), tmp_path / f"{name}{ending}", tags)
        sums.append(hashlib.sha256(made.path.read_bytes()).hexdigest())
    assert sums[0] == sums[1]
    with soundfile.SoundFile(made.path) as file:
        assert (file.title, file.comment, file.artist) == tuple(
            tags[t] for t in ("title", "comment", "artist")
        )
        assert file.frames / file.samplerate == pytest.approx(made.seconds, abs=0.06)


def test_silence_is_trimmed_to_a_breath_and_said(tmp_path: Path) -> None:
    quiet = np.zeros((RATE, 2), np.float32)
    tone = 0.1 * np.sin(2 * np.pi * 440 * np.arange(2 * RATE) / RATE).astype(np.float32)
    (made,) = encode([quiet, np.stack([tone, tone], 1), quiet], tmp_path / "a.flac")
    assert made.offset == pytest.approx(1.0 - BREATH, abs=0.01)
    assert made.seconds == pytest.approx(2.0 + BREATH, abs=0.02)
    audio, _ = soundfile.read(made.path)
    start = round(BREATH * RATE)
    assert not audio[:start].any()
    assert np.abs(audio[start : start + 400]).max() > 0.01 < np.abs(audio[-4000:]).max()


def test_what_cannot_be_written_is_refused(tmp_path: Path) -> None:
    sound = np.full((RATE, 2), 0.1, np.float32)
    with pytest.raises(ValueError, match=r"\.flac, \.mp3, \.wav"):
        encode(sound, tmp_path / "a.aiff")
    with pytest.raises(ValueError, match="tag 'colour' is unknown"):
        encode(sound, tmp_path / "a.flac", {"colour": "red"})
    with pytest.raises(ValueError, match="no sound"):
        encode(np.zeros((RATE, 2), np.float32), tmp_path / "a.flac")
    with pytest.raises(ValueError, match="samples × 2"):
        encode(np.zeros(RATE, np.float32), tmp_path / "a.flac")


NAMES = [f"{step}{octave}" for octave in (2, 3, 4, 5) for step in ("C", "D", "Eb", "F#", "G", "A", "B")]


@settings(max_examples=60 if MANY else 8, deadline=None)
@given(
    st.lists(st.lists(st.sampled_from([*NAMES, "R"]), min_size=1, max_size=8), min_size=1, max_size=4),
    st.sampled_from(["principale", "ripieno", "principale and fiffaro", "flauto"]),
)
def test_any_music_sounds_clean(lines: list[list[str]], registration: str) -> None:
    music = played(*(" ".join(line) for line in lines))
    sound = render(music, registration)
    assert sound.dtype == np.float32 and sound.shape[1] == 2
    assert np.isfinite(sound).all() and np.abs(sound).max() < 1.0
    assert bool(music.notes) == bool(np.abs(sound).max() > 0)


@pytest.mark.parametrize("name", ["principale", "flauto"])
@pytest.mark.parametrize("key", [36, 60, 84])
def test_a_pipes_tone_slopes_to_sixteen_kilohertz_without_a_cliff(name: str, key: int) -> None:
    """Octave by octave the tone of a pipe grows weaker by no more than a step that wide pipes have, and is
    never cut off; above 16 kHz there is nothing. (Common practice in measuring pipes: levels by octaves.)"""
    loop = key_sound(440 * 2 ** ((key - 69) / 12), key, (name,)).loop.astype(float)
    power = np.abs(np.fft.rfft(loop)) ** 2
    pitch = np.fft.rfftfreq(len(loop), 1 / RATE)
    octaves = [
        10 * np.log10(power[(pitch >= low) & (pitch < 2 * low)].sum() / power.sum())
        for low in (500, 1000, 2000, 4000, 8000)
        if low > 1.9 * pitch[power.argmax()]
    ]
    falls = [a - b for a, b in pairwise(octaves)]
    assert all(6 < fall < 22 for fall in falls), octaves
    assert octaves[-1] > -80
    assert 10 * np.log10(power[pitch > 16_050].sum() / power.sum()) < -100
