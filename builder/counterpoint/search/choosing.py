"""Which of many lawful settings is taken: many are drawn, some of them again by what their phrases are worth,
and of those with the fewest blemishes the first that is clean is kept."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from zlib import crc32

from builder.analysis import Analysis
from builder.counterpoint.search.countersubject import patterns, placed
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import Lattice, Path, gaining
from builder.counterpoint.search.paths import best_path
from builder.counterpoint.search.phrase_worth import drawn_again
from builder.counterpoint.search.phrases import hearing
from builder.source import Verset

DRAWS = 96
"""So many settings are drawn for one verset."""
AGAIN = 32
"""So many of them are drawn again, in proportion to what their phrases are worth."""
TRIED = 16
"""So many of them are put to the check at most."""
HEADS = 16
"""So many settings of the first entries are drawn to find a countersubject in."""
SUBJECTS = 3
"""So many countersubjects are tried, one after another, where a setting with one has a fault."""
TRIED_WITH = 4
"""So many settings with each of them are put to the check at most."""

Faults = tuple[int, int]
"""How many errors and warnings a setting has."""


def seed_of(verset: Verset) -> tuple[int, int]:
    """The seed of a verset: its own choice, and its music."""
    music = " ".join(f"{g.voice} {g.note.pitch} {g.note.onset} {g.note.duration}" for g in verset.given)
    return verset.settings.seed, crc32(music.encode())


def with_countersubjects(lattice: Lattice, verset: Verset, analysis: Analysis) -> Iterator[Lattice]:
    """Lattices, one after another: those in which the return of a countersubject is a gain, for some of the
    countersubjects that drawn settings have against the second entry, first the one that can best come back
    at every later entry; then the lattice as it is."""
    if len(analysis.entries) > 2:
        second = sorted(analysis.entries, key=lambda e: e.onset)[1]
        length = max(1, bisect_left(lattice.events, second.end, key=lambda e: e.onset))
        heads = drawn(lattice, (*seed_of(verset), 1), HEADS, length=length)
        for pattern in patterns(lattice, heads, analysis)[:SUBJECTS]:
            yield gaining(lattice, {"countersubject": placed(lattice, pattern, analysis)})
    yield lattice


def candidates(lattice: Lattice, verset: Verset, analysis: Analysis, count: int = DRAWS) -> Iterator[Path]:
    """Paths in the order in which they are tried, each once: drawn ones, those first whose phrases have the
    fewest blemishes, else as they were drawn again; at the end the least costly one. At most `TRIED` and
    one."""
    paths = [*dict.fromkeys(drawn(lattice, seed_of(verset), count))]
    again = drawn_again(lattice, paths, (*seed_of(verset), 3))[:AGAIN]
    least = TRIED_WITH if any("countersubject" in gains for gains in lattice.named_gains) else TRIED
    tried = sorted(again, key=hearing(lattice, analysis))[:least]
    yield from dict.fromkeys((*tried, best_path(lattice)))


def chosen(
    paths: Sequence[Path] | Iterator[Path], faults: Callable[[Path], Faults], fewest: Faults = (0, 0)
) -> Path:
    """The first path with no more faults than the fewest that there can be, else the first one with the
    fewest errors, then warnings."""
    least: tuple[Faults, Path] | None = None
    for path in paths:
        found = faults(path)
        if least is None or found < least[0]:
            least = found, path
        if found <= fewest:
            break
    assert least is not None, "a lattice has a path"
    return least[1]
