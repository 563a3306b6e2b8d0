"""The loop: a change is proposed, heard in the whole, checked, and kept or refused, while the search
cools."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from math import log
from random import Random

from builder.diminution.gate import Gate, warnings
from builder.diminution.harmony import NEAR, Harmony
from builder.diminution.hearing import Energy
from builder.diminution.spots import Spots
from builder.diminution.weave import SILENT, Change, Weave, changed
from builder.music.consonance import consonant

Proposal = Callable[[], "list[Change] | None"]


class Search:
    """Changes one weave. A change that leaves a figure unsounded, or that the check finds a new error in, is
    never kept."""

    def __init__(
        self, weave: Weave, harmony: Harmony, gate: Gate, given: list[int], energy: Energy, dice: Random
    ) -> None:
        self.weave, self.harmony, self.gate = weave, harmony, gate
        self.given, self.energy, self.dice = given, energy, dice
        self.found = gate.whole(weave)
        self.warned = warnings(self.found.findings)
        self.now = energy(weave)
        self.price = 1.2
        """Of a warning."""
        self.tried = self.kept = self.checked = 0
        self.gaps = {gap for v in range(len(weave.voices)) for gap in _gaps(weave, v, 0, weave.size)}

    def spots(self, voice: int, start: int, end: int) -> Spots:
        """Where a voice may sing between two ticks, all that it has there left out."""
        return Spots(self.weave, self.harmony, voice, self.given, (start, end))

    def offer(self, changes: Sequence[Change], heat: float, gain: float = 0.0) -> bool:
        """Make changes and keep them, if the whole is the better for it (or not much worse while it is hot)
        and no rule is broken. `gain` is added to what the change is worth."""
        self.tried += 1
        weave = self.weave
        back = changed(weave, changes)
        if any(
            self._two_ways(c) or not self._rests_well(c) or self.harmony.uncovered(weave, c.start, c.end)
            for c in changes
        ):
            changed(weave, back)
            return False
        new = self.energy(weave)
        worse = new - self.now - gain
        # The check may add warnings, never take more away than there are: what is hopeless is not checked.
        allowance = -heat * log(max(self.dice.random(), 1e-12))
        if worse - self.price * self.warned > allowance:
            changed(weave, back)
            return False
        self.checked += 1
        found = self.gate.after(self.found, weave, changes)
        warned = warnings(found.findings)
        if worse + self.price * (warned - self.warned) > allowance or self.gate.new_errors(found.findings):
            changed(weave, back)
            return False
        self.found = found
        self.now, self.warned = new, warned
        self.kept += 1
        return True

    def _two_ways(self, change: Change) -> bool:
        """Whether a change brings a letter within two quarters of another form of it."""
        weave, reach = self.weave, NEAR * self.weave.unit
        if not change.tones:
            return False
        low, high = change.start - reach, change.end + reach
        beside = [
            t
            for v in range(len(weave.voices))
            for t in weave.tones[v][max(0, weave.place(v, low) - 1) : weave.place(v, high)]
        ]
        return any(
            a.d % 7 == b.d % 7
            and (a.m - b.m) % 12 > 0
            and a.start < b.end + reach
            and b.start < a.end + reach
            for a in change.tones
            for b in beside
        )

    def _rests_well(self, change: Change) -> bool:
        """A rest is at least a half note long, on quarters, with no short note before or after it."""
        unit = self.weave.unit
        for gap in _gaps(self.weave, change.voice, change.start - unit, change.end + unit):
            if gap in self.gaps:
                continue
            _, start, end, before, after = gap
            if end - start < 2 * unit or start % unit or end % unit or before < unit or after < unit:
                return False
            if not _agrees(self.weave, change.voice, end):
                return False
        return True


def _agrees(weave: Weave, voice: int, time: int) -> bool:
    """Whether what a voice sounds at a time agrees with the lowest note: out of a rest nothing prepares a
    dissonance."""
    sounding = [
        t
        for row in weave.tones
        for t in row[max(0, bisect_right(row, time, key=lambda t: t.start) - 1) :][:1]
    ]
    sounding = [t for t in sounding if t.start <= time < t.end]
    own = next((t for t in weave.tones[voice] if t.start <= time < t.end), None)
    if own is None or not sounding:
        return True
    low = min(sounding, key=lambda t: t.m)
    return consonant(own.d - low.d, own.m - low.m)


_Gap = tuple[int, int, int, int, int]
"""Voice, ticks from and to, length of the note before and after."""


def _gaps(weave: Weave, voice: int, start: int, end: int) -> list[_Gap]:
    row = weave.tones[voice]
    first, last = max(0, weave.place(voice, start) - 1), weave.place(voice, end + 1) + 1
    return [
        (voice, a.end, b.start, a.end - a.start, b.end - b.start)
        for a, b in zip(row[first:last], row[first + 1 : last])
        if a.end < b.start
    ]


def cooling(steps: int, hot: float, cold: float) -> list[float]:
    """Temperatures from hot to cold, each the same part of the one before."""
    if steps < 2:
        return [cold] * steps
    factor = (cold / hot) ** (1 / (steps - 1))
    return [hot * factor**k for k in range(steps)]


def rests(weave: Weave, voice: int, start: int, end: int) -> bool:
    """Whether a voice is silent somewhere in a stretch."""
    return SILENT in weave.d[voice][start:end]
