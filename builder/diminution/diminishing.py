"""From a plain realisation to voices, to diminished ones, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.diminution.ground import Ground
from builder.diminution.moving import Written
from builder.diminution.pattern import Pattern
from builder.diminution.result import Diminution
from builder.diminution.tables import patterns
from builder.music import QUARTER_COMMA, Part, Score, Tuning, Version
from builder.source import Verset

LEVELS = (1, 2, 3)


def diminish(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    level: int | None = None,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
    tuning: Tuning = QUARTER_COMMA,
) -> Diminution:
    """Set a plain realisation in graceful voices, and break their notes into shorter ones.

    `level` 1 in voices, 2 diminished in eighths, 3 full (none: the source's, else 2); each holds what the one
    below has. Each `seed` gives its own, always the same. `tables` are the patterns (none: the house's);
    `given_line` lets the given line move after its entries. `tuning` is what the keys are judged by.

    No voice but a pinned one departs from its plain notes in an entry of the theme, and the check finds no
    error that the plain setting had not.

    Raises `ValueError` for a level that is not 1, 2 or 3.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> graced = diminish(verset, analysis, plain, level=2)
    >>> sum(len(p.notes) for p in graced.score.parts) > sum(len(p.notes) for p in plain.score.parts)
    True
    """
    level = level or verset.settings.level or 2
    if level not in LEVELS:
        raise ValueError(f"level {level}: there are three, 1 (in voices), 2 (diminished) and 3 (full)")
    made = diminutions(
        verset,
        analysis,
        realisation,
        up_to=level,
        seed=seed,
        tables=tables,
        given_line=given_line,
        tuning=tuning,
    )
    return made[level]


def diminutions(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    up_to: int = 3,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
    tuning: Tuning = QUARTER_COMMA,
) -> dict[int, Diminution]:
    """All levels up to one, each made from the one below. As `diminish`.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> sorted(diminutions(verset, analysis, plain, up_to=2))
    [1, 2]
    """
    seed = verset.settings.seed if seed is None else seed
    table = patterns() if tables is None else tuple(tables)
    written = None
    if verset.unmoved is not None:
        home = analyse(verset.unmoved)
        plain = realise(verset.unmoved, home, tuning=tuning)
        made = diminutions(
            verset.unmoved,
            home,
            plain,
            up_to=up_to,
            seed=seed,
            tables=table,
            given_line=given_line,
            tuning=tuning,
        )
        written = Written(verset.moved_by, plain.score, made)
    ground = Ground(verset, analysis, realisation, table, tuning, seed, written)
    search, plan = ground.in_voices()
    found = {1: ground.result(search, 1, plan)}
    for level in range(2, up_to + 1):
        search = ground.in_small_notes(search.weave, level, plan, line=given_line)
        found[level] = ground.result(search, level, plan)
    return found


def skeleton(diminution: Diminution) -> Score:
    """The plain realisation inside a diminished one: every choice gives its plain notes back.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> skeleton(diminish(verset, analysis, plain, level=2)) == plain.score
    True
    """
    parts = []
    for part in diminution.score.parts:
        own = [c for c in diminution.choices if c.voice == part.voice]
        spans = [(c.onset, c.onset + c.duration) for c in own]
        kept = [n for n in part.sounding() if not any(a <= n.onset < b for a, b in spans)]
        kept += [n for c in own for n in (c.replaced or (c.plain,))]
        parts.append(Part(part.voice, tuple(sorted(kept, key=lambda n: n.onset))))
    return replace(diminution.score, version=Version.PLAIN, parts=tuple(parts))
