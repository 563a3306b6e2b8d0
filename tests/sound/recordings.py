"""Recordings of pipes that never were: tones with a known pitch, off by cents, in a room, with noise."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

TABLE = "by: Two Players\nlicence: CC-BY-4.0\n"


def hertz(key: int, harmonic: float = 1, cents: float = 0.0, a4: float = 440.0) -> float:
    return float(a4 * 2 ** ((key - 69) / 12 + cents / 1200) * harmonic)


def record(
    path: Path,
    sounds: float,
    *,
    seconds: float = 2.5,
    rate: int = 48_000,
    stereo: bool = True,
    partials: tuple[float, ...] = (1, 0.5, 0.3, 0.15, 0.1, 0.05),
) -> Path:
    """A pipe that speaks after a fifth of a second, rises, stands, and dies away."""
    rng = np.random.default_rng(len(path.name))
    t = np.arange(int(seconds * rate)) / rate
    speaks, ends = 0.2, seconds - 0.5
    shape = np.where(t < speaks, 0, 1 - np.exp(-np.maximum(t - speaks, 0) / 0.03))
    shape *= np.where(t < ends, 1, np.exp(-np.maximum(t - ends, 0) / 0.1))
    tone = np.zeros_like(t)
    for n, amplitude in enumerate(partials, 1):
        if n * sounds < rate / 2.2:
            wavers = 1 + 0.02 * np.sin(2 * np.pi * (1.3 + 0.2 * n) * t)
            tone += amplitude * wavers * np.sin(2 * np.pi * n * sounds * t + rng.uniform(0, 6))
    sound = 0.2 * tone * shape + 2e-4 * rng.normal(size=len(t))
    soundfile.write(path, np.stack((sound, 0.9 * sound), 1) if stereo else sound, rate, subtype="PCM_16")
    return path


def folder_of(folder: Path, rank: str, samples: dict[str, float], table: str = TABLE) -> Path:
    """A folder with a rank's samples: names of keys, and what they sound in hertz."""
    folder.mkdir(exist_ok=True)
    (folder / "pipes.yaml").write_text(table, "utf-8")
    for n, (key, sounds) in enumerate(samples.items()):
        record(folder / f"{rank} {key}.{'wav' if n % 2 else 'flac'}", sounds, stereo=n % 3 > 0)
    return folder
