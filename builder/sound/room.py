"""The room: a church's response, computed from its size and how long it sounds.

Early reflections come from mirror images of the organ in the walls; the late sound is noise that dies
away at its own rate in each octave band. Its strength against the direct sound follows from volume,
reverberation time and distance (the critical distance of statistical room acoustics, W. C. Sabine).
The reader's page makes the same response out of `room_data` by the same steps, to the sample.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from builder.sound.pipes import RATE

SOUND = 343.0
"""Metres a second."""
LOWEST = 125.0
"""Hertz of the lowest octave band."""
Q = 1.2
"""Of the filters that cut out an octave band."""
APART = 14_700
"""Samples from the noise of one band to that of the next: no two bands have the same at one time."""
RINGS = 8192
"""Samples after which nothing is left in any of the filters."""
BUILDS = 0.03
"""Seconds in which the late sound builds up."""


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

    @property
    def critical_distance(self) -> float:
        """Metres at which the room is as loud as the organ itself.

        >>> round(Room().critical_distance, 2)
        2.86
        """
        return 0.057 * math.sqrt(math.prod(self.size) / self.reverberation[3])

    @property
    def samples(self) -> int:
        """The length of its response."""
        return int(RATE * max(self.reverberation) * 0.95)


CHURCH = Room()


class Echo(NamedTuple):
    """What one wall gives back: the side it comes from (0 left), the sample at which it begins and how many
    it is spread over, so that it does not ring; its strength, and the share of each sample's noise that
    gets through (less takes away what is high)."""

    side: int
    start: int
    spread: int
    strength: float
    through: float


@lru_cache(maxsize=4)
def response(room: Room) -> NDArray[np.float32]:
    """The room's response, left and right (2 × samples); the direct sound comes first, at 1."""
    whole = _late(room) * _late_gain(room)
    for echo, noise in zip(_echoes(room), _grains(room), strict=True):
        grain = _filtered(noise, ([echo.through], [1, echo.through - 1]))
        grain *= 1 - np.cos(2 * np.pi * np.arange(echo.spread) / echo.spread)
        grain *= echo.strength / np.sqrt(np.sum(grain**2))
        whole[echo.side, echo.start : echo.start + echo.spread] += grain
    whole[:, 0] += 1.0
    return whole.astype(np.float32)


def room_data(room: Room = CHURCH) -> dict[str, Any]:
    """What the reader's page makes the room of: its length in samples; the filter of each octave band, the
    second of the noise at which it begins and the seconds in which it falls to 1/e; how that builds up and
    how strong it is; the echoes off stone and wood (spread and share that gets through, then side, start and
    strength of each); and the level at which it is as loud as no room.

    >>> data = room_data()
    >>> data["length"], data["bands"][1], [len(each) for *_, each in data["echoes"]]
    (104737, ['bandpass', 250.0, 1.2, 0.33333, 0.3619], [26, 18])
    """
    return {
        "length": room.samples,
        "bands": [
            [*band, round(n * APART / RATE, 5), round(time / math.log(1000), 4)]
            for n, (band, time) in enumerate(_bands(room))
        ],
        "builds": BUILDS,
        "late": round(_late_gain(room), 5),
        "echoes": [
            [*kind, [[echo.side, echo.start, round(echo.strength, 4)] for echo in echoes]]
            for kind, echoes in groupby(_echoes(room), lambda echo: (echo.spread, echo.through))
        ],
        "level": round(1 / math.sqrt(voicing(room).usual), 4),
    }


class Voicing:
    """Pipes are voiced in the room they stand in: where the room swallows or swells a note at the
    listener's place, its pipes are made stronger or weaker, within reason."""

    def __init__(self, echo: NDArray[np.float32]) -> None:
        self.size = 1 << (echo.shape[1] - 1).bit_length()
        self.power = np.abs(np.fft.rfft(echo, self.size)) ** 2
        self.usual = float(self.power[:, self.size // 400 : self.size // 10].mean())

    def strength(
        self, hertz: NDArray[np.float64], amplitude: NDArray[np.float64], left: float, right: float
    ) -> float:
        """By how much a key is made stronger that sounds these partials on both sides."""
        if not hertz.size:
            return 1.0
        at = np.rint(hertz * self.size / RATE).astype(int)
        sides = left**2 * self.power[0, at] + right**2 * self.power[1, at]
        here = float(np.sum(amplitude**2 * sides) / np.sum(amplitude**2))
        return float(np.clip(math.sqrt(self.usual / here), 0.6, 1.8))


@lru_cache(maxsize=4)
def voicing(room: Room) -> Voicing:
    """How pipes are voiced in a room."""
    return Voicing(response(room))


@cache
def _noise(count: int) -> NDArray[np.float64]:
    """Even noise from -1 to 1, the same each time and in the reader's page (the generator of W. H. Press and
    others, *Numerical Recipes*, 2nd edition, 7.1: "quick and dirty")."""
    times = np.cumprod(np.full(count, 1664525, np.uint32), dtype=np.uint32)
    added = np.cumsum(np.concatenate(([1], times[:-1])), dtype=np.uint32) * np.uint32(1013904223)
    return (times + added) / 2147483648.0 - 1


@lru_cache(maxsize=4)
def _late(room: Room) -> NDArray[np.float64]:
    """Noise that dies away band by band and takes a moment to build up."""
    t = np.arange(room.samples) / RATE
    noise = _noise(2 * room.samples).reshape(2, -1)
    sound = np.zeros((2, room.samples))
    for n, (band, time) in enumerate(_bands(room)):
        heard = _filtered(np.roll(noise, -n * APART, axis=1), band.coefficients(), times=2)
        sound += heard * np.exp(-math.log(1000) * t / time)
    built: NDArray[np.float64] = sound * (1 - np.exp(-t / BUILDS))
    return built


def _filtered(
    sound: NDArray[np.float64], filter: tuple[list[float], list[float]], times: int = 1
) -> NDArray[np.float64]:
    """Sound through a recursive filter, by what that does at each frequency. A library's filters would do the
    same, and to read them in takes a second that a page just saved waits for."""
    count = sound.shape[-1]
    size = 1 << (count + RINGS - 1).bit_length()
    turns = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    over, under = (np.polynomial.polynomial.polyval(turns, each) for each in filter)
    heard: NDArray[np.float64] = np.fft.irfft(np.fft.rfft(sound, size) * (over / under) ** times, size)
    return heard[..., :count]


class _Band(NamedTuple):
    """The filter that cuts out an octave band, twice; the lowest lets all through that is low. As browsers
    have it: W3C, *Web Audio API*, "Filters Characteristics", where `lowpass` has its Q in decibels."""

    type: str
    frequency: float
    q: float

    def coefficients(self) -> tuple[list[float], list[float]]:
        turn = 2 * math.pi * self.frequency / RATE
        low = 1 - math.cos(turn)
        if self.type == "lowpass":
            alpha = math.sin(turn) / (2 * 10 ** (self.q / 20))
            over = [low / 2, low, low / 2]
        else:
            alpha = math.sin(turn) / (2 * self.q)
            over = [alpha, 0.0, -alpha]
        under = [1 + alpha, 2 * (low - 1), 1 - alpha]
        return over, under


def _bands(room: Room) -> Iterator[tuple[_Band, float]]:
    """The filter of each band, and its reverberation time."""
    for n, time in enumerate(room.reverberation):
        yield _Band("bandpass", LOWEST * 2**n, Q) if n else _Band("lowpass", 176.78, -3.01), time


def _late_gain(room: Room) -> float:
    wanted = room.distance / room.critical_distance
    return wanted / math.sqrt(float(np.sum(_late(room) ** 2)) / 2)


def _grains(room: Room) -> Iterator[NDArray[np.float64]]:
    """The noise of each echo, one after the other behind that of the late sound."""
    at = 2 * room.samples
    noise = _noise(at + sum(echo.spread for echo in _echoes(room)))
    for echo in _echoes(room):
        yield noise[at : at + echo.spread]
        at += echo.spread


@lru_cache(maxsize=4)
def _echoes(room: Room) -> tuple[Echo, ...]:
    return (*_early(room), *_case(room))


def _early(room: Room) -> Iterator[Echo]:
    """First and second reflections off rough stone, with the listener's ears a little apart."""
    width, length, height = room.size
    organ = np.array([width * 0.52, 1.0, height * 0.45])
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
                    start = int((way - direct) / SOUND * RATE)
                    yield Echo(ear, start, 176, room.reflects**bounces * direct / way, 1)


def _case(room: Room) -> Iterator[Echo]:
    """What the boards behind, beside and above the pipes give back: a few echoes within a fiftieth of a
    second, each time weaker, the higher part of the sound less."""
    for wall, metres in enumerate(room.case):
        for times in (1, 2, 3):
            way = times * metres * (2 if wall == 1 else 1)
            for ear in (0, 1):
                yield Echo(ear, int(way / SOUND * RATE), 24, room.wood**times, 0.4)


def _mirror(at: float, size: float, times: int) -> float:
    return {-1: -at, 0: at, 1: 2 * size - at}[times]
