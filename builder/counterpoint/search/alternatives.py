"""Other good settings of the same verset."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from builder.analysis import Analysis
from builder.counterpoint.check.finding import Realisation
from builder.counterpoint.rules.context import Array
from builder.counterpoint.search.choosing import seed_of
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import KEPT, Lattice, Path, gaining
from builder.counterpoint.search.paths import k_best
from builder.counterpoint.search.phrases import hearing
from builder.counterpoint.search.realise import drawn_for, faults_of, judged, lattice_of, setting
from builder.music import QUARTER_COMMA, Tuning
from builder.source import Verset

LEAST = 3
"""Two settings are different enough to be heard when so much differs: a sonority counts twice where the
highest voice has another note, once where only inner voices have."""
OTHERS = 48
"""So many settings are drawn to find others among."""


def k_best_settings(
    verset: Verset, analysis: Analysis, count: int, *, tuning: Tuning = QUARTER_COMMA
) -> tuple[Realisation, ...]:
    """The `count` least costly settings in order of cost, however alike. Exact: no legal setting that is left
    out costs less than the last one given (up to the rounding of binary fractions).

    >>> from builder.analysis import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> ways = k_best_settings(verset, analyse(verset), 3)
    >>> [way.cost for way in ways] == sorted(way.cost for way in ways)
    True
    """
    lattice = lattice_of(verset, analysis, tuning=tuning)
    return tuple(setting(verset, lattice, path) for _, path in k_best(lattice, count))


def alternatives(
    verset: Verset,
    analysis: Analysis,
    count: int,
    *,
    within: tuple[Fraction, Fraction] | None = None,
    tuning: Tuning = QUARTER_COMMA,
) -> tuple[Realisation, ...]:
    """The setting that `realise` gives, and others that sound different, drawn from the same lattice.

    `within` (start and end in quarters): the others differ there and keep the first setting's notes
    elsewhere as far as the rules let them. Each one has no more errors and warnings than the first, and is,
    of those drawn, the one that differs most from all before it, by `LEAST` or more (of those with no more
    blemishes than the first, if there are any). Fewer come back when there are no more.

    >>> from builder.analysis import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> len({way.score for way in alternatives(verset, analyse(verset), 2)})
    2
    """
    lattice, judge, path, first = drawn_for(verset, analysis, tuning)
    start, end = within or (Fraction(0), verset.end)
    places = [i for i, e in enumerate(lattice.events) if start <= e.onset < end and not e.hold]
    drawn_from = _keeping(lattice, path, places) if within else lattice
    paths = dict.fromkeys(drawn(drawn_from, (*seed_of(verset), 2), OTHERS))
    chosen, found = [path], [first]
    blemishes = hearing(lattice, analysis)
    spoilt = {other: blemishes(other) > blemishes(path) for other in paths}
    least = min(LEAST, max(1, sum(len(lattice.layers[i]) > 1 for i in places) // 4))
    while len(found) < count:
        far = {other: min(_heard(lattice, places, other, one) for one in chosen) for other in paths}
        ways = (
            (other, judged(setting(verset, lattice, other), lattice, judge))
            for other in sorted(far, key=lambda other: (spoilt[other], -far[other]))
            if far[other] >= least
        )
        clean = next(((o, way) for o, way in ways if faults_of(way) <= faults_of(first)), None)
        if clean is None:
            break
        chosen.append(clean[0])
        found.append(clean[1])
    return tuple(found)


def _keeping(lattice: Lattice, path: Path, places: Sequence[int]) -> Lattice:
    """The lattice in which a path's voicings are worth keeping everywhere but at some places."""
    kept: list[Array | None] = []
    free = set(places)
    for i, (layer, state) in enumerate(zip(lattice.layers, path)):
        if i in free or len(layer) < 2:
            kept.append(None)
            continue
        kept.append(np.where(np.arange(len(layer)) == lattice.row(i, state), KEPT, 0.0))
    return gaining(lattice, {"kept": kept})


def _heard(lattice: Lattice, places: Sequence[int], a: Path, b: Path) -> int:
    """How much two paths differ for the ear."""
    total = 0
    for i in places:
        notes = lattice.layers[i].m
        one, other = notes[lattice.row(i, a[i])], notes[lattice.row(i, b[i])]
        if len(one):
            total += 2 * int(one[0] != other[0]) or int((one != other).any())
    return total
