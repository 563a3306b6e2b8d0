"""How themes and lowest lines move: counts, so that new versets stand beside the masters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

from builder.music import Note, Score

BAR, HALF, BARS = 4, 2, 4
"""Quarter notes of a bar in common time and of its strong parts; bars of a stretch."""


def theme_rates(themes: Iterable[Sequence[int]]) -> str:
    """Where the highest note of themes (staff steps) stands, how they turn, and by what they move."""
    told: Counter[str] = Counter()
    for steps in themes:
        told["themes"] += 1
        told["first"] += steps[0] == max(steps)
        told["last"] += steps[-1] == max(steps) != steps[0]
        _moves(steps, told)
    return f"{told['themes']} themes: highest first / last {_share(told, 'first', 'themes')} / " + (
        f"{_share(told, 'last', 'themes')}; {_moved(told)}"
    )


def line_rates(stretches: Iterable[Sequence[Note]]) -> str:
    """How stretches of four bars move; how many have one letter on half of their strong parts and more, and
    how many touch their highest note once."""
    told: Counter[str] = Counter()
    for notes in stretches:
        steps = [n.pitch.diatonic for n in notes if n.pitch]
        strong = Counter(n.pitch.step for n in notes if n.pitch and n.onset % HALF == 0)
        if len(steps) < 3 or not strong:
            continue
        told["stretches"] += 1
        told["stale"] += max(strong.values()) * 2 >= strong.total()
        told["once"] += sum(high for high, _ in groupby(step == max(steps) for step in steps)) == 1
        _moves(steps, told)
    stale, once = (_share(told, key, "stretches") for key in ("stale", "once"))
    return f"{told['stretches']} stretches: {_moved(told)}; one letter {stale}, highest note once {once}"


def _moves(steps: Sequence[int], told: Counter[str]) -> None:
    moves = [b - a for a, b in pairwise(steps)]
    told["moves"] += len(moves)
    for key, sizes in (("again", (0, 0)), ("steps", (1, 1)), ("thirds", (2, 2)), ("leaps", (3, 99))):
        told[key] += sum(sizes[0] <= abs(move) <= sizes[1] for move in moves)
    moving = [move for move in moves if move]
    told["pairs"] += max(0, len(moving) - 1)
    told["turns"] += sum(a * b < 0 for a, b in pairwise(moving))


def _moved(told: Counter[str]) -> str:
    kinds = ", ".join(f"{key} {_share(told, key, 'moves')}" for key in ("again", "steps", "thirds", "leaps"))
    return f"{kinds}, turns {_share(told, 'turns', 'pairs')}"


def _share(told: Counter[str], key: str, of: str) -> str:
    return f"{100 * told[key] / max(1, told[of]):.1f} %"


def runs(notes: Iterable[Note]) -> Iterator[list[Note]]:
    """The notes between rests."""
    for sung, run in groupby(notes, key=lambda n: n.pitch is not None):
        if sung:
            yield list(run)


def stretches(notes: Sequence[Note]) -> Iterator[list[Note]]:
    """Four bars from every bar line of a line without rests."""
    start = -(-notes[0].onset // BAR) * BAR
    while start + BARS * BAR <= notes[-1].end:
        yield [n for n in notes if n.onset < start + BARS * BAR and n.end > start]
        start += BAR


def first_notes(score: Score, lengths: Sequence[int]) -> Iterator[list[int]]:
    """The first notes of each voice of a piece that has so many, as staff steps: as many as `lengths` has."""
    for part, length in zip(score.parts, lengths):
        steps = [n.pitch.diatonic for n in next(runs(part.sounding()), []) if n.pitch]
        if len(steps) >= length:
            yield steps[:length]
