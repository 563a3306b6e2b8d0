"""A recorded pipe brought to a pitch and made to sound as long as a key is held."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import scipy

from builder.sound.ranks import BRIGHTEST, Rank
from builder.sound.recorded import RecordedPipe, RecordedPipes, Wave, share_of, wave

JOIN = 0.08
"""Seconds in which a tone goes over into itself where it is joined."""


def at_pitch(pipes: RecordedPipes, pipe: RecordedPipe, hertz: float, rate: int) -> tuple[Wave, int, int]:
    """A sample, from where it speaks to where it ends, moved to a pitch and a rate; and the samples between
    which it is steady. Played faster or slower, as a pipe of another length would be."""
    sound, own = wave(str(Path(pipes.folder) / pipe.file), pipe.digest)
    piece = sound[pipe.speaks : pipe.ends].astype(np.float64)
    stretch = pipe.hertz / hertz * rate / own
    around = 256  # so that the wave's ends do not ring into one another
    padded = np.pad(piece, (around, around), mode="edge")
    count = round(len(padded) * stretch)
    moved = scipy.signal.resample(padded, count)
    first = round(around * stretch)
    whole = np.asarray(moved[first : first + int(len(piece) * stretch)], np.float32)
    whole[:32] *= np.linspace(0, 1, 32, dtype=np.float32)
    return whole, int((pipe.steady - pipe.speaks) * stretch), len(whole)


def prolonged(sound: Wave, steady: int, period: float, length: int) -> Wave:
    """A sample made to last `length` samples: its steady part again and again, a whole number of vibrations
    (`period` samples each) later each time, so that crest falls on crest."""
    join = _join(len(sound) - steady)
    most = len(sound) - join - steady
    turns = np.arange(max(1, int(most * 0.6 / period)), max(2, int(most / period) + 1))
    turns = turns[np.rint(turns * period) <= most]
    if not len(turns):
        raise ValueError("the steady part of a sample is shorter than one of its vibrations")
    off = np.abs(turns * period - np.rint(turns * period))
    step = round(float(turns[int(np.argmin(off + 0.05 * (turns.max() - turns) / turns.max()))] * period))
    fade = _fade(join)
    pieces, have = [sound[: len(sound) - join]], len(sound) - join
    again = sound[len(sound) - join - step : len(sound) - join].copy()
    again[:join] = sound[-join:] * (1 - fade) + again[:join] * fade
    while have < length:
        pieces.append(again)
        have += step
    return np.concatenate(pieces)[:length]


def head_and_loop(sound: Wave, steady: int, period: float, length: int) -> tuple[Wave, Wave]:
    """What sounds first, and a loop of `length` samples (whole vibrations) that goes on from it: a
    key held for `t` samples has sounded the head, then the loop from `len(head) % length`."""
    join = _join(length - steady % length)
    start = min(steady, length - join)
    whole = prolonged(sound, steady, period, length + start + join)
    loop = whole[:length].copy()
    loop[:start] = whole[length : length + start]
    fade = _fade(join)
    loop[start : start + join] = whole[length + start :] * (1 - fade) + whole[start : start + join] * fade
    return whole[: start + join], loop


def _join(room: int) -> int:
    return int(min(JOIN * 44_100, max(32, room // 3)))


def _fade(count: int) -> Wave:
    return np.asarray(np.sin(np.linspace(0, np.pi / 2, count)) ** 2, np.float32)


def recorded_tone(
    pipes: RecordedPipes, rank: Rank, hertz: float, length: int, rate: int
) -> tuple[Wave, Wave, np.ndarray]:
    """Head and loop of a recorded pipe of this rank that sounds `hertz`, at the level of its rank; and hertz
    and amplitudes of its partials."""
    pipe = pipes.nearest(rank.name, hertz)
    sound, steady, _ = at_pitch(pipes, pipe, hertz, rate)
    head, loop = head_and_loop(sound * np.float32(share_of(pipes, rank)), steady, rate / hertz, length)
    turns = round(hertz * length / rate)
    level = np.abs(scipy.fft.rfft(loop)) * (2 / length)
    at = np.arange(turns, min(len(level), int(BRIGHTEST * length / rate)), turns)
    return head, loop, np.stack((at * (rate / length), level[at]))
