"""Which of many lawful settings is taken: several are drawn, and of those with the fewest blemishes the first
that is clean is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from zlib import crc32

from builder.analysis import Analysis
from builder.counterpoint.search.countersubject import best_pattern, placed
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.lattice import Lattice, Path, gaining
from builder.counterpoint.search.paths import best_path
from builder.counterpoint.search.phrases import hearing
from builder.source import Verset

DRAWS = 48
"""So many settings are drawn for one verset."""
TRIED = 16
"""So many of them are put to the check at most."""
HEADS = 8
"""So many settings of the first entries are drawn to find a countersubject in."""

Faults = tuple[int, int]
"""How many errors and warnings a setting has."""


def seed_of(verset: Verset) -> tuple[int, int]:
    """The seed of a verset: its own choice, and its music."""
    music = " ".join(f"{g.voice} {g.note.pitch} {g.note.onset} {g.note.duration}" for g in verset.given)
    return verset.settings.seed, crc32(music.encode())


def with_countersubject(lattice: Lattice, verset: Verset, analysis: Analysis) -> Lattice:
    """The lattice in which a countersubject is worth keeping: of those that drawn settings have against the
    second entry, the one that can best come back at every later one."""
    if len(analysis.entries) < 3:
        return lattice
    heads = drawn(lattice, (*seed_of(verset), 1), HEADS)
    pattern = best_pattern(lattice, heads, analysis)
    return gaining(lattice, {"countersubject": placed(lattice, pattern, analysis)}) if pattern else lattice


def candidates(lattice: Lattice, verset: Verset, analysis: Analysis, count: int = DRAWS) -> Iterator[Path]:
    """Paths in the order in which they are tried, each once: drawn ones, those first whose phrases have the
    fewest blemishes, else as they were drawn; at the end the least costly one. At most `TRIED` and one."""
    paths = dict.fromkeys(drawn(lattice, seed_of(verset), count))
    tried = sorted(paths, key=hearing(lattice, analysis))[:TRIED]
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
