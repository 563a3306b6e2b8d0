"""A course's recorded pipes: read, refused with every reason, brought to the course's pitch and tuning."""

from __future__ import annotations

import base64
import io
import json
import sys
from fractions import Fraction as F
from pathlib import Path

import numpy as np
import pytest
import soundfile

sys.path.insert(0, str(Path(__file__).parent))

from recordings import TABLE, folder_of, hertz, record

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated, read_tuning
from builder.sound import Registration, TempoMap, perform, rank_data, render
from builder.sound.page_pipes import LARGEST_SCRIPT, page_pipes, script_name
from builder.sound.pipes import RATE, key_sound
from builder.sound.ranks import RANKS
from builder.sound.recorded import PipesError, RecordedPipes, measured, read_pipes

OFF = {"C2": 23.0, "A2": -31.0, "F3": 12.0, "C4": -18.0, "A4": 35.0, "F5": -9.0}
"""Cents by which the recorded pipes are off."""


@pytest.fixture(scope="module")
def pipes(tmp_path_factory: pytest.TempPathFactory) -> RecordedPipes:
    samples = {key: hertz(Pitch.parse(key).midi, cents=cents) for key, cents in OFF.items()}
    folder = folder_of(tmp_path_factory.mktemp("pipes"), "principale", samples)
    folder_of(folder, "ottava", {"C3": hertz(48, 2, -20), "C5": hertz(72, 2, 14)})
    return read_pipes(folder)


def test_the_pitch_of_each_sample_is_measured_within_half_a_cent(pipes: RecordedPipes) -> None:
    for pipe in pipes.of("principale"):
        name = pipe.file.split()[1].split(".")[0]
        assert abs(1200 * np.log2(pipe.hertz / hertz(pipe.key)) - OFF[name]) < 0.5, name
    assert (pipes.by, pipes.licence) == ("Two Players", "CC-BY-4.0")


def cents_off(sound: np.ndarray, wanted: float) -> float:
    return float(1200 * np.log2(measured(np.asarray(sound, np.float32), RATE, wanted) / wanted))


@pytest.mark.parametrize("tuning", ["quarter-comma", "equal"])
@pytest.mark.parametrize("a4", [415.0, 440.0, 466.0])
def test_every_key_sounds_in_the_tuning_and_pitch_of_the_course(
    pipes: RecordedPipes, tuning: str, a4: float
) -> None:
    """Within two cents, with samples up to 35 cents off and half an octave away."""
    of = read_tuning(tuning)
    for name in ("C2", "E2", "G2", "Bb2", "D3", "F#3", "A3", "C#4", "E4", "G#4", "C5", "F5", "A5"):
        wanted = of.frequency(Pitch.parse(name), a4)
        made = key_sound(wanted, Pitch.parse(name).midi, ("principale",), 0, pipes)
        assert abs(cents_off(made.loop, wanted)) < 2, name
        assert abs(cents_off(made.loop, wanted)) < 0.2, name  # and by what is reached


def test_a_held_key_goes_round_without_a_step_in_level_or_wave(pipes: RecordedPipes) -> None:
    for key in (36, 52, 60, 77):
        made = key_sound(hertz(key), key, ("principale",), 0, pipes)
        n = len(made.loop)
        turns = np.arange(len(made.head), 3 * n)
        sound = np.concatenate((made.head, made.loop[turns % n]))[RATE // 2 :].astype(float)
        level = np.sqrt(np.mean(sound[: len(sound) // 4410 * 4410].reshape(-1, 4410) ** 2, axis=1))
        assert level.max() / level.min() < 1.12, key
        bend = np.abs(np.diff(sound, 2))
        each = bend[: len(bend) // 441 * 441].reshape(-1, 441).max(axis=1)
        assert each.max() < 1.5 * np.median(each), key


def test_recorded_ranks_stand_at_their_place_beside_ours(pipes: RecordedPipes) -> None:
    for name in ("principale", "ottava"):
        ours, theirs = (key_sound(hertz(60), 60, (name,), 0, p).loop for p in (None, pipes))
        assert abs(20 * np.log10(np.std(theirs) / np.std(ours))) < 3
    both = key_sound(hertz(60), 60, ("principale", "flauto"), 0, pipes)
    flute = key_sound(hertz(60), 60, ("flauto",), 0, None)
    assert len(both.loop) == len(flute.loop)
    alone = key_sound(hertz(60), 60, ("principale",), 0, pipes)
    assert np.allclose(both.loop, alone.loop + flute.loop, atol=1e-5)


def test_a_whole_chord_is_played_from_the_samples(pipes: RecordedPipes) -> None:
    bars = (Bar(1, F(0), F(8)),)
    parts = tuple(
        Part(v, (Note(F(0), F(8), Pitch.parse(p)),))
        for v, p in (("cantus", "D5"), ("altus", "A4"), ("tenor", "F4"), ("bassus", "D3"))
    )
    score = notated(Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, parts))
    played = perform(score, TempoMap(((F(0), 500_000),)), "quarter-comma")
    ours, theirs = (render(played, "principale and ottava", recorded=p) for p in (None, pipes))
    assert ours.shape == theirs.shape and not np.allclose(ours, theirs, atol=0.01)
    assert 0.02 < np.abs(theirs).max() < 0.9
    bass = read_tuning("quarter-comma").frequency(Pitch.parse("D3"), 440.0)
    spectrum = np.fft.rfft(theirs[RATE : 3 * RATE].sum(axis=1))
    spectrum[(2 * 200) :] = 0  # the other voices, whose pitches are near the bass's harmonics
    assert abs(cents_off(np.fft.irfft(spectrum), bass)) < 2


def refused(folder: Path) -> list[str]:
    with pytest.raises(PipesError) as told:
        read_pipes(folder)
    return [line.partition(": ")[2].partition("/")[2] for line in str(told.value).splitlines()]


def test_everything_wrong_with_a_folder_is_told_at_once(tmp_path: Path) -> None:
    folder = folder_of(
        tmp_path / "p", "principale", {"C4": hertz(60), "D4": hertz(64)}, "by: A\nyear: 1700\n"
    )
    (folder / "ottava C4.wav").write_bytes(b"no sound")
    record(folder / "salicional C4.wav", hertz(60))
    record(folder / "principale.wav", hertz(60))
    record(folder / "ottava E3.wav", 2 * hertz(52), seconds=0.9)
    record(folder / "principale c4.wav", hertz(60))
    record(folder / "fiffaro C3.wav", hertz(48))
    soundfile.write(folder / "principale G4.wav", np.zeros(48_000), 48_000)
    rng = np.random.default_rng(1)
    soundfile.write(folder / "principale A4.wav", 0.1 * rng.normal(size=96_000), 48_000)
    (folder / "principale B4.mp3").write_bytes(b"x")
    told = "\n".join(refused(folder))
    for part in (
        "pipes.yaml: 'year' is no key of it; there are by, licence, pitch",
        "pipes.yaml: 'licence' must say under which licence",
        "ottava C4.wav: cannot be read as sound",
        "salicional C4.wav: 'salicional' is no rank of this organ; there are principale, ottava",
        "principale.wav: a file is called 'principale C4.wav'",
        "ottava E3.wav: has 0.",
        "principale c4.wav: principale has this key twice",
        "principale C4.flac: principale has this key twice",
        "fiffaro C3.wav: the fiffaro has keys from MIDI number 60",
        "principale G4.wav: is silent",
        "principale A4.wav: has no steady tone near 440 Hz",
        "principale B4.mp3: samples are WAV or FLAC",
        "principale D4.wav: ",
    ):
        assert part in told, (part, told)


def test_an_organ_at_another_pitch_is_told_apart_from_a_wrong_key(tmp_path: Path) -> None:
    samples = {"C4": hertz(60, a4=415.0), "C5": hertz(72, a4=415.0)}
    (first, _) = refused(folder_of(tmp_path / "low", "principale", samples))
    assert "101 cents below what C4 sounds with A at 440 Hz" in first
    found = read_pipes(folder_of(tmp_path / "low", "principale", samples, TABLE + "pitch: 415\n"))
    assert len(found.pipes) == 2


def test_a_folder_that_is_not_there_or_empty_is_refused(tmp_path: Path) -> None:
    with pytest.raises(PipesError, match="is not there"):
        read_pipes(tmp_path / "none")
    (tmp_path / "pipes.yaml").write_text(TABLE)
    assert refused(tmp_path)[0].startswith("no sample is there")


def test_another_sample_makes_another_value(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "p", "principale", {"C4": hertz(60)})
    before = repr(read_pipes(folder))
    record(folder / "principale C4.flac", hertz(60), partials=(1, 0.1))
    assert repr(read_pipes(folder)) != before


def test_ranks_that_break_back_are_named_by_the_key(tmp_path: Path) -> None:
    rank = RANKS["vigesimanona"]
    sounds = {
        key: hertz(Pitch.parse(key).midi, rank.sounding_harmonic(Pitch.parse(key).midi))
        for key in ("C2", "C5")
    }
    found = read_pipes(folder_of(tmp_path / "p", "vigesimanona", sounds))
    wanted = hertz(72)
    made = key_sound(wanted, 72, ("vigesimanona",), 0, found)
    assert abs(cents_off(made.loop, wanted * rank.sounding_harmonic(72))) < 2


# In the page


def test_a_rank_takes_no_more_than_seven_pipes_and_three_hundred_thousand_bytes(tmp_path: Path) -> None:
    samples = {
        f"{letter}{octave}": hertz(Pitch.parse(f"{letter}{octave}").midi)
        for octave in (2, 3, 4, 5)
        for letter in "CEGA"
    }
    found = read_pipes(folder_of(tmp_path / "p", "principale", samples))
    text = page_pipes(found, "principale")
    carried = json.loads(text)
    assert len(carried["pipes"]) == 7 and 50_000 < len(text) < LARGEST_SCRIPT
    assert (carried["by"], carried["licence"]) == ("Two Players", "CC-BY-4.0")
    assert text == page_pipes(found, "principale")


def test_loops_of_the_page_hold_whole_vibrations(pipes: RecordedPipes) -> None:
    for each in json.loads(page_pipes(pipes, "ottava"))["pipes"]:
        turns = (each["end"] - each["start"]) * each["hertz"]
        assert abs(turns - round(turns)) < 2e-3
        with soundfile.SoundFile(io.BytesIO(base64.b64decode(each["sound"]))) as file:
            sound = file.read(dtype="float32")
            assert file.frames / file.samplerate > each["end"] + 0.05
        steady = sound[int(each["start"] * RATE) :]
        assert abs(cents_off(steady, each["hertz"])) < 0.3


def test_rank_data_names_the_script_of_a_recorded_rank(pipes: RecordedPipes) -> None:
    drawn = Registration.parse("principale and flauto")
    data = rank_data(drawn, recorded=pipes)
    assert {d["name"]: d.get("recorded") for d in data} == {
        "principale": script_name(pipes, "principale"),
        "flauto": None,
    }
