"""What a phrase is worth as a whole, beside what its steps cost.

A path drawn step by step makes each turn as often as the masters, but not always where they make it: its
highest voice wanders where theirs rises to one peak and comes down again, its inner voices range too far, a
voice leaps over a held note. So more paths are drawn than are wanted, and of these some again in proportion
to exp(worth): to the ratio in which the masters write such a phrase more often than the draw. The best is not
taken: it is not typical.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from itertools import combinations

import numpy as np
import yaml

from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.lattice import Lattice, Path
from builder.counterpoint.search.shape import contexts

FEATURES: Mapping[str, str] = {
    "moves": "The highest voice goes to another note.",
    "thirds": "The highest voice moves by a third.",
    "leaps": "The highest voice leaps by a fourth or more.",
    "turns": "The highest voice changes its direction.",
    "returns": "The highest voice goes back to the note that it has just left.",
    "runs": "The highest voice goes on by step the way it has just gone by step.",
    "stands": "The highest voice sings one note for a third sonority or more.",
    "inner-moves": "An inner voice goes to another note.",
    "inner-thirds": "An inner voice moves by a third.",
    "inner-leaps": "An inner voice leaps by a fourth or more.",
    "inner-turns": "An inner voice changes its direction.",
    "inner-returns": "An inner voice goes back to the note that it has just left.",
    "inner-runs": "An inner voice goes on by step the way it has just gone by step.",
    "inner-stands": "An inner voice sings one note for a third sonority or more.",
    "range": "Staff steps between the highest and the lowest note of the highest voice.",
    "inner-range": "The same of all inner voices together.",
    "one-peak": "The highest voice comes up to its highest note once only.",
    "at-peak": "A sonority under the highest note.",
    "peak-late": "Where the highest note comes first, from 0 at the beginning to 1 at the end.",
    "arc": "Staff steps by which the middle third of the highest voice lies above the outer thirds.",
    "rise": "Staff steps by which the highest voice ends above its beginning.",
    "figure-again": "The highest voice sings three intervals again.",
    "outer-contrary": "The outer voices move in contrary motion.",
    "outer-parallel": "The outer voices go on in parallel.",
    "pair-contrary": "Two upper voices move in contrary motion.",
    "pair-parallel": "Two upper voices go on in parallel.",
    "pair-still": "Two upper voices keep their notes together.",
    "all-alike": "All of two or more upper voices move the same way.",
    "still": "No upper voice moves while the line does.",
    "over-held": "A voice moves by a third or more over a repeated note of the line.",
    "unison": "Two upper voices, or one and the line, meet on one note.",
    "tritone-leaps": "A voice moves by a third or more out of a tritone above the line.",
}
"""What is counted over a phrase, and what each is."""

SHORTEST = 6
"""A phrase of fewer sonorities has no contour."""


def table(d: Array, m: Array) -> Array:
    """What `FEATURES` names, counted over phrases of the same voices (rows: phrases): staff steps and MIDI
    numbers, phrases x sonorities x voices, the highest voice first, the given line last.

    >>> up_and_down = np.array([[[30, 21], [31, 21], [32, 21], [33, 21], [32, 21], [31, 21]]])
    >>> found = dict(zip(FEATURES, table(up_and_down, up_and_down)[0].tolist()))
    >>> found["turns"], found["runs"], found["one-peak"], found["range"]
    (1.0, 3.0, 1.0, 3.0)
    """
    found = {**_melody(d[:, :, :-1]), **_contour(d[:, :, 0]), **_together(d, m)}
    return np.stack([found[name] for name in FEATURES], axis=1).astype(float)


def _melody(upper: Array) -> dict[str, Array]:
    """How each voice goes on from what it has sung."""
    size = np.diff(upper, axis=1)
    met = {name: np.zeros(size.shape, dtype=bool) for name in ("turns", "returns", "runs", "stands")}
    change, before, stood = (np.zeros_like(upper[:, 0]) for _ in range(3))
    for i in range(size.shape[1]):
        step, moves = size[:, i], size[:, i] != 0
        met["turns"][:, i] = step * change < 0
        met["returns"][:, i] = moves & (upper[:, i + 1] == before)
        met["runs"][:, i] = (abs(step) == 1) & (step == change)
        stood = np.where(moves, 0, stood + 1)
        met["stands"][:, i] = stood > 1
        before, change = np.where(moves, upper[:, i], before), np.where(moves, step, change)
    whole = {"moves": size != 0, "thirds": abs(size) == 2, "leaps": abs(size) > 2, **met}
    many = {name: times.sum(axis=1) for name, times in whole.items()}
    top = {name: times[:, 0] for name, times in many.items()}
    inner = {f"inner-{name}": times[:, 1:].sum(axis=1) for name, times in many.items()}
    return {**top, **inner, "inner-range": np.ptp(upper[:, :, 1:], axis=1).sum(axis=1)}


def _contour(top: Array) -> dict[str, Array]:
    """Where the highest voice rises to, and how often."""
    count = top.shape[1]
    peak = top == top.max(axis=1, keepdims=True)
    reached = peak[:, 0] + (peak[:, 1:] & ~peak[:, :-1]).sum(axis=1)
    third = max(1, count // 3)
    middle = top[:, third : count - third]
    outer = (top[:, :third].mean(axis=1) + top[:, count - third :].mean(axis=1)) / 2
    figures = np.stack([np.diff(top, axis=1)[:, n : count - 3 + n] for n in range(3)], axis=2)
    again = [len(sung) - len(set(sung)) for sung in (_figures(row) for row in figures.tolist())]
    return {
        "range": np.ptp(top, axis=1),
        "one-peak": reached == 1,
        "at-peak": peak.sum(axis=1),
        "peak-late": top.argmax(axis=1) / count,
        "arc": middle.mean(axis=1) - outer,
        "rise": top[:, -1] - top[:, 0],
        "figure-again": np.array(again),
    }


def _figures(row: Sequence[Sequence[int]]) -> list[tuple[int, ...]]:
    return [tuple(figure) for figure in row if any(figure)]


def _together(d: Array, m: Array) -> dict[str, Array]:
    """How the voices move against one another and the line."""
    size = np.diff(d, axis=1)
    way = np.sign(size)
    high, line = size[:, :, :-1], size[:, :, -1]
    found = {name: np.zeros(len(d)) for name in ("pair-contrary", "pair-parallel", "pair-still")}
    for a, b in combinations(range(high.shape[2]), 2):
        opposed = way[:, :, a] * way[:, :, b] < 0
        same = high[:, :, a] == high[:, :, b]
        for name, met in (
            ("pair-contrary", opposed),
            ("pair-parallel", same & (high[:, :, a] != 0)),
            ("pair-still", same & (high[:, :, a] == 0)),
        ):
            found[name] = found[name] + met.sum(axis=1)
    first = way[:, :, :1]
    alike = (way[:, :, :-1] == first).all(axis=2) & (first[:, :, 0] != 0) & (high.shape[2] > 1)
    wide = (abs(high) > 1).any(axis=2)
    tritone = ((m[:, :, :-1] - m[:, :, -1:]) % 12 == 6).any(axis=2)
    whole = {
        "outer-contrary": way[:, :, 0] * way[:, :, -1] < 0,
        "outer-parallel": (high[:, :, 0] == line) & (line != 0),
        "all-alike": alike,
        "still": (line != 0) & (high == 0).all(axis=2),
        "over-held": (line == 0) & wide,
        "unison": (np.diff(m, axis=2) == 0).any(axis=2),
        "tritone-leaps": tritone[:, :-1] & wide,
    }
    return {**found, **{name: met.sum(axis=1) for name, met in whole.items()}}


def read_weights(text: str) -> Array:
    """The weights of `FEATURES`, in that order, from the text of `phrases.yaml`: those learned and what is
    added by ear; `KeyError` when the names do not agree."""
    known = yaml.safe_load(text)
    learned, added = known["learned"], known["by-ear"]
    if wrong := (set(learned) ^ set(FEATURES)) | (set(added) - set(FEATURES)):
        raise KeyError(f"phrases.yaml and the features do not agree on {', '.join(sorted(wrong))}")
    return np.array([float(learned[name]) + float(added.get(name, 0.0)) for name in FEATURES])


WEIGHTS = read_weights(files(__package__).joinpath("phrases.yaml").read_text(encoding="utf-8"))


def worth(lattice: Lattice, paths: Sequence[Path]) -> Array:
    """The worth of each path: of all its phrases together. A phrase is a stretch of the same voices."""
    states = np.array(paths)
    total = np.zeros(len(paths))
    for places in _phrases(lattice):
        layers = [lattice.layers[i] for i in places]
        rows = [states[:, i] // contexts(len(x.shape.upper)) for i, x in zip(places, layers)]
        d, m = (
            np.stack([_sung(getattr(x, kind)[row], low) for x, row, low in zip(layers, rows, line)], axis=1)
            for kind, line in (
                ("d", [x.shape.bass.diatonic for x in layers]),
                ("m", [x.shape.bass.midi for x in layers]),
            )
        )
        total += table(d, m) @ WEIGHTS
    return total


def _sung(upper: Array, low: int) -> Array:
    return np.concatenate([upper, np.full((len(upper), 1), low)], axis=1)


def _phrases(lattice: Lattice) -> Iterator[list[int]]:
    """The sonorities of each stretch of the same voices, but those in which they must keep their notes."""
    found: list[int] = []
    for i, (event, layer) in enumerate(zip(lattice.events, lattice.layers)):
        before = lattice.layers[i - 1].shape.upper if i else ()
        if i and (lattice.joints[i - 1].silent or before != layer.shape.upper):
            if len(found) >= SHORTEST:
                yield found
            found = []
        if layer.shape.upper and not event.hold and not event.still:
            found.append(i)
    if len(found) >= SHORTEST:
        yield found


def drawn_again(lattice: Lattice, paths: Sequence[Path], seed: Sequence[int]) -> list[Path]:
    """The paths in an order drawn in proportion to exp(worth), each once (by the largest of worth and
    Gumbel's noise): the first is such a draw, the second one of those left, and so on."""
    noise = np.random.default_rng(seed).gumbel(size=len(paths))
    return [paths[i] for i in np.argsort(-(worth(lattice, paths) + noise), kind="stable").tolist()]
