"""What must stay as it is in each voice, at a level: where no note may begin that does not, and which pitch
sounds there."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from fractions import Fraction

from builder.analysis import Analysis
from builder.diminution.hearing import struck_against
from builder.diminution.weave import Tone, Weave

Pins = Iterable[tuple[str, Fraction, Fraction]]


class Still:
    """For each voice and tick whether it must stay."""

    def __init__(self, weave: Weave) -> None:
        self.weave = weave
        self.rows = [bytearray(weave.size) for _ in weave.voices]

    def mark(self, voice: int, start: int, end: int) -> None:
        end = min(end, self.weave.size)
        self.rows[voice][start:end] = b"\x01" * max(0, end - start)

    def all_but(self, free: Iterable[tuple[int, int, int]]) -> Still:
        """The same, and all that lies outside some stretches (voices and ticks) too."""
        found = Still(self.weave)
        found.rows = [bytearray(b"\x01" * self.weave.size) for _ in self.rows]
        for voice, start, end in free:
            found.rows[voice][start:end] = self.rows[voice][start:end]
        return found

    def whole(self, voice: int, start: int, end: int) -> bool:
        """Whether nothing may move in a stretch."""
        return all(self.rows[voice][start:end])

    def none(self, voice: int, start: int, end: int) -> bool:
        """Whether all may move in a stretch."""
        return not any(self.rows[voice][start:end])

    def bound(
        self, voice: int, start: int, end: int, onsets: Iterable[int]
    ) -> tuple[list[int], dict[int, int]] | None:
        """Onsets as they may be, and the pitches that are bound; None where a voice rests that must stay."""
        weave, row = self.weave, self.rows[voice]
        if not any(row[start:end]):
            return sorted(onsets), {}
        own = {t.start: t.d for t in weave.inside(voice, start, end)}
        found = {x for x in onsets if not row[x] or x in own} | {start}
        must: dict[int, int] = {}
        for x, d in own.items():
            if row[x]:
                found.add(x)
                must[x] = d
            elif x > 0 and row[x - 1]:
                # What stays is not held on beyond its end.
                found.add(x)
        ordered = sorted(found)
        for t in range(start, end):
            if row[t] and (t == start or not row[t - 1]):
                if weave.d[voice][t] < 0:
                    return None
                last = max(x for x in ordered if x <= t)
                if must.setdefault(last, weave.d[voice][t]) != weave.d[voice][t]:
                    return None
        return ordered, must


Held = tuple[int, Tone, Tone, int]
"""A suspension: its voice, the note, the note it falls to, and the tick at which it is struck."""


def held(weave: Weave) -> list[Held]:
    """The suspensions in the voices as they stand."""
    found = []
    for v, row in enumerate(weave.tones):
        for a, b in itertools.pairwise(row):
            if a.end == b.start and b.d - a.d == -1:
                strike = struck_against(weave, v, a)
                if strike is not None:
                    found.append((v, a, b, strike))
    return found


def still_in_voices(weave: Weave, analysis: Analysis, given: Sequence[int], pins: Pins) -> Still:
    """Level 1: the given line, entries of the theme, what is set by hand, and the suspensions and clausulae
    of the plain setting stay."""
    still = _plain(weave, analysis, pins)
    for t, v in enumerate(given):
        if v >= 0:
            still.rows[v][t] = 1
    for v, a, b, strike in held(weave):
        still.mark(v, max(a.start, strike - weave.unit), b.start + (b.end - b.start + 1) // 2)
    return still


def still_in_diminution(
    weave: Weave,
    analysis: Analysis,
    given: Sequence[int],
    pins: Pins,
    line: bool,
    plain: Sequence[Held],
) -> Still:
    """Levels 2 and 3: entries of the theme and what is set by hand stay; a suspension until half of it has
    sounded, what is struck against it until it has fallen; a given note begins on its onset and is heard, and
    is held where a cadence is under way. `line`: whether the given line moves at all; `plain`: the
    suspensions of the plain setting."""
    still = _plain(weave, analysis, pins)
    half = weave.unit // 2
    for v, row in enumerate(weave.tones):
        for tone in row:
            if given[tone.start] == v:
                moves = line and not any(
                    weave.tick(c.start) <= tone.start < weave.tick(c.onset) for c in analysis.cadences
                )
                still.mark(v, tone.start, tone.start + half if moves else tone.end)
    for v, a, b, strike in (*plain, *held(weave)):
        still.mark(v, strike - half, strike + (a.end - strike + 1) // 2)
        still.mark(v, b.start, b.start + 1)
        for w in range(len(weave.voices)):
            if w != v and weave.on[w][strike] == strike:
                end = weave.tones[w][weave.place(w, strike)].end
                still.mark(w, strike, min(end, a.end))
    return still


def _plain(weave: Weave, analysis: Analysis, pins: Pins) -> Still:
    still = kept(weave, analysis, pins)
    for v, a, b in leading(weave, analysis):
        still.mark(v, a.start, b.start + 1)
    close = max((t.start for row in weave.tones for t in row[-1:]), default=0)
    for v in range(len(weave.voices)):
        still.mark(v, close, weave.size)
    return still


def kept(weave: Weave, analysis: Analysis, pins: Pins) -> Still:
    """Entries of the theme, and what is set by hand."""
    still = Still(weave)
    for entry in analysis.entries:
        if entry.voice in weave.voices:
            still.mark(weave.voices.index(entry.voice), weave.tick(entry.onset), weave.tick(entry.end))
    for voice, start, end in pins:
        still.mark(weave.voices.index(voice), max(0, weave.tick(start)), weave.tick(end))
    return still


def leading(weave: Weave, analysis: Analysis) -> list[tuple[int, Tone, Tone]]:
    """The leading note of each cadence and the final it rises to, in a voice above the lowest: a semitone, in
    the cadence on mi a tone."""
    closes = {weave.tick(c.onset): 2 if c.kind == "mi" else 1 for c in analysis.cadences}
    found = []
    for v, row in enumerate(weave.tones):
        for a, b in itertools.pairwise(row):
            rise = closes.get(b.start)
            if rise is None or a.end != b.start or b.d - a.d != 1 or b.m - a.m != rise:
                continue
            t = a.end - 1
            if any(0 <= m[t] < a.m for m in weave.m):
                found.append((v, a, b))
    return found
