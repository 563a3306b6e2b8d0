"""Checks any score of two to five voices, ours or a teacher's, by the same rules."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from builder.analysis import Analysis
from builder.counterpoint.check import judges as judging
from builder.counterpoint.check import source_judges as judging_source
from builder.counterpoint.check.finding import Finding
from builder.counterpoint.check.judges import Hit
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.rules.phrases import Phrase
from builder.counterpoint.rules.rule import NOTE
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.rules.slices import Grid
from builder.music import VOICES, Place, Score
from builder.source import Verset

DOUBLE_CADENCE = Phrase("double-cadence")
AT_THE_KEYBOARD = frozenset({"crossing", "overlap", "wide", "unison"})
"""Singers cross and meet freely; on one keyboard a voice is lost by it."""
_PLACE = {v: i for i, v in enumerate(VOICES)}
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

    >>> from builder.counterpoint.rules.example import example
    >>> [f.rule for f in check(example("cantus A4/2 B4/2\\ntenor D4/2 E4/2"))]
    ['parallel-fifths']
    """
    cut = events(verset, analysis, tuning=tuning) if verset is not None and analysis is not None else ()
    return judged(score, verset, analysis, cut, tuning, keyboard)


def judged(
    score: Score,
    verset: Verset | None,
    analysis: Analysis | None,
    cut: Sequence[Event],
    tuning: str,
    keyboard: bool = True,
) -> tuple[Finding, ...]:
    """As `check`, for those who have cut the given line into events already."""
    grid = Grid.of(score)
    if not len(grid.ticks):
        return ()
    hits = list(_hits(grid, verset, analysis, cut, tuning, keyboard))
    return _findings(hits, grid, verset, analysis, keyboard)


def _hits(
    grid: Grid,
    verset: Verset | None,
    analysis: Analysis | None,
    cut: Sequence[Event],
    tuning: str,
    keyboard: bool,
) -> Iterator[Hit]:
    yield from judging.motion(grid)
    yield from judging.sonority(grid)
    yield from judging.melody(grid)
    yield from judging.dissonance(grid)
    yield from judging_source.doubled(grid, grid.score)
    if keyboard:
        yield from judging.instrument(grid, tuning)
    if verset is None:
        return
    yield from judging_source.given(grid, verset)
    yield from judging_source.pins(grid, verset)
    if analysis is not None:
        yield from judging_source.figures(grid, cut)
        yield from judging_source.cadences(grid, analysis, tuning)


def _findings(
    hits: list[Hit], grid: Grid, verset: Verset | None, analysis: Analysis | None, keyboard: bool
) -> tuple[Finding, ...]:
    place_of = _places(grid)
    line = _Given(verset) if verset is not None else None
    found = []
    for hit in hits:
        rule = RULES[hit.rule]
        place = place_of(hit.onset)
        severity = rule.severity_for(hit.sounding)
        if not keyboard and hit.rule in AT_THE_KEYBOARD:
            severity = NOTE
        if line and hit.rule == "compass" and line.has(hit.voices[0], hit.onset):
            continue
        if line and rule.kind in ("melody", "line") and line.goes_to(hit.voices[0], hit.onset):
            # What the source's own line does is told, not held against the setting.
            severity = NOTE
        reason = _allowed(hit, place.bar, verset, analysis)
        found.append(Finding(hit.rule, severity, hit.onset, place, hit.voices, hit.detail, reason=reason))
    found.sort(key=_order)
    return tuple(found)


def _places(grid: Grid) -> Callable[[Fraction], Place]:
    """Bar and beat of an onset; whole numbers as far as they go, each beat worked out once."""
    bars, unit, beat = grid.score.bars, grid.unit, grid.score.metre.beat
    starts = grid.barlines.tolist()
    beats: dict[int, Fraction] = {}

    def place(onset: Fraction) -> Place:
        tick, rest = divmod(onset.numerator * unit, onset.denominator)
        n = max(0, bisect_right(starts, tick) - 1)
        if rest:
            return Place(bars[n].number, (onset - bars[n].onset) / beat + 1)
        offset = tick - starts[n]
        if offset not in beats:
            beats[offset] = Fraction(offset, unit) / beat + 1
        return Place(bars[n].number, beats[offset])

    return place


def _order(finding: Finding) -> tuple[float, int, str, tuple[int, ...]]:
    """In time, the gravest first, then by rule and voices: the same order every time."""
    beats, parts = finding.onset.as_integer_ratio()
    voices = tuple(_PLACE.get(v, 9) for v in finding.voices)
    return beats / parts, _RANK[finding.severity], finding.rule, voices


def _allowed(hit: Hit, bar: int, verset: Verset | None, analysis: Analysis | None) -> Phrase | str:
    for licence in verset.licences if verset else ():
        if licence.rule == hit.rule and licence.bar == bar and set(licence.voices) <= set(hit.voices):
            return licence.because
    if hit.rule == "fourth-by-step" and analysis is not None and _in_doppia(hit.onset, analysis):
        return DOUBLE_CADENCE
    return ""


class _Given:
    """The notes of the given line, by time."""

    def __init__(self, verset: Verset) -> None:
        self.line = verset.given
        self.onsets = [g.note.onset for g in verset.given]

    def has(self, voice: str, onset: Fraction) -> bool:
        """Whether a voice has the given line at a time where a note of it begins."""
        place = bisect_left(self.onsets, onset)
        return place < len(self.line) and self.onsets[place] == onset and self.line[place].voice == voice

    def goes_to(self, voice: str, onset: Fraction) -> bool:
        """Whether the given line itself goes to a note, from another of the same voice."""
        place = bisect_left(self.onsets, onset)
        if not place or not self.has(voice, onset):
            return False
        before = self.line[place - 1]
        return before.voice == voice and before.note.end == onset


def _in_doppia(onset: Fraction, analysis: Analysis) -> bool:
    return any(c.kind == "doppia" and c.start <= onset < c.onset for c in analysis.cadences)
