"""Checks any score of two to five voices, ours or a teacher's, by the same rules."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction

from builder.analysis import Analysis
from builder.counterpoint import judging, judging_source
from builder.counterpoint.grid import Grid
from builder.counterpoint.judging import Hit
from builder.counterpoint.result import Finding
from builder.counterpoint.rule import NOTE
from builder.counterpoint.rules import RULES
from builder.music import VOICES, Place, Score
from builder.source import Verset

DOUBLE_CADENCE = "the fourth of the double cadence enters by step and is held (common practice)"
AT_THE_KEYBOARD = frozenset({"crossing", "overlap", "wide", "unison"})
"""Singers cross and meet freely; on one keyboard a voice is lost by it."""
_RANK = {"error": 0, "warning": 1, "note": 2}


def check(
    score: Score,
    *,
    verset: Verset | None = None,
    analysis: Analysis | None = None,
    tuning: str = "quarter-comma",
    keyboard: bool = True,
) -> tuple[Finding, ...]:
    """Every rule that a score meets, in time.

    With a verset its given line, figures, pins and licences are judged too (and its cadences, with the
    analysis). `keyboard` off leaves out hands, compass and tuning (a score for singers). A finding that a
    licence silences has the reason in `allowed`.

    >>> from builder.counterpoint.example import example
    >>> [f.rule for f in check(example("cantus A4/2 B4/2\\ntenor D4/2 E4/2"))]
    ['parallel-fifths']
    """
    grid = Grid.of(score)
    if not len(grid.ticks):
        return ()
    hits = list(_hits(grid, score, verset, analysis, tuning, keyboard))
    return _findings(hits, score, verset, analysis, keyboard)


def _hits(
    grid: Grid, score: Score, verset: Verset | None, analysis: Analysis | None, tuning: str, keyboard: bool
) -> Iterator[Hit]:
    yield from judging.motion(grid)
    yield from judging.sonority(grid)
    yield from judging.melody(grid)
    yield from judging.dissonance(grid)
    yield from judging_source.doubled(grid, score)
    if keyboard:
        yield from judging.instrument(grid, tuning)
    if verset is None:
        return
    yield from judging_source.given(score, verset)
    yield from judging_source.pins(score, verset)
    if analysis is not None:
        yield from judging_source.figures(score, verset, analysis, grid, tuning)
        yield from judging_source.cadences(grid, analysis, tuning)


def _findings(
    hits: list[Hit], score: Score, verset: Verset | None, analysis: Analysis | None, keyboard: bool
) -> tuple[Finding, ...]:
    starts = [b.onset for b in score.bars]
    found = []
    for hit in hits:
        rule = RULES[hit.rule]
        bar = score.bars[max(0, bisect_right(starts, hit.onset) - 1)]
        place = Place(bar.number, (hit.onset - bar.onset) / score.metre.beat + 1)
        severity = rule.severity_for(hit.sounding)
        if not keyboard and hit.rule in AT_THE_KEYBOARD:
            severity = NOTE
        if verset is not None and rule.kind in ("melody", "line") and _given(hit, verset):
            # What the source's own line does is told, not held against the setting.
            severity = NOTE
        allowed = _allowed(hit, bar.number, verset, analysis)
        found.append(
            Finding(
                hit.rule,
                severity,
                hit.onset,
                place,
                hit.voices,
                f"{rule.title}: {hit.detail}.",
                rule.advice,
                allowed,
            )
        )
    order = {v: i for i, v in enumerate(VOICES)}
    return tuple(
        sorted(found, key=lambda f: (f.onset, _RANK[f.severity], f.rule, [order.get(v, 9) for v in f.voices]))
    )


def _allowed(hit: Hit, bar: int, verset: Verset | None, analysis: Analysis | None) -> str:
    for licence in verset.licences if verset else ():
        if licence.rule == hit.rule and licence.bar == bar and set(licence.voices) <= set(hit.voices):
            return licence.because
    if hit.rule == "fourth-by-step" and analysis is not None and _in_doppia(hit.onset, analysis):
        return DOUBLE_CADENCE
    return ""


def _given(hit: Hit, verset: Verset) -> bool:
    """Whether the last two notes concerned are the given line's own."""
    now = verset.given_at(hit.onset)
    if now is None or now.voice != hit.voices[0]:
        return False
    before = [g for g in verset.given if g.note.end == now.note.onset]
    return bool(before) and before[0].voice == now.voice


def _in_doppia(onset: Fraction, analysis: Analysis) -> bool:
    return any(c.kind == "doppia" and c.start <= onset < c.onset for c in analysis.cadences)
