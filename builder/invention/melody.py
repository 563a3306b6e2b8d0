"""Lines drawn note by note: the chance of each move is learned, the beginning and the end are given, and what
no voice sings is left out. A pass backwards sums what every note may still lead to, a pass forwards draws."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np

from builder.music import Interval, Pitch, Signature

WIDEST = 7
MOVES = tuple(range(-WIDEST, WIDEST + 1))
"""Staff steps that a line may move: up to an octave."""
NO_MOVE = len(MOVES)
"""Stands for the move before the first note."""
Array = np.ndarray[Any, np.dtype[np.float64]]


@cache
def learned() -> Mapping[str, Any]:
    """The counts and weights of `learned/palestrina.json`; `tests/bench/learn_inventions.py` makes it."""
    text = (files("builder.invention") / "learned" / "palestrina.json").read_text("utf-8")
    found: Mapping[str, Any] = json.loads(text)
    return found


@cache
def chances(kind: str) -> Array:
    """The chance of each move after each move, smoothed towards what follows any: `themes` (the first notes
    after a rest) or `line` (lowest voices). Shape: moves before (the last row: none) by moves.

    >>> chances("line").shape
    (16, 15)
    """
    counts = np.zeros((NO_MOVE + 1, len(MOVES)))
    for key, n in learned()["moves"][kind].items():
        before, after = key.split(",")
        row = NO_MOVE if before == "none" else int(before) + WIDEST
        counts[row, int(after) + WIDEST] = n
    base = (counts.sum(axis=0) + 0.5) / (counts.sum() + 0.5 * len(MOVES))
    found: Array = (counts + 6 * base) / (counts.sum(axis=1, keepdims=True) + 6)
    return found


def singable(start: Pitch, end: Pitch) -> bool:
    """Whether a voice may move so: no tritone, no seventh, no sixth but the rising minor one, no augmented or
    diminished interval, nothing wider than an octave (Zarlino, *Istitutioni harmoniche*, 1558, book III; from
    memory).

    >>> p = Pitch.parse
    >>> [singable(p("A3"), p(end)) for end in ("F4", "C#3", "D4", "G4")]
    [True, False, True, False]
    """
    move = Interval.between(start, end)
    size, rising = abs(move.steps), move.steps > 0
    if move.quality.startswith(("A", "d")) or size > WIDEST or size == 6:
        return False
    return size != 5 or (rising and move.quality == "m")


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a line moves: the signature, and the lowest and highest staff step."""

    signature: Signature
    low: int
    high: int

    @property
    def steps(self) -> range:
        return range(self.low, self.high + 1)

    def pitch(self, step: int) -> Pitch:
        return self.signature.pitch(step)


@cache
def moves_in(frame: Frame) -> Array:
    """1 where a voice may move from a step (row) by a move (column), else 0.

    >>> bottom = moves_in(Frame(Signature(), 28, 35))[0]
    >>> [move for move, may in zip(MOVES, bottom) if may]
    [0, 1, 2, 3, 4, 7]
    """
    found = np.zeros((len(frame.steps), len(MOVES)))
    for row, step in enumerate(frame.steps):
        for column, move in enumerate(MOVES):
            end = step + move
            if frame.low <= end <= frame.high and singable(frame.pitch(step), frame.pitch(end)):
                found[row, column] = 1
    return found


@dataclass(frozen=True, slots=True)
class Row:
    """A row of notes to be drawn: how wide each may be reached (staff steps), the chances of moves, what each
    step is worth at each note, and the move that leads to the first note (`NO_MOVE`: none)."""

    widest: tuple[int, ...]
    chances: Array
    worth: Callable[[int, int], float]
    before: int = NO_MOVE

    @property
    def count(self) -> int:
        """How many notes."""
        return len(self.widest)

    @classmethod
    def of(
        cls,
        lengths: Sequence[Fraction],
        kind: str,
        worth: Callable[[int, int], float],
        before: int = NO_MOVE,
    ) -> Row:
        """A row in a rhythm (quarter notes): what is shorter than a quarter is reached and left by step.

        >>> Row.of([Fraction(1), Fraction(1, 2), Fraction(2)], "line", lambda note, step: 1.0).widest
        (7, 1, 1)
        """
        short = [length < 1 for length in lengths]
        widest = (1 if n and (short[n] or short[n - 1]) else WIDEST for n in range(len(lengths)))
        return cls(tuple(widest), chances(kind), worth, before)


@dataclass(frozen=True, slots=True)
class Ways:
    """All ways from any step to the ends of a row: `onward` has for each note, by the move that led to it and
    its step, what the ways on from it weigh together."""

    frame: Frame
    row: Row
    ends: Mapping[int, float]
    onward: tuple[Array, ...]

    @classmethod
    def to(cls, frame: Frame, row: Row, ends: Mapping[int, float]) -> Ways | None:
        """The ways to one of `ends` (staff steps, each with its chance); None where there is none."""
        onward = _onward(frame, row, ends)
        return None if onward is None else cls(frame, row, ends, tuple(onward))

    def path(self, start: int, dice: Random, head: Sequence[int] = ()) -> tuple[int, ...] | None:
        """Staff steps from `start` to an end, the moves of `head` first; None where no way leads there."""
        path, before = [start], self.row.before
        for note in range(1, self.row.count):
            weights = self._weights(note, path[-1], before)
            if note <= len(head):
                asked = head[note - 1] + WIDEST
                weights = [w if k == asked else 0.0 for k, w in enumerate(weights)]
            if not sum(weights):
                return None
            before = dice.choices(range(len(MOVES)), weights)[0]
            path.append(path[-1] + MOVES[before])
        return tuple(path) if path[-1] in self.ends else None

    def _weights(self, note: int, step: int, before: int) -> list[float]:
        """What each move to a note weighs, from a step that was reached by a move."""
        here, row = step - self.frame.low, self.row
        there = here + np.array(MOVES)
        inside = (there >= 0) & (there < len(self.frame.steps)) & (abs(np.array(MOVES)) <= row.widest[note])
        on = self.onward[note][range(len(MOVES)), np.where(inside, there, 0)]
        weights = inside * moves_in(self.frame)[here] * row.chances[before] * on
        return [float(w) for w in weights]


def draw(
    frame: Frame, row: Row, start: int, ends: Mapping[int, float], dice: Random
) -> tuple[int, ...] | None:
    """Staff steps of a row of notes from `start` to one of `ends` (with its chance); None where no way leads
    there.

    >>> from random import Random
    >>> frame = Frame(Signature(), 28, 35)
    >>> draw(frame, Row.of([Fraction(1)] * 4, "line", lambda note, step: 1.0), 28, {31: 1.0}, Random(1))[-1]
    31
    """
    ways = Ways.to(frame, row, ends)
    return None if ways is None else ways.path(start, dice)


def _onward(frame: Frame, row: Row, ends: Mapping[int, float]) -> list[Array] | None:
    """For each note, by the move that led to it and its step: what all ways on from it weigh together."""
    size = len(frame.steps)
    allowed = moves_in(frame)
    last = np.array([ends.get(step, 0.0) for step in frame.steps])
    found = [np.tile(last, (NO_MOVE + 1, 1))]
    for note in range(row.count - 2, -1, -1):
        after = found[-1]
        total = np.zeros((NO_MOVE + 1, size))
        for k, move in enumerate(MOVES):
            if abs(move) > row.widest[note + 1] or abs(move) >= size:
                continue
            target = np.zeros(size)
            low, high = max(0, -move), min(size, size - move)
            target[low:high] = after[k, low + move : high + move]
            total += row.chances[:, k : k + 1] * (allowed[:, k] * target)[None, :]
        worth = np.array([row.worth(note, step) for step in frame.steps])
        total *= worth[None, :]
        most = total.max()
        if not most:
            return None
        found.append(total / most)
    found.reverse()
    return found


def outlines_tritone(pitches: Sequence[Pitch]) -> bool:
    """Whether a line runs one way from one end of a tritone to the other and turns there.

    >>> outlines_tritone([Pitch.parse(name) for name in "F4 G4 A4 B4 A4".split()])
    True
    """
    turns = [0]
    for n in range(1, len(pitches) - 1):
        ways = [pitches[n].midi - pitches[n - 1].midi, pitches[n + 1].midi - pitches[n].midi]
        if ways[0] * ways[1] < 0:
            turns.append(n)
    turns.append(len(pitches) - 1)
    spans = (Interval.between(pitches[a], pitches[b]) for a, b in pairwise(turns))
    return any(span.name in ("A4", "d5", "A-4") or abs(span.semitones) == 6 for span in spans)
