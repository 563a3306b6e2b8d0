"""A plan as a small picture: a row for each voice, the theme and what is taken from it as bars, rests left
open, the closes as lines, and below how movement grows."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from html import escape

from builder.analysis import Analysis
from builder.plan.plan import Plan
from builder.source import Verset

WIDTH, ROW, LEFT, FOOT = 640, 22, 4, 26
"""Pixels: of the whole, of a voice, beside it, below it."""
CALMEST, STEEP = 0.4, 18
"""The growth that is drawn at the bottom, and pixels for each whole of it."""


def picture(plan: Plan, verset: Verset, analysis: Analysis, label: str) -> str:
    """An SVG picture, in the colour of the text around it. `label` says what it is to those who do not see
    it.

    >>> from random import Random
    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.plan.making import make_plan
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> plan = make_plan(verset, analysis, plain, Random(1))
    >>> picture(plan, verset, analysis, "Who leads").count("Who leads")
    1
    """
    voices = verset.voices
    height = ROW * len(voices) + FOOT
    scale = (WIDTH - 2 * LEFT) / float(verset.end)
    entered = {v: min(g.note.onset for g in verset.given if g.voice == v and g.note.pitch) for v in voices}

    def x(time: Fraction) -> str:
        return f"{LEFT + float(time) * scale:.1f}"

    def bars(start: Fraction, end: Fraction, voice: str, share: float, opacity: str) -> str:
        y = ROW * voices.index(voice) + ROW * (1 - share) / 2
        width = float(end - start) * scale
        return (
            f'<rect x="{x(start)}" y="{y:.1f}" width="{width:.1f}" height="{ROW * share:.1f}" rx="2" '
            f'opacity="{opacity}"/>'
        )

    drawn: list[str] = []
    for voice in voices:
        rests = [r for r in plan.rests if r.voice == voice]
        for start, end in _sounding(entered[voice], verset.end, [(r.start, r.end) for r in rests]):
            drawn.append(bars(start, end, voice, 0.12, "0.5"))
    drawn += [bars(c.start, c.end, c.voice, 0.36, "0.35") for c in plan.countersubject]
    drawn += [bars(s.onset, s.end, s.voice, 0.6, "0.6") for s in plan.statements]
    drawn += [bars(e.onset, e.end, e.voice, 0.72, "1") for e in analysis.entries if e.voice in voices]
    for c in analysis.cadences:
        drawn.append(f'<rect x="{x(c.onset)}" y="0" width="1" height="{ROW * len(voices)}" opacity="0.6"/>')
    base = height - 2
    points = " ".join(
        f"{x(bar.onset + bar.length / 2)},{base - (g - CALMEST) * STEEP:.1f}"
        for bar, g in zip(verset.bars, plan.growth)
    )
    drawn.append(f'<polyline points="{points}" fill="none" stroke="currentColor" stroke-width="1.5"/>')
    return (
        f'<svg class="verset-plan" role="img" aria-label="{escape(label)}" viewBox="0 0 {WIDTH} {height}" '
        f'width="100%" fill="currentColor" xmlns="http://www.w3.org/2000/svg">{"".join(drawn)}</svg>'
    )


def _sounding(
    start: Fraction, end: Fraction, rests: Iterable[tuple[Fraction, Fraction]]
) -> Iterable[tuple[Fraction, Fraction]]:
    for a, b in sorted(rests):
        if a > start:
            yield start, a
        start = max(start, b)
    if start < end:
        yield start, end
