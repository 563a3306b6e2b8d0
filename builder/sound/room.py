"""The room: a church's response, computed from its size and how long it sounds.

Early reflections come from mirror images of the organ in the walls; the late sound is noise that dies
away at its own rate in each octave band. Its strength against the direct sound follows from volume,
reverberation time and distance (the critical distance of statistical room acoustics, W. C. Sabine).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from builder.sound.pipes import RATE

SOUND = 343.0
"""Metres a second."""


@dataclass(frozen=True, slots=True)
class Room:
    """Width, length and height in metres; reverberation time in seconds for the octave bands from
    125 Hz to 8 kHz; distance of the listener from the organ and share of sound a wall gives back; width,
    depth and height in metres of the case the pipes stand in, and the share that its boards give back."""

    size: tuple[float, float, float] = (12.0, 30.0, 14.0)
    reverberation: tuple[float, ...] = (2.5, 2.5, 2.3, 2.0, 1.6, 1.2, 0.7)
    distance: float = 2.4
    reflects: float = 0.7
    case: tuple[float, float, float] = (2.2, 1.1, 3.4)
    wood: float = 0.3
    seed: int = 7

    @property
    def critical_distance(self) -> float:
        """Metres at which the room is as loud as the organ itself.

        >>> round(Room().critical_distance, 2)
        2.86
        """
        return 0.057 * math.sqrt(math.prod(self.size) / self.reverberation[3])


CHURCH = Room()


@lru_cache(maxsize=4)
def response(room: Room) -> NDArray[np.float32]:
    """The room's response, left and right (2 × samples); the direct sound comes first, at 1."""
    count = int(RATE * max(room.reverberation) * 0.95)
    rng = np.random.default_rng(room.seed)
    late = _late(room, count, rng)
    late *= (room.distance / room.critical_distance) / np.sqrt(np.sum(late**2, axis=1, keepdims=True))
    whole = late + _early(room, count, rng)
    _add_case(whole, room, np.random.default_rng(room.seed + 1))
    whole[:, 0] += 1.0
    return whole.astype(np.float32)


def _late(room: Room, count: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Noise that dies away band by band and takes a moment to build up."""
    t = np.arange(count) / RATE
    pitch = np.fft.rfftfreq(count, 1 / RATE)
    octave = np.log2(np.maximum(pitch, 1.0) / 125.0)
    sound = np.zeros((2, count))
    for n, time in enumerate(room.reverberation):
        near = octave - n
        if n == 0:
            near = np.maximum(near, 0)
        band = np.sqrt(np.clip(1 - np.abs(near), 0, 1))
        noise = np.fft.rfft(rng.normal(size=(2, count)))
        sound += np.fft.irfft(noise * band, count) * np.exp(-6.908 * t / time)
    shape: NDArray[np.float64] = (1 - np.exp(-t / 0.03)) * np.clip((t[-1] - t) / 0.1, 0, 1)
    return sound * shape


def _early(room: Room, count: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """First and second reflections, with the listener's ears a little apart."""
    width, length, height = room.size
    organ = np.array([width * 0.52, 1.0, height * 0.45])
    sound = np.zeros((2, count))
    for ear in (0, 1):
        listener = organ + np.array((0.35 if ear else -0.35, room.distance, -1.0))
        direct = float(np.linalg.norm(listener - organ))
        for x in (-1, 0, 1):
            for y in (0, 1):
                for z in (-1, 0, 1):
                    bounces = abs(x) + abs(y) + abs(z)
                    if not 1 <= bounces <= 2:
                        continue
                    image = [
                        _mirror(organ[0], width, x),
                        _mirror(organ[1], length, y),
                        _mirror(organ[2], height, z),
                    ]
                    way = float(np.linalg.norm(np.array(image) - listener))
                    _add_echo(sound[ear], way - direct, room.reflects**bounces * direct / way, rng)
    return sound


def _add_case(sound: NDArray[np.float64], room: Room, rng: np.random.Generator) -> None:
    """What the boards behind, beside and above the pipes give back: a few echoes within a fiftieth of a
    second, each time weaker, the higher part of the sound less."""
    for wall, metres in enumerate(room.case):
        for times in (1, 2, 3):
            way = times * metres * (2 if wall == 1 else 1)
            start = int(way / SOUND * RATE)
            for ear in (0, 1):
                grain = rng.normal(size=24) * np.hanning(24)
                grain = np.convolve(grain, np.ones(6) / 6)
                grain *= room.wood**times / np.sqrt(np.sum(grain**2))
                sound[ear, start : start + len(grain)] += grain


def _mirror(at: float, size: float, times: int) -> float:
    return {-1: -at, 0: at, 1: 2 * size - at}[times]


def _add_echo(sound: NDArray[np.float64], metres: float, strength: float, rng: np.random.Generator) -> None:
    """A reflection off rough stone: spread over a few milliseconds, so that it does not ring."""
    spread = int(RATE * 0.004)
    grain = rng.normal(size=spread) * np.hanning(spread)
    grain *= strength / np.sqrt(np.sum(grain**2))
    start = int(metres / SOUND * RATE)
    sound[start : start + spread] += grain
