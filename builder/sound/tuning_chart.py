"""Data for a page that draws a tuning, its fifths and thirds against pure ones, and lets one hear them."""

from __future__ import annotations

from typing import Any

from builder.music import Pitch, Tuning, read_tuning, spelled
from builder.music.temperament import A4, fifths_from_c, key_of

_KINDS = (("fifths", 7, 4), ("major_thirds", 4, 2), ("minor_thirds", 3, 2))


def describe(tuning: Tuning | str, a4: float = A4) -> dict[str, Any]:
    """A tuning as numbers and words, ready for JSON.

    `notes` run upwards from C: letter, cents above C, cents against equal temperament from A, hertz in
    the octave from middle C. `fifths`, `major_thirds` and `minor_thirds` run along the line of fifths:
    low and high letter, cents, cents from pure (`off`), `wolf`, beats a second (of the upper partials
    that should agree) and the hertz of both notes.

    >>> mean = describe("quarter-comma")
    >>> [(f["low"], f["high"], f["off"]) for f in mean["fifths"] if f["wolf"]]
    [('G#', 'Eb', 35.68)]
    >>> [t["low"] for t in mean["major_thirds"] if abs(t["off"]) < 0.01]
    ['Eb', 'Bb', 'F', 'C', 'G', 'D', 'A', 'E']
    """
    if isinstance(tuning, str):
        tuning = read_tuning(tuning)
    line = sorted(tuning.letters, key=fifths_from_c)
    a = tuning.cents(Pitch.parse("A4"))
    data: dict[str, Any] = {
        "name": tuning.name,
        "a4": a4,
        "split": [list(pair) for pair in tuning.split],
        "notes": [
            {
                "letter": letter,
                "cents": round(cents, 2),
                "from_equal": round(cents - a - 100 * (key_of(letter) - 9), 2),
                "hertz": round(tuning.frequency(Pitch.parse(f"{letter}4"), a4), 3),
            }
            for letter in tuning.letters
            for cents in (tuning.cents(Pitch.parse(f"{letter}4")),)
        ],
    }
    for name, keys, steps in _KINDS:
        data[name] = [_interval(tuning, low, keys, steps, a4) for low in line]
    return data


def _interval(tuning: Tuning, letter: str, keys: int, steps: int, a4: float) -> dict[str, Any]:
    """From a note up to the one written as its fifth or third or, when there is none, the key there."""
    low = Pitch.parse(f"{letter}4")
    high = tuning.sounds_as(spelled(low.diatonic + steps, low.midi + keys))
    lower, upper = tuning.frequency(low, a4), tuning.frequency(high, a4)
    times = {7: (3, 2), 4: (5, 4), 3: (6, 5)}[keys]
    return {
        "low": letter,
        "high": high.letter,
        "cents": round(tuning.size(low, high), 2),
        "off": round(tuning.error(low, high) or 0.0, 2) + 0.0,
        "wolf": tuning.wolf(low, high),
        "beats": round(abs(times[0] * lower - times[1] * upper), 2),
        "hertz": [round(lower, 3), round(upper, 3)],
    }
