"""The closes of an invented line, and what must sound before them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from builder.invention.figures import (
    DOUBLE,
    FOURTH,
    PLAIN,
    SEVENTH,
    SIXTH,
    Bass,
    pitch_class,
    place_of,
    tones,
)
from builder.invention.melody import Frame
from builder.invention.order import Order, leading
from builder.music import Interval, Pitch, Signature

FROM_FIFTH = {1: 0.3, 2: 0.6, 3: 0.7}
"""How often an inner close comes from the fifth, and not a step down, by the voices above (our own judgement,
no source; over the lower of two voices Palestrina has no fourth that is held and falls)."""
HELD = {1: 0.25, 2: 0.5, 3: 0.5}
"""How often an inner close has its fourth or seventh held over, by the voices above (our own judgement)."""
STEPWISE = 0.5
"""How often two voices come to their end by step (our own judgement)."""
FIGURES = {"semplice": PLAIN, "composta": FOURTH, "doppia": DOUBLE}
"""What stands over the fifth degree."""


@dataclass(frozen=True, slots=True)
class Sung:
    """A note of the line to be: pitch, length in quarter notes, what must stand over it (empty: it is drawn),
    and whether a leading note is raised over it."""

    pitch: Pitch
    length: Fraction
    fixed: str = ""
    raised: bool = False


@dataclass(frozen=True, slots=True)
class Close:
    """A cadence to be: the note before its goal, and the goal."""

    before: Sung
    goal: Pitch


def bears(bass: Pitch, tone: Pitch, signature: Signature, above: int) -> bool:
    """Whether a tone can sound over a note, so that it is then held over as a suspension.

    >>> p = Pitch.parse
    >>> bears(p("F3"), p("D4"), Signature(), 3), bears(p("G3"), p("C4"), Signature(), 3)
    (True, False)
    """
    note = Bass(bass, Fraction(1), 0)
    kinds = (SIXTH,) if place_of(bass, signature) == "false" else (PLAIN, SIXTH)
    return any(pitch_class(tone) in tones(note, kind, signature, above) for kind in kinds)


def drawn_close(order: Order, frame: Frame, degree: str, dice: Random, *, final: bool) -> Close | None:
    """A cadence on a letter in the compass of the voice: that of mi where a semitone stands above it, else
    from the fifth or by the tenor's clausula; None where the compass has no room. The final one is as
    ordered."""
    goals = [s for s in frame.steps if frame.pitch(s).letter == degree]
    if not goals:
        return None
    goal = dice.choice(goals[:2] if final else goals)
    above = len(order.voices) - 1
    triple = order.time.count % 3 == 0
    length = 2 * order.time.beat if triple else order.time.bar if final else order.time.bar / 2
    mi = Interval.between(frame.pitch(goal), frame.pitch(goal + 1)).semitones == 1
    from_fifth = (
        (bool(order.close) or above > 1 or dice.random() > STEPWISE)
        if final
        else (dice.random() < FROM_FIFTH[above])
    )
    if mi or not from_fifth:
        figure = SEVENTH if final or dice.random() < HELD[above] else SIXTH
        over = Sung(frame.pitch(goal + 1), length, figure, raised=not mi)
        return Close(over, frame.pitch(goal)) if goal < frame.high else None
    fifths = [s for s in (goal + 4, goal - 3) if frame.low <= s <= frame.high]
    if not fifths or not leading(degree):
        return None
    fifth = frame.pitch(dice.choice(fifths))
    if final:
        usual = ["composta"] * 3 + ["doppia"] * (above > 1 and not triple)
        kind = order.close or dice.choice(usual)
    else:
        kind = "composta" if dice.random() < HELD[above] else "semplice"
    return Close(Sung(fifth, length, FIGURES[kind], raised=True), frame.pitch(goal))
