"""How the line goes on after the last entry: phrases that grow from the theme, closes, the final cadence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random

from builder.analysis.compass import LEADING, REACH
from builder.invention.closing import Close, Sung, bears, drawn_close
from builder.invention.figures import PLAIN
from builder.invention.melody import NO_MOVE, WIDEST, Frame, Row, draw, outlines_tritone, singable
from builder.invention.order import Order
from builder.invention.shape import dullness
from builder.invention.theme import Theme
from builder.music import WRITTEN, Interval, Pitch, Signature

SEQUENCES = (-1, -1, -2, 1, 2, -3)
"""Steps by which the head of the theme comes again, the usual ones more often."""
FREE = 0.3
"""How often a phrase does not take up the head of the theme (our own judgement, no source)."""
PHRASES = 8
"""Draws of a phrase, of which one is taken."""
ROOM = 6
"""Notes of a compass in which a line can go somewhere."""
MIDDLE, OUTER = 1.0, 0.6
"""How likely a note is within a fourth of the middle of the compass, and outside."""


@dataclass(frozen=True, slots=True)
class Joint:
    """Where a phrase begins: the note before or, in a later phrase, the goal of the close before, which is
    its first note; the move that led there, in staff steps; how long that first note lasts at least."""

    note: Pitch
    come: int
    held: Fraction
    later: bool


@dataclass(frozen=True, slots=True)
class _Line:
    """What the phrases of a line have in common."""

    order: Order
    theme: Theme | None
    frame: Frame
    dice: Random


def short_line(order: Order, dice: Random) -> tuple[Sung, ...] | None:
    """One phrase of the lowest voice from the final to the last close, and its goal, as many bars as ordered
    in all; without a theme. None where the dice lead nowhere.

    >>> line = short_line(Order(1, bars=6), Random(3))
    >>> [note.pitch.letter for note in line][-1], sum(note.length for note in line)
    ('D', Fraction(24, 1))
    """
    signature = Signature.parse(order.form.signature)
    frame = Frame(signature, *(p.diatonic for p in WRITTEN[order.voices[-1]]))
    starts = [frame.pitch(s) for s in frame.steps if frame.pitch(s).letter == order.form.final]
    joint = Joint(dice.choice(starts), 0, Fraction(0), later=True)
    close = drawn_close(order, frame, order.form.close, dice, final=True)
    notes = _phrase(_Line(order, None, frame, dice), joint, close, order.bars - 1) if close else None
    if close is None or notes is None:
        return None
    return (*notes, close.before, Sung(close.goal, order.time.bar, PLAIN))


def continued(
    order: Order, theme: Theme, bars: int, dice: Random
) -> tuple[tuple[Sung, ...], tuple[tuple[Fraction, str], ...]] | None:
    """The line of the lowest voice after its entry, over so many bars and the last note; and when, in quarter
    notes from its beginning, it closes on which letters. None where a draw leads nowhere."""
    voice = order.voices[-1]
    signature = Signature.parse(order.form.signature)
    drawn = _Line(order, theme, _frame(order, theme, signature), dice)
    degrees = _degrees(order, bars, dice)
    entry = [Sung(p, length) for p, length in zip(theme.entries[voice], theme.lengths)]
    line = [*entry]
    closes: list[tuple[Fraction, str]] = []
    come = entry[-1].pitch.diatonic - entry[-2].pitch.diatonic
    joint = Joint(entry[-1].pitch, come, Fraction(0), later=False)
    time = Fraction(0)
    for n, (degree, length) in enumerate(zip(degrees, _lengths(bars, len(degrees), dice))):
        found = _chosen(drawn, joint, degree, length, line, final=n == len(degrees) - 1)
        if found is None:
            return None
        notes, close = found
        line += notes
        time += length * order.time.bar
        closes.append((time, degree))
        come = close.goal.diatonic - close.before.pitch.diatonic
        held = close.before.length if abs(come) == 1 else order.time.beat
        joint = Joint(close.goal, come, held, later=True)
    minor = Interval.between(joint.note, signature.pitch(joint.note.diatonic + 2)).semitones < 4
    long = order.time.bar * (2 if order.time.count % 2 == 0 and bars > 4 else 1)
    line.append(Sung(joint.note, long, PLAIN, raised=minor and len(order.voices) > 2))
    return tuple(line[len(entry) :]), tuple(closes)


def _chosen(
    line: _Line, joint: Joint, degree: str, bars: int, before: Sequence[Sung], *, final: bool
) -> tuple[tuple[Sung, ...], Close] | None:
    """A phrase with its close behind what was sung before, drawn again from several, the dull ones seldom."""
    order = line.order
    start = (len(order.voices) - 1) * (line.theme.duration if line.theme else Fraction(0))
    found, weights = [], []
    for _ in range(PHRASES):
        close = drawn_close(order, line.frame, degree, line.dice, final=final)
        notes = _phrase(line, joint, close, bars) if close else None
        if close is not None and notes is not None:
            phrase = (*notes, close.before)
            whole = (*before, *phrase, Sung(close.goal, order.time.beat))
            found.append((phrase, close))
            weights.append(math.exp(-dullness(whole, len(phrase) + 1, start, order.time)))
    return line.dice.choices(found, weights)[0] if found else None


def _frame(order: Order, theme: Theme, signature: Signature) -> Frame:
    """Where the line of the lowest voice moves: its written compass; of that, where it is a voice that shows
    whether the tone is authentic or plagal, the compass of the tone, if its entry lies there."""
    voice = order.voices[-1]
    low, high = (p.diatonic for p in WRITTEN[voice])
    if voice not in LEADING:
        return Frame(signature, low, high)
    sung = [p.diatonic for p in theme.entries[voice]]
    below, above = REACH["plagal" if order.tone % 2 == 0 else "authentic"]
    for final in range(Pitch.parse(f"{order.form.final}4").step, high + 1, 7):
        if final + below <= min(sung) and max(sung) <= final + above and final >= low:
            own = Frame(signature, max(low, final + below), min(high, final + above))
            return own if len(own.steps) >= ROOM else Frame(signature, low, high)
    return Frame(signature, low, high)


def _degrees(order: Order, bars: int, dice: Random) -> tuple[str, ...]:
    """Where the phrases close: as ordered, else on degrees of the tone, no two the same after one another."""
    if order.cadences:
        return (*order.cadences, order.form.close)
    count = 0 if bars <= 3 else 1 if bars <= 6 else 2 if bars <= 10 else bars // 5
    inner: list[str] = []
    for n in range(count):
        apart = {*inner[-1:], *([order.form.close] if n == count - 1 else [])}
        inner.append(dice.choice([d for d in order.form.cadences if d not in apart]))
    return (*inner, order.form.close)


def _lengths(bars: int, phrases: int, dice: Random) -> tuple[int, ...]:
    """Bars of each phrase, all about as long; the last one, with the final cadence, the longest."""
    found = [(bars - 1) // phrases] * phrases
    found[-1] += 1
    for _ in range(bars - sum(found)):
        found[dice.randrange(phrases)] += 1
    return tuple(found)


def _phrase(line: _Line, joint: Joint, close: Close, bars: int) -> tuple[Sung, ...] | None:
    """The notes of a phrase up to its close."""
    room = bars * line.order.time.bar - close.before.length
    rhythm = _rhythm(line.order, room, line.dice)
    if not rhythm:
        return None
    head, lengths = _sequence(line, joint, rhythm)
    rhythm = (*lengths, *_after(rhythm, sum(lengths, Fraction(0))))
    # What is held over is prepared by no passing eighth, and a close by step stands as long as it was led to.
    if rhythm[-1] < 1 or (joint.later and rhythm[0] < joint.held):
        return None
    steps = _led(line, joint, close, head, rhythm)
    if steps is None:
        return None
    pitches = [line.frame.pitch(step) for step in steps]
    sung = [joint.note, *pitches[joint.later :], close.before.pitch, close.goal]
    if not all(singable(a, b) for a, b in pairwise(sung)) or outlines_tritone(sung) or _dull(sung):
        return None
    first = PLAIN if joint.later else ""
    return tuple(Sung(p, length, "" if n else first) for n, (p, length) in enumerate(zip(pitches, rhythm)))


def _dull(sung: Sequence[Pitch]) -> bool:
    """Whether a phrase says a note three times, shuttles, says a turn of three notes twice at once, or leaps
    by a fourth and more twice in a row, or there and back over a note that is said again."""
    steps = [p.diatonic for p in sung]
    moves = [b - a for a, b in pairwise(steps) if a != b]
    if any(abs(a) > 2 and abs(b) > 2 for a, b in pairwise(moves[:-1])):
        return True
    thrice = any(steps[n] == steps[n + 1] == steps[n + 2] for n in range(len(steps) - 2))
    shuttle = any(steps[n : n + 2] == steps[n + 2 : n + 4] for n in range(len(steps) - 3))
    again = any(steps[n : n + 3] == steps[n + 3 : n + 6] for n in range(len(steps) - 5))
    return thrice or shuttle or again


def _rhythm(order: Order, room: Fraction, dice: Random) -> tuple[Fraction, ...] | None:
    """Lengths that fill a time: bars of the character, the last one the beginning of such a bar."""
    found: list[Fraction] = []
    while left := room - sum(found, Fraction(0)):
        fits = [(part, often) for bar, often in order.rhythms.bars if (part := _begins(bar, left))]
        if not fits:
            return None
        found += dice.choices([part for part, _ in fits], [often for _, often in fits])[0]
    return tuple(found)


def _begins(bar: Sequence[Fraction], length: Fraction) -> tuple[Fraction, ...]:
    """The notes of a bar that fill so much of its beginning, all of a bar that is no longer; none where a
    note goes on."""
    found: list[Fraction] = []
    for value in bar:
        if sum(found, Fraction(0)) < length:
            found.append(value)
    return tuple(found) if sum(found, Fraction(0)) <= length else ()


def _after(rhythm: Sequence[Fraction], length: Fraction) -> tuple[Fraction, ...]:
    """The lengths behind a time, a note that is cut there shortened."""
    time, found = Fraction(0), []
    for value in rhythm:
        if time + value > length:
            found.append(time + value - max(time, length))
        time += value
    return tuple(found)


def _sequence(
    line: _Line, joint: Joint, rhythm: Sequence[Fraction]
) -> tuple[tuple[int, ...], tuple[Fraction, ...]]:
    """Steps and lengths of the theme's head, or its mirror, once or in sequence, at the beginning of a
    phrase; none where there is no room, or as the dice have it."""
    dice, theme = line.dice, line.theme
    if theme is None:
        return (), ()
    head = theme.entries[line.order.voices[0]][: theme.head]
    lengths = theme.lengths[: theme.head]
    times = min(2, int((sum(rhythm, Fraction(0)) - 1) // sum(lengths, Fraction(0))))
    if not times or len(head) < 3 or dice.random() < FREE:
        return (), ()
    times = dice.randint(1, times)
    way, by = dice.choice((1, 1, -1)), dice.choice(SEQUENCES)
    start = joint.note.diatonic + (0 if joint.later else dice.choice((-1, 1, -2, 2, 0)))
    steps = tuple(start + by * n + way * (p.diatonic - head[0].diatonic) for n in range(times) for p in head)
    inside = all(line.frame.low <= step <= line.frame.high for step in steps)
    return (steps, lengths * times) if inside else ((), ())


def _led(
    line: _Line, joint: Joint, close: Close, head: Sequence[int], rhythm: Sequence[Fraction]
) -> tuple[int, ...] | None:
    """The steps of a phrase in a rhythm: those of the head, then drawn ones that lead to the close. The last
    one can bear the final of the close, which is then held over."""
    frame = line.frame
    fixed = list(head) or [joint.note.diatonic] * joint.later
    left = len(rhythm) - len(fixed)
    if left < 0:
        return None
    begun = [joint.note.diatonic, *fixed[joint.later :]]
    before = begun[-1] - begun[-2] if len(begun) > 1 else joint.come
    middle = (frame.low + frame.high) / 2
    above = len(line.order.voices) - 1

    def worth(note: int, step: int) -> float:
        near = MIDDLE if abs(step - middle) < 4 else OUTER
        return near * (note < left or bears(frame.pitch(step), close.goal, frame.signature, above))

    lengths = (rhythm[len(fixed) - 1] if fixed else Fraction(1), *rhythm[len(fixed) :], close.before.length)
    row = Row.of(lengths, "line", worth, before + WIDEST if abs(before) <= WIDEST else NO_MOVE)
    drawn = draw(frame, row, begun[-1], {close.before.pitch.diatonic: 1.0}, line.dice)
    return None if drawn is None else (*fixed, *drawn[1:-1])
