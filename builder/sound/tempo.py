"""Time: from quarter notes to seconds, as a player keeps it.

The map belongs to the verset, so all its versions keep the same time and may be exchanged while they
sound. Tempo changes are held in whole microseconds a quarter note, the unit of MIDI tempo events, so
that audio, page and MIDI agree exactly.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from builder.analysis import Analysis
from builder.music import Bar, Metre
from builder.source import Verset

GRID = Fraction(1, 2)
"""Quarter notes between two tempo changes while time bends."""


@dataclass(frozen=True, slots=True)
class Breathing:
    """How time bends; common practice, no source; our own numbers.

    `entry`: the beat before an entry is longer by this share. `cadence`: the last part of the final
    cadence is slower by this share, growing from the start of its formula; `inner`: the same at the
    cadences within. `final`: the last sonority is held so many times its written length.
    """

    entry: float = 0.06
    cadence: float = 0.22
    inner: float = 0.06
    final: float = 1.2


PLAYED = Breathing()
STRICT = Breathing(0.0, 0.0, 0.0, 1.0)
"""No bending at all."""


@dataclass(frozen=True)
class TempoMap:
    """Seconds for quarter notes. `steps`: where each tempo begins (quarter notes) and its length of a
    quarter note in microseconds.

    >>> steady = TempoMap(((Fraction(0), 500_000), (Fraction(4), 1_000_000)))
    >>> steady.seconds(Fraction(4)), steady.seconds(Fraction(5)), steady.quarters(2.5)
    (2.0, 3.0, 4.5)
    """

    steps: tuple[tuple[Fraction, int], ...]

    @cached_property
    def _starts(self) -> tuple[list[Fraction], list[Fraction]]:
        """Quarter notes and exact microseconds where each tempo begins."""
        quarters, micros, now = [], [], Fraction(0)
        for n, (start, _) in enumerate(self.steps):
            if n:
                before, length = self.steps[n - 1]
                now += (start - before) * length
            quarters.append(start)
            micros.append(now)
        return quarters, micros

    def seconds(self, quarter: Fraction) -> float:
        """When a place in the music is reached; the last tempo goes on past the end."""
        quarters, micros = self._starts
        n = max(0, bisect_right(quarters, quarter) - 1)
        return float(micros[n] + (quarter - quarters[n]) * self.steps[n][1]) / 1e6

    def quarters(self, seconds: float) -> float:
        """The place in the music reached after so many seconds."""
        quarters, micros = self._starts
        n = max(0, bisect_right(micros, seconds * 1e6) - 1)
        return float(quarters[n]) + (seconds * 1e6 - float(micros[n])) / self.steps[n][1]

    def bars(self, bars: Sequence[Bar]) -> tuple[tuple[int, float], ...]:
        """Number and start in seconds of each bar."""
        return tuple((bar.number, self.seconds(bar.onset)) for bar in bars)

    def beats(self, bars: Sequence[Bar], metre: Metre) -> tuple[float, ...]:
        """Start in seconds of every beat."""
        times = []
        for bar in bars:
            count = -(-bar.length // metre.beat)
            times += [self.seconds(bar.onset + n * metre.beat) for n in range(int(count))]
        return tuple(times)


def tempo_map(verset: Verset, analysis: Analysis | None = None, breathing: Breathing = PLAYED) -> TempoMap:
    """The time a verset keeps: its own beat, breathing at entries and broadening into cadences.

    Entries, cadences and the held final come from the analysis; without one, from the changes of
    voice in the given line and its last note. `STRICT` keeps the beat to the end.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> round(tempo_map(verset, breathing=STRICT).seconds(verset.end), 2)
    9.23
    """
    value, beats = verset.tempo
    plain = Fraction(60_000_000) / (value * beats)
    final = _final(verset, analysis)
    entries = _entries(verset, analysis)
    cadences = _cadences(verset, analysis, final, breathing)
    steps: list[tuple[Fraction, int]] = []
    now = verset.bars[0].onset
    while now < verset.end:
        stretch = _stretch(now, verset.metre.beat, entries, cadences, breathing)
        if now >= final:
            stretch = breathing.final * (1 + breathing.cadence)
        length = round(plain * Fraction(stretch).limit_denominator(10_000))
        if not steps or steps[-1][1] != length:
            steps.append((now, length))
        now += GRID
        if now - GRID < final < now:
            now = final
    return TempoMap(tuple(steps))


def _stretch(
    now: Fraction,
    beat: Fraction,
    entries: Sequence[Fraction],
    cadences: Sequence[tuple[Fraction, Fraction, float]],
    breathing: Breathing,
) -> float:
    """How many times longer a quarter note is here than by the plain beat."""
    stretch = 1.0
    if any(entry - beat <= now < entry for entry in entries):
        stretch += breathing.entry
    for start, close, share in cadences:
        if start <= now < close:
            stretch += share * float((now - start) / (close - start))
    return stretch


def _final(verset: Verset, analysis: Analysis | None) -> Fraction:
    """Where the last sonority, the one held, is struck: its last note in the given line, and so in
    its last bar."""
    sounding = [g.note.onset for g in verset.given if g.note.pitch is not None]
    last = max(sounding, default=verset.bars[-1].onset)
    if analysis is None:
        return last
    return max([last, *(c.onset for c in analysis.cadences if c.onset >= verset.bars[-1].onset)])


def _entries(verset: Verset, analysis: Analysis | None) -> tuple[Fraction, ...]:
    start = verset.bars[0].onset
    if analysis is not None:
        return tuple(e.onset for e in analysis.entries if e.onset > start)
    seen: list[str] = []
    found = []
    for g in verset.given:
        if g.note.pitch is not None and g.voice not in seen:
            seen.append(g.voice)
            found.append(g.note.onset)
    return tuple(onset for onset in found if onset > start)


def _cadences(
    verset: Verset, analysis: Analysis | None, final: Fraction, breathing: Breathing
) -> tuple[tuple[Fraction, Fraction, float], ...]:
    """Start, close and share of each broadening; the last grows with nothing after it."""
    cadences = [] if analysis is None else [c for c in analysis.cadences if c.start < c.onset]
    found = [(c.start, c.onset, breathing.inner) for c in cadences if c.onset < final]
    closing = [c.start for c in cadences if c.onset >= final]
    start = min(closing, default=max(verset.bars[0].onset, final - verset.metre.bar))
    if start < final:
        found.append((start, final, breathing.cadence))
    return tuple(found)
