"""The loop: a change is proposed, heard in the whole, checked, and kept or refused, while the search
cools."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Sequence
from math import log
from random import Random
from typing import NamedTuple

from builder.counterpoint import Finding
from builder.counterpoint.check.judge import Checked
from builder.diminution.draw import LEGAL
from builder.diminution.gate import Gate, warnings, warns
from builder.diminution.harmony import NEAR, Harmony
from builder.diminution.hearing import Energy
from builder.diminution.spots import Spots
from builder.diminution.weave import SILENT, Change, Tone, Weave, changed
from builder.music.consonance import clash, consonant

TOGETHER = 8
"""Changes that are checked together."""
Proposal = Callable[[], "list[Change] | None"]


class _Pending(NamedTuple):
    """Changes that are made but not yet checked, those that take them back, and what warnings may cost."""

    changes: tuple[Change, ...]
    back: tuple[Change, ...]
    allowance: float

    def reaches(self, tick: int, far: int) -> bool:
        """Whether something at a tick may be due to it."""
        return any(c.start - far <= tick < c.end + far for c in self.changes)

    def near(self, changes: Sequence[Change], far: int) -> bool:
        """Whether other changes come so close that what is found there may be due to either."""
        return any(c.start <= d.end + far and d.start <= c.end + far for c in self.changes for d in changes)


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
        self.price = 2.6
        """Of a warning."""
        self.tried = self.kept = self.checked = 0
        self.pending: list[_Pending] = []
        self.apart = 2 * weave.unit
        """Ticks within which a finding is due to a change."""
        self.harsh = harsh(weave, 0, weave.size)
        self.unsung = {two for v in range(len(weave.voices)) for two in unsung(weave, v, 0, weave.size)}
        self.gaps = {gap for v in range(len(weave.voices)) for gap in _gaps(weave, v, 0, weave.size)}

    def spots(self, voice: int, start: int, end: int) -> Spots:
        """Where a voice may sing between two ticks, all that it has there left out."""
        return Spots(self.weave, self.harmony, voice, self.given, (start, end))

    def offer(
        self, changes: Sequence[Change], heat: float, gain: float = 0.0, *, at_once: bool = False
    ) -> bool:
        """Make changes and keep them, if the whole is the better for it (or not much worse while it is hot)
        and no rule is broken. `gain` is added to what the change is worth.

        The check looks at several changes together, and what it refuses is taken back by `settle`. With
        `at_once` it looks now, and the answer is final.
        """
        self.tried += 1
        if (at_once or self.full) and self.settle():
            # What it was drawn for is no longer there.
            return False
        weave = self.weave
        back = changed(weave, changes)
        if any(
            self._two_ways(c)
            or not self._rests_well(c)
            or not self.unsung.issuperset(unsung(weave, c.voice, c.start, c.end))
            or not harsh(weave, c.start, c.end) <= self.harsh
            or self.harmony.uncovered(weave, c.start, c.end)
            for c in changes
        ):
            changed(weave, back)
            return False
        new = self.energy(weave)
        # What the change may cost, its warnings with it.
        allowance = gain - heat * log(max(self.dice.random(), 1e-12)) - (new - self.now)
        # The check may add warnings, never take more away than there are: what is hopeless is not checked.
        if allowance < -self.price * self.warned:
            changed(weave, back)
            return False
        self.pending.append(_Pending(tuple(changes), tuple(back), allowance))
        self.now = new
        if at_once:
            return not self.settle()
        return True

    @property
    def full(self) -> bool:
        """Whether as many changes wait as are checked together."""
        return len(self.pending) >= TOGETHER

    def settle(self) -> int:
        """Put the changes that wait to the check, take back what it refuses; how many those were."""
        if not self.pending:
            return 0
        refused = 0
        while self.pending:
            self.checked += 1
            found = self.gate.whole(self.weave)
            bad = self._refused(found)
            if not bad:
                self.found, self.warned = found, warnings(found.findings)
                break
            for one in bad:
                changed(self.weave, one.back)
            refused += len(bad)
            self.pending = [one for one in self.pending if one not in bad]
            self.now = self.energy(self.weave)
        self.kept += len(self.pending)
        self.pending = []
        return refused

    def _refused(self, found: Checked) -> list[_Pending]:
        """The changes, the last first, that brought an error, or warnings that they are not worth, and what
        was built upon them; all, when it cannot be said which."""
        errors = self.gate.new_errors(found.findings)
        if len(self.pending) == 1:
            one = self.pending[0]
            more = warnings(found.findings) - self.warned
            return self.pending if errors or self.price * more > one.allowance else []
        new = self._more(found.findings)
        bad: list[_Pending] = []
        for one in reversed(self.pending):
            if any(one.near(b.changes, self.apart) for b in bad):
                continue
            wrong = any(one.reaches(tick, self.apart) for tick in (self.weave.tick(f.onset) for f in errors))
            cost = self.price * sum(n for tick, n in new.items() if one.reaches(tick, self.apart))
            if wrong or cost > one.allowance:
                bad.append(one)
        if errors and not bad:
            bad = self.pending
        lost: list[_Pending] = []
        for one in self.pending:
            if one in bad or any(one.near(b.changes, 0) for b in lost):
                lost.append(one)
        return lost[::-1]

    def _more(self, findings: Sequence[Finding]) -> Counter[int]:
        """How many more warnings there are than at the last check, by tick (fewer: less than nothing)."""
        count = Counter(self.weave.tick(f.onset) for f in findings if warns(f))
        count.subtract(self.weave.tick(f.onset) for f in self.found.findings if warns(f))
        return count

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
        return not any(
            _echoes(self.weave, gap)
            for v in range(len(self.weave.voices))
            for gap in _gaps(self.weave, v, change.start - unit, change.end + unit)
            if gap not in self.gaps
        )


def harsh(weave: Weave, start: int, end: int) -> set[tuple[int, Tone]]:
    """Notes that begin in a stretch, or beside it, in dissonance with the lowest note, reached and left by
    leap or rest: their voices' numbers with them. A figure of the source may ask for one.

    >>> from builder.counterpoint.rules.example import example
    >>> weave = Weave(example("cantus B4/2 D5/2 B4/2\\ntenor G4/2 E4/2 G4/2"))
    >>> [tone.start for _, tone in harsh(weave, 0, weave.size)]
    [8]
    """
    found = set()
    for v, row in enumerate(weave.tones):
        for k in range(max(0, weave.place(v, start) - 1), min(len(row), weave.place(v, end) + 1)):
            t, stop, d, m = row[k]
            low, own = min((ms[t], ds[t]) for ms, ds in zip(weave.m, weave.d) if ms[t] != SILENT)
            if m == low or not clash(d, m, own, low, low):
                continue
            came = k and row[k - 1].end == t and abs(row[k - 1].d - d) <= 1
            goes = k + 1 < len(row) and row[k + 1].start == stop and abs(row[k + 1].d - d) <= 1
            if not (came or goes):
                found.add((v, row[k]))
    return found


def unsung(weave: Weave, voice: int, start: int, end: int) -> list[tuple[Tone, Tone]]:
    """Moves of a voice that it may not sing, within a stretch and at both ends of it: the notes that they
    join. What is drawn joins well to what stands; what is set in whole need not.

    >>> from builder.counterpoint.rules.example import example
    >>> weave = Weave(example("cantus F4/2 B4/2 C5/2\\ntenor D4/2 D4/2 C4/2"))
    >>> [(a.start, b.start) for a, b in unsung(weave, 0, 8, 16)]
    [(0, 8)]
    """
    row = weave.tones[voice]
    beside = row[max(0, weave.place(voice, start) - 1) : weave.place(voice, end) + 1]
    return [
        (a, b)
        for a, b in itertools.pairwise(beside)
        if a.end == b.start and (b.d - a.d, b.m - a.m) not in LEGAL
    ]


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


def _echoes(weave: Weave, gap: _Gap) -> bool:
    """Whether a voice comes back from a rest on the perfect consonance with another voice on which it left
    off, both on other notes: the ear joins the two."""
    v, start, end, _, _ = gap
    for w in range(len(weave.voices)):
        old, new = weave.m[w][start - 1], weave.m[w][end]
        if w == v or SILENT in (old, new) or old == new:
            continue
        size = abs(weave.m[v][start - 1] - old) % 12
        if size in (0, 7) and abs(weave.m[v][end] - new) % 12 == size:
            return True
    return False


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
