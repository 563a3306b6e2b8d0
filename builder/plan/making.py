"""Makes a plan."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from fractions import Fraction
from random import Random

from builder.analysis import Analysis
from builder.analysis.findings import Cadence
from builder.counterpoint import Realisation
from builder.music import Note
from builder.plan.motif import Motif, motifs, of_the_line
from builder.plan.plan import Clausula, Countersubject, Plan, Rest, Statement
from builder.source import Verset

SPACING = (Fraction(4), Fraction(5), Fraction(6))
"""Quarters from one statement to the next, about."""
CALM, GROWING = 0.6, 1.0
WEIGHTS = {"head": 6.0, "tail": 2.0, "halved": 1.0, "inverted": 0.5}
"""How often each kind of motif is taken up."""


def make_plan(verset: Verset, analysis: Analysis, realisation: Realisation, dice: Random) -> Plan:
    """A plan for the voices above the given line: after the first answer, every four to six quarters one of
    them takes up a motif of the theme, not the one that had the last, mostly out of a rest; none while a
    cadence is under way. The order of voices and motifs is drawn; each slot is told to several voices in
    turn, and the first that can takes it. The free one of two voices answers the line itself.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> [clausula.voice for clausula in make_plan(verset, analysis, plain, Random(1)).clausulae]
    ['cantus', 'altus']
    """
    known = motifs(verset, analysis)
    statements, rests = [], []
    made = _answers if len(verset.voices) == 2 else _statements
    for statement in made(verset, analysis, known, dice):
        statements.append(statement)
        length = dice.choice((2, 3, 4, 4, 6))
        start = statement.onset - length
        if len(verset.above(statement.onset)) > 1 and start > 0:
            rests.append(Rest(statement.voice, start, statement.onset, verset.place(start)))
    return Plan(
        known,
        tuple(statements),
        tuple(rests),
        tuple(_countersubject(verset, analysis)),
        tuple(_clausulae(analysis, realisation)),
        growth(verset, analysis),
    )


def growth(verset: Verset, analysis: Analysis) -> tuple[float, ...]:
    """How much movement each bar wants: calm after each close, growing to the next and to the end."""
    closes = [c.onset for c in analysis.cadences]
    found = []
    for bar in verset.bars:
        place = float(bar.onset / verset.end)
        last = max((c for c in closes if c <= bar.onset), default=Fraction(0))
        since = float((bar.onset - last) / bar.length)
        found.append(round(CALM + GROWING * place - (0.25 if since < 1 and bar.onset > 0 else 0.0), 3))
    return tuple(found)


def _statements(
    verset: Verset, analysis: Analysis, known: Sequence[Motif], dice: Random
) -> Iterator[Statement]:
    if not known or len(analysis.entries) < 2:
        return
    step = max(verset.metre.beat, Fraction(1))
    leader = analysis.entries[1].voice
    time = analysis.entries[1].onset + verset.metre.bar
    end = max((c.start for c in analysis.cadences[-1:]), default=verset.end)
    while time < end:
        above = [v for v in verset.above(time) if v != leader]
        if above and not _busy(analysis, time):
            dice.shuffle(above)
            weights = [WEIGHTS[m.kind] for m in known]
            motif = dice.choices(known, weights)[0]
            voice = above[0]
            if time + motif.span < end:
                yield Statement(
                    motif, voice, time, time + motif.span, verset.place(time), _had(analysis, voice, leader)
                )
                leader = voice
        time += dice.choice(SPACING) // step * step


def _answers(verset: Verset, analysis: Analysis, known: Sequence[Motif], dice: Random) -> Iterator[Statement]:
    """What the free one of two voices may take up: what the line has just sung, in its own values, at half of
    the quarters; then the theme. Few can be sung, since every figure of the line binds the voice, and no two
    at once."""
    if len(analysis.entries) < 2:
        return
    time = analysis.entries[1].onset + 1
    end = max((c.start for c in analysis.cadences[-1:]), default=verset.end)
    while time < end:
        above = verset.above(time)
        # Short ones leave room for more.
        own = sorted(of_the_line(verset, time), key=lambda m: float(m.span) * dice.random())
        if (
            own
            and above
            and verset.given_at(time) is not None
            and not _busy(analysis, time)
            and dice.random() < 0.5
        ):
            until = time + own[0].span
            yield Statement(
                own[0], above[0], time, until, verset.place(time), own[0].voice, others=tuple(own[1:])
            )
        time += 1
    yield from _statements(verset, analysis, known, dice)


def _busy(analysis: Analysis, time: Fraction) -> bool:
    """Whether a cadence is under way, or an entry begins."""
    return any(c.start <= time < c.onset for c in analysis.cadences) or any(
        e.onset - 1 < time < e.onset + 2 for e in analysis.entries
    )


def _had(analysis: Analysis, voice: str, leader: str) -> str:
    return leader if leader != voice else next(e.voice for e in analysis.entries if e.voice != voice)


def _countersubject(verset: Verset, analysis: Analysis) -> Iterator[Countersubject]:
    first = True
    for one, two in zip(analysis.entries, analysis.entries[1:]):
        if one.voice != two.voice:
            yield Countersubject(one.voice, two.voice, two.onset, two.end, two.place, first)
            first = False


def _clausulae(analysis: Analysis, realisation: Realisation) -> Iterator[Clausula]:
    for cadence in analysis.cadences:
        for part in realisation.score.parts:
            notes = part.sounding()
            for a, b in itertools.pairwise(notes):
                if a.end == b.onset == cadence.onset:
                    kind = _kind(a, b, cadence)
                    if kind:
                        yield Clausula(
                            kind, part.voice, cadence.start, cadence.onset, cadence.place, cadence.degree
                        )


def _kind(a: Note, b: Note, cadence: Cadence) -> str:
    assert a.pitch is not None and b.pitch is not None
    move = b.pitch.diatonic - a.pitch.diatonic
    final = b.pitch.letter == cadence.degree
    if final and move == 1:
        return "cantizans"
    if final and move == -1:
        return "tenorizans"
    if final and move in (3, -4):
        return "bassizans"
    return "altizans" if abs(move) <= 2 and not final else ""
