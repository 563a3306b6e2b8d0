"""Performances as people give them, with the truth beside: bent in tempo, with pauses, shakes and noise, on
another organ in another room."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import NDArray

from builder.music import TUNINGS, Score
from builder.sound import CHURCH, Performance, Registration, TempoMap, perform, render
from builder.sound.alignment import HEARD, Sound
from builder.sound.pipes import RATE

REGISTRATIONS = (
    "principale",
    "principale and ottava",
    "principale and flauto",
    "ripieno",
    "principale and fiffaro",
    "flauto",
)


@dataclass(frozen=True, slots=True)
class Take:
    """A recording, and pairs of seconds: when each note stands in the verset, and when it was struck."""

    sound: Sound
    truth: NDArray[np.float64]
    a4: float


def bent(end: float, rng: np.random.Generator) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A tempo that goes up and down by a quarter, and three pauses: seconds of the verset, of the take."""
    moments = np.arange(0, end + 0.05, 0.05)
    waves = zip(rng.uniform(4, 20, 3), rng.uniform(0, 2 * np.pi, 3), strict=True)
    swing = sum(np.sin(2 * np.pi * moments / period + phase) for period, phase in waves)
    pace = 1 + 0.25 * swing / np.abs(swing).max()
    seconds = np.concatenate([[0], np.cumsum(0.05 / pace[:-1])]) + rng.uniform(0.5, 3)
    for _ in range(3):
        seconds += np.where(moments >= rng.uniform(2, end - 2), rng.uniform(0.4, 1.6), 0)
    return moments, seconds


def take(score: Score, tempo: TempoMap, seed: int) -> Take:
    """A score as somebody may have played it."""
    rng = np.random.default_rng(seed)
    tuning, a4 = TUNINGS[list(TUNINGS)[rng.integers(len(TUNINGS))]], rng.uniform(415, 466)
    played = perform(score, tempo, tuning, a4=a4)
    moments, seconds = bent(played.end, rng)
    notes, truth = [], []
    for note in played.notes:
        start = float(np.interp(note.start, moments, seconds))
        struck = start + rng.normal(0, 0.012)
        end = max(struck + 0.05, float(np.interp(note.end, moments, seconds)))
        truth.append((note.start, start))
        shaken = rng.random() < 0.06 and note.end - note.start > 0.5
        above = note.hertz * 2 ** (rng.choice([1, 2]) / 12)
        for n in range(4 if shaken else 0):
            hertz = note.hertz if n % 2 else above
            notes.append(replace(note, hertz=hertz, start=struck + n * 0.09, end=struck + n * 0.09 + 0.08))
        begin = struck + 0.36 if shaken else struck
        notes.append(replace(note, start=begin, end=max(end, begin + 0.05)))
    return Take(heard(replace(played, notes=tuple(notes)), rng), np.unique(truth, axis=0), a4)


def heard(played: Performance, rng: np.random.Generator) -> Sound:
    """What a microphone has of it: some registration, a church or none, and noise 20 to 40 dB below."""
    notes = tuple(sorted(played.notes, key=lambda note: note.start))
    drawn = Registration.parse(REGISTRATIONS[rng.integers(len(REGISTRATIONS))])
    room = CHURCH if rng.random() < 0.7 else None
    whole = replace(played, notes=notes, end=max(note.end for note in notes))
    sound = render(whole, drawn, room=room).mean(axis=1)
    noise = rng.normal(0, float(np.sqrt(np.mean(sound**2))), len(sound)) * 10 ** (-rng.uniform(20, 40) / 20)
    return np.asarray(scipy.signal.resample_poly(sound + noise, HEARD, RATE), np.float32)


def errors(points: tuple[tuple[float, float], ...], truth: NDArray[np.float64]) -> NDArray[np.float64]:
    """Milliseconds by which each note was missed."""
    known = np.array(points)
    found = np.interp(truth[:, 0], known[:, 0], known[:, 1])
    return np.asarray(np.abs(found - truth[:, 1]) * 1000, np.float64)
