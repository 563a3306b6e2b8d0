"""Measures of florid keyboard polyphony, as they were counted in real pieces: how near a diminished score is
to them. Small notes are eighths and shorter."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import log2
from typing import Any, NamedTuple

from builder.diminution.habits import NO_MOVE, WIDEST, bands, played
from builder.diminution.harmony import natural
from builder.diminution.weave import SILENT, Tone, Weave
from builder.music.consonance import clash

OUTSIDE, FAR = 2.0, 2.0
"""What a measure costs for each half of its band by which it is outside, or nearly; beyond so many halves of
its band it costs no more: in a short piece a note or two decide."""
Cell = tuple[tuple[int, int, int], tuple[int, int, int]]


class Part(NamedTuple):
    """What one voice's line gives by itself."""

    notes: int
    small: tuple[int, ...]
    """Onsets of its small notes."""
    chains: tuple[int, ...]
    scales: int
    turns: int
    triples: int
    returns: int
    closed: int
    """Chains between longer notes."""
    joins: int
    joined_by_leap: int
    sixteenths: int
    cells: tuple[tuple[int, Cell, int], ...]
    rhythms: tuple[tuple[int, ...], ...]
    next_figure: tuple[tuple[object, object], ...]
    beats: frozenset[int]
    nats: float
    moves: int
    aimless: int
    """Small notes that come back a third time within two quarters, are struck again or end four moves to and
    fro; leaps wider than a third beside a sixteenth, thirds to one that are not turned back by step, and
    raised notes left by leap."""
    circling: int
    """Eighth small notes in a row that have no more than three pitches between them, or of which four are the
    four before."""


def part(tones: tuple[Tone, ...], unit: int, raised: Sequence[int] = (0,) * 7) -> Part:
    """Look at one voice. `raised`: by letter, the alteration above which a note is raised."""
    small = [t.end - t.start <= unit // 2 for t in tones]
    onsets = tuple(t.start for t, s in zip(tones, small) if s)
    nats, moves, joins, leaps = _moves(tones, small)
    chains = [*_chains(tones, small)]
    scales, turns, triples = (
        sum(column) for column in zip((0, 0, 0), *(_shape(tones, i, j) for i, j in chains))
    )
    between = [(tones[i - 1].d, tones[j].d) for i, j in chains if _closed(tones, i, j)]
    rhythms, follows = _beats(tones, small, unit)
    return Part(
        len(tones), onsets, tuple(j - i for i, j in chains), scales, turns, triples,
        sum(a == b for a, b in between), len(between), joins, leaps,
        sum(unit // 4 <= t.end - t.start < 3 * unit / 8 for t in tones),
        _cells(tones, small), rhythms, follows, frozenset(t // unit for t in onsets), nats, moves,
        aimless(tones, unit, raised), circling(tones, small),
    )  # fmt: skip


def _moves(tones: Sequence[Tone], small: Sequence[bool]) -> tuple[float, int, int, int]:
    """How unlikely the moves from small notes are (nats) and how many there are; how many of them lead to a
    longer note, and how many of those by leap."""
    costs = played("as written")
    nats, moves, joins, leaps, last = 0.0, 0, 0, 0, NO_MOVE
    for k in range(1, len(tones)):
        a, b = tones[k - 1], tones[k]
        if a.end != b.start:
            last = NO_MOVE
            continue
        move = max(-WIDEST, min(WIDEST, b.d - a.d))
        if small[k - 1]:
            nats += costs[last][move]
            moves += 1
            if not small[k]:
                joins += 1
                leaps += abs(move) > 1
        last = move
    return nats, moves, joins, leaps


def _chains(tones: Sequence[Tone], small: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Joined small notes: number of the first, and of what comes after the last."""
    i = 0
    while i < len(tones):
        j = i + 1
        if small[i]:
            while j < len(tones) and small[j] and tones[j - 1].end == tones[j].start:
                j += 1
            yield i, j
        i = j


def _closed(tones: Sequence[Tone], i: int, j: int) -> bool:
    """Whether a chain is joined to a longer note on either side."""
    return (
        i > 0 and j < len(tones) and tones[i - 1].end == tones[i].start and tones[j - 1].end == tones[j].start
    )


def _shape(tones: Sequence[Tone], i: int, j: int) -> tuple[int, int, int]:
    """A chain with the notes beside it: small notes that are in a scale of four notes and more, turns by step
    to and fro, and places where there could be one."""
    low, high = max(0, i - 1), min(len(tones), j + 1)
    moves = [b.d - a.d for a, b in itertools.pairwise(tones[low:high])]
    inside: set[int] = set()
    k = 0
    for move, same in itertools.groupby(moves):
        many = len([*same])
        if abs(move) == 1 and many >= 3:
            inside.update(range(low + k, low + k + many + 1))
        k += many
    turns = sum(one * two == -1 for one, two in itertools.pairwise(moves))
    return len(inside & {*range(i, j)}), turns, max(0, len(moves) - 1)


def _cells(tones: Sequence[Tone], small: Sequence[bool]) -> tuple[tuple[int, Cell, int], ...]:
    """Four joined notes of which three are small: onset, intervals and lengths, staff step of the first."""
    found = []
    for k in range(len(tones) - 3):
        a, b, c, d = tones[k : k + 4]
        if sum(small[k : k + 4]) >= 3 and (a.end == b.start and b.end == c.start and c.end == d.start):
            cell = (b.d - a.d, c.d - b.d, d.d - c.d), (a.end - a.start, b.end - b.start, c.end - c.start)
            found.append((a.start, cell, a.d))
    return tuple(found)


def _beats(
    tones: Sequence[Tone], small: Sequence[bool], unit: int
) -> tuple[tuple[tuple[int, ...], ...], tuple[tuple[object, object], ...]]:
    """The rhythms of quarters that have small notes, and of two such quarters in a row the figures (rhythm
    and moves)."""
    by_beat: dict[int, list[int]] = defaultdict(list)
    for k, t in enumerate(tones):
        by_beat[t.start // unit].append(k)
    rhythms, follows = [], []
    previous: tuple[int, object] | None = None
    for beat, ks in sorted(by_beat.items()):
        if len(ks) < 2 or not any(small[k] for k in ks):
            previous = None
            continue
        rhythm = tuple(tones[k].start - beat * unit for k in ks)
        figure = rhythm, tuple(tones[b].d - tones[a].d for a, b in itertools.pairwise(ks))
        rhythms.append(rhythm)
        if previous is not None and previous[0] == beat - 1:
            follows.append((previous[1], figure))
        previous = beat, figure
    return tuple(rhythms), tuple(follows)


def aimless(tones: Sequence[Tone], unit: int, raised: Sequence[int]) -> int:
    """How often a line turns round one note, goes to and fro, strikes small notes again, jumps in sixteenths,
    or leaves a raised note by leap.

    >>> line = [Tone(2 * k, 2 * k + 2, d, natural(d)) for k, d in enumerate((30, 31, 30, 29, 30, 31))]
    >>> aimless(line, 4, (0,) * 7)
    1
    """
    half, count = unit // 2, 0
    for k in range(1, len(tones)):
        a, b = tones[k - 1], tones[k]
        if a.end != b.start:
            continue
        if a.d == b.d:
            count += min(a.end - a.start, b.end - b.start) <= half
            continue
        far = abs(b.d - a.d)
        if far > 1 and a.m - natural(a.d) > raised[a.d % 7]:
            count += 1
        if far > 2 and min(a.end - a.start, b.end - b.start) * 4 <= unit:
            count += 1
        elif far == 2 and (b.end - b.start) * 4 <= unit and k + 1 < len(tones):
            count += (tones[k + 1].d - b.d) * (b.d - a.d) != -2
        if b.end - b.start <= half:
            had, j = 0, k - 1
            while j > 0 and tones[j - 1].end == tones[j].start and tones[j - 1].end > b.start - 2 * unit:
                j -= 1
                had += tones[j].d == b.d != tones[j + 1].d
            count += had > 1
            five = tones[max(0, k - 4) : k + 1]
            count += len(five) == 5 and all(t.end - t.start <= half for t in five[1:]) and _zigzag(five)
    return count


def circling(tones: Sequence[Tone], small: Sequence[bool]) -> int:
    """How often eight joined small notes (`small`: which are) have no more than three pitches, or are four
    notes and the same four again.

    >>> line = [Tone(k, k + 1, d, natural(d)) for k, d in enumerate((30, 31, 32, 31) * 2)]
    >>> circling(line, [True] * 8)
    1
    """
    count = run = 0
    for k, tone in enumerate(tones):
        joined = k and small[k] and tones[k - 1].end == tone.start
        run = run + 1 if joined else int(small[k])
        if run >= 8:
            d = [t.d for t in tones[k - 7 : k + 1]]
            count += len(set(d)) <= 3 or d[:4] == d[4:]
    return count


def _zigzag(line: Sequence[Tone]) -> bool:
    """Whether joined notes turn at each."""
    moves = [y.d - x.d if x.end == y.start else 0 for x, y in itertools.pairwise(line)]
    return all(x * y < 0 for x, y in itertools.pairwise(moves))


@dataclass
class Florid:
    """Measures a weave again and again: what a voice gives by itself is kept as long as it stays."""

    weave: Weave
    level: int
    known: dict[tuple[Tone, ...], Part] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.bands = bands(self.level)
        signature = self.weave.score.signature
        self.raised = [max(0, signature.alter(k)) for k in range(7)]
        self.nats = 0.0
        self.aimless = self.circling = 0
        self.bass = 0
        self.onsets: Sequence[int] = ()
        self.small = self.strong = 0
        self.dissonant = 0
        self.thirds = (0, 0, 0)

    def parts(self) -> list[Part]:
        found = []
        for row in self.weave.tones:
            key = tuple(row)
            one = self.known.get(key)
            if one is None:
                if len(self.known) > 200:
                    self.known.clear()
                one = self.known[key] = part(key, self.weave.unit, self.raised)
            found.append(one)
        return found

    def measures(self) -> Mapping[str, float]:
        """The sixteen measures; shares in percent."""
        weave, rows = self.weave, self.parts()
        unit = weave.unit
        small = sorted(t for r in rows for t in r.small)
        many = max(1, len(small))
        chains = [c for r in rows for c in r.chains]
        self.nats = sum(r.nats for r in rows) / max(1, sum(r.moves for r in rows))
        self.aimless = sum(r.aimless for r in rows)
        self.circling = sum(r.circling for r in rows)
        self.bass = len(rows[3].small) if len(rows) > 3 else 0
        self.onsets = small
        self.small = len(small)
        places = [bisect_left(small, k * (weave.size / 3)) for k in range(4)]
        self.thirds = places[1] - places[0], places[2] - places[1], places[3] - places[2]
        sequence, near, far = _answered(rows, unit)
        cells = max(1, sum(len(r.cells) for r in rows))
        beats = Counter(Counter(b for r in rows for b in r.beats).values())
        rhythms = Counter(x for r in rows for x in r.rhythms)
        follows = Counter(x for r in rows for x in r.next_figure)
        ends = max((row[-1].start for row in weave.tones if row), default=0)
        points = [0, *small, ends]
        still = max((b - a for a, b in itertools.pairwise(points)), default=0)
        dissonant, accented = self.dissonances()
        self.dissonant = dissonant
        first = Counter[object]()
        for (one, _), count in follows.items():
            first[one] += count
        return {
            "% small notes in scale of >=4": 100 * sum(r.scales for r in rows) / many,
            "turns % of triples": _share(sum(r.turns for r in rows), sum(r.triples for r in rows)),
            "chain of small notes: mean": sum(chains) / max(1, len(chains)),
            "% figures returning to the note they left": _share(
                sum(r.returns for r in rows), sum(r.closed for r in rows)
            ),
            "joining leap (small->long) >step %": _share(
                sum(r.joined_by_leap for r in rows), sum(r.joins for r in rows)
            ),
            "4-note cells: % in sequence (same voice, other pitch, <=2 bars)": 100 * sequence / cells,
            "cells: % imitated other voice <=1 bar": 100 * near / cells,
            "cells: % imitated 1-4 bars": 100 * far / cells,
            "beats with 2 voices in small %": 100 * beats[2] / max(1, -(-weave.size // unit)),
            "of these accented %": _share(accented, dissonant),
            "small notes in voice 1 %": 100 * len(rows[0].small) / many,
            "small notes in voice 4 %": 100 * len(rows[3].small) / many if len(rows) > 3 else 20.0,
            "top beat-rhythm share %": _share(max(rhythms.values(), default=0), sum(rhythms.values())),
            "H(next|figure) bits": _entropy(follows) - _entropy(first),
            "longest stillness % of piece (mean)": 100 * still / weave.size,
            "val% 16": _share(sum(r.sixteenths for r in rows), sum(r.notes for r in rows)),
        }

    def dissonances(self) -> tuple[int, int]:
        """Small notes that clash as they begin, and those of them on a stronger part than the next note."""
        weave = self.weave
        half = weave.unit // 2
        strength = _strengths(weave.size, weave.unit)
        grids = tuple(zip(weave.d, weave.m))
        count = accented = 0
        self.strong = 0
        for v, row in enumerate(weave.tones):
            for k, tone in enumerate(row):
                t = tone.start
                if tone.end - t > half:
                    continue
                others = [(d[t], m[t]) for w, (d, m) in enumerate(grids) if w != v and m[t] != SILENT]
                if not others:
                    continue
                lowest = min([tone.m, *[m for _, m in others]])
                for d, m in others:
                    if clash(tone.d, tone.m, d, m, lowest):
                        count += 1
                        after = row[k + 1].start if k + 1 < len(row) else t
                        before = row[k - 1].start if k else t
                        self.strong += strength[t] >= strength[before]
                        if (
                            after < weave.size
                            and strength[t] > strength[after]
                            and strength[t] >= strength[before]
                        ):
                            accented += 1
                        break
        return count, accented

    def cost(self, skipped: Container[str] = ()) -> float:
        """How far the measures are from real pieces': each by its distance from the middle of its band."""
        found = self.measures()
        total = 0.0
        for name, (low, middle, high) in self.bands.items():
            if name in skipped or ("in voice" in name and len(self.weave.tones) < 4):
                continue
            x = found[name]
            size = (high - middle if x > middle else middle - low) or 1.0
            far = min(abs(x - middle) / size, FAR)
            total += max(0.0, far - 0.45) ** 1.5 + OUTSIDE * max(0.0, far - 0.85)
        return total


def _share(a: float, b: float) -> float:
    return 100 * a / b if b else 0.0


def _answered(rows: Sequence[Part], unit: int) -> tuple[int, int, int]:
    """Cells that come again: in the same voice on another step within two bars, and in another voice within
    one bar and within four."""
    had: dict[Cell, list[tuple[int, int, int]]] = defaultdict(list)
    for v, r in enumerate(rows):
        for start, cell, d in r.cells:
            had[cell].append((start, v, d))
    sequence = near = far = 0
    for places in had.values():
        if len(places) < 2:
            continue
        for start, v, d in places:
            again = close = wide = False
            for t, w, e in places:
                gap = start - t
                if not 0 < gap <= 16 * unit:
                    continue
                if w == v:
                    again = again or (gap <= 8 * unit and e != d)
                elif gap <= 4 * unit:
                    close = True
                else:
                    wide = True
            sequence, near, far = sequence + again, near + close, far + wide
    return sequence, near, far


def _entropy(counts: Mapping[Any, int]) -> float:
    total = sum(counts.values())
    return -sum(c / total * log2(c / total) for c in counts.values()) if total else 0.0


_STRENGTHS: dict[tuple[int, int], list[int]] = {}


def _strengths(size: int, unit: int) -> list[int]:
    """5 every four quarters, 4 every two, 3 quarters, 2 eighths, 1 sixteenths."""
    found = _STRENGTHS.get((size, unit))
    if found is None:
        found = [
            next(
                (
                    s
                    for k, s in ((4 * unit, 5), (2 * unit, 4), (unit, 3), (unit // 2, 2), (unit // 4, 1))
                    if k and t % k == 0
                ),
                0,
            )
            for t in range(size)
        ]
        _STRENGTHS[size, unit] = found
    return found
