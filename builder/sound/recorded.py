"""Recorded pipes: a course's folder of samples, read and held against what their names say.

A file is one pipe: its name is the rank, a blank and the key that was pressed, `principale C4.wav` or
`flauto in duodecima Bb3.flac`. Beside them `pipes.yaml` says who recorded the pipes (`by`), under which
licence (`licence`) and, where that is not 440, the hertz of A (`pitch`). Each pitch is measured.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray

from builder.music import Pitch
from builder.music.temperament import HIGHEST_A4, LOWEST_A4
from builder.sound.ranks import RANKS, Rank

Wave = NDArray[np.float32]
TABLE = "pipes.yaml"
MOST_FILES, LARGEST, LONGEST = 500, 50_000_000, 60.0
"""Files of a folder, bytes and seconds of one."""
SHORTEST = 0.4
"""Seconds of steady tone that a sample must have."""
FARTHEST = 80.0
"""Cents by which a sample may lie beside equal temperament: more is another key, or another `pitch`."""
_NAME = re.compile(r"(?P<rank>.+?)[ _-]+(?P<key>[A-Ga-g][#b♯♭]?[0-9])")
_SUFFIXES = (".wav", ".flac")


class PipesError(ValueError):
    """Everything that is wrong with a folder of samples, a line for each file."""


@dataclass(frozen=True, slots=True)
class RecordedPipe:
    """One sample: the file in its folder and its checksum, the rank, the key pressed (MIDI number), the hertz
    of its pipe as measured, its level (RMS, full scale 1), and the samples of its file from which and up to
    which it speaks, and from which its tone is steady."""

    file: str
    digest: str
    rank: str
    key: int
    hertz: float
    level: float
    speaks: int
    steady: int
    ends: int


@dataclass(frozen=True, slots=True)
class RecordedPipes:
    """The samples of a course, who recorded them and under which licence."""

    folder: str
    by: str
    licence: str
    pipes: tuple[RecordedPipe, ...]

    def has(self, rank: str) -> bool:
        return any(pipe.rank == rank for pipe in self.pipes)

    def of(self, rank: str) -> tuple[RecordedPipe, ...]:
        """The samples of a rank, from the lowest key up."""
        return tuple(sorted((p for p in self.pipes if p.rank == rank), key=lambda p: p.key))

    def nearest(self, rank: str, hertz: float) -> RecordedPipe:
        """The sample of a rank that is nearest in pitch to a pipe that sounds so many hertz."""
        return min(self.of(rank), key=lambda p: abs(np.log(p.hertz / hertz)))

    def told(self) -> str:
        """Whose recordings they are, for tags and pages.

        >>> RecordedPipes("pipes", "A. Reader", "CC-BY-4.0", ()).told()
        'A. Reader, CC-BY-4.0'
        """
        return f"{self.by}, {self.licence}"


def read_pipes(folder: Path) -> RecordedPipes:
    """Read a folder of samples. `PipesError` names every file that cannot be used, with what is wrong.

    >>> read_pipes(Path("no-such-folder"))
    Traceback (most recent call last):
    ...
    builder.sound.recorded.PipesError: pipes: the folder no-such-folder is not there
    """
    if not folder.is_dir():
        raise PipesError(f"pipes: the folder {folder} is not there")
    wrong: list[str] = []
    said = _table(folder / TABLE, wrong)
    a4 = said.get("pitch", 440.0)
    files = sorted(p for p in folder.iterdir() if p.name != TABLE and not p.name.startswith("."))
    if len(files) > MOST_FILES:
        raise PipesError(f"pipes: {folder.name} has {len(files)} files; at most {MOST_FILES} are read")
    found: list[RecordedPipe] = []
    for path in files:
        if path.suffix.lower() in (".txt", ".md", ".pdf") or path.name.upper().startswith("LICEN"):
            continue  # words about the recordings
        try:
            found.append(_pipe(path, float(a4)))
        except ValueError as problem:
            wrong.append(f"{path.name}: {problem}")
    twice = Counter((pipe.rank, pipe.key) for pipe in found)
    wrong += [
        f"{pipe.file}: {pipe.rank} has this key twice" for pipe in found if twice[pipe.rank, pipe.key] > 1
    ]
    if not found and not wrong:
        wrong.append(f"no sample is there; a file is called {_EXAMPLE}")
    if wrong:
        raise PipesError("\n".join(f"pipes: {folder.name}/{line}" for line in wrong))
    return RecordedPipes(str(folder), said["by"], said["licence"], tuple(found))


_EXAMPLE = "'principale C4.wav' or 'principale C4.flac': the rank, a blank, the key that was pressed"


def _table(path: Path, wrong: list[str]) -> Mapping[str, Any]:
    """What the table beside the samples says; what is wrong with it is added to `wrong`."""
    try:
        text = path.read_text("utf-8") if path.is_file() else ""
        said = yaml.safe_load(text) if len(text) < 10_000 else None
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as problem:
        wrong.append(f"{TABLE}: {str(problem).splitlines()[0]}")
        return {}
    said = said if isinstance(said, dict) else {}
    wrong += [
        f"{TABLE}: {key!r} is no key of it; there are by, licence, pitch"
        for key in said
        if key not in ("by", "licence", "pitch")
    ]
    wrong += [
        f"{TABLE}: {key!r} must say {what}; recordings of pipes are somebody's work"
        for key, what in (("by", "who recorded the pipes"), ("licence", "under which licence"))
        if not isinstance(said.get(key), str) or not said[key].strip()
    ]
    a4 = said.get("pitch", 440.0)
    if isinstance(a4, bool) or not isinstance(a4, int | float) or not LOWEST_A4 <= a4 <= HIGHEST_A4:
        wrong.append(f"{TABLE}: pitch {a4!r} is not between {LOWEST_A4:g} and {HIGHEST_A4:g} Hz")
        return said | {"pitch": 440.0}
    return said


def _pipe(path: Path, a4: float) -> RecordedPipe:
    if path.suffix.lower() not in _SUFFIXES:
        raise ValueError("samples are WAV or FLAC")
    named = _NAME.fullmatch(path.stem)
    if not named:
        raise ValueError(f"a file is called {_EXAMPLE}")
    name = " ".join(re.split(r"[ _-]+", named["rank"].lower()))
    if name not in RANKS:
        raise ValueError(f"{name!r} is no rank of this organ; there are {', '.join(RANKS)}")
    rank = RANKS[name]
    pressed = named["key"][0].upper() + named["key"][1:].replace("♯", "#").replace("♭", "b")
    key = Pitch.parse(pressed).midi
    if not rank.has(key):
        low, high = rank.lowest, rank.highest
        raise ValueError(f"the {name} has keys from MIDI number {low} to {high}, and {pressed} is {key}")
    if path.stat().st_size > LARGEST:
        raise ValueError(f"larger than {LARGEST // 1_000_000} MB")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()[:16]
    sound, rate = wave(str(path), digest)
    speaks, steady, ends = _parts(sound, rate)
    expected = a4 * 2 ** ((key - 69) / 12) * float(rank.sounding_harmonic(key))
    hertz = measured(sound[steady:ends], rate, expected)
    cents = 1200 * np.log2(hertz / expected)
    if abs(cents) > FARTHEST:
        way = "above" if cents > 0 else "below"
        raise ValueError(
            f"sounds {hertz:.1f} Hz, {abs(cents):.0f} cents {way} what {pressed} sounds with A at {a4:g} Hz; "
            f"name it by its key, or say the pitch of its organ in {TABLE}"
        )
    level = float(np.sqrt(np.mean(sound[steady:ends].astype(float) ** 2)))
    return RecordedPipe(path.name, digest, name, key, hertz, level, speaks, steady, ends)


@lru_cache(maxsize=8)
def wave(path: str, digest: str) -> tuple[Wave, int]:
    """A sample in one channel, and its rate; `ValueError` where it is no sound. `digest` keeps what is
    remembered apart from what the file was before."""
    import soundfile

    try:
        with soundfile.SoundFile(path) as file:
            if file.frames > LONGEST * file.samplerate:
                raise ValueError(f"longer than {LONGEST:g} seconds")
            sound = file.read(dtype="float32", always_2d=True).mean(axis=1)
            rate = int(file.samplerate)
    except (soundfile.SoundFileError, RuntimeError) as problem:
        raise ValueError(f"cannot be read as sound ({problem})") from None
    if not np.isfinite(sound).all():
        raise ValueError("has values that are no numbers")
    return sound, rate


def _parts(sound: Wave, rate: int) -> tuple[int, int, int]:
    """Where a sample begins to speak, where its tone is steady, and where it ends, before it is let go."""
    step = rate // 100
    frames = len(sound) // step
    if frames < 10 or np.abs(sound).max() < 1e-3:
        raise ValueError("is silent" if len(sound) >= 10 * step else "is too short")
    level = np.sqrt(np.mean(sound[: frames * step].reshape(frames, step).astype(float) ** 2, axis=1))
    usual = float(np.percentile(level[level > 0.1 * level.max()], 60))
    loud = np.flatnonzero(level > 0.6 * usual)
    first = int(np.flatnonzero(level > 0.05 * usual)[0]) * step
    near = np.abs(sound[first : first + 2 * step])
    speaks = first + int(np.argmax(near > 0.2 * near.max()))
    ends = (int(loud[-1]) - 1) * step
    steady = speaks + min(int(0.35 * rate), (ends - speaks) // 3)
    if ends - steady < SHORTEST * rate:
        raise ValueError(
            f"has {max(0.0, (ends - steady) / rate):.2f} s of steady tone; it needs {SHORTEST:g} s"
        )
    return speaks, steady, ends


def measured(sound: Wave, rate: int, expected: float) -> float:
    """Hertz of a pipe's tone near an expected pitch (up to 160 cents away), from all its harmonics.

    `ValueError` where there is no tone. Within a tenth of a cent for a steady tone of half a second:

    >>> t = np.arange(22_050) / 44_100
    >>> tone = np.sin(2 * np.pi * 441.3 * t) + 0.3 * np.sin(2 * np.pi * 882.6 * t)
    >>> round(measured(tone.astype(np.float32), 44_100, 440.0), 1)
    441.3
    """
    piece = sound[: 3 * rate].astype(float)
    size = 4 << (len(piece) - 1).bit_length()
    level = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), size))
    count = max(1, min(8, int(rate / 2.2 / expected)))
    harmonics = np.arange(1, count + 1)
    cents = np.arange(-160.0, 160.5, 0.5)
    tried = expected * 2 ** (cents / 1200)
    places = np.rint(np.outer(tried, harmonics) * size / rate).astype(int)
    best = float(tried[int(np.argmax(level[places].sum(axis=1)))])
    found, weight = 0.0, 0.0
    for n in harmonics:
        low, high = (int(best * n * 2 ** (c / 1200) * size / rate) for c in (-8, 8))
        low, high = low - 3, high + 4
        top = low + int(np.argmax(level[low:high]))
        a, b, c = np.log(level[top - 1 : top + 2] + 1e-12)
        at = (top + (a - c) / (a - 2 * b + c) / 2) * rate / size / n
        strength = float(level[top] ** 2) * n
        found, weight = found + at * strength, weight + strength
    noise = float(np.median(level[int(20 * size / rate) : int(5000 * size / rate)]))
    if level[places[int(np.argmax(level[places].sum(axis=1)))]].max() < 20 * noise:
        raise ValueError(f"has no steady tone near {expected:.0f} Hz")
    return float(found / weight)


def share_of(pipes: RecordedPipes, rank: Rank) -> float:
    """By what the samples of a rank are multiplied so that the rank stands at its place among the others;
    its pipes keep their strengths among themselves."""
    logs = [np.log(rank.gain(p.key) / p.level) for p in pipes.of(rank.name)]
    return float(np.exp(np.mean(logs)))
