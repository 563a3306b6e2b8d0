"""What the reader's page needs to make the sound itself: small, rounded, ready for JSON.

Per version the sounding notes in seconds and hertz with the ids of the written pieces; and the ranks
drawn, with the same levels, harmonics, speech and wind as the rendered sound. Amplitudes are linear with
the fundamental at 1; four voices with every rank at its `gain` stay within full scale, so the page needs no
limiter at level 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from builder.music import VOICES, Pitch, Score, Tuning, Version
from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY
from builder.music.temperament import LETTERS
from builder.sound.instrument import instrument
from builder.sound.page_pipes import script_name
from builder.sound.performance import NON_LEGATO, Articulation, Performance, perform
from builder.sound.ranks import MISTUNED, SPECTRA, SPEECH, VOICED, Rank
from builder.sound.recorded import RecordedPipes
from builder.sound.registration import Registration
from builder.sound.room import CHURCH, room_data, voicing
from builder.sound.tempo import TempoMap, tempo_map
from builder.source import Verset

STARTING_LEVEL = 0.35
"""Share of full level at which the page begins: quiet, for the sake of ears under headphones."""
_SIDE = math.sqrt(0.5)
"""The page's pipes stand in the middle."""
HARMONICS = max(len(levels) for rows in SPECTRA.values() for _, levels in rows)
"""The most harmonics of a rank that the page is told; it goes on by itself, as `SLOPE` says."""


def play_data(
    verset: Verset,
    scores: Mapping[Version, Score],
    tempo: TempoMap | None = None,
    tuning: Tuning | str | None = None,
    registration: Registration | str | None = None,
    *,
    a4: float | None = None,
    articulation: Articulation = NON_LEGATO,
    short_octave: bool = False,
    recorded: RecordedPipes | None = None,
) -> dict[str, Any]:
    """The play data of a verset from its notated scores by version (`given`, `plain`, `diminished`).

    What is not given comes from the verset: its tempo, tuning, pitch and registration. `ValueError`
    for a tuning, pitch or registration that does not exist.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> data = play_data(verset, {Version.GIVEN: score})
    >>> [str(version) for version in data["versions"]], len(data["bars"])
    (['given'], 4)
    """
    own = instrument(verset, tuning=tuning, a4=a4, registration=registration)
    tempo = tempo or tempo_map(verset)
    played = {
        version: perform(
            score, tempo, own.tuning, a4=own.a4, articulation=articulation, short_octave=short_octave
        )
        for version, score in scores.items()
    }
    heard = {part.voice for score in scores.values() for part in score.parts}
    voices = [voice for voice in VOICES if voice in heard]
    keys = keyboard_frequencies(own.tuning, own.a4)
    return {
        "v": 1,
        "voices": voices,
        "end": round(tempo.seconds(verset.end), 4),
        "bars": [[number, round(start, 4)] for number, start in tempo.bars(verset.bars)],
        "beats": [round(beat, 4) for beat in tempo.beats(verset.bars, verset.metre)],
        "versions": {version: _notes(performance, voices) for version, performance in played.items()},
        "keys": keys,
        "ranks": rank_data(own.registration, own.a4, keys[0], keys[-1], recorded),
        "room": room_data(),
        "voicing": voicing_data(own.registration, keys),
        "level": STARTING_LEVEL,
    }


def keyboard_frequencies(tuning: Tuning, a4: float = 440.0) -> list[float]:
    """Hertz of the keys of the organ, from the lowest up.

    >>> from builder.music import read_tuning
    >>> found = keyboard_frequencies(read_tuning("equal"))
    >>> found[0], len(found)
    (65.406, 49)
    """
    return [round(tuning.frequency(key, a4), 3) for key in _keys()]


def _keys() -> Iterator[Pitch]:
    """The keys of the organ, from the lowest up, in the spelling that they are tuned to."""
    for key in range(LOWEST_KEY.midi, HIGHEST_KEY.midi + 1):
        yield Pitch.parse(f"{LETTERS[key % 12]}{key // 12 - 1}")


def voicing_data(registration: Registration, keys: Sequence[float]) -> list[float]:
    """By how much each key (hertz, from the lowest up) is made stronger, to be heard alike in the room.

    >>> found = voicing_data(Registration.parse("principale"), [65.406, 69.296])
    >>> all(0.6 <= each <= 1.8 for each in found)
    True
    """
    return list(_strengths(registration, tuple(keys)))


@lru_cache(maxsize=8)
def _strengths(registration: Registration, keys: tuple[float, ...]) -> tuple[float, ...]:
    """The same, worked out once for all pages of a verset."""
    found = []
    for key, hertz in enumerate(keys, LOWEST_KEY.midi):
        partials = []
        for rank in registration.ranks:
            if rank.has(key):
                pipe = hertz * rank.sounding_harmonic(key)
                partials += [(n * pipe, rank.gain(key) * a) for n, a in enumerate(rank.spectrum(key), 1)]
        at, amplitude = np.array(partials).reshape(-1, 2).T
        found.append(round(voicing(CHURCH).strength(at, amplitude, _SIDE, _SIDE), 2))
    return tuple(found)


def _notes(performance: Performance, voices: list[str]) -> list[list[Any]]:
    return [
        [
            round(note.start, 4),
            round(note.end, 4),
            round(note.hertz, 3),
            voices.index(note.voice),
            [[name, round(start, 4)] for name, start in note.pieces],
        ]
        for note in performance.notes
    ]


def rank_data(
    registration: Registration,
    a4: float = 440.0,
    lowest: float = 0.0,
    highest: float = 1e5,
    recorded: RecordedPipes | None = None,
) -> list[dict[str, Any]]:
    """The ranks drawn, cut at each octave of the keyboard and wherever a rank breaks back: `ratio` to
    the note played, `gain`, the first `harmonics` and the number of all `partials`, `detune` in cents, the
    hertz of the notes it serves, and the `seed` from which each of its pipes differs a little
    (`Rank.voiced`), by no more than `mistuned` cents. How it speaks, at C4 (`Speech`): seconds in which the
    fundamental comes up, `late`, and of the burst at its mouth, `puff`; `chiff` and `wind` are how strong
    that is, and the hiss after it. A rank of the course's own pipes has `recorded`, the name of the script
    that carries them.

    >>> data = rank_data(Registration.parse("principale and fiffaro"), lowest=300, highest=350)
    >>> [(d["name"], d["ratio"], round(d["low"]), round(d["high"])) for d in data]
    [('principale', 1, 254, 508), ('fiffaro', 1, 254, 302), ('fiffaro', 1, 302, 359)]
    """
    found = []
    for rank in registration.ranks:
        for keys in _stretches(rank):
            low, high = _edge(keys[0], a4), _edge(keys[-1] + 1, a4)
            if high >= lowest and low <= highest:
                found.append(_entry(rank, keys, a4, low, high))
    loudest = max((_reach(found, entry["low"]) for entry in found), default=1.0)
    loudest *= 10 ** (VOICED / 20)
    for entry in found:
        del entry["reach"]
        if recorded and recorded.has(entry["name"]):
            entry["recorded"] = script_name(recorded, entry["name"])
        entry["gain"] = round(entry["gain"] / loudest / len(VOICES), 5)
    return found


def _stretches(rank: Rank) -> list[list[int]]:
    """Runs of keys in one octave of the keyboard (a few keys only for a rank that beats, since its
    beats change from key to key) that sound the same harmonic."""
    width = 3 if rank.beats else 12
    runs: list[list[int]] = []
    for key in range(rank.lowest, rank.highest + 1):
        last = runs[-1][-1] if runs else None
        if (
            last is None
            or last // width != key // width
            or rank.sounding_harmonic(last) != rank.sounding_harmonic(key)
        ):
            runs.append([])
        runs[-1].append(key)
    return runs


def _edge(key: int, a4: float) -> float:
    """Hertz half-way below a key: no tuning in use moves a key so far."""
    return float(a4 * 2 ** ((key - 0.5 - 69) / 12))


def _entry(rank: Rank, keys: list[int], a4: float, low: float, high: float) -> dict[str, Any]:
    middle = keys[len(keys) // 2]
    amplitudes = rank.spectrum(middle)
    speech = SPEECH[rank.kind]
    sounding = middle + 12 * math.log2(rank.sounding_harmonic(middle))
    return {
        "name": rank.name,
        "seed": rank.seed,
        "mistuned": MISTUNED if rank.harmonic > 1 else 0,
        "ratio": rank.sounding_harmonic(middle),
        "gain": rank.gain(middle) * amplitudes[0],
        "harmonics": [round(a / amplitudes[0], 4) for a in amplitudes[:HARMONICS]],
        "partials": len(amplitudes),
        "reach": sum(amplitudes) / amplitudes[0],
        "late": speech.fundamental,
        "puff": speech.chiff_length,
        "chiff": round(10 ** (speech.chiff / 20) / amplitudes[0], 5),
        "wind": round(10 ** (speech.wind(sounding) / 20) / amplitudes[0], 5),
        "detune": round(rank.detune(middle, a4 * 2 ** ((middle - 69) / 12)), 2),
        "low": round(low, 3),
        "high": round(high, 3),
    }


def _reach(entries: list[dict[str, Any]], low: float) -> float:
    """The highest a single key can reach with all its ranks' harmonics at their crest together."""
    serving = [e for e in entries if e["low"] <= low + 1e-6 and low < e["high"] - 1e-6]
    return float(sum(e["gain"] * e["reach"] for e in serving))
