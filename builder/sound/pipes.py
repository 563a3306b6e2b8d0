"""The sound of one key: every pipe that speaks when it goes down.

The steady tone is a loop of a few seconds, made in the frequency domain: one inverse transform holds all
harmonics of all ranks, with the small wandering of each pipe written as side bands. A loop is cut so that
it holds a whole number of vibrations to within a small fraction of a cent. How the pipes begin to speak
(overtones before the fundamental, and chiff) is a separate head of a fraction of a second.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray

from builder.sound.looping import recorded_tone
from builder.sound.ranks import BRIGHTEST, RANKS, SPEECH, Rank
from builder.sound.recorded import RecordedPipes

RATE = 44_100
"""Samples a second."""
SHORTEST_LOOP, LONGEST_LOOP = 3.0, 6.0
WANDER = 0.25
"""Cents by which a pipe wanders about its pitch, slowly."""
FLUTTER = 0.012
"""Share by which a harmonic's strength wavers."""
UNEVEN = 1.0
"""Decibels by which one pipe's harmonics differ from the next one's (voicing by hand)."""

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class KeySound:
    """`loop` goes round for as long as the key is held; `head` replaces its beginning; `left` and
    `right` place the pipes; `release` is the time in seconds in which the tone dies to 1/e when
    the key is let go; `wind` is what its pipes take, 1 for one eight-foot pipe at C4; `partials` are
    hertz and amplitude of all that sounds."""

    loop: Samples
    head: Samples
    left: float
    right: float
    release: float
    wind: float
    partials: NDArray[np.float64]


@lru_cache(maxsize=96)
def key_sound(
    hertz: float, key: int, names: tuple[str, ...], seed: int = 0, recorded: RecordedPipes | None = None
) -> KeySound:
    """The sound of a key (MIDI number) tuned to `hertz`, with the ranks of these names drawn; ranks that are
    `recorded` sound from their samples.

    The same arguments give the same samples.
    """
    pipes = [RANKS[name] for name in names if RANKS[name].has(key)]
    beats = max((_beats(rank, key, hertz) for rank in pipes), default=0.0)
    length = _loop_length(hertz, beats)
    spectrum = np.zeros(length // 2 + 1, np.complex128)
    head = np.zeros(int(RATE * _slowness(hertz) * 0.2), np.float32)
    fundamentals = np.zeros_like(head)
    partials = []
    ours = [rank for rank in pipes if not (recorded and recorded.has(rank.name))]
    for rank in ours:
        rng = np.random.default_rng([seed, key, zlib.crc32(rank.name.encode())])
        base, tone = _add_pipe(spectrum, rank, key, hertz, length, rng)
        _add_hiss(spectrum, rank, key, base, length, rng)
        _add_speech(head, fundamentals, rank, key, (base, abs(tone[0]), float(np.angle(tone[0]))), rng)
        partials.append(np.stack((base * np.arange(1, len(tone) + 1), np.abs(tone))))
    loop = scipy.fft.irfft(spectrum.astype(np.complex64), length, overwrite_x=True).astype(np.float32)
    rise = _rise(len(head), min((SPEECH[r.kind].overtones for r in ours), default=0.01) * _slowness(hertz))
    head += loop[: len(head)] * rise + fundamentals
    if recorded:
        for rank in pipes:
            if recorded.has(rank.name):
                at = _base(rank, key, hertz, length) * RATE / length
                own_head, own_loop, own = recorded_tone(recorded, rank, at, length, RATE)
                head, loop = _together(head, loop, own_head, own_loop)
                partials.append(own)
    side = -1 if key % 2 == 0 else 1
    angle = math.pi / 4 * (1 + side * 0.55 * min(1.0, (100 - key) / 48))
    return KeySound(
        loop,
        head,
        math.cos(angle),
        math.sin(angle),
        0.022 * _slowness(hertz),
        sum(rank.gain(key) * 2 ** ((60 - key) / 24) for rank in pipes),
        np.concatenate(partials, axis=1) if partials else np.zeros((2, 0)),
    )


def _together(
    head: Samples, loop: Samples, other_head: Samples, other_loop: Samples
) -> tuple[Samples, Samples]:
    """Two tones as one: the shorter head goes on with its loop."""
    count = max(len(head), len(other_head))
    heads = [
        np.concatenate((h, np.take(of, np.arange(len(h), count), mode="wrap")))
        for h, of in ((head, loop), (other_head, other_loop))
    ]
    return heads[0] + heads[1], loop + other_loop


def _base(rank: Rank, key: int, hertz: float, length: int) -> int:
    """How many times a pipe vibrates in a loop."""
    step = RATE / length
    return round(hertz / step) * int(rank.sounding_harmonic(key)) + round(_beats(rank, key, hertz) / step)


def _beats(rank: Rank, key: int, hertz: float) -> float:
    return hertz * (2 ** (rank.detune(key, hertz) / 1200) - 1)


def _slowness(hertz: float) -> float:
    """How much slower than at C4 a pipe speaks."""
    return float(np.clip((261.6 / hertz) ** 0.6, 0.3, 2.5))


@cache
def _lengths() -> NDArray[np.int64]:
    """Even lengths that transform quickly: products of 2, 3, 5, 7 and 11."""
    low, high = int(SHORTEST_LOOP * RATE), int(LONGEST_LOOP * RATE)
    products = [2]
    for prime in (2, 3, 5, 7, 11):
        more = list(products)
        for product in products:
            while (product := product * prime) <= high:
                more.append(product)
        products = more
    return np.array(sorted({p for p in products if p >= low}))


def _loop_length(hertz: float, beats: float) -> int:
    """The length in samples that holds most nearly whole numbers of vibrations and of beats."""
    lengths = _lengths()
    turns = lengths * hertz / RATE
    cost = (np.abs(turns - np.rint(turns)) / turns * 1731 / 0.03) ** 2
    if beats:
        slow = lengths * beats / RATE
        cost += (np.abs(slow - np.rint(slow)) / 0.08) ** 2
    return int(lengths[np.argmin(cost)])


def _add_pipe(
    spectrum: NDArray[np.complex128],
    rank: Rank,
    key: int,
    hertz: float,
    length: int,
    rng: np.random.Generator,
) -> tuple[float, NDArray[np.complex128]]:
    """Add a pipe's harmonics to a loop's spectrum; gives the hertz of its fundamental and the
    amplitude and phase of each harmonic."""
    step = RATE / length
    base = _base(rank, key, hertz, length)
    cents, level = rank.voiced(key)
    base += round(base * cents / 1731)
    amplitudes = np.array(rank.spectrum(key)) * rank.gain(key) * 10 ** (level / 20)
    amplitudes *= 10 ** (rng.normal(0.0, UNEVEN / 2, len(amplitudes)) / 20)
    phases = rng.uniform(0, 2 * math.pi, len(amplitudes))
    slow = int(rng.integers(2, 4))
    swing = rng.uniform(0, 2 * math.pi)
    index = base * WANDER / 1731 / slow
    harmonics = np.arange(1, len(amplitudes) + 1)
    harmonics = harmonics[harmonics * base * step < BRIGHTEST]
    tone = amplitudes[: len(harmonics)] * np.exp(1j * phases[: len(harmonics)])
    reach = np.arange(-8, 9)
    sides = scipy.special.jv(reach, index * harmonics[:, None]) * np.exp(1j * reach * swing) * tone[:, None]
    where = harmonics[:, None] * base + reach * slow
    waver = rng.normal(0, FLUTTER, (2, len(harmonics))) * tone
    for places, values in (
        (where, sides),
        (harmonics * base - 1, waver[0]),
        (harmonics * base + 1, waver[1]),
    ):
        inside = (places > 0) & (places < len(spectrum))
        np.add.at(spectrum, places[inside], values[inside] * (length / 2))
    return base * step, tone


def _add_hiss(
    spectrum: NDArray[np.complex128],
    rank: Rank,
    key: int,
    hertz: float,
    length: int,
    rng: np.random.Generator,
) -> None:
    """Add the hiss of the wind at the mouth, as long as the pipe speaks: strongest about its second to eighth
    harmonics, where the pipe resounds, and falling by six decibels an octave on either side."""
    pitch = np.arange(len(spectrum)) * (RATE / length)
    middle = 4 * hertz
    shape = 1 / np.hypot(1, np.log2(np.maximum(pitch, 1) / middle) * 1.5)
    shape *= np.minimum(1, middle / np.maximum(pitch, 1)) * np.minimum(1, pitch / middle)
    shape[pitch > BRIGHTEST] = 0
    noise = (rng.normal(size=len(pitch)) + 1j * rng.normal(size=len(pitch))) * shape
    noise[[0, -1]] = 0
    power = math.sqrt(2 * float(np.sum(np.abs(noise) ** 2))) / length
    level = SPEECH[rank.kind].wind(69 + 12 * math.log2(hertz / 440))
    spectrum += noise * (rank.gain(key) * 10 ** (level / 20) / power)


def _rise(count: int, time: float) -> Samples:
    """From silence to full in about `time` seconds, with no corner at the start."""
    t = np.arange(count, dtype=np.float32) / np.float32(RATE * time)
    return np.asarray(1 - np.exp(-(t**1.5)), np.float32)


def _add_speech(
    head: Samples,
    fundamentals: Samples,
    rank: Rank,
    key: int,
    fundamental: tuple[float, float, float],
    rng: np.random.Generator,
) -> None:
    """Hold back the fundamental while the overtones speak, and add the chiff."""
    hertz, amplitude, phase = fundamental
    speech, slow, count = SPEECH[rank.kind], _slowness(hertz), len(head)
    t = np.arange(count) / RATE
    late = _rise(count, speech.fundamental * slow) - _rise(count, speech.overtones * slow)
    fundamentals += (amplitude * np.cos(2 * math.pi * hertz * t + phase) * late).astype(np.float32)
    noise = np.fft.rfft(rng.normal(size=count))
    pitch = np.fft.rfftfreq(count, 1 / RATE)
    band = np.exp(-((np.log2(np.maximum(pitch, 1) / hertz) - math.log2(speech.chiff_low + 1)) ** 2) / 0.5)
    band[(pitch > speech.chiff_high * hertz * 1.5) | (pitch > BRIGHTEST)] = 0
    hiss = np.fft.irfft(noise * band, count)
    length = speech.chiff_length * slow
    shape = t / length * np.exp(1 - t / length) * np.clip((t[-1] - t) / (0.2 * t[-1]), 0, 1)
    level = rank.gain(key) * 10 ** (speech.chiff / 20) / (float(np.sqrt(np.mean(hiss**2))) or 1.0)
    head += (hiss * shape * level).astype(np.float32)
