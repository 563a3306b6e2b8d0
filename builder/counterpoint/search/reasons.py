"""Why a voicing was taken and not the next best, in words: the costs in which the two differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from builder.analysis import Analysis
from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.draws import REMEMBERED, Memory
from builder.counterpoint.search.lattice import Lattice, Path
from builder.counterpoint.search.realise import drawn_for
from builder.counterpoint.search.shape import contexts
from builder.counterpoint.search.step_costs import Sung, along
from builder.language.texts import Phrase
from builder.music import QUARTER_COMMA, Tuning, spelled
from builder.source import Verset

TOLD = 3
"""So many places of a stretch are explained, each for another reason."""
CLEAR = 0.7
"""A place is explained when the next best costs so much more."""
SHARE = 0.4
"""A second reason is given when it weighs so much of the first."""

SAID: Mapping[str, tuple[str, ...]] = {
    "leaps": ("leap", "skip", "falling-leap", "revoicing"),
    "same-way": ("recovery", "inner-leap"),
    "awkward": ("awkward",),
    "stands": ("stillness", "waiting", "standing", "frozen"),
    "turns-back": ("turning", "shuttle", "back-step"),
    "peak-again": ("second-peak",),
    "outer": ("similar",),
    "direct": ("direct",),
    "perfect": ("perfect",),
    "incomplete": ("incomplete",),
    "doubled": ("doubling",),
    "unison": ("unison", "bass-unison"),
    "apart": ("spacing", "apart"),
    "compass": ("register",),
    "stretched": ("stretch",),
    "overlap": ("crossing",),
    "false-relation": ("false-relation",),
    "covered": ("covered",),
    "close": ("close",),
    "suspension": ("suspension",),
    "countersubject": ("countersubject",),
    "not-parallel": ("parallel",),
    "no-line": ("running",),
}
"""What is said of a difference in some costs; of the last four when they are gains."""
GAINS = ("suspension", "countersubject", "not-parallel", "no-line")


class _Way(NamedTuple):
    """A way through some events: what is sung at each, the states, and what the way costs by name."""

    sung: list[Sung]
    states: list[int]
    costs: Mapping[str, float]


def reasons(
    verset: Verset,
    analysis: Analysis,
    within: tuple[Fraction, Fraction],
    *,
    tuning: Tuning = QUARTER_COMMA,
) -> tuple[Phrase, ...]:
    """Why the setting that `realise` gives has some of its voicings and not the next best ones, a sentence
    each.

    Of the places in a stretch (start and end in quarters) those are told where another voicing would be
    lawful between the same neighbours and the cheapest such one costs clearly more; of several with the
    same reason the clearest.

    >>> from builder.analysis import analyse
    >>> from builder.source import parse
    >>> source = "---\\ntitle: T\\nverset: {metre: C, signature: none, costs: {leap: 9}}\\n---\\n\\n"
    >>> line = "cantus C1 | D5/1\\naltus C3 | A4/1\\nbassus F4 | D3/2 E3/2{6} | F3/2 G3/2 | D3/1{#}"
    >>> verset = parse(f"{source}{chr(96) * 3}given\\n{line}\\n{chr(96) * 3}\\n")
    >>> found = reasons(verset, analyse(verset), (Fraction(0), verset.end))
    >>> {phrase.key for phrase in found} <= {"why", "why-one"} and bool(found)
    True
    """
    lattice, _, path, _ = drawn_for(verset, analysis, tuning)
    found: dict[str, tuple[float, int, Phrase]] = {}
    for i, memory in enumerate(_memories(lattice, path)):
        event = lattice.events[i]
        if not i or not _moves(lattice, i) or not within[0] <= event.onset < within[1]:
            continue
        other = _next_best(lattice, path, i, memory)
        if other is None:
            continue
        here, there = (_way(lattice, states, i, memory) for states in (_around(lattice, path, i), other))
        changed = [v for v in event.upper if here.sung[1][v] != there.sung[1][v]]
        told = _told(lattice, i, here, there, changed)
        margin = sum(there.costs.values()) - sum(here.costs.values())
        if margin < CLEAR or not told:
            continue
        key, phrases = told
        sentence = Phrase.of(
            "why" if len(changed) > 1 else "why-one",
            place=verset.place(event.onset),
            ours=tuple((v, spelled(*here.sung[1][v])) for v in changed),
            other=tuple((v, spelled(*there.sung[1][v])) for v in changed),
            instead=spelled(*there.sung[1][changed[0]]),
            reasons=phrases,
        )
        if key not in found or margin > found[key][0]:
            found[key] = margin, i, sentence
    clearest = sorted(found.values(), key=lambda x: (-x[0], x[1]))[:TOLD]
    return tuple(sentence for _, _, sentence in sorted(clearest, key=lambda x: x[1]))


def _memories(lattice: Lattice, path: Path) -> Iterator[Memory]:
    """What each event's voices remember of those before it."""
    memory = Memory.empty(1)
    for i, state in enumerate(path):
        if i and lattice.joints[i - 1].silent:
            memory = Memory.empty(1)
        yield memory
        if not (i and lattice.events[i].hold):
            memory = memory.after(lattice.layers[i].shape.upper, lattice.layers[i].d[[lattice.row(i, state)]])


def _until(lattice: Lattice, i: int) -> int:
    """The next event in which the voices may move, or the last."""
    end = i + 1
    while end < len(lattice.events) - 1 and not _moves(lattice, end):
        end += 1
    return min(end, len(lattice.events) - 1)


def _around(lattice: Lattice, path: Path, i: int) -> list[int]:
    return list(path[i - 1 : _until(lattice, i) + 1])


def _next_best(lattice: Lattice, path: Path, i: int, memory: Memory) -> list[int] | None:
    """The states of the cheapest lawful way through another voicing of an event, its neighbours kept."""
    step, end = lattice.steps[i - 1], _until(lattice, i)
    own = step.source == path[i - 1]
    states, cost = step.target[own], step.cost[own]
    wide = contexts(len(lattice.layers[i].shape.upper))
    other = states // wide != lattice.row(i, path[i])
    states, cost = states[other], cost[other]
    cost = cost + lattice.gains[i][states] + _remembered(lattice, i, states, memory)
    best: tuple[float, list[int]] | None = None
    for state, so_far in zip(states.tolist(), cost.tolist()):
        if best is not None and so_far >= best[0]:
            continue
        onward = _onward(lattice, state, i, end, path)
        if onward is None:
            continue
        total = so_far + onward[0]
        if end > i:
            row = lattice.layers[i].d[[state // wide]]
            then = memory.after(lattice.layers[i].shape.upper, row)
            total += float(_remembered(lattice, end, np.array([onward[1][-1]]), then)[0])
        if best is None or total < best[0]:
            best = total, [path[i - 1], state, *onward[1]]
    return best[1] if best else None


def _onward(lattice: Lattice, state: int, i: int, end: int, path: Path) -> tuple[float, list[int]] | None:
    """The cheapest way from a state to the path's own voicing at `end`, and its states."""
    ways: dict[int, tuple[float, list[int]]] = {state: (0.0, [])}
    for n in range(i, end):
        step, wide = lattice.steps[n], contexts(len(lattice.layers[n + 1].shape.upper))
        then: dict[int, tuple[float, list[int]]] = {}
        for source, (cost, states) in ways.items():
            for arc in np.flatnonzero(step.source == source).tolist():
                target = int(step.target[arc])
                if n == end - 1 and _moves(lattice, end) and target // wide != lattice.row(end, path[end]):
                    continue
                total = cost + float(step.cost[arc] + lattice.gains[n + 1][target])
                if target not in then or total < then[target][0]:
                    then[target] = total, [*states, target]
        ways = then
    return min(ways.values(), key=lambda way: way[0], default=None)


def _moves(lattice: Lattice, i: int) -> bool:
    """Whether voices may move at an event: no sonority merely goes on there."""
    return not (i and (lattice.joints[i - 1].hold or lattice.joints[i - 1].still))


def _remembered(lattice: Lattice, i: int, states: Array, memory: Memory) -> Array:
    named = _remembered_by_name(lattice, i, states, memory)
    return sum(named.values(), np.zeros(len(states)))


def _remembered_by_name(lattice: Lattice, i: int, states: Array, memory: Memory) -> dict[str, Array]:
    layer = lattice.layers[i]
    upper = layer.shape.upper
    if not upper or lattice.events[i].hold or (i and lattice.joints[i - 1].silent):
        return {}
    met = memory.occurrences(upper, layer.d[states // contexts(len(upper))][None])
    prices = lattice.weights.above(len(upper))
    return {name: met[name][0] * prices[name] for name in REMEMBERED}


def _way(lattice: Lattice, states: list[int], i: int, memory: Memory) -> _Way:
    """A way from the event before `i` on, and its costs by name."""
    costs: dict[str, float] = {}
    sung, places = [], range(i - 1, i - 1 + len(states))
    for n, state in zip(places, states):
        layer, row = lattice.layers[n], lattice.row(n, state)
        upper = zip(layer.shape.upper, zip(layer.d[row].tolist(), layer.m[row].tolist()))
        bass = layer.shape.bass
        sung.append({**dict(upper), layer.shape.voice: (bass.diatonic, bass.midi)})
        if n >= i:
            remembered = _remembered_by_name(lattice, n, np.array([state]), memory).items()
            parts = [*lattice.costs_of(n, state), *((name, values.item(0)) for name, values in remembered)]
            if not lattice.events[n].hold:
                memory = memory.after(layer.shape.upper, layer.d[[row]])
            for name, value in parts:
                costs[name] = costs.get(name, 0.0) + value
    for step in along(sung, lattice.moves(i - 1, states), lattice.weights):
        for name, value in step.items():
            costs[name] = costs.get(name, 0.0) + value
    return _Way(sung, states, costs)


def _told(
    lattice: Lattice, i: int, here: _Way, there: _Way, changed: Sequence[str]
) -> tuple[str, tuple[Phrase, ...]] | None:
    """The chief reason by its key, and the reasons as phrases, the weightiest first."""
    prices = lattice.weights.above(len(lattice.events[i].upper))
    weighed: list[tuple[float, str]] = []
    for key, names in SAID.items():
        sign = -1 if key in GAINS else 1
        own = [n for n in names if prices[n] * sign > 0]
        weight = sum(there.costs.get(n, 0.0) - here.costs.get(n, 0.0) for n in own)
        if weight > 0:
            weighed.append((weight, key))
    weighed.sort(key=lambda x: -x[0])
    if not weighed:
        return None
    least = weighed[0][0] * SHARE
    phrases = tuple(_phrase(key, there, changed) for weight, key in weighed[:2] if weight >= least)
    return weighed[0][1], phrases


def _phrase(key: str, there: _Way, changed: Sequence[str]) -> Phrase:
    if key != "leaps":
        return Phrase(key)
    moves = [
        (abs(b[v][0] - a[v][0]), v, a[v], b[v])
        for a, b in zip(there.sung, there.sung[1:])
        for v in changed
        if v in a and v in b
    ]
    _, voice, first, last = max(moves, key=lambda move: move[0])
    size = last[0] - first[0]
    return Phrase.of(key, voice=voice, first=spelled(*first), last=spelled(*last), size=size)
