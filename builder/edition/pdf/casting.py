"""Casting off: which blocks of a book or a sheet stand on which page, and how far from one another.

A block is a verset's head, the heading of a version, one system, the notes for the player, or the plan. All
have a height that is known. Pages are filled so that none is left half empty; a turn inside a version costs
more than room does, but in a bound book a version may go on from a left page to the right one beside it at
hardly any cost. What is left over is spread between the blocks, so that the last system stands at the foot.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from builder.edition.pdf.paper import GAP, Paper

GAPS = {"head": 13.0, "heading": 5.0, "first": 3.5, "system": GAP, "notes": 6.0, "plan": 6.0}
"""Millimetres before each kind of block; `first` is a version's first system."""
WIDEST = 17.0
"""Millimetres by which a gap may grow: half a system of two staves."""
_EMPTY, _SPREAD, _TURN, _OVER, _BETWEEN, _INSIDE, _APART = 60.0, 15.0, 14.0, 0.6, 0.2, 1.5, 5.0
"""What counts: the square of a page's empty share, and of one over which its systems can be spread; a turn
inside a version; one over the fold; one between versions; a verset that begins under another one; a page that
begins with what is held to the one before."""
_HALF = 20.0
"""What a page counts besides of which more than half stays empty."""
_GOES_ON = 1.3
"""By how much more an empty foot counts where the version goes on than where it ends."""


@dataclass(frozen=True, slots=True)
class Block:
    """A block of the book: its kind, the verset it belongs to (from 0), its version and its system in it, its
    height in millimetres. After one that is `sticky` no page ends; one that is `held` stands better beside
    the one before it."""

    kind: str
    piece: int
    version: int = 0
    system: int = 0
    height: float = 0.0
    held: bool = False

    @property
    def sticky(self) -> bool:
        return self.kind in ("head", "heading")

    @property
    def gap(self) -> float:
        return GAPS["first" if self.kind == "system" and not self.system else self.kind]


@dataclass(frozen=True, slots=True)
class Cast:
    """A block in its place: whether a page begins with it, else how far under the one before it stands."""

    block: Block
    turn: bool
    gap: float


def layout(versets: Sequence[Mapping[str, Any]], page: Paper, **how: Any) -> list[dict[str, Any]]:
    """The blocks of all versets in their places, as the templates take them; `how` as of `cast`."""
    alone = 0.0 if page.openings else page.depth
    blocks = [block for n, told in enumerate(versets) for block in blocks_of(n, told, alone)]
    return [
        {
            "kind": each.block.kind,
            "piece": each.block.piece,
            "version": each.block.version,
            "system": each.block.system,
            "height": each.block.height,
            "turn": each.turn,
            "gap": each.gap,
        }
        for each in cast(blocks, page.depth, openings=page.openings, **how)
    ]


def turns(rows: Sequence[Mapping[str, Any]], *, first: int) -> int:
    """How often a version is turned inside on pages of which the first is a left one (0) or a right one (1);
    from a left page to the right one beside it nobody turns.

    >>> rows = [{"turn": True, "kind": "system", "system": n} for n in range(4)]
    >>> turns(rows, first=0), turns(rows, first=1)
    (1, 2)
    """
    count, side = 0, 1 - first
    for row in rows:
        if row["turn"]:
            side = 1 - side
            count += side == 0 and row["kind"] == "system" and row["system"] > 0
    return count


def sheet_layout(told: Mapping[str, Any], page: Paper, *, widest: float = WIDEST) -> list[dict[str, Any]]:
    """The same for a sheet that has a verset's title and one version, and nothing else to read."""
    alone = {**told, "plan": []}
    alone["heights"] = {**told["heights"], "head": told["heights"]["sheet"], "notes": 0.0}
    return layout([alone], page, first=1, even=True, widest=widest)


def blocks_of(piece: int, told: Mapping[str, Any], alone: float = 0.0) -> Iterator[Block]:
    """The blocks of one verset as the templates take it, with the heights that were measured of its words.
    Where pages are read one by one, `alone` is how deep they are: the notes for the player then stand under
    the first version if one page holds them with it."""
    heights = told["heights"]
    notes = [Block("notes", piece, height=heights["notes"])] if heights["notes"] else []
    rows = [
        [
            Block("heading", piece, n, height=heights["versions"][n]),
            *(Block("system", piece, n, m, s["height"]) for m, s in enumerate(version["systems"])),
        ]
        for n, version in enumerate(told["versions"])
    ]
    head = Block("head", piece, height=heights["head"])
    first = [head, *itertools.chain(*rows[:1]), *notes]
    if rows and sum(block.gap + block.height for block in first) - head.gap <= alone:
        rows[0] += [replace(block, held=True) for block in notes]
        notes = []
    yield head
    for row in rows:
        yield from row
    yield from notes
    if told["plan"]:
        yield Block("plan", piece, height=heights["plan"])


def cast(
    blocks: Sequence[Block],
    depth: float,
    *,
    openings: bool,
    first: int = 0,
    even: bool = False,
    tail: float = 0.0,
    widest: float = WIDEST,
) -> list[Cast]:
    """The cheapest way to cast off blocks on pages `depth` millimetres deep, the first of which is a left one
    where the book has `openings` (`first` 1: a right one). `even`: the last page is to be as full as the
    others; `tail`: so many millimetres of words follow on the last page, which is then not spread. `widest`
    is how far a gap may grow.

    >>> row = [Block("heading", 0, height=10), *(Block("system", 0, 0, n, 30) for n in range(4))]
    >>> [each.turn for each in cast(row, 90, openings=True)]
    [True, False, False, True, False]
    """
    count = len(blocks)
    best: dict[tuple[int, int], tuple[float, int]] = {(0, first): (0.0, 0)}
    for start in range(count):
        for side in (0, 1):
            if (start, side) not in best:
                continue
            so_far = best[start, side][0]
            for stop, high in _pages(blocks, start, depth):
                cost = so_far + _cost(
                    blocks,
                    start,
                    stop,
                    _empty(blocks[start:stop], high, depth, widest),
                    side,
                    openings=openings,
                )
                if stop == count and (tail or (even and start)):
                    cost += _EMPTY * (1 - _last(high + tail, depth)) ** 2
                key = (stop, 1 - side)
                if key not in best or cost < best[key][0]:
                    best[key] = (cost, start)
    side = min((s for s in (0, 1) if (count, s) in best), key=lambda s: best[count, s][0])
    starts, stop = [], count
    while stop:
        stop, side = best[stop, side][1], 1 - side
        starts.append(stop)
    return list(_placed(blocks, sorted(starts), depth, widest, follows=tail > 0))


def _pages(blocks: Sequence[Block], start: int, depth: float) -> Iterator[tuple[int, float]]:
    """Where a page may end that begins with a block, and how high it is filled; one block always fits."""
    high = 0.0
    for n in range(start, len(blocks)):
        high += blocks[n].height + (blocks[n].gap if n > start else 0.0)
        if high > depth and not all(b.sticky for b in blocks[start:n]):
            return
        if not blocks[n].sticky:
            yield n + 1, min(high, depth)


def _cost(
    blocks: Sequence[Block], start: int, stop: int, empty: float, side: int, *, openings: bool
) -> float:
    cost = _INSIDE * sum(b.kind == "head" for b in blocks[start + 1 : stop])
    if stop == len(blocks):
        return cost
    after = blocks[stop]
    inside = after.kind == "system" and after.system > 0
    over_the_fold = openings and side == 0
    cost += empty * (_GOES_ON if inside else 1) + (_OVER if over_the_fold else _TURN) * inside
    return cost + _BETWEEN * (after.kind == "heading") + _APART * after.held


def _empty(page: Sequence[Block], high: float, depth: float, widest: float) -> float:
    """What it counts that a page is filled so high: less where its systems can be spread over it."""
    share = 1 - high / depth
    spread = _growth(page, depth - high) <= widest
    return (_SPREAD if spread else _EMPTY) * share**2 + _HALF * (share > 0.5 and not spread)


def _last(high: float, depth: float) -> float:
    """How full the last page is when what is so high runs on over pages."""
    return high / depth - max(0, math.ceil(high / depth) - 1)


def _placed(
    blocks: Sequence[Block], starts: Sequence[int], depth: float, widest: float, *, follows: bool
) -> Iterator[Cast]:
    for start, stop in zip(starts, [*starts[1:], len(blocks)]):
        page = blocks[start:stop]
        left = depth - sum(b.height for b in page) - sum(b.gap for b in page[1:])
        more = _growth(page, left)
        # a page that cannot be filled is not pulled apart
        more = 0.0 if more > widest or (follows and stop == len(blocks)) else more
        for n, block in enumerate(page):
            yield Cast(block, n == 0, block.gap + (more if _may_grow(block) else 0.0))


def _growth(page: Sequence[Block], left: float) -> float:
    """How far each gap of a page must grow to take up what is left of it."""
    wide = sum(_may_grow(block) for block in page[1:])
    return max(0.0, left) / wide if wide else math.inf


def _may_grow(block: Block) -> bool:
    """Whether the room before a block may grow: not that between a heading and its music."""
    return block.kind != "system" or block.system > 0
