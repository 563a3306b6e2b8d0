"""Drills that name notes: clefs and syllables at sight."""

from __future__ import annotations

import random
from collections.abc import Iterator

from builder.language.texts import Texts
from builder.music import Clef, Pitch, Signature
from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY
from builder.pages.drills.course import CourseMusic
from builder.pages.drills.shown import Task, shown, tune

CLEFS = (("C1", "C3", "C4", "F4"), ("C2", "F3", "G2"), ("C5", "F5", "G1"))
"""Clefs in the order in which they are learned: the natural ones, those of high clefs, the rest. Together all
that occur with C and F, and both G clefs."""
_FURTHEST = 5  # staff steps from the middle line: to the first ledger line


def middle(clef: str) -> int:
    """Staff step of the middle line.

    >>> Pitch(middle("C3")), Pitch(middle("F4"))
    (Pitch('C4'), Pitch('D3'))
    """
    return Clef.parse(clef).bottom.diatonic + 4


def clefs(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Notes on a stave, to be named or played. Steps: the natural clefs; those beside them; all others; four
    notes with a change of clef, as the line of a verset has it."""
    for step, group in enumerate(CLEFS[:steps], 1):
        for clef in group:
            for place in range(-_FURTHEST, _FURTHEST + 1):
                note = Pitch(middle(clef) + place)
                if LOWEST_KEY.diatonic <= note.diatonic <= HIGHEST_KEY.diatonic:
                    yield tune(f"clefs:{clef}:{place}", step, [shown(note, 4, clef)], [note], clef=clef)
    if steps == 4:
        for n in range(24):
            dice = random.Random(f"clefs {n}")
            first, then = dice.sample(CLEFS[0] + CLEFS[1], 2)
            notes = [Pitch(middle(clef) + dice.randint(-4, 4)) for clef in (first, first, then, then)]
            drawn = [shown(note, 2, clef) for note, clef in zip(notes, (first, "", then, ""))]
            yield tune(f"clefs:two:{n}", 4, drawn, notes, clef=f"{first}, {then}")


HEXACHORDS = ("G3", "C4", "F4")
"""The hard, the natural and the soft hexachord, each by its ut. Syllables and mutations as A. Banchieri,
*Cartella musicale* (1614), and L. Penna, *Li primi albori musicali* (1672), teach them; from memory."""
_FROM_UT = (0, 2, 4, 5, 7, 9)  # semitones


def hexachord_table() -> dict[str, list[list[int]]]:
    """By the class of a note ("5,0" for A): the hexachords that have it (0 hard, 1 natural, 2 soft) and its
    syllable in each, from 0 for ut to 5 for la.

    >>> hexachord_table()["5,0"], hexachord_table()["6,-1"], hexachord_table()["6,0"]
    ([[0, 1], [1, 5], [2, 2]], [[2, 3]], [[0, 2]])
    """
    found: dict[str, list[list[int]]] = {}
    for n, ut in enumerate(HEXACHORDS):
        first = Pitch.parse(ut)
        for syllable, semitones in enumerate(_FROM_UT):
            step = first.diatonic + syllable
            alter = first.midi + semitones - Pitch(step).midi
            found.setdefault(f"{step % 7},{alter}", []).append([n, syllable])
    return found


def syllables(music: CourseMusic, steps: int, words: Texts) -> Iterator[Task]:
    """Notes to be sung by the six syllables. Steps: single notes (each syllable that a note may have is
    right); runs inside one hexachord; octaves, which need a mutation."""
    for step in range(1, steps + 1):
        for clef in CLEFS[0]:
            for n in range(8):
                signature = Signature.parse("Bb" if n % 2 else "none")
                run = _run(random.Random(f"syllables {step} {clef} {n}"), clef, signature, step, n)
                drawn = [shown(p, 4 if step == 1 else 2, "" if k else clef) for k, p in enumerate(run)]
                key, fifths = f"syllables:{step}:{clef}:{n}", signature.fifths
                yield {"id": key, "step": step, "ask": {}, "shown": drawn, "fifths": fifths}


def _run(dice: random.Random, clef: str, signature: Signature, step: int, n: int) -> list[Pitch]:
    centre = middle(clef)
    if step == 1:
        return [signature.pitch(centre - 4 + n)]
    if step == 3:
        low = centre - dice.randint(2, 4)
        line = range(low, low + 8)
        return [signature.pitch(each) for each in (line if n < 4 else reversed(line))]
    # The hexachords without an accidental of their own: natural and hard, or natural and soft.
    uts = [each for each in range(centre - 5, centre + 2) if each % 7 in (0, 3 if signature.fifths else 4)]
    ut, above = uts[n % len(uts)], [dice.randint(0, 3)]
    while len(above) < 6:
        here = above[-1]
        above.append(dice.choice([x for x in (here - 2, here - 1, here + 1, here + 1) if 0 <= x <= 5]))
    return [signature.pitch(ut + each) for each in above]
