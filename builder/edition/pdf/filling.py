"""Sizes of the music at which a sheet's pages are full: what is tried when one would be half empty."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

SIZES = (1.0, 0.94, 0.88, 1.06, 1.12)
"""Sizes of the stave, as shares of the paper's own, in the order in which they are tried."""
SMALLER = (1.0, 0.94, 0.88)
"""Those tried on pages that are read one by one: their margins are narrow, so that the braces of larger
staves would stand at the edge."""
ENOUGH = 0.3
"""The share of a page that may be left empty without trying other sizes."""
Layout = Sequence[Mapping[str, Any]]
Made = TypeVar("Made")


def empty_shares(layout: Layout, depth: float, tail: float = 0.0) -> list[float]:
    """For each page the share of its depth that is left, `tail` being millimetres of words that follow and
    may run on.

    >>> rows = [{"turn": True, "gap": 0, "height": 60}, {"turn": False, "gap": 10, "height": 20}]
    >>> empty_shares(rows, 100), empty_shares(rows, 100, tail=50)
    ([0.1], [0.0, 0.6])
    """
    used: list[float] = []
    for row in layout:
        if row["turn"] or not used:
            used.append(row["height"])
        else:
            used[-1] += row["gap"] + row["height"]
    if used and tail:
        used[-1] += tail
        while used[-1] > depth:
            used[-1:] = [depth, used[-1] - depth]
    return [round(max(0.0, 1 - each / depth), 3) for each in used]


def fullest(
    make: Callable[[float], Made],
    shares: Callable[[Made], Sequence[float]],
    sizes: Sequence[float] = SIZES,
    enough: float = ENOUGH,
) -> Made:
    """What `make` gives at the first size, or where a page of several would be emptier than `enough`, at the
    size with the fewest pages, and of those the fullest. One page alone is as long as its music.

    >>> fullest(lambda size: size, lambda size: [0.1, 0.6] if size == 1 else [0.2, 0.1])
    0.94
    """
    first = make(sizes[0])
    best, found = first, shares(first)
    if len(found) == 1 or max(found) <= enough:
        return first
    least = _emptiness(found)
    for size in sizes[1:]:
        other = make(size)
        now = _emptiness(shares(other))
        if now < least:
            best, least = other, now
    return best


def _emptiness(shares: Sequence[float]) -> tuple[int, float]:
    return len(shares), round(sum(share**2 for share in shares), 2)
