"""A drill that looks: where voices enter with the theme, and where the line closes."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from fractions import Fraction

from builder.analysis import Analysis, analyse
from builder.analysis.tone_table import TONES, Form
from builder.language.texts import Texts
from builder.music import Pitch, Signature
from builder.pages.drills.course import CourseMusic, bass_of
from builder.pages.drills.shown import Shown, Task, shown
from builder.pages.drills.tunes import make_theme
from builder.source import Verset, parse

LINES = 2
"""Lines of each tone and step."""
_TRIES = 8
_CLEFS = {"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}
_VALUES = {1: "4", 2: "2", 3: "2.", 4: "1"}
_VOICES = (("cantus", "tenor"), ("cantus", "altus", "bassus"), ("cantus", "altus", "tenor", "bassus"))


def entries(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """A line that nobody has seen: mark the first note of every entry of the theme, and the note in which
    each cadence closes. Steps: two voices; three; four, with notes that link to the theme."""
    for step in range(1, steps + 1):
        for tone in music.tones:
            form, made = TONES[tone - 1].forms[0], 0
            for n in range(_TRIES):
                found = (
                    None
                    if made == LINES
                    else _line(random.Random(f"entries {tone} {step} {n}"), form, tone, step)
                )
                if found:
                    made += 1
                    yield _task(f"entries:{tone}:{step}:{n}", step, tone, *found)


def _task(key: str, step: int, tone: int, verset: Verset, analysis: Analysis) -> Task:
    starts = {bar.onset: bar.number for bar in verset.bars}
    drawn: list[Shown] = []
    clef = ""
    for given in verset.given:
        new = given.clef.name
        bar = starts.get(given.note.onset, 0)
        drawn.append(shown(given.note.pitch, given.note.duration, "" if new == clef else new, bar))
        clef = new
    at = {given.note.onset: n for n, given in enumerate(verset.given)}
    return {
        "id": key,
        "step": step,
        "ask": {"tone": tone},
        "shown": drawn,
        "fifths": verset.signature.fifths,
        "marks": {
            "entries": [at[e.onset] for e in analysis.entries if e.kind != "free"],
            "cadences": [at[c.onset] for c in analysis.cadences],
        },
    }


def _line(dice: random.Random, form: Form, tone: int, step: int) -> tuple[Verset, Analysis] | None:
    """A line with its analysis, where this finds every entry that was put in and the close."""
    voices = _VOICES[step - 1]
    theme = make_theme(dice, form, tone, 1 + dice.randint(0, 1))
    pitches = [Pitch.parse(name).diatonic for name, _ in theme.notes]
    values = [int(Fraction(length)) for _, length in theme.notes]
    signature = Signature.parse(form.signature)
    lines, planned, now = [], [], 0
    for k, voice in enumerate(voices):
        down = _below(voice, k, len(voices))
        link = step == 3 and k > 0 and dice.random() < 0.5
        notes = [(p - down, v) for p, v in zip(pitches, values)]
        if link:
            notes = [(notes[0][0] + 1, 2), *notes, (notes[-1][0] + dice.choice((-1, 1)), 2)]
        planned.append(now + (2 if link else 0))
        notes += _free(dice, notes[-1][0]) if dice.random() < 0.5 and voice != voices[-1] else []
        if voice == voices[-1]:
            notes += _close(form, notes[-1][0])
        now += sum(v for _, v in notes)
        lines.append(f"{voice} {_CLEFS[voice]} | {_bars(notes, signature)}")
    front = f"metre: C\n  signature: {form.signature}\n  tone: {tone}"
    text = f"---\ntitle: Drill\nverset:\n  {front}\n---\n\n```given\n" + "\n".join(lines) + "\n```\n"
    try:
        verset = parse(text, "drill.md")
    except ValueError:
        return None  # a note beyond the stave
    analysis = analyse(verset)
    found = [int(e.onset) for e in analysis.entries if e.kind != "free"]
    return (verset, analysis) if found == planned and analysis.cadences else None


def _below(voice: str, place: int, count: int) -> int:
    """How many staff steps below the theme a voice has it: answers a fourth below, then octaves."""
    if count == 2:
        return 7 if voice == "tenor" else 0
    return {"cantus": 0, "altus": 3, "tenor": 7, "bassus": 10 if count == 4 else 14}[voice]


def _free(dice: random.Random, step: int) -> list[tuple[int, int]]:
    """A bar that goes its own way."""
    found = []
    for value in dice.choice(((2, 2), (1, 1, 2), (2, 1, 1))):
        step += dice.choice((-1, 1, -2))
        found.append((step, value))
    return found


def _close(form: Form, step: int) -> list[tuple[int, int]]:
    """Fifth and final, or on mi the semitone above it."""
    signature, final = Signature.parse(form.signature), bass_of(form.cadences[0], "F2").diatonic
    final = min((final - 7, final, final + 7), key=lambda s: abs(s - step))
    mi = signature.pitch(final + 1).midi - signature.pitch(final).midi == 1
    before = final + 1 if mi else min((final + 4, final - 3), key=lambda s: abs(s - step))
    return [(before, 4), (final, 4)]


def _bars(notes: Sequence[tuple[int, int]], signature: Signature) -> str:
    bars: list[list[str]] = [[]]
    filled = 0
    for step, value in notes:
        if filled == 4:
            bars.append([])
            filled = 0
        bars[-1].append(f"{signature.pitch(step)}/{_VALUES[value]}")
        filled += value
    return " | ".join(" ".join(bar) for bar in bars)
