"""Draws a line for one voice over a stretch: given its rhythm, the pitches, by a narrow beam.

Costs are in nats, as far as they are learned; noise of the same measure makes of the best line a drawn one,
so that lines come about as often as their cost allows (perturb and maximise)."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import log
from random import Random
from typing import NamedTuple

from builder.diminution.habits import NO_MOVE, Costs, played, sung
from builder.diminution.harmony import NEAR, natural
from builder.diminution.spots import Spot, Spots, Table, tone_at
from builder.diminution.weave import Tone, Weave

BEAM = 6
AGAIN = 5.0
"""A note struck again among small notes."""
ROUND, LED, JUMP = 1.5, 2.5, 2.5
"""A small note that comes back a third time within two quarters, or ends four moves to and fro; a raised note
left by leap; a leap wider than a third beside a sixteenth, or a third to one that is not turned back by
step."""
UPPER = 2.4
"""A small upper neighbour in a vocal line: one in a hundred small notes (Palestrina, even files of music21's
corpus; before, ours had fourteen)."""
SIXTEENTH = 0.25
"""Quarters: so short a note is not struck again in keyboard figures."""
REACH = 6
"""Staff steps by which a line goes beyond the notes it joins."""
LEGAL = frozenset(
    {(0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (4, 7), (7, 12)}
    | {(-a, -b) for a, b in ((1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (4, 7), (7, 12))}
    | {(5, 8)}
)
"""Moves of a voice: staff steps and semitones (Zarlino 1558, III; from memory)."""
_MOVES = (0, 1, -1, 2, -2, 3, -3, 4, -4, 5, 7, -7)
_FALL, _STEPS = (-1,), (1, -1)


@dataclass(frozen=True, slots=True)
class Style:
    """How lines go at a level. `learned`: weight of the learned moves."""

    learned: float = 0.6
    repeat: float = 0.8
    leap: float = 0.25
    octave: float = 1.5
    twice: float = 1.0
    unrecovered: float = 0.9
    turn: float = 0.35
    heat: float = 0.5
    keyboard: bool = False
    values: str = "as written"


@dataclass(slots=True)
class Frame:
    """What a line is joined to: the notes before and after it in its voice, and the move that led to the one
    before; what notes it would like (tick -> staff step and gain)."""

    before: Tone | None
    move: int
    after: Tone | None
    likes: Mapping[int, tuple[int, float]] = field(default_factory=dict)
    given: bool = False
    must: Mapping[int, int] = field(default_factory=dict)


@dataclass(slots=True)
class _Way:
    """A beginning of the line up to one note, the cheapest with this note and this move to it."""

    cost: float
    d: int
    m: int
    move: int
    """The move to this note."""
    clash: bool
    fall: bool
    accented: bool
    back: _Way | None


def frame(weave: Weave, voice: int, start: int, end: int, **more: object) -> Frame:
    """The frame of a stretch as the voice stands now."""
    row, k = weave.tones[voice], weave.place(voice, start)
    before = row[k - 1] if k and row[k - 1].end == start else None
    move = NO_MOVE
    if before is not None and k > 1 and row[k - 2].end == before.start:
        move = max(-7, min(7, before.d - row[k - 2].d))
    j = weave.place(voice, end)
    after = row[j] if j < len(row) and row[j].start == end else None
    return Frame(before, move, after, **more)  # type: ignore[arg-type]


def draw(
    spots: Spots, onsets: Sequence[int], end: int, joined: Frame, style: Style, dice: Random
) -> tuple[float, list[Tone]] | None:
    """A line with these onsets that ends with `end`, and its cost without the noise; None when there is
    none."""
    bounds = [*onsets, end]
    span = _span(spots, joined)
    ways = [] if joined.before is None else [_begun(spots, joined.before, joined.move, onsets[0])]
    for i in range(len(onsets)):
        onset = _onset(spots, bounds, i, joined, style)
        if ways:
            fresh = _led(spots, bounds, i, ways, onset, span, style, dice)
        else:
            fresh = _opened(spots, onset, joined.after, span, style, dice)
        ways = sorted(fresh.values(), key=lambda x: (x.cost, x.d, x.move))[:BEAM]
        if not ways:
            return None
    return _closed(spots, bounds, ways, joined, style)


_Fresh = dict[tuple[int, int], _Way]
"""The cheapest way to each note, by its staff step and the move to it."""


class _Onset(NamedTuple):
    """A note of the line before its pitch is known: what may be sung there, what must be and what is liked,
    the other voices' moves at its beginning, how long the note before it and it are (quarters), and what
    moves cost."""

    table: Table
    want: int | None
    liked: tuple[int, float] | None
    struck: list[tuple[Tone, Tone]]
    length: float
    size: float
    costs: Costs

    def gain(self, d: int) -> float:
        return self.liked[1] if self.liked and self.liked[0] == d else 0.0


def _onset(spots: Spots, bounds: Sequence[int], i: int, joined: Frame, style: Style) -> _Onset:
    start, stop, unit = bounds[i], bounds[i + 1], spots.weave.unit
    earlier = bounds[i - 1] if i else joined.before.start if joined.before else start
    length = (start - earlier) / unit
    return _Onset(
        spots.at(start, stop, earlier, stop, joined.given),
        joined.must.get(start),
        joined.likes.get(start),
        _struck(spots, start),
        length,
        (stop - start) / unit,
        _costs(style, length),
    )


def _span(spots: Spots, joined: Frame) -> range:
    """The staff steps among which a line is looked for."""
    ends = [x.d for x in (joined.before, joined.after) if x] or [spots.low, spots.high]
    return range(min(ends) - REACH, max(ends) + REACH + 1)


def _begun(spots: Spots, before: Tone, move: int, first: int) -> _Way:
    """The note before the line, as it binds the first of the line."""
    own = spots.at(before.start, before.end, before.start, first)[before.d]
    clash, fall = bool(own and own.clash), bool(own and own.fall)
    return _Way(0.0, before.d, before.m, move, clash, fall, False, None)


def _opened(
    spots: Spots, onset: _Onset, after: Tone | None, span: range, style: Style, dice: Random
) -> _Fresh:
    """First notes of a line that no note comes before: consonant, and near to where it goes."""
    fresh: _Fresh = {}
    for d in span if onset.want is None else (onset.want,):
        spot = onset.table[d]
        if spot is None or spot.clash:
            continue
        far = abs(d - after.d) * 0.2 if after else abs(d - (spots.low + spots.high) // 2) * 0.15
        cost = spot.cost - style.heat * _gumbel(dice) + far - onset.gain(d)
        fresh[d, NO_MOVE] = _Way(cost, d, spot.m, NO_MOVE, False, spot.fall, False, None)
    return fresh


def _led(
    spots: Spots,
    bounds: Sequence[int],
    i: int,
    ways: Sequence[_Way],
    onset: _Onset,
    span: range,
    style: Style,
    dice: Random,
) -> _Fresh:
    """Where the ways to one note lead on to the next."""
    table, want, liked, struck, length, size, costs = onset
    wished, gain = liked or (None, 0.0)
    low, high = span[0], span[-1]
    fresh: _Fresh = {}
    noise: dict[int, float] = {}
    unstruck = style.keyboard and min(length, size) <= SIXTEENTH
    for way in ways:
        moves: Sequence[int] = _FALL if way.fall else _STEPS if way.clash else _MOVES
        if want is not None:
            moves = (want - way.d,) if want - way.d in moves else ()
        ahead = None
        for move in moves:
            d = way.d + move
            spot = table[d] if low <= d <= high else None
            if spot is None or (move, spot.m - way.m) not in LEGAL:
                continue
            if spot.clash and abs(move) != 1:
                continue
            if way.accented and move != -1 and move != way.move:
                continue
            if not move and unstruck:
                continue
            if struck and _parallel(way, move, spot.m, struck):
                continue
            ahead = ahead or _ahead(way, bounds, i, spots)
            if d not in noise:
                noise[d] = -style.heat * _gumbel(dice)
            cost = way.cost + spot.cost + noise[d] + _melody(way, move, length, style, costs)
            cost += ahead.cost(move, size, length)
            if d == wished:
                cost -= gain
            old = fresh.get((d, move))
            if old is None or cost < old.cost:
                fresh[d, move] = _Way(cost, d, spot.m, move, spot.clash, spot.fall, spot.accented, way)
    return fresh


def shifts(
    spots: Spots,
    onsets: Sequence[int],
    end: int,
    joined: Frame,
    figure: Mapping[int, int],
    among: Iterable[int],
) -> list[int]:
    """By how many steps a figure (tick -> staff step) may be moved so that each of its notes can be sung
    where it stands and goes on to the next: what is worth drawing."""
    alive: dict[int, Spot | None] = dict.fromkeys(among)
    before, last = joined.before, 0
    if before is not None and onsets[0] in figure:
        alive = {n: None for n in alive if figure[onsets[0]] + n - before.d in _MOVES}
    for i, (start, stop) in enumerate(itertools.pairwise((*onsets, end))):
        if start not in figure:
            alive = dict.fromkeys(alive)
            continue
        table = spots.at(
            start, stop, onsets[i - 1] if i else before.start if before else start, stop, joined.given
        )
        d = figure[start]
        fresh: dict[int, Spot | None] = {}
        for shift, old in alive.items():
            new = table[d + shift]
            if new is not None and (old is None or _goes(old, new, d - last)):
                fresh[shift] = new
        alive, last = fresh, d
        if not alive:
            return []
    return list(alive)


def _goes(old: Spot, new: Spot, move: int) -> bool:
    """Whether a voice may go from one note to another by so many staff steps: a suspension falls, a
    dissonance comes and goes by step."""
    if (move, new.m - old.m) not in LEGAL or (old.fall and move != -1):
        return False
    return abs(move) == 1 or not (old.clash or new.clash)


def _closed(
    spots: Spots, bounds: list[int], ways: list[_Way], joined: Frame, style: Style
) -> tuple[float, list[Tone]] | None:
    """The cheapest of some ways that can go on to the note after the line, with its notes."""
    after, end = joined.after, bounds[-1]
    best: tuple[float, _Way] | None = None
    if after is None:
        free = [w for w in ways if not (w.clash or w.fall)]
        if not free:
            return None
        best = free[0].cost, free[0]
    else:
        own = spots.at(after.start, after.end, bounds[-2], after.end)[after.d]
        struck = _struck(spots, end)
        length = (end - bounds[-2]) / spots.weave.unit
        costs = _costs(style, length)
        size = (after.end - after.start) / spots.weave.unit
        for way in ways:
            move = after.d - way.d
            if (
                (move, after.m - way.m) not in LEGAL
                or (way.fall and move != -1)
                or (way.clash and abs(move) != 1)
            ):
                continue
            if own is not None and own.clash and abs(move) != 1:
                continue
            if way.accented and move != -1 and move != way.move:
                continue
            if not move and style.keyboard and min(size, length) <= SIXTEENTH:
                continue
            if struck and _parallel(way, move, after.m, struck):
                continue
            cost = way.cost + _melody(way, move, length, style, costs)
            cost += _ahead(way, bounds, len(bounds) - 1, spots).cost(move, size, length)
            if best is None or cost < best[0]:
                best = cost, way
    if best is None:
        return None
    tones: list[Tone] = []
    way_back: _Way | None = best[1]
    for start, stop in zip(bounds[-2::-1], bounds[:0:-1]):
        assert way_back is not None
        tones.append(Tone(start, stop, way_back.d, way_back.m))
        way_back = way_back.back
    tones.reverse()
    if _two_ways(tones, NEAR * spots.weave.unit):
        return None
    return best[0], tones


class _Ahead(NamedTuple):
    """What a line makes dear for its next note: the staff step on which it stands, whether that note is
    raised, and how often each step was sung in the last two quarters."""

    d: int
    raised: bool
    had: Mapping[int, int]
    turned: int
    """The last move, if the line turned at each of the last three notes; else 0."""

    def cost(self, move: int, own: float, length: float) -> float:
        """Of a move to a note `own` quarters long, from one of `length`."""
        cost = LED if self.raised and abs(move) > 1 else 0.0
        if own <= 0.5 and move:
            cost += ROUND * max(0, self.had.get(self.d + move, 0) - 1)
        if own <= 0.5 and move * self.turned < 0:
            cost += ROUND
        if abs(move) > 2 and min(own, length) <= SIXTEENTH:
            cost += JUMP
        return cost


def _ahead(way: _Way, bounds: Sequence[int], i: int, spots: Spots) -> _Ahead:
    """`i`: number of the note that comes."""
    had: dict[int, int] = {}
    earlier: _Way | None = way
    first = bounds[i] - 2 * spots.weave.unit
    for n in range(i - 1, -2, -1):
        if earlier is None or (n >= 0 and bounds[n] < first):
            break
        if earlier.move or earlier.back is None:
            had[earlier.d] = had.get(earlier.d, 0) + 1
        earlier = earlier.back
    back = way.back
    last = (way.move, back.move, back.back.move) if back and back.back else (0, 0, 0)
    zigzag = last[0] * last[1] < 0 and last[1] * last[2] < 0 and NO_MOVE not in last
    raised = way.m - natural(way.d) > spots.raised[way.d % 7]
    return _Ahead(way.d, raised, had, way.move if zigzag else 0)


def _two_ways(tones: list[Tone], reach: int) -> bool:
    """Whether a line has a letter in two forms within so many ticks."""
    last: dict[int, Tone] = {}
    for tone in tones:
        old = last.get(tone.d % 7)
        if old is not None and (tone.m - old.m) % 12 and tone.start - old.end < reach:
            return True
        last[tone.d % 7] = tone
    return False


def _gumbel(dice: Random) -> float:
    return -log(-log(dice.random() or 1e-12))


def _costs(style: Style, length: float) -> Costs:
    if style.keyboard and length <= 0.5:
        return played(style.values)
    return sung("small" if length <= 0.5 else "quarter" if length <= 1 else "long")


def _struck(spots: Spots, tick: int) -> list[tuple[Tone, Tone]]:
    """Other voices' notes that are struck at a tick, each with what the voice sounded just before."""
    weave, found = spots.weave, []
    for v in range(len(weave.voices)) if 0 < tick < weave.size else ():
        last = tone_at(weave, v, tick - 1)
        if v != spots.voice and weave.on[v][tick] == tick and last is not None:
            found.append((last, weave.tones[v][weave.place(v, tick)]))
    return found


def _parallel(way: _Way, move: int, m: int, struck: list[tuple[Tone, Tone]]) -> bool:
    """Whether two perfect consonances of a kind follow one another, in whatever direction, or a perfect one
    is reached by leap in the same direction."""
    if not move:
        return False
    for old, new in struck:
        if old.m == new.m:
            continue
        size = abs(m - new.m) % 12
        if size not in (0, 7):
            continue
        if abs(way.m - old.m) % 12 == size and abs(way.d - old.d) % 7 == abs(way.d + move - new.d) % 7:
            return True
        if (m - way.m) * (new.m - old.m) > 0 and abs(move) > 1:
            return True
    return False


def _melody(way: _Way, move: int, length: float, style: Style, costs: Costs) -> float:
    last = way.move
    cost = style.learned * costs[last][move]
    size = abs(move)
    if size == 0:
        cost += style.repeat * (2.5 if length <= 0.5 else 1.0) + (AGAIN if style.keyboard else 0.0)
    elif size > 1:
        cost += style.leap * (size - 1) + (style.octave if size == 7 else 0.0)
        if length <= 0.25:
            cost += 1.0
    if last == NO_MOVE:
        return cost
    if abs(last) > 1 and size > 1 and last * move > 0 and not (abs(last) == size == 2 and length > SIXTEENTH):
        cost += style.twice
    if abs(last) > 1 and length <= SIXTEENTH and not (size == 1 and last * move < 0):
        cost += JUMP
    if abs(last) > 2 and not (size == 1 and last * move < 0):
        cost += style.unrecovered
    if last == 1 and move == -1 and length <= 0.5 and not style.keyboard:
        cost += UPPER
    if abs(last) == 1 and move == -last and length <= 0.5:
        # To and fro in sixteenths is the groppo's own.
        cost += style.turn + (1.5 if length <= 0.25 else 0.0)
    return cost


__all__ = ["Frame", "Spot", "Style", "draw", "frame", "shifts"]
