"""Clausulae and their formulas: how each voice may grace its way into a close.

Each formula stands in place of the note before the close: steps from that note, and values as in a source.
Common practice of the tables of diminution (S. Ganassi, Fontegara, 1535; G. Bassano, Ricercate, passaggi et
cadentie, 1585; G. Diruta, Il Transilvano, 1593; R. Rognoni, Passaggi, 1592; all from memory). The groppo,
to and fro about the note before the final, belongs to the leading note."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from random import Random

from builder.analysis import Analysis
from builder.diminution.harmony import natural
from builder.diminution.stillness import Still, leading
from builder.diminution.weave import Change, Tone, Weave

Formula = tuple[tuple[int, int], ...]
"""Onset in sixteenths, and steps from the plain note."""
GROPPO = (1, 0, -1, 0)

CANTIZANS = """
0/8 1/8 | 0/8. 1/16 | 0/8 -1/16 0/16 | 0/8 1/16 0/16 | 0/8 1/16 2/16 | 0/16 -1/16 0/8 | 0/16 1/16 0/8 |
0/16 1/16 0/16 1/16 | 0/16 -1/16 0/16 1/16 | 0/8 2/16 1/16

0/4 -1/8 0/8 | 0/4 1/8 0/8 | 0/8 1/8 0/8 1/8 | 0/4. 1/8 | 0/4 1/16 0/16 -1/16 0/16 |
0/8 1/16 0/16 1/16 0/16 -1/16 0/16 | 0/16 1/16 0/16 1/16 0/16 -1/16 0/8 | 0/8 -1/16 -2/16 -1/8 0/8 |
0/4 -1/16 -2/16 -1/16 0/16 | 0/8 1/16 2/16 1/16 0/16 1/8 | 0/8. 1/16 0/8 -1/16 0/16 | 0/4 2/8 1/8

0/2 1/4 0/4 | 0/2 -1/4 0/4 | 0/2. 1/4 | 0/2 1/8 0/8 -1/8 0/8 | 0/2 1/8 0/8 1/16 0/16 -1/16 0/16 |
0/4 1/8 0/8 1/16 0/16 1/16 0/16 1/16 0/16 -1/16 0/16 | 0/4. 1/8 0/4 -1/8 0/8 | 0/4 -1/8 -2/8 -1/4 0/4 |
0/4 -1/8 -2/8 -3/8 -2/8 -1/8 0/8 | 0/2 -1/16 -2/16 -3/16 -2/16 -1/8 0/8 | 0/4. 1/16 2/16 1/8 0/8 -1/8 0/8
"""
TENORIZANS = """
0/8 -1/8 | 0/8. -1/16 | 0/8 1/16 0/16 | 0/8 -1/16 0/16 | 0/8 -1/16 -2/16 | 0/16 1/16 0/8 |
0/16 1/16 0/16 -1/16 | 0/8 -2/16 -1/16 | 0/16 -1/16 -2/16 -1/16

0/4. -1/8 | 0/4 1/8 0/8 | 0/4 -1/8 -2/8 | 0/4 -1/8 0/8 | 0/8 1/8 0/8 -1/8 | 0/4 1/16 2/16 1/16 0/16 |
0/8 1/16 2/16 1/8 0/8 | 0/4 -1/16 -2/16 -3/16 -2/16 | 0/8. -1/16 -2/8 -3/16 -2/16 |
0/8 1/16 2/16 3/16 2/16 1/16 0/16

0/2. -1/4 | 0/2 1/4 0/4 | 0/2 -1/4 -2/4 | 0/4 1/8 2/8 1/4 0/4 | 0/2 1/8 2/8 1/8 0/8 |
0/2 -1/8 -2/8 -3/8 -2/8 | 0/4 1/8 2/8 3/8 2/8 1/8 0/8 | 0/2 1/16 2/16 3/16 4/16 3/16 2/16 1/16 0/16 |
0/4 -1/8 -2/8 -3/8 -4/8 -3/8 -2/8 | 0/4. 1/16 2/16 1/8 0/8 -1/8 -2/8
"""
ALTIZANS = """
0/8 1/8 | 0/8 -1/8 | 0/8. 1/16 | 0/8. -1/16 | 0/8 2/16 1/16 | 0/8 -2/16 -1/16 | 0/16 1/16 2/16 1/16 |
0/16 -1/16 -2/16 -1/16 | 0/16 1/16 0/16 -1/16 | 0/16 -1/16 0/16 1/16

0/4. 1/8 | 0/4. -1/8 | 0/4 -2/8 -1/8 | 0/4 2/8 1/8 | 0/8 1/8 2/8 1/8 | 0/8 -1/8 -2/8 -1/8 |
0/8 1/8 0/8 -1/8 | 0/8 -1/8 0/8 1/8 | 0/8 1/16 2/16 3/8 2/16 1/16 | 0/8 -1/16 -2/16 -3/8 -2/16 -1/16 |
0/16 1/16 2/16 3/16 4/16 3/16 2/16 1/16 | 0/16 -1/16 -2/16 -3/16 -4/16 -3/16 -2/16 -1/16

0/2. 1/4 | 0/2. -1/4 | 0/2 2/4 1/4 | 0/2 -2/4 -1/4 | 0/4 1/4 2/4 1/4 | 0/4 -1/4 -2/4 -1/4 |
0/4 1/8 2/8 3/4 2/8 1/8 | 0/4 -1/8 -2/8 -3/4 -2/8 -1/8 | 0/4. 1/8 2/8 3/8 2/8 1/8 |
0/4. -1/8 -2/8 -3/8 -2/8 -1/8
"""
BASSIZANS_UP = """
0/8 1/16 2/16 | 0/16 1/16 2/8 | 0/8 2/8 | 0/8. 2/16 | 0/8 1/8 | 0/8 -1/16 0/16 | 0/16 2/16 4/8 |
0/16 1/16 2/16 1/16 | 0/8 4/8

0/4 1/8 2/8 | 0/4. 2/8 | 0/4 2/8 4/8 | 0/4 2/4 | 0/4 -1/16 0/16 1/16 2/16 | 0/4. 1/16 2/16 |
0/8 2/8 4/8 2/8 | 0/8 -1/16 -2/16 -1/16 0/16 1/16 2/16 | 0/8. 1/16 2/8 4/8 | 0/8 1/8 0/8 2/8

0/2 1/4 2/4 | 0/2. 2/4 | 0/2 2/4 4/4 | 0/2 2/2 | 0/2 -1/8 0/8 1/8 2/8 | 0/2. 1/8 2/8 | 0/4 2/4 4/4 2/4 |
0/4 -1/8 -2/8 -1/8 0/8 1/8 2/8 | 0/4. 1/8 2/4 4/4
"""
BASSIZANS_DOWN = """
0/16 -1/16 -2/16 -3/16 | 0/8 -2/16 -3/16 | 0/8 -2/8 | 0/8 -3/8 | 0/8 1/16 0/16 | 0/8 -1/16 -2/16 |
0/16 -2/16 -3/8 | 0/16 -1/16 -2/8

0/8 -1/8 -2/8 -3/8 | 0/4 -2/8 -3/8 | 0/4. -2/8 | 0/4 -2/4 | 0/4 -1/16 -2/16 -3/8 | 0/8. -1/16 -2/8 -3/8 |
0/4 1/8 0/8 | 0/8 1/8 0/8 -2/8 | 0/4. -1/16 -2/16 | 0/4 -1/16 -2/16 -3/16 -5/16

0/4 -1/4 -2/4 -3/4 | 0/2 -2/4 -3/4 | 0/2. -2/4 | 0/2 -2/2 | 0/2 -1/8 -2/8 -3/4 | 0/4. -1/8 -2/4 -3/4 |
0/2 1/4 0/4 | 0/4 1/4 0/4 -2/4 | 0/2 -1/8 -2/8 -3/8 -5/8
"""


@dataclass(frozen=True, slots=True)
class Close:
    """A voice's way into a close: its clausula, the note before the close, and the note there."""

    kind: str
    voice: int
    tone: Tone
    after: Tone


@cache
def table(kind: str, move: int) -> Mapping[int, tuple[Formula, ...]]:
    """The formulas of a clausula that moves by so many steps, by their length in sixteenths.

    >>> {length: len(found) for length, found in table("tenorizans", -1).items()}
    {4: 9, 8: 10, 16: 10}
    """
    text = {
        ("cantizans", 1): CANTIZANS,
        ("tenorizans", -1): TENORIZANS,
        ("altizans", 0): ALTIZANS,
        ("altizans", 1): CANTIZANS,
        ("altizans", -1): TENORIZANS,
        ("bassizans", 3): BASSIZANS_UP,
        ("bassizans", -4): BASSIZANS_DOWN,
    }.get((kind, move), "")
    found: dict[int, list[Formula]] = {}
    for one in text.replace("\n\n", "|").split("|"):
        if not one.split():
            continue
        notes, at = [], 0
        for note in one.split():
            steps, value = note.split("/")
            notes.append((at, int(steps)))
            sixteenths = 16 // int(value.rstrip("."))
            at += sixteenths + (sixteenths // 2 if value.endswith(".") else 0)
        if kind == "cantizans" or not is_groppo(notes):
            found.setdefault(at, []).append(tuple(notes))
    return {length: tuple(rows) for length, rows in found.items()}


def is_groppo(notes: Sequence[tuple[int, int]]) -> bool:
    """Whether a formula goes to and fro in sixteenths about the plain note."""
    return any(
        tuple(steps for _, steps in four) == GROPPO and four[3][0] - four[0][0] == 3
        for four in zip(notes, notes[1:], notes[2:], notes[3:])
    )


def closes(
    weave: Weave, analysis: Analysis, given: Sequence[int], kept: Still, line: bool
) -> list[list[Close]]:
    """For each cadence the voices that have a clausula and are free there (`kept`: what stays at all events);
    the given line's own only where it may move (`line`)."""
    own = {(v, b.start): a for v, a, b in leading(weave, analysis)}
    found = []
    for cadence in analysis.cadences:
        tick, row = weave.tick(cadence.onset), []
        for v, tones in enumerate(weave.tones):
            k = weave.place(v, tick)
            if not 0 < k < len(tones) or tones[k].start != tick or tones[k - 1].end != tick:
                continue
            a, b = tones[k - 1], tones[k]
            if (given[a.start] == v and not line) or not kept.none(v, a.start, a.end):
                continue
            kind = "cantizans" if (v, tick) in own else _kind(b.d - a.d, b.d % 7, cadence.degree)
            if cadence.kind == "mi" and kind != "cantizans":
                continue
            if table(kind, b.d - a.d):
                row.append(Close(kind, v, a, b))
        found.append(row)
    return found


def _kind(move: int, letter: int, degree: str) -> str:
    final = "CDEFGAB"[letter] == degree[0]
    if final:
        return {-1: "tenorizans", 3: "bassizans", -4: "bassizans"}.get(move, "")
    return "altizans"


def formulas(weave: Weave, close: Close, level: int, dice: Random) -> Iterator[Change]:
    """The formulas that fit a clausula at a level, in a drawn order, as changes."""
    sixteenth = weave.unit // 4
    tone, after = close.tone, close.after
    length = (tone.end - tone.start) // sixteenth if sixteenth else 0
    fit = []
    for whole, rows in table(close.kind, after.d - tone.d).items():
        # A formula shorter than the note waits for its end.
        wait = length - whole
        for notes in rows if 0 <= wait < 16 else ():
            ends = [t for t, _ in notes[1:]] + [whole]
            small = sum(b - a < 2 for (a, _), b in zip(notes, ends))
            if small <= 2 or level > 2:
                # What fills the note comes first, mostly.
                fit.append((wait * dice.random(), ((0, 0), *((t + wait, d) for t, d in notes[1:]))))
    dice.shuffle(fit)
    for _, notes in sorted(fit, key=lambda x: x[0]):
        bounds = [tone.start + t * sixteenth for t, _ in notes] + [tone.end]
        tones = tuple(
            Tone(a, b, tone.d + steps, _key(weave, tone, after, tone.d + steps))
            for (_, steps), (a, b) in zip(notes, itertools.pairwise(bounds))
        )
        yield Change(close.voice, tone.start, tone.end, tones)


def _key(weave: Weave, tone: Tone, after: Tone, d: int) -> int:
    """The note before the close and the note there as they stand; a step below a leading note a tone lower,
    as it rises."""
    if d == tone.d:
        return tone.m
    if d == after.d:
        return after.m
    alter = weave.score.signature.alter(d % 7)
    m = natural(d) + alter
    if d == tone.d - 1 and after.d == tone.d + 1 and tone.m - m > 2:
        m = tone.m - 2
    return m
