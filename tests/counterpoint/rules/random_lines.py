"""Figured lines made at random, but as a source would write them: for property tests."""

from __future__ import annotations

import random

from builder.music import Metre, Pitch, Signature

CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
COMPASS = {"cantus": (30, 37), "altus": (25, 32), "tenor": (23, 30), "bassus": (18, 26)}
TONES = {1: "D", 2: "G", 3: "A", 4: "E", 5: "C", 6: "F", 8: "G"}
FLAT = (2, 6)
METRES = ("C", "C|", "3/2", "6/4")
VALUES = {1: "4", 2: "2", 3: "2.", 4: "1", 6: "1."}


def random_source(seed: int) -> str:
    """A verset source: two to four voices, a tone, a metre, figures over three lines in four."""
    dice = random.Random(seed)
    tone = dice.choice(sorted(TONES))
    metre = Metre.parse(dice.choice(METRES))
    signature = Signature.parse("Bb" if tone in FLAT else "none")
    below = dice.choice(
        (("tenor",), ("bassus",), ("altus",), ("altus", "bassus"), ("altus", "tenor", "bassus"))
    )
    figured = dice.random() < 0.75
    lines = []
    for place, voice in enumerate(("cantus", *below)):
        last = place == len(below)
        bars = dice.randint(5, 9) if last else dice.randint(2, 3)
        melody = _melody(dice, COMPASS[voice], bars, int(metre.bar), TONES[tone], signature, last)
        if figured and place:
            melody = _figured(dice, melody, signature, last)
        lines.append(f"{voice} {CLEFS[voice]} | " + " | ".join(" ".join(map(_write, bar)) for bar in melody))
    front = f"title: Line {seed}\nverset:\n  metre: {metre.symbol}\n  signature: {signature}\n  tone: {tone}"
    return f"---\n{front}\n---\n\n```given\n" + "\n".join(lines) + "\n```\n"


def _write(note: tuple[Pitch, int, str]) -> str:
    pitch, length, figure = note
    return f"{pitch}/{VALUES[length]}" + (f"{{{figure}}}" if figure else "")


def _nearest(letter: int, compass: tuple[int, int], here: int) -> int:
    return min((d for d in range(compass[0], compass[1] + 1) if d % 7 == letter), key=lambda d: abs(d - here))


def _melody(dice, compass, bars, length, final, signature, last):
    """Bars of (pitch, quarters, no figure yet); the last voice ends on fifth degree and final."""
    low, high = compass
    root = "CDEFGAB".index(final)
    here = _nearest(dice.choice((root, (root + 4) % 7)), compass, dice.randint(low, high))
    found = []
    for n in range(bars):
        if last and n >= bars - 2:
            here = _nearest(root if n == bars - 1 else (root + 4) % 7, compass, here)
            found.append([(signature.pitch(here), length, "")])
            continue
        bar, left = [], length
        while left:
            value = dice.choice([v for v in (1, 1, 2, 2, 2, 4) if v <= left])
            here = _onward(dice, here, low, high, signature)
            bar.append((signature.pitch(here), value, ""))
            left -= value
        found.append(bar)
    return found


def _onward(dice, here, low, high, signature):
    step = dice.choice((-1, -1, -1, 1, 1, 1, -2, 2, -3, 3, -4, 4, 0))
    there = here + step if low <= here + step <= high else here - step
    if not low <= there <= high:
        return here
    leap = abs(signature.pitch(there).midi - signature.pitch(here).midi)
    return here if leap == 6 else there


def _figured(dice, melody, signature, last):
    notes = [note for bar in melody for note in bar]
    found, n = [], 0
    for b, bar in enumerate(melody):
        row = []
        for pitch, value, _ in bar:
            row.append((pitch, value, _figure(dice, notes, n, signature, last and b == len(melody) - 2)))
            n += 1
        found.append(row)
    return found


def _figure(dice, notes, n, signature, cadence):
    pitch, value, _ = notes[n]
    if n == len(notes) - 1:
        return ""
    if cadence:
        return dice.choice(("", "4 3", "#")) if pitch.step != 6 else ""
    if (signature.pitch(pitch.diatonic + 4).midi - pitch.midi) % 12 == 6:
        return "6"
    falls = n > 0 and notes[n - 1][0].diatonic == pitch.diatonic + 1
    chance = dice.random()
    if chance < 0.3:
        return "6"
    return "7 6" if chance < 0.4 and falls and value >= 2 else ""
