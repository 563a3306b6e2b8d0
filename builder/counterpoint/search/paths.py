"""The best paths through a lattice: the best, the best through one voicing, the k best in order."""

from __future__ import annotations

import heapq
from collections.abc import Iterator

import numpy as np

from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.lattice import Lattice, Path


def best_path(lattice: Lattice, end: int | None = None, last: int | None = None) -> Path:
    """The least costly path to the end (or to a state of a given event); the first one among equals."""
    i = len(lattice.before) - 1 if last is None else last
    state = int(lattice.before[i].argmin()) if end is None else end
    path = [state]
    for n in range(i - 1, -1, -1):
        step = lattice.steps[n]
        place = int(np.searchsorted(step.targets, state))
        start = step.starts[place]
        stop = step.starts[place + 1] if place + 1 < len(step.starts) else len(step.source)
        values = lattice.before[n][step.source[start:stop]] + step.cost[start:stop]
        state = int(step.source[start + int(values.argmin())])
        path.append(state)
    return tuple(reversed(path))


def through(lattice: Lattice, after: tuple[Array, ...], index: int, state: int) -> Path:
    """The least costly path through one state of one event."""
    head = best_path(lattice, state, index)
    path = list(head)
    for n in range(index, len(lattice.steps)):
        step = lattice.steps[n]
        own = np.flatnonzero(step.source == path[-1])
        onward = after[n + 1] + lattice.gains[n + 1]
        values = onward[step.target[own]] + step.cost[own]
        path.append(int(step.target[own[int(values.argmin())]]))
    return tuple(path)


class _Ways:
    """The ways into each state, the cheapest first, worked out once for each state that is asked for."""

    def __init__(self, lattice: Lattice, count: int) -> None:
        self.lattice, self.count = lattice, count
        self.known: dict[tuple[int, int], tuple[list[int], list[float]]] = {}

    def into(self, index: int, state: int) -> tuple[list[int], list[float]]:
        """States before, and how much dearer each makes the path than the best of them (0 first)."""
        key = (index, state)
        found = self.known.get(key)
        if found is None:
            step = self.lattice.steps[index - 1]
            place = int(step.targets.searchsorted(state))
            start = step.starts[place]
            stop = step.starts[place + 1] if place + 1 < len(step.starts) else len(step.source)
            sources = step.source[start:stop]
            values = self.lattice.before[index - 1][sources] + step.cost[start:stop]
            if len(values) > self.count:
                keep = np.sort(values.argpartition(self.count)[: self.count])
                sources, values = sources[keep], values[keep]
            order = values.argsort(kind="stable")
            values = values[order] - values[order[0]]
            found = sources[order].tolist(), values.tolist()
            self.known[key] = found
        return found


def k_best(lattice: Lattice, count: int) -> Iterator[tuple[float, Path]]:
    """The `count` least costly paths in order of cost.

    Exact: every path is the best one with some detours; each is reached from the path that has all its
    detours but the earliest, so nothing cheaper is left when a path is given. Once the best path is
    known each further one costs little more than walking along it.
    """
    last = len(lattice.before) - 1
    ways = _Ways(lattice, count)
    ends = lattice.before[last]
    order = ends.argsort(kind="stable")[:count]
    # (cost, tie order, path whose tail is kept, index of the detour, rank of the way in)
    heap: list[tuple[float, int, Path, int, int]] = []
    ticket = 0
    for state in order.tolist():
        if np.isfinite(ends[state]):
            heap.append((float(ends[state]), ticket, (state,), last + 1, 0))
            ticket += 1
    heapq.heapify(heap)
    given = 0
    while heap and given < count:
        cost, _, parent, index, rank = heapq.heappop(heap)
        path = _with_detour(ways, parent, index, rank, last)
        given += 1
        yield cost, path
        if given == count:
            return
        if index <= last:
            # The next dearer way into the same state.
            _, deltas = ways.into(index, parent[index])
            if rank + 1 < len(deltas) and deltas[rank + 1] < np.inf:
                ticket += 1
                dearer = cost - deltas[rank] + deltas[rank + 1]
                heapq.heappush(heap, (dearer, ticket, parent, index, rank + 1))
        # Only so many can still be wanted: of the new detours the cheapest few.
        fresh = []
        for n in range(1, min(index, last + 1)):
            _, deltas = ways.into(n, path[n])
            if len(deltas) > 1 and deltas[1] < np.inf:
                fresh.append((deltas[1], n))
        for delta, n in heapq.nsmallest(count - given, fresh):
            ticket += 1
            heapq.heappush(heap, (cost + delta, ticket, path, n, 1))


def _with_detour(ways: _Ways, parent: Path, index: int, rank: int, last: int) -> Path:
    """The path that keeps the parent's tail from `index` on and comes into it by the way of a rank."""
    if index > last:
        head, state = [parent[0]], parent[0]
        index = last
        tail: Path = ()
    else:
        state = ways.into(index, parent[index])[0][rank]
        head, tail = [state], parent[index:]
        index -= 1
        if index and len(parent) == last + 1 and parent[index] == state:
            return parent[: index + 1] + tail
    for n in range(index, 0, -1):
        state = ways.into(n, state)[0][0]
        head.append(state)
        if len(parent) == last + 1 and parent[n - 1] == state:
            # From here on the way is the parent's own.
            return (*parent[: n - 1], *reversed(head), *tail)
    return (*reversed(head), *tail)
