"""Rendering: a performance and a registration to stereo sound, block by block.

Each block takes three steps: the pipes of the keys that are down, the wind that sags a little when many
are, and the room. Only one block and the loops of the keys in use are in memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy
from numpy.typing import NDArray

from builder.sound.performance import Performance
from builder.sound.pipes import RATE, KeySound, Samples, key_sound
from builder.sound.recorded import RecordedPipes
from builder.sound.registration import Registration
from builder.sound.room import CHURCH, Room, Voicing, response, voicing

TRANSFORM = 1 << 18
"""Samples of the transform by which the room is added."""
STEP = 100
"""Samples between two values of the wind."""
REACH = 16
"""Samples kept from block to block for the bending of pitch."""


@dataclass(frozen=True, slots=True)
class Wind:
    """Steady but not rigid. With a full chord drawn on the whole organ (demand 1) the tone loses
    `softer` of its strength, and the pitch dips `dip` cents at the stroke and recovers in about
    `recovers` seconds. Our own numbers."""

    softer: float = 0.05
    dip: float = 2.5
    recovers: float = 0.12


@dataclass(frozen=True, slots=True)
class _Stroke:
    start: int
    end: int
    key: KeySound
    strength: float = 1.0

    @property
    def silent(self) -> int:
        """The sample at which its release has died away."""
        return self.end + int(7 * self.key.release * RATE)


def render(
    performance: Performance,
    registration: Registration | str = "principale",
    *,
    room: Room | None = CHURCH,
    wind: Wind | None = Wind(),
    seed: int = 0,
    recorded: RecordedPipes | None = None,
) -> Samples:
    """The sound of a performance: float32, samples × 2 at 44.1 kHz, never beyond ±1, from the first
    stroke to the end of the room's sound. Ranks that are `recorded` sound from a course's samples. For long
    pieces use `blocks`.

    >>> from builder.sound.performance import perform
    >>> from builder.sound.tempo import tempo_map
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> render(perform(score, tempo_map(verset)), room=None).shape[1]
    2
    """
    return np.concatenate(
        list(blocks(performance, registration, room=room, wind=wind, seed=seed, recorded=recorded))
    )


def blocks(
    performance: Performance,
    registration: Registration | str = "principale",
    *,
    room: Room | None = CHURCH,
    wind: Wind | None = Wind(),
    seed: int = 0,
    recorded: RecordedPipes | None = None,
) -> Iterator[Samples]:
    """The same as `render`, in blocks of about three seconds.

    >>> from builder.sound.performance import perform
    >>> from builder.sound.tempo import tempo_map
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> played = perform(score, tempo_map(verset))
    >>> sum(len(block) for block in blocks(played, room=None)) / 44_100 > played.end
    True
    """
    if isinstance(registration, str):
        registration = Registration.parse(registration)
    echo = response(room) if room else np.ones((2, 1), np.float32)
    strokes = _strokes(performance, registration, (seed, recorded), voicing(room) if room else None)
    size = TRANSFORM - echo.shape[1] + 1
    total = max((s.silent for s in strokes), default=0) + echo.shape[1]
    breath = _Breath(strokes, total, wind)
    hall = _Hall(echo, size)
    scale = np.float32(_scale(registration))
    waiting = list(strokes)
    active: list[_Stroke] = []
    before = np.zeros((2, REACH), np.float32)
    for start in range(0, total, size):
        stop = start + size
        while waiting and waiting[0].start < stop:
            active.append(waiting.pop(0))
        dry = np.zeros((2, REACH + size), np.float32)
        dry[:, :REACH] = before
        for stroke in active:
            _add(dry[:, REACH:], stroke, start)
        active = [s for s in active if s.silent > stop]
        before = dry[:, -REACH:].copy()
        wet = hall.add(breath.blow(dry, start)) * scale
        yield np.clip(wet.T[: min(size, total - start)], -1.0, 1.0)


def _scale(registration: Registration) -> float:
    """So that four voices in a room stay well below full scale: the RMS of one key is about 0.03."""
    return 0.03 / math.sqrt(sum(rank.gain(60) ** 2 for rank in registration.ranks))


def _strokes(
    performance: Performance,
    registration: Registration,
    made: tuple[int, RecordedPipes | None],
    voicing: Voicing | None,
) -> list[_Stroke]:
    """Keys going down and up. Two voices that meet on a key hold it together."""
    held: dict[float, list[list[int]]] = {}
    keys: dict[float, int] = {}
    for note in sorted(performance.notes, key=lambda n: n.start):
        start, end = round(note.start * RATE), round(note.end * RATE)
        spans = held.setdefault(note.hertz, [])
        keys[note.hertz] = performance.tuning.sounds_as(note.pitch).midi
        if spans and start <= spans[-1][1]:
            spans[-1][1] = max(spans[-1][1], end)
        else:
            spans.append([start, end])
    found = []
    for hertz, spans in held.items():
        key = key_sound(hertz, keys[hertz], registration.names, *made)
        partials, amplitudes = key.partials
        strength = voicing.strength(partials, amplitudes, key.left, key.right) if voicing else 1.0
        found += [_Stroke(start, end, key, strength) for start, end in spans]
    return sorted(found, key=lambda s: (s.start, s.end))


def _add(dry: Samples, stroke: _Stroke, start: int) -> None:
    """Add what a stroke sounds within the block that begins at `start`."""
    first = max(stroke.start, start)
    last = min(stroke.silent, start + dry.shape[1])
    if last <= first:
        return
    tone = _tone(stroke, first - stroke.start, last - stroke.start)
    held = stroke.end - first
    if held < len(tone):
        _release(tone, stroke, held)
    left, right = (np.float32(s * stroke.strength) for s in (stroke.key.left, stroke.key.right))
    dry[0, first - start : last - start] += tone * left
    dry[1, first - start : last - start] += tone * right


def _tone(stroke: _Stroke, first: int, last: int) -> Samples:
    """Samples of a held key, counted from its stroke: the head, then the loop round and round."""
    head, loop = stroke.key.head, stroke.key.loop
    pieces = [head[first:last]] if first < len(head) else []
    now = max(first, len(head))
    while now < last:
        at = now % len(loop)
        take = min(len(loop) - at, last - now)
        pieces.append(loop[at : at + take])
        now += take
    return np.concatenate(pieces)


def _release(tone: Samples, stroke: _Stroke, held: int) -> None:
    """Let the tone die from the moment the key is let go (which may lie before this piece of it)."""
    begin = max(held, 0)
    t = np.arange(begin - held, len(tone) - held, dtype=np.float32)
    length = stroke.silent - stroke.end
    fall = np.exp(-t / np.float32(stroke.key.release * RATE)) * (1 - t / length)
    tone[begin:] *= fall


class _Breath:
    """The wind over time: how strong, and by how many samples the sound lags."""

    def __init__(self, strokes: Sequence[_Stroke], total: int, wind: Wind | None) -> None:
        self.wind = wind
        if wind is None:
            return
        demand = np.zeros(total // STEP + 4)
        for stroke in strokes:
            demand[stroke.start // STEP] += stroke.key.wind
            demand[stroke.end // STEP] -= stroke.key.wind
        full = 14.0  # four keys on the ripieno take about this much
        pole = math.exp(-STEP / RATE / wind.recovers)
        drawn = scipy.signal.lfilter([1 - pole], [1, -pole], np.cumsum(demand) / full)
        drawn = scipy.signal.lfilter([0.2], [1, -0.8], drawn)
        self.lag = drawn * (wind.dip / 1731 * wind.recovers * RATE)
        self.strength = 1 - wind.softer * drawn

    def blow(self, dry: Samples, start: int) -> Samples:
        """A block with the wind's sag: `dry` begins `REACH` samples early."""
        if self.wind is None:
            return dry[:, REACH:]
        count = dry.shape[1] - REACH
        now = np.arange(count, dtype=np.float32)
        values = np.arange(start // STEP, (start + count) // STEP + 2)
        values = np.minimum(values, len(self.lag) - 1)
        at = (now + np.float32(start % STEP)) / np.float32(STEP)
        grid = np.arange(len(values), dtype=np.float32)
        lag = np.interp(at, grid, self.lag[values]).astype(np.float32)
        strength = np.interp(at, grid, self.strength[values]).astype(np.float32)
        sagging: Samples = _delayed(dry, lag) * strength
        return sagging


def _delayed(dry: Samples, lag: Samples) -> Samples:
    """Each sample read `lag` samples earlier, between samples by a cubic through four."""
    lag = lag + np.float32(1)  # the cubic looks one sample ahead
    whole = np.floor(lag).astype(np.int32)
    u = 1 - (lag - whole)  # between the second and third of the four samples
    low, high = u * (u - 1) / 2, (u + 1) * (u - 2) / 2
    weights = (-low * (u - 2) / 3, high * (u - 1), -high * u, low * (u + 1) / 3)
    found = np.zeros((2, len(lag)), np.float32)
    edges = [0, *(np.flatnonzero(np.diff(whole)) + 1).tolist(), len(lag)]
    for start, stop in pairwise(edges):
        at = REACH - 2 - int(whole[start])
        for n, weight in enumerate(weights):
            found[:, start:stop] += dry[:, start + at + n : stop + at + n] * weight[start:stop]
    return found


class _Hall:
    """Adds the room by overlapping transforms."""

    def __init__(self, echo: NDArray[np.float32], size: int) -> None:
        self.size = size
        self.single = echo.shape[1] == 1
        self.echo = None if self.single else scipy.fft.rfft(echo, TRANSFORM)
        self.rest = np.zeros((2, TRANSFORM - size), np.float32)

    def add(self, dry: Samples) -> Samples:
        if self.echo is None:
            return dry
        sound = scipy.fft.irfft(scipy.fft.rfft(dry, TRANSFORM) * self.echo, TRANSFORM)
        sound[:, : self.rest.shape[1]] += self.rest
        self.rest = sound[:, self.size :].copy()
        done: Samples = sound[:, : self.size]
        return done
