"""What the figures ask for at each tick, and how each letter is sung there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

from builder.counterpoint.figured_bass.events import Event
from builder.diminution.weave import SILENT, Weave
from builder.music.pitch import SEMITONES

NEAR = 2
"""Quarters within which an altered note and its natural do not both sound (common practice)."""


@cache
def natural(d: int) -> int:
    return 12 * (d // 7 + 1) + SEMITONES[d % 7]


@cache
def bit(d: int, m: int) -> int:
    """A letter with its alteration, in any octave, as one bit."""
    return 1 << (d % 7 * 5 + m - natural(d) + 2)


@dataclass(slots=True)
class Asked:
    """One sonority: its ticks, the tones it must have for one to four voices above (each a choice of
    sets), and the tones it may have."""

    start: int
    end: int
    need: list[list[list[int]]]
    may: int
    best: int
    checked: bool
    voices: tuple[int, ...]


@dataclass(slots=True)
class Harmony:
    """`may` and `best`: the tones that a sonority may have, and has at its plainest, at each tick (bits);
    0 where the line passes. `alter`: for each tick and letter its alteration, or None where the voices
    around leave no good one."""

    asked: list[Asked]
    may: list[int]
    best: list[int]
    alter: list[list[int | None]]
    number: list[int] = field(default_factory=list)
    """Which sonority is in force at each tick (-1: none)."""

    def lacking(self, weave: Weave, one: Asked, without: int = -1) -> list[int]:
        """The tones that a sonority still lacks (bits), when a voice is left out."""
        there = 0
        count = 0 if without < 0 or without not in one.voices else 1
        for v in one.voices:
            if v == without:
                continue
            heard = _heard(weave, v, one.start, one.end)
            there |= heard
            count += bool(heard)
        if not count:
            return []
        choices = one.need[min(count, 4) - 1]
        return min(([n for n in need if not n & there] for need in choices), key=len, default=[])

    def uncovered(self, weave: Weave, start: int, end: int) -> bool:
        """Whether a figure between two ticks is not sounded."""
        return any(
            one.checked and self.lacking(weave, one)
            for one in self.asked
            if one.start < end and one.end > start
        )


def _heard(weave: Weave, voice: int, start: int, end: int) -> int:
    d, m, on = weave.d[voice], weave.m[voice], weave.on[voice]
    found, t = 0, start
    while t < end:
        if d[t] != SILENT:
            found |= bit(d[t], m[t])
        begun = on[t]
        t += 1
        while t < end and on[t] == begun:
            t += 1
    return found


def harmony(weave: Weave, cut: Sequence[Event]) -> Harmony:
    """The sonorities of a plain setting, laid over its ticks."""
    may, best, number = [0] * weave.size, [0] * weave.size, [-1] * weave.size
    asked: list[Asked] = []
    for event in cut:
        start, end = weave.tick(event.onset), weave.tick(event.end)
        if event.hold:
            continue
        one = _asked(weave, event, start, end)
        number[start:end] = [len(asked)] * (end - start)
        asked.append(one)
        may[start:end] = [one.may] * (end - start)
        best[start:end] = [one.best] * (end - start)
    return Harmony(asked, may, best, _alters(weave, best), number)


def _asked(weave: Weave, event: Event, start: int, end: int) -> Asked:
    def tone(number: int, alter: int) -> int:
        return 1 << ((event.bass.diatonic + (number - 1) % 7) % 7 * 5 + alter + 2)

    own = 1 << (event.bass.step * 5 + event.bass.alter + 2)
    need: list[list[list[int]]] = []
    for voices in range(1, 5):
        rows = []
        for variant in event.variants:
            must = variant.must(voices)
            rows.append([tone(m.number, m.alter) for m in variant.members if m.number in must])
        need.append(rows)
    may = best = own
    plainest = min((v.price for v in event.variants), key=lambda p: (bool(p), p), default="")
    for variant in event.variants:
        for m in variant.members:
            may |= tone(m.number, m.alter)
            if variant.price == plainest:
                best |= tone(m.number, m.alter)
    above = tuple(weave.voices.index(v) for v in event.upper)
    return Asked(start, end, need, may, best, event.figure is not None, above)


def _alters(weave: Weave, best: list[int]) -> list[list[int | None]]:
    """A letter is sung as the sonority has it; else as the voices around have it; where they have it both
    ways not at all; else as the signature has it."""
    reach = NEAR * weave.unit
    near = [[0] * 7 for _ in range(weave.size)]
    now = [[0] * 7 for _ in range(weave.size)]
    for row in weave.tones:
        for a, b, d, m in row:
            mark, letter = 1 << (m - natural(d) + 2), d % 7
            for t in range(max(0, a - reach), min(weave.size, b + reach)):
                near[t][letter] |= mark
            for t in range(a, b):
                now[t][letter] |= mark
    signature = [weave.score.signature.alter(k) for k in range(7)]
    found: list[list[int | None]] = []
    known: dict[tuple[int, ...], list[int | None]] = {}
    for t in range(weave.size):
        key = (*now[t], *near[t], best[t])
        if key not in known:
            known[key] = [
                _alter(now[t][k], near[t][k], best[t] >> (5 * k) & 31, signature[k]) for k in range(7)
            ]
        found.append(known[key])
    return found


def _alter(now: int, near: int, member: int, signature: int) -> int | None:
    marks = now or (member if near & member or not near else 0) or near or 1 << (signature + 2)
    if marks & (marks - 1):
        return None
    alter = marks.bit_length() - 3
    if near & ~marks:
        return None
    return alter
