"""Formulas for the clausulae: how each voice may grace its way into a close.

The cantizans has the leading note and rises to the final: the groppo is its own. Common practice of the
tables of diminution (G. Diruta, Il Transilvano, 1593; G. Bassano, Ricercate, passaggi et cadentie, 1585; both
from memory)."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from builder.diminution.harmony import natural
from builder.diminution.weave import Change, Tone, Weave

CANTIZANS: dict[int, tuple[tuple[int, tuple[tuple[int, int], ...]], ...]] = {
    # Sixteenths that the leading note lasts: the level, and (onset in sixteenths, steps from it).
    2: (
        (2, ((0, 0), (1, -1))),
        (3, ((0, 0), (1, -1))),
    ),
    4: (
        (1, ((0, 0),)),
        (2, ((0, 0), (2, -1), (3, 0))),
        (2, ((0, 0), (2, 1))),
        (2, ((0, 0), (1, 1), (2, 0), (3, -1))),
        (2, ((0, 0), (3, -1))),
        (3, ((0, 0), (1, 1), (2, -1), (3, 0))),
        (3, ((0, 0), (1, -1), (2, -2), (3, -1))),
    ),
    6: (
        (2, ((0, 0), (2, -1), (4, 0))),
        (2, ((0, 0), (4, -1), (5, 0))),
        (3, ((0, 0), (1, 1), (2, 0), (3, 1), (4, -1), (5, 0))),
        (3, ((0, 0), (2, 1), (3, 0), (4, -1), (5, 0))),
    ),
    8: (
        (1, ((0, 0), (6, 1))),
        (2, ((0, 0), (2, 1), (4, -1), (6, 0))),
        (2, ((0, 0), (2, 1), (3, 0), (4, 1), (6, -1), (7, 0))),
        (2, ((0, 0), (4, 1), (5, 0), (6, -1), (7, 0))),
        (2, ((0, 0), (2, -1), (4, -2), (6, -1))),
        (3, ((0, 0), (1, 1), (2, 0), (3, 1), (4, 0), (6, -1), (7, 0))),
        (3, ((0, 0), (1, 1), (2, 0), (3, 1), (4, 0), (5, 1), (6, -1), (7, 0))),
        (3, ((0, 0), (2, -1), (3, -2), (4, -1), (5, 0), (6, -1), (7, 0))),
    ),
    16: (
        (1, ((0, 0), (14, 1))),
        (2, ((0, 0), (8, 1), (10, 0), (12, 1), (13, 0), (14, -1), (15, 0))),
        (2, ((0, 0), (4, -1), (6, -2), (8, -1), (12, 0))),
        (3, ((0, 0), (4, 1), (6, 0), (8, 1), (9, 0), (10, 1), (11, 0), (12, 1), (13, 0), (14, -1), (15, 0))),
    ),
}  # fmt: skip


def formulas(weave: Weave, voice: int, tone: Tone, after: Tone, level: int, dice: Random) -> Iterator[Change]:
    """The formulas that fit the leading note of a cadence at a level, in a drawn order, as changes."""
    sixteenth = weave.unit // 4
    length = (tone.end - tone.start) // sixteenth if sixteenth else 0
    fit = []
    for whole, rows in CANTIZANS.items():
        wait = length - whole
        # A formula shorter than the note waits for its end.
        if wait == 0 or (wait > 0 and whole >= 4):
            for at, notes in rows:
                if at <= level and len(notes) > 1:
                    fit.append(notes if not wait else ((0, 0), *((t + wait, d) for t, d in notes[1:])))
    dice.shuffle(fit)
    fit.sort(key=lambda notes: -(len(notes) // 4))
    for notes in fit:
        bounds = [tone.start + t * sixteenth for t, _ in notes] + [tone.end]
        tones = []
        for (_, steps), a, b in zip(notes, bounds, bounds[1:]):
            d = tone.d + steps
            tones.append(Tone(a, b, d, _key(weave, tone, after, d)))
        yield Change(voice, tone.start, tone.end, tuple(tones))


def _key(weave: Weave, tone: Tone, after: Tone, d: int) -> int:
    """The leading note and its final as they stand; a step below the leading note a tone lower, as it
    rises."""
    if d == tone.d:
        return tone.m
    if d == after.d:
        return after.m
    alter = weave.score.signature.alter(d % 7)
    m = natural(d) + alter
    if d == tone.d - 1 and tone.m - m > 2:
        m = tone.m - 2
    return m
