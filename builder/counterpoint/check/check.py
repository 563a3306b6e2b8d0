"""Checks any score of two to five voices, ours or a teacher's, by the same rules."""

from __future__ import annotations

from builder.analysis import Analysis
from builder.counterpoint.check.finding import Finding
from builder.counterpoint.check.judge import Judge
from builder.music import QUARTER_COMMA, Score, Tuning
from builder.source import Verset


def check(
    score: Score,
    *,
    verset: Verset | None = None,
    analysis: Analysis | None = None,
    tuning: Tuning = QUARTER_COMMA,
    keyboard: bool = True,
) -> tuple[Finding, ...]:
    """Every rule that a score meets, in time.

    With a verset its given line, figures, pins and licences are judged too (and its cadences, with the
    analysis). `keyboard` off leaves out hands, compass and tuning (a score for singers). A finding that a
    licence silences has the reason in `allowed`.

    >>> from builder.counterpoint.rules.example import example
    >>> [f.rule for f in check(example("cantus A4/2 B4/2\\ntenor D4/2 E4/2"))]
    ['parallel-fifths']
    """
    return Judge(verset, analysis, tuning=tuning, keyboard=keyboard).check(score).findings
