"""A recording laid beside the score: at which second of it each moment of the verset sounds.

Recording and score are heard alike. The score is played by our own pipes, without a room; of both sounds it
is found fifty times a second which of the twelve notes sound, and which begin (chroma, and chroma onsets that
fade: S. Ewert, M. Müller and P. Grosche, *High resolution audio synchronization using chroma onset features*,
ICASSP 2009; from memory). The two are laid on one another by dynamic time warping. The pitch of the organ is
found first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import scipy
import soundfile
from dtaidistance import dtw, dtw_ndim
from numpy.typing import NDArray

from builder.sound.performance import Performance
from builder.sound.pipes import RATE
from builder.sound.render import blocks

HEARD = RATE // 2
"""Samples a second in which sounds are compared."""
HOP = HEARD // 50
LONGEST = 4 * 3600
"""Seconds of a recording that is still read."""
UNSURE = 0.45
"""Below this a bar is not heard as it stands: something else is played, or nothing."""
_TONE, _ONSET = 8192, 2048
"""Samples of the windows in which notes, and beginnings, are heard."""
_LOWEST, _HIGHEST, _BEGINS = 36, 96, 50
"""MIDI numbers between which notes are heard, and from which on their beginnings are."""
_WIDEST = 200
"""Cents by which an organ may stand higher or lower than a' = 440 Hz."""
_BENT, _BEGINNING = 0.8, 1.7
"""Price of a frame in which only one of both goes on, and how much a beginning weighs beside what sounds: the
best of six pairs on eighteen takes of our own."""
_COARSE, _FRAMES = 5, 3000
"""Frames in one of the first, coarse pass, and the most that it has."""
_PIECE, _BESIDE = 750, 250
"""Frames of a piece of the second pass, and of what is heard before and behind it."""

Sound = NDArray[np.float32]
"""One channel, `HEARD` samples a second."""
Features = NDArray[np.float64]
"""Frames × 24."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """`points`: pairs of seconds, of the verset and of the recording, both rising. `sure`: for each bar how
    well what is heard is what stands there, from 0 (as anything else would) to 1. `cents`: how much higher
    than the score, at its pitch, the recording sounds."""

    points: tuple[tuple[float, float], ...]
    sure: tuple[tuple[int, float], ...]
    cents: int

    @property
    def departures(self) -> tuple[int, ...]:
        """Bars that are not heard as they stand."""
        return tuple(bar for bar, share in self.sure if share < UNSURE)


def read_sound(path: Path) -> Sound:
    """The sound of a file with its channels mixed to one, at `HEARD` samples a second, at a level that is
    the same for all recordings (root mean square 1). `ValueError` when it holds no sound, is silent, or is
    longer than `LONGEST` seconds.

    A second with 440 Hz on the left and 660 Hz on the right:

    >>> from tempfile import TemporaryDirectory
    >>> left, right = (np.sin(np.arange(44100) / 44100 * 2 * np.pi * hertz) / 10 for hertz in (440, 660))
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "fifth.wav"
    ...     soundfile.write(path, np.stack([left, right], axis=1), 44100)
    ...     sound = read_sound(path)
    >>> len(sound) / HEARD, round(float(np.sqrt(np.mean(sound**2))), 3)
    (1.0, 1.0)
    >>> sorted(int(hertz) for hertz in np.argsort(np.abs(np.fft.rfft(sound)))[-2:])
    [440, 660]
    """
    try:
        with soundfile.SoundFile(path) as file:
            if file.frames > LONGEST * file.samplerate:
                raise ValueError(f"{path.name}: longer than {LONGEST // 3600} hours")
            pieces = [block.mean(axis=1) for block in file.blocks(1 << 18, dtype="float32", always_2d=True)]
            rate = file.samplerate
    except soundfile.SoundFileError as problem:
        raise ValueError(f"{path.name}: no sound that can be read") from problem
    sound = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
    if not len(sound) or not np.abs(sound).max() > 1e-5:
        raise ValueError(f"{path.name}: silence")
    return _level(scipy.signal.resample_poly(sound, HEARD, rate))


def align(sound: Sound, performance: Performance, fixed: Sequence[tuple[float, float]] = ()) -> Alignment:
    """Lay a recording beside a performance of the score. `fixed`: pairs of seconds, of the performance and of
    the recording, that are known, both rising.

    >>> from builder.music import notated
    >>> from builder.sound.performance import perform
    >>> from builder.sound.tempo import tempo_map
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> played = perform(notated(verset.score()), tempo_map(verset))
    >>> late = np.concatenate([np.zeros(HEARD, np.float32), reference(played)])  # it begins a second later
    >>> found = align(late, played)
    >>> abs(dict(found.points)[0.0] - 1.0) < 0.05, found.departures
    (True, ())
    """
    score = reference(performance)
    cents = _higher(_spectrum(score), _spectrum(sound))
    ours, theirs = _features(score, 0), _features(sound, cents)
    first, last = _sounding(sound)
    known = [(0, first), *((_frame(a), _frame(b)) for a, b in fixed), (len(ours) - 1, last)]
    known = [k for n, k in enumerate(known) if n in (0, len(known) - 1) or first < k[1] < last]
    stretches = [(a, c) for a, c in pairwise(known) if c[0] > a[0] and c[1] > a[1]]
    pieces = [_path(ours[a : c + 1], theirs[b : d + 1]) + np.array([a, b]) for (a, b), (c, d) in stretches]
    path = np.concatenate(pieces)
    bars, notes = (start for _, start in performance.bars), (note.start for note in performance.notes)
    moments = sorted({*performance.beats, *bars, *notes})
    return Alignment(_points(path, moments, dict(fixed)), _sure(path, ours, theirs, performance), cents)


def reference(performance: Performance) -> Sound:
    """The performance as it is compared with recordings."""
    sound = np.concatenate(list(blocks(performance, room=None))).mean(axis=1)
    return _level(scipy.signal.resample_poly(sound, HEARD, RATE))


def _level(sound: NDArray[np.float32]) -> Sound:
    loud = float(np.sqrt(np.mean(np.square(sound)))) + 1e-9
    return np.asarray(sound / loud, np.float32)


def _frame(seconds: float) -> int:
    return round(seconds * HEARD / HOP)


def _windows(sound: Sound, size: int) -> NDArray[np.float32]:
    """Amplitudes by frame and frequency."""
    padded = np.pad(sound, (size // 2, size // 2))
    cut = np.lib.stride_tricks.sliding_window_view(padded, size)[::HOP]
    window = np.hanning(size).astype(np.float32)
    heard = np.empty((len(cut), size // 2 + 1), np.float32)
    for n in range(0, len(cut), 512):
        heard[n : n + 512] = np.abs(np.fft.rfft(cut[n : n + 512] * window, axis=1))
    return heard


def _spectrum(sound: Sound) -> NDArray[np.float64]:
    """What sounds over the whole, in steps of ten cents, without its slope."""
    steps = np.arange(_LOWEST * 100 + 900, _HIGHEST * 100 + 900, 10.0)
    heard = np.log1p(_windows(sound, _TONE)[::4].mean(axis=0))
    found = np.interp(440 * 2 ** ((steps - 6900) / 1200), np.fft.rfftfreq(_TONE, 1 / HEARD), heard)
    return np.asarray(found - np.convolve(found, np.ones(21) / 21, "same"), np.float64)


def _higher(ours: NDArray[np.float64], theirs: NDArray[np.float64]) -> int:
    """By how many cents the second sounds higher."""
    most = _WIDEST // 10
    inner = slice(most + 10, len(ours) - most - 10)
    like = {k: float(np.sum(ours[inner] * np.roll(theirs, -k)[inner])) for k in range(-most, most + 1)}
    return 10 * max(like, key=lambda k: like[k])


def _notes(heard: NDArray[np.float32], cents: int) -> NDArray[np.float32]:
    """Energies by frame and note; a note takes what sounds within half a tone's half of it."""
    hertz = np.fft.rfftfreq(2 * (heard.shape[1] - 1), 1 / HEARD)
    pitch = 69 + 12 * np.log2(np.maximum(hertz, 1.0) / 440) - cents / 100
    away = np.abs(pitch[:, None] - np.arange(_LOWEST, _HIGHEST + 1))
    share = np.where(away < 0.5, np.cos(np.pi * away) ** 2, 0)
    share[away.argmin(axis=0), np.arange(share.shape[1])] += share.sum(axis=0) == 0
    energies: NDArray[np.float32] = heard**2 @ share.astype(np.float32)
    return energies / max(float(np.median(energies.max(axis=1))), 1e-9)


def _folded(notes: NDArray[np.float32], lowest: int) -> NDArray[np.float64]:
    """By the twelve notes, whatever the octave."""
    fold = np.eye(12)[(lowest + np.arange(notes.shape[1])) % 12]
    return notes @ fold


def _features(sound: Sound, cents: int) -> Features:
    tones = _folded(np.log1p(10 * _notes(_windows(sound, _TONE), cents)), _LOWEST)
    tones /= np.maximum(np.linalg.norm(tones, axis=1, keepdims=True), 1.0)
    strength = np.log1p(100 * _notes(_windows(sound, _ONSET), cents)[:, _BEGINS - _LOWEST :])
    rise = np.zeros_like(strength)
    rise[1:-1] = np.maximum(strength[2:] - strength[:-2], 0)
    begins = _folded(rise, _BEGINS)
    usual = np.convolve(np.linalg.norm(begins, axis=1), np.ones(101) / 101, "same") + 1e-6
    begins /= 2.5 * usual[:, None]
    fading = begins.copy()
    for n in range(1, 5):
        fading[n:] = np.maximum(fading[n:], begins[:-n] * np.sqrt(1 - n / 5))
    count = min(len(tones), len(fading))
    return np.hstack([tones[:count], _BEGINNING * np.minimum(fading[:count], 1.5)]).astype(np.double)


def _sounding(sound: Sound) -> tuple[int, int]:
    """The frames between which a recording is not silent."""
    energy = np.add.reduceat(sound.astype(np.float64) ** 2, np.arange(0, len(sound), HOP))
    loud = np.flatnonzero(energy > 0.03 * np.median(energy[energy > 0.1 * energy.max()]))
    return max(int(loud[0]) - 10, 0), min(int(loud[-1]) + 10, len(energy) - 1)


def _path(ours: Features, theirs: Features) -> NDArray[np.int64]:
    """Pairs of frames from both beginnings to both ends: coarse over the whole, then piece by piece."""
    if max(len(ours), len(theirs)) <= _PIECE + 2 * _BESIDE:
        return _warped(ours, theirs)
    step = max(_COARSE, -(-max(len(ours), len(theirs)) // _FRAMES))
    coarse = _warped(_thinned(ours, step), _thinned(theirs, step)) * step
    pieces = []
    for start in range(0, len(ours), _PIECE):
        stop = min(start + _PIECE, len(ours))
        low, high = max(start - _BESIDE, 0), min(stop + _BESIDE, len(ours))
        left = 0 if low == 0 else _met(coarse, low)
        right = len(theirs) if high == len(ours) else min(_met(coarse, high) + 1, len(theirs))
        piece = _warped(ours[low:high], theirs[left:right]) + np.array([low, left])
        pieces.append(piece[(piece[:, 0] >= start) & (piece[:, 0] < stop)])
    path = np.concatenate(pieces)
    path[:, 1] = np.maximum.accumulate(path[:, 1])
    return path


def _met(path: NDArray[np.int64], frame: int) -> int:
    return int(np.interp(frame, path[:, 0], path[:, 1]))


def _thinned(features: Features, step: int) -> Features:
    starts = np.arange(0, len(features), step)
    return np.ascontiguousarray(np.add.reduceat(features, starts) / step)


def _warped(ours: Features, theirs: Features) -> NDArray[np.int64]:
    one, other = np.ascontiguousarray(ours), np.ascontiguousarray(theirs)
    _, table = dtw_ndim.warping_paths_fast(one, other, penalty=_BENT)
    return np.array(dtw.best_path(table), np.int64)


def _points(
    path: NDArray[np.int64], moments: Sequence[float], fixed: dict[float, float]
) -> tuple[tuple[float, float], ...]:
    """When each moment of the verset sounds: at the last frame laid on it, since till then the note before it
    lasts."""
    frames, at = np.unique(path[:, 0], return_inverse=True)
    latest = np.zeros(len(frames))
    np.maximum.at(latest, at, path[:, 1])
    seconds = np.interp(moments, frames * HOP / HEARD, latest * HOP / HEARD)
    held = {round(moment, 4): second for moment, second in fixed.items()}
    found = {round(m, 4): round(float(s), 3) for m, s in zip(moments, seconds, strict=True)} | held
    kept: list[tuple[float, float]] = []
    for moment, second in sorted(found.items()):
        while moment in held and kept and second <= kept[-1][1]:
            kept.pop()
        if not kept or second > kept[-1][1]:
            kept.append((moment, second))
    return tuple(kept)


def _sure(
    path: NDArray[np.int64], ours: Features, theirs: Features, performance: Performance
) -> tuple[tuple[int, float], ...]:
    apart = np.linalg.norm(ours[path[:, 0], :12] - theirs[path[:, 1], :12], axis=1)
    other = np.roll(path[:, 1], len(path) // 2)
    chance = float(np.median(np.linalg.norm(ours[path[:, 0], :12] - theirs[other, :12], axis=1))) + 1e-9
    starts = [start for _, start in performance.bars] + [performance.end]
    found = []
    for (number, _), (start, end) in zip(performance.bars, pairwise(starts), strict=True):
        here = (path[:, 0] >= _frame(start)) & (path[:, 0] < max(_frame(end), _frame(start) + 1))
        share = 1 - float(apart[here].mean()) / chance if here.any() else 0.0
        found.append((number, round(min(max(share, 0.0), 1.0), 2)))
    return tuple(found)
