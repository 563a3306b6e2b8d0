"""Puts scores to the rules: whole, or only as far as a change of some notes reaches."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from builder.analysis import Analysis
from builder.counterpoint.check import judges, pairs, source_judges
from builder.counterpoint.check.finding import Finding
from builder.counterpoint.check.hit import Hit
from builder.counterpoint.check.reach import Reach
from builder.counterpoint.figured_bass.events import Event, events
from builder.counterpoint.figured_bass.sonority import bound_members, sounds
from builder.counterpoint.rules.context import Of, When
from builder.counterpoint.rules.rule import NOTE, Severity
from builder.counterpoint.rules.rulebook import RULES, met
from builder.counterpoint.rules.slices import Grid
from builder.counterpoint.rules.treatment import Treatment
from builder.language.texts import Phrase
from builder.music import QUARTER_COMMA, VOICES, Note, Part, Place, Score, Tuning
from builder.source import Verset
from builder.source.verset import GivenNote

DOUBLE_CADENCE = Phrase("double-cadence")
_CADENTIAL = {r.id for r in met(When.ONSET, Of.CLASH, manner=int(Treatment.CADENTIAL))}
_PLACE = {v: i for i, v in enumerate(VOICES)}
_RANK = {severity: rank for rank, severity in enumerate(Severity)}
Time = Fraction | int
_EVER = Fraction(-1_000_000), Fraction(1_000_000)


class Stretch(NamedTuple):
    """The findings of a stretch of time, from `start` up to but not including `end` (quarters)."""

    start: Fraction
    end: Fraction
    findings: tuple[Finding, ...]


class Broken(NamedTuple):
    """Other notes in place of those that a voice begins from `start` up to `end` (quarters); they sound as
    long."""

    voice: str
    start: Fraction
    end: Fraction
    notes: tuple[Note, ...]


@dataclass(frozen=True, eq=False)
class Checked:
    """A score and its findings, in time."""

    judge: Judge
    score: Score
    findings: tuple[Finding, ...]

    def changed(self, score: Score, start: Time, end: Time, voices: Collection[str] = ()) -> Checked:
        """The same for a score that differs from this one only in what sounds from `start` up to `end`
        (quarters), and only in some voices when they are named. Findings that the change cannot reach are
        kept, so that the work is as long as the change."""
        again = self.judge.between(score, start, end, voices, before=self.score)
        kept = [f for f in self.findings if not again.start <= f.onset < again.end]
        return Checked(self.judge, score, tuple(sorted((*kept, *again.findings), key=_order)))


class Judge:
    """Puts scores to the rules, those of one verset when there is one.

    What does not change from score to score (the events of the given line, its notes in time) is worked out
    once, so that a search may judge many. `verset`, `analysis`, `tuning` and `keyboard` are those of `check`.

    >>> from builder.counterpoint.rules.example import example
    >>> lower = "\\ntenor D4/2 E4/2 F4/2 E4/2"
    >>> first = Judge().check(example("cantus A4/2 G4/2 A4/2 G4/2" + lower))
    >>> [f.rule for f in first.findings]
    []
    >>> then = first.changed(example("cantus A4/2 B4/2 A4/2 G4/2" + lower), 2, 4, ["cantus"])
    >>> [f.rule for f in then.findings]
    ['parallel-fifths']
    """

    def __init__(
        self,
        verset: Verset | None = None,
        analysis: Analysis | None = None,
        *,
        tuning: Tuning = QUARTER_COMMA,
        keyboard: bool = True,
        cut: Sequence[Event] | None = None,
    ) -> None:
        """`cut`: the events of the given line, for those who have them already."""
        self.verset, self.analysis, self.tuning, self.keyboard = verset, analysis, tuning, keyboard
        if cut is None and verset is not None and analysis is not None:
            cut = events(verset, analysis, tuning=tuning)
        self.cut = tuple(cut or ())
        self.given = _Given(verset) if verset is not None else None
        self._starts = [e.onset for e in self.cut]
        self._alone = list(_alone(self.cut))

    def check(self, score: Score) -> Checked:
        """A score with every rule that it meets."""
        grid = Grid.of(score)
        hits = self._hits(grid, *_EVER) if len(grid.ticks) else ()
        return Checked(self, score, _findings(hits, grid, self))

    def between(
        self,
        score: Score,
        start: Time,
        end: Time,
        voices: Collection[str] = (),
        *,
        before: Score | None = None,
    ) -> Stretch:
        """Every finding that may be due to the notes from `start` up to `end` (quarters) of some voices (all,
        when none is named), with the stretch of time in which such findings lie; `before` is the score as it
        was, where it has been changed there."""
        scores = (score, before) if before is not None else (score,)
        reach = self._reach(scores, Fraction(start), Fraction(end), voices)
        grid = Grid.of(reach.score)
        hits = self._hits(grid, reach.start, reach.end) if len(grid.ticks) else ()
        found = _findings((h for h in hits if reach.start <= h.onset < reach.end), grid, self)
        return Stretch(reach.start, reach.end, found)

    def _reach(
        self, scores: Sequence[Score], start: Fraction, end: Fraction, voices: Collection[str]
    ) -> Reach:
        # Sonorities and given notes are judged as a whole.
        whole = [(e.onset, e.end) for e in self._events(start, end)]
        whole += self._alone
        whole += [(g.note.onset, g.note.end) for g in (self.given.during(start, end) if self.given else ())]
        return Reach.of(scores, start, end, voices, whole)

    def each(self, score: Score, changes: Sequence[Broken]) -> list[tuple[Finding, ...]]:
        """For each of many changes of a score, made alone, the findings that `between` would tell. Changes
        that no finding may be due to both of are made together, and checked at once.

        >>> from builder.counterpoint.rules.example import example
        >>> from builder.music import Pitch
        >>> score = example("cantus A4/2 G4/2 A4/2 G4/2\\ntenor D4/2 E4/2 F4/2 E4/2")
        >>> higher = [Note(Fraction(k, 2), Fraction(1, 2), Pitch.parse("B4")) for k in (4, 5, 6, 7)]
        >>> two = [Broken("cantus", Fraction(2), Fraction(4), (*higher,)),
        ...        Broken("cantus", Fraction(2), Fraction(4), score.part("cantus").notes[1:2])]
        >>> [sorted({f.rule for f in found}) for found in Judge().each(score, two)]
        [['parallel-fifths'], []]
        """
        reaches = {(c.voice, c.start, c.end): _EVER for c in changes}
        for voice, start, end in reaches:
            reach = self._reach((score,), start, end, [voice])
            reaches[voice, start, end] = reach.start, reach.end
        found: list[tuple[Finding, ...]] = [()] * len(changes)
        for some in _apart([reaches[change[:3]] for change in changes]):
            told = self.check(_with(score, [changes[n] for n in some])).findings
            for n in some:
                first, last = reaches[changes[n][:3]]
                found[n] = tuple(f for f in told if first <= f.onset < last)
        return found

    def event_at(self, onset: Fraction) -> Event | None:
        """The event of a time, if there is one."""
        place = bisect_right(self._starts, onset) - 1
        return self.cut[place] if place >= 0 else None

    def _events(self, start: Fraction, end: Fraction) -> tuple[Event, ...]:
        """The events that last into a stretch of time."""
        first = max(0, bisect_right(self._starts, start) - 1)
        return self.cut[first : bisect_left(self._starts, end)]

    def _hits(self, grid: Grid, start: Fraction, end: Fraction) -> Iterator[Hit]:
        yield from pairs.motion(grid)
        yield from pairs.from_beat_to_beat(grid)
        yield from pairs.together(grid, self.tuning, self.keyboard)
        yield from judges.sonority(grid)
        yield from source_judges.augmented(grid, self._events(start, end))
        yield from judges.melody(grid)
        yield from judges.dissonance(grid)
        if self.keyboard:
            yield from judges.notes(grid, self.tuning)
            yield from judges.hands(grid)
        if self.verset is None or self.given is None:
            return
        yield from source_judges.given(grid, self.given.during(start, end))
        yield from source_judges.pins(grid, self.verset, start, end)
        if self.analysis is not None:
            yield from source_judges.figures(grid, self._events(start, end))
            yield from source_judges.doubts(grid, self._events(start, end))
            yield from source_judges.cadences(grid, self.analysis, self.tuning, start)


def _apart(stretches: Sequence[tuple[Fraction, Fraction]]) -> list[list[int]]:
    """The numbers of some stretches of time in groups, in each of which none overlaps another.

    >>> _apart([(Fraction(0), Fraction(4)), (Fraction(2), Fraction(6)), (Fraction(4), Fraction(8))])
    [[0, 2], [1]]
    """
    groups: list[list[int]] = []
    for n in sorted(range(len(stretches)), key=lambda n: stretches[n][0]):
        fit = next((some for some in groups if stretches[some[-1]][1] <= stretches[n][0]), None)
        if fit is None:
            groups.append([n])
        else:
            fit.append(n)
    return groups


def _with(score: Score, changes: Sequence[Broken]) -> Score:
    """A score with all of some changes."""
    parts = []
    for part in score.parts:
        own = [c for c in changes if c.voice == part.voice]
        kept = [n for n in part.notes if not any(c.start <= n.onset < c.end for c in own)] if own else ()
        notes = (*kept, *(n for c in own for n in c.notes))
        parts.append(Part(part.voice, tuple(sorted(notes, key=lambda n: n.onset))) if own else part)
    return replace(score, parts=tuple(parts))


def _alone(cut: Sequence[Event]) -> Iterator[tuple[Fraction, Fraction]]:
    """Stretches of figures without voices above: each is told as one."""
    for alone, some in groupby(cut, key=lambda e: not e.upper):
        stretch = list(some)
        if alone:
            yield stretch[0].onset, stretch[-1].end


def _findings(hits: Iterable[Hit], grid: Grid, judge: Judge) -> tuple[Finding, ...]:
    place_of, line, keyboard = _places(grid), judge.given, judge.keyboard
    found = []
    for hit in hits:
        if hit.rule == "dissonance":
            hit = _as_figured(hit, grid, judge)
        rule = RULES[hit.rule]
        place = place_of(hit.onset)
        severity = rule.severity_for(hit.sounding, hit.lowest)
        if not keyboard and rule.at_keyboard:
            severity = NOTE
        if line and "beyond" in rule.features and line.has(hit.voices[0], hit.onset):
            continue
        if line and rule.of in (Of.MELODY, Of.TURN) and line.goes_to(hit.voices[0], hit.onset):
            # What the source's own line does is told, not held against the setting.
            severity = NOTE
        reason = _allowed(hit, place.bar, judge.verset, judge.analysis)
        found.append(Finding(hit.rule, severity, hit.onset, place, hit.voices, hit.detail, reason=reason))
    found.sort(key=_order)
    return tuple(found)


def _as_figured(hit: Hit, grid: Grid, judge: Judge) -> Hit:
    """A clash without treatment with a tone that a figure binds: what it lacks is preparation, or, where it
    does not fall by step, its fall."""
    event = judge.event_at(hit.onset)
    if event is None or event.figure is None:
        return hit
    for voice in hit.voices:
        v = grid.voices.index(voice)
        note = grid.at(v, hit.onset)
        if note is None or note.pitch is None or voice not in event.upper:
            continue
        if sounds(event.bass, bound_members(event.variants[0]), (note.pitch,)):
            return _lacking(hit, grid, v, note)
    second = any(s.number == 2 for s in event.figure.signs)
    if second and event.voice in hit.voices:
        # Under a second the lowest voice is the one to be prepared, and to fall.
        v = grid.voices.index(event.voice)
        note = grid.at(v, hit.onset)
        return hit if note is None else _lacking(hit, grid, v, note)
    return hit


def _lacking(hit: Hit, grid: Grid, voice: int, note: Note) -> Hit:
    """What the treatment of a note that clashes lacks: preparation, or its fall by step."""
    assert note.pitch is not None
    then = grid.at(voice, note.end)
    falls = then is not None and then.pitch is not None and then.pitch.diatonic - note.pitch.diatonic == -1
    return hit._replace(rule="suspension-unprepared" if falls else "suspension-unresolved")


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
        if licence.rule == hit.rule and licence.holds(bar) and set(licence.voices) <= set(hit.voices):
            return licence.because
    if hit.rule in _CADENTIAL and analysis is not None and _in_doppia(hit.onset, analysis):
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

    def during(self, start: Fraction, end: Fraction) -> tuple[GivenNote, ...]:
        """What sounds of it from a time up to another."""
        first = max(0, bisect_right(self.onsets, start) - 1)
        return self.line[first : bisect_left(self.onsets, end)]

    def goes_to(self, voice: str, onset: Fraction) -> bool:
        """Whether the given line itself goes to a note, from another of the same voice."""
        place = bisect_left(self.onsets, onset)
        if not place or not self.has(voice, onset):
            return False
        before = self.line[place - 1]
        return before.voice == voice and before.note.end == onset


def _in_doppia(onset: Fraction, analysis: Analysis) -> bool:
    return any(c.kind == "doppia" and c.start <= onset < c.onset for c in analysis.cadences)
