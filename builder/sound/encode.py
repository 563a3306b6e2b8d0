"""Audio files: brought to a stated loudness, peaks held down, silence
trimmed to a breath before the first note, tags written.

Loudness after EBU R 128 (programme loudness −23 LUFS), measured as ITU-R BS.1770-4 says; true peak by
four-fold oversampling as its annex 2 says. Everything is done in blocks: a long piece needs no more
memory than a short one.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from builder.sound.id3 import id3
from builder.sound.pipes import RATE, Samples

LOUDNESS = -23.0
"""LUFS, EBU R 128."""
CEILING = -1.0
"""Decibels that the true peak stays below."""
QUIET = -60.0
"""Decibels below the loudest sample at which a beginning or an end counts as silence."""
BREATH = 0.4
"""Seconds of silence before the first note: a player that fades in, or starts late, cuts nothing off."""
MP3_COMPRESSION = 0.4
"""From 0 (largest file) to 1; the rate varies with the sound. At 0.4 it is 115 to 150 kilobits a second (0.1:
175 to 225): the noise it adds lies 25 to 35 dB below the strong bands, and 15 dB below those 30 dB weaker."""
BLOCK = 1 << 16
_FORMATS = {".flac": ("FLAC", "PCM_16"), ".mp3": ("MP3", "MPEG_LAYER_III"), ".wav": ("WAV", "PCM_16")}


@dataclass(frozen=True, slots=True)
class Encoded:
    """A file written: its length in seconds, its loudness (LUFS) and true peak (dB), and the second of the
    performance at which it begins: the breath before the first note counted, below 0 where nothing was
    trimmed."""

    path: Path
    seconds: float
    loudness: float
    true_peak: float
    offset: float


def encode(
    audio: Samples | Iterable[Samples],
    paths: Path | str | Sequence[Path | str],
    tags: Mapping[str, str] | None = None,
    *,
    loudness: float = LOUDNESS,
) -> tuple[Encoded, ...]:
    """Write sound (samples × 2, or blocks of it as `blocks` gives) to `.flac`, `.mp3` or `.wav` files.

    `tags` may hold `title`, `artist`, `album`, `comment`, `copyright`, `date`, `genre`, `license` and
    `tracknumber`; what MP3 has a field for, `id3` says. The same sound gives the same bytes. `ValueError`
    for another ending of the name, an unknown tag, or silence.

    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> import numpy as np
    >>> tone = np.sin(np.arange(44_100)[:, None] * np.array([0.06, 0.06])).astype(np.float32)
    >>> with TemporaryDirectory() as folder:
    ...     (written,) = encode(tone, Path(folder) / "tone.wav", {"title": "A tone"})
    >>> written.path.name
    'tone.wav'
    """
    wanted = [Path(p) for p in ([paths] if isinstance(paths, str | Path) else paths)]
    for path in wanted:
        if path.suffix not in _FORMATS:
            raise ValueError(f"{path.name}: audio is written as {', '.join(sorted(_FORMATS))}")
    for tag in tags or {}:
        if tag not in _TAGS:
            raise ValueError(f"tag {tag!r} is unknown; known are {', '.join(_TAGS)}")
    with tempfile.TemporaryFile() as spool:
        total = _spool(audio, spool)
        first, last = _sounding(spool, total)
        found = measure_loudness(_pieces(spool, first, last, _LOUDNESS_BLOCK), _SILENT)
        peak = true_peak(_pieces(spool, first, last, BLOCK))
        gain = min(loudness - found, CEILING - 0.2 - peak)
        for path in wanted:
            sounding = _faded(_pieces(spool, first, last, BLOCK), last - first, gain)
            _write(path, chain([np.zeros((_SILENT, 2), np.float32)], sounding), tags or {})
    length, offset = (_SILENT + last - first) / RATE, (first - _SILENT) / RATE
    return tuple(Encoded(p, length, found + gain, peak + gain, offset) for p in wanted)


_SILENT = round(BREATH * RATE)
_TAGS = ("title", "artist", "album", "comment", "copyright", "date", "genre", "license", "tracknumber")


def _spool(audio: Samples | Iterable[Samples], spool: IO[bytes]) -> int:
    """Lay the sound down on disk; gives its length in samples."""
    total = 0
    for block in [audio] if isinstance(audio, np.ndarray) else audio:
        if block.ndim != 2 or block.shape[1] != 2:
            raise ValueError(f"sound has the shape samples × 2, not {block.shape}")
        spool.write(np.ascontiguousarray(block, np.float32).tobytes())
        total += len(block)
    return total


def _pieces(spool: IO[bytes], first: int, last: int, size: int) -> Iterator[Samples]:
    spool.seek(first * 8)
    while first < last:
        count = min(size, last - first)
        yield np.frombuffer(spool.read(count * 8), np.float32).reshape(-1, 2)
        first += count


def _sounding(spool: IO[bytes], total: int) -> tuple[int, int]:
    """The samples between the silence before and the silence after."""
    step = 64
    peaks = [
        np.abs(np.pad(b, ((0, -len(b) % step), (0, 0))).reshape(-1, step * 2)).max(axis=1)
        for b in _pieces(spool, 0, total, BLOCK)
    ]
    level = np.concatenate(peaks) if peaks else np.zeros(0)
    if not level.size or level.max() < 1e-7:
        raise ValueError("there is no sound to write")
    loud = np.flatnonzero(level > level.max() * 10 ** (QUIET / 20))
    return int(loud[0]) * step, min(total, (int(loud[-1]) + 1) * step)


_HOP = RATE // 10
_LOUDNESS_BLOCK = 300 * _HOP
_SETTLE = 10


def measure_loudness(pieces: Iterable[Samples], silence: int = 0) -> float:
    """Programme loudness (LUFS) of sound that comes in pieces of thirty seconds, after so many samples of
    silence: what begins within a window counts with it.

    pyloudnorm weighs each piece (with a second of what came before, so that its filters have settled)
    and gives the loudness of every 400 ms; the two gates of BS.1770 are then set over the whole.
    """
    import pyloudnorm

    levels: list[float] = []
    before, settled = np.zeros((silence, 2), np.float32), 0
    for piece in pieces:
        sound = np.concatenate((before, piece)).astype(np.float64)
        if len(sound) < 4 * _HOP:
            sound = np.pad(sound, ((0, 4 * _HOP - len(sound)), (0, 0)))
        meter = pyloudnorm.Meter(RATE)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            meter.integrated_loudness(sound)
        levels += meter.blockwise_loudness[settled:]
        before, settled = piece[-_SETTLE * _HOP :], _SETTLE - 3
    power = 10 ** (np.array(levels) / 10)
    heard = power[power > 10**-7.0]
    if not heard.size:
        return -70.0
    gate = heard.mean() / 10
    return float(10 * np.log10(heard[heard > gate].mean()))


_TAPS = 48


def _between() -> NDArray[np.float32]:
    """Weights that read a wave a quarter and half a sample to either side of a sample."""
    at = np.arange(_TAPS) - _TAPS // 2
    shifts = np.array((-0.5, -0.25, 0.25, 0.5))[:, None]
    weights = np.sinc(at - shifts) * np.kaiser(_TAPS, 6.0)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True), np.float32).T


def true_peak(pieces: Iterable[Samples]) -> float:
    """The highest point of the wave between samples, in decibels, read at four times the rate.

    Read only beside samples above 0.7 of the highest: below a quarter of the sampling rate (all that
    pipes sound) a crest has such a sample within half a step.
    """
    weights = _between()
    before = np.zeros((_TAPS, 2), np.float32)
    highest = between = 0.0
    for piece in chain(pieces, [np.zeros((_TAPS, 2), np.float32)]):
        sound = np.concatenate((before, piece))
        before = sound[-_TAPS:]
        highest = max(highest, float(np.abs(sound).max()))
        for side in (0, 1):
            windows = np.lib.stride_tricks.sliding_window_view(sound[:, side], _TAPS)
            middle = np.abs(sound[_TAPS // 2 : _TAPS // 2 + len(windows), side])
            crests = np.flatnonzero(middle > 0.7 * highest)
            if len(crests) and highest > 0:
                between = max(between, float(np.abs(windows[crests] @ weights).max()))
    return 20 * float(np.log10(max(highest, between, 1e-9)))


def _faded(pieces: Iterable[Samples], total: int, gain: float) -> Iterator[Samples]:
    """At the loudness wanted, both ends drawn in over a few milliseconds so that a cut is not heard."""
    now, short, long = 0, 44, int(0.05 * RATE)
    for piece in pieces:
        at = np.arange(now, now + len(piece), dtype=np.float32)
        shape = np.minimum(np.clip((at + 1) / short, 0, 1), np.clip((total - at) / long, 0, 1))
        yield piece * (shape * np.float32(10 ** (gain / 20)))[:, None]
        now += len(piece)


def _write(path: Path, pieces: Iterable[Samples], tags: Mapping[str, str]) -> None:
    import soundfile

    kind, subtype = _FORMATS[path.suffix]
    path.parent.mkdir(parents=True, exist_ok=True)
    mp3 = kind == "MP3"
    level = MP3_COMPRESSION if mp3 else None
    with soundfile.SoundFile(
        path, "w", RATE, 2, subtype=subtype, format=kind, compression_level=level
    ) as file:
        for tag in _TAGS:
            if tag in tags and not mp3:
                setattr(file, tag, tags[tag])
        for piece in pieces:
            file.write(piece)
    if mp3:
        path.write_bytes(id3(tags) + path.read_bytes())
