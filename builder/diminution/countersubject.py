"""The countersubject: what the voice that has just had the theme sings to the next entry, the same each
time."""

from __future__ import annotations

import itertools
from dataclasses import replace

from builder.analysis import Entry
from builder.diminution.draw import draw, frame
from builder.diminution.harmony import natural
from builder.diminution.search import Search, rests
from builder.diminution.spots import Spot, Spots, Table
from builder.diminution.statements import Sung
from builder.diminution.weave import Change, Tone
from builder.plan import Countersubject, Plan


class WithCountersubject(Sung):
    """Lines with a countersubject among them."""

    def countersubject(self, plan: Plan, tries: int = 24) -> tuple[Countersubject, ...]:
        """What the voice that has just had the theme sings to the next entry, the same at each entry where it
        can be; where it is."""
        windows = self.windows()
        done: set[int] = set()
        for a, b in self.common(windows) if len(windows) > 1 else ():
            best: tuple[float, list[list[Change]]] | None = None
            for _ in range(tries):
                found = self.tried(windows, a, b)
                if found and (best is None or found[0] < best[0]):
                    best = found
            if best is None:
                continue
            for window, changes in zip(windows, best[1]):
                if self.settle(changes, window[1] + a, window[1] + b):
                    self.still.mark(window[0], window[1] + a, window[1] + b)
                    done.add(window[1])
        kept = [c for c in plan.countersubject if self.weave.tick(c.start) in done]
        if len(kept) < 2:
            return ()
        return tuple(replace(c, first=n == 0) for n, c in enumerate(kept))

    def windows(self) -> list[tuple[int, int, int]]:
        """Voice that sings against an entry, onset and length of the entry in ticks, steps from the first."""
        weave = self.weave
        entries = [e for e in self.analysis.entries if e.voice in weave.voices]
        found = []
        for one, two in itertools.pairwise(entries):
            if one.voice != two.voice:
                found.append(
                    (weave.voices.index(one.voice), weave.tick(two.onset), self.shift(two, entries[1]))
                )
        return found

    @staticmethod
    def shift(entry: Entry, first: Entry) -> int:
        return entry.pitch.diatonic - first.pitch.diatonic

    def common(self, windows: list[tuple[int, int, int]]) -> list[tuple[int, int]]:
        """Stretches, counted from the entry, in which every one of the voices is free, between onsets of
        notes."""
        weave = self.weave
        first = self.analysis.theme.length
        length = int(first * self.unit)
        free = [
            all(
                0 <= on + t < weave.size and not self.still.rows[v][on + t] and weave.d[v][on + t] >= 0
                for v, on, _ in windows
            )
            for t in range(length)
        ]
        found, t = [], 0
        while t < length:
            if not free[t]:
                t += 1
                continue
            a = t
            while t < length and free[t]:
                t += 1
            b = t
            # The stretch ends where every voice has a note of its own to go on with.
            starts = [{tone.start - on for tone in weave.tones[v]} for v, on, _ in windows]
            ends = [x for x in range(a + 2 * self.unit, b + 1) if all(x in s for s in starts)]
            begins = [x for x in range(a, b) if all(x in s for s in starts)]
            if ends and begins and ends[-1] - begins[0] >= 2 * self.unit:
                found.append((begins[0], ends[-1]))
        return found

    def tried(
        self, windows: list[tuple[int, int, int]], a: int, b: int
    ) -> tuple[float, list[list[Change]]] | None:
        """One line for all windows, and its cost."""
        v, on, _ = windows[0]
        spots = Joint(self.search, windows)
        joined = frame(self.weave, v, on + a, on + b)
        onsets = self.rhythm(v, on + a, on + b)
        found = draw(spots, onsets, on + b, joined, self.style, self.dice)
        if found is None:
            return None
        cost, line = found
        # A line in the rhythm of the theme is no counterpoint to it; nor is one that hardly moves.
        theme = {
            t.start - on
            for w in range(len(self.weave.voices))
            if w != v
            for t in self.weave.inside(w, on + a, on + b)
        }
        shared = sum(t.start - on in theme for t in line)
        cost += 1.5 * shared + 3.0 * abs(len(line) / ((b - a) / self.unit) - 0.85)
        changes = []
        for w, start, steps in windows:
            row = []
            for t in line:
                tick = t.start - on + start
                alter = self.search.harmony.alter[tick][(t.d + steps) % 7]
                if alter is None:
                    return None
                row.append(Tone(tick, t.end - on + start, t.d + steps, natural(t.d + steps) + alter))
            changes.append([Change(w, start + a, start + b, tuple(row))])
        return cost, changes

    def settle(self, changes: list[Change], start: int, end: int, tries: int = 10) -> bool:
        """Set a countersubject in, and draw the other free voices anew where they stand in its way."""
        if self.search.offer(changes, 0.0, gain=1e6, at_once=True):
            return True
        weave = self.weave
        own = changes[0].voice
        others = [v for v in range(len(weave.voices)) if v != own and self.given[start] != v]
        for _ in range(tries):
            more = []
            back = [weave.apply(c) for c in changes]
            for v in others:
                row = [t for t in weave.tones[v] if t.end > start and t.start < end]
                if not row:
                    continue
                a, b = row[0].start, row[-1].end
                if not self.free(v, a, b) or rests(weave, v, a, b):
                    continue
                made = self.line(v, a, b, self.rhythm(v, a, b), frame(weave, v, a, b))
                if made:
                    back.append(weave.apply(made[0]))
                    more += made
            for c in reversed(back):
                weave.apply(c)
            if self.search.offer([*changes, *more], 0.0, gain=1e6, at_once=True):
                return True
        return False


class Joint(Spots):
    """The spots of one line in several places at once: what may be sung in each of them, with all their
    costs."""

    def __init__(self, search: Search, windows: list[tuple[int, int, int]]) -> None:
        v, self.on, _ = windows[0]
        span = 0, search.weave.size
        super().__init__(search.weave, search.harmony, v, search.given, span)
        self.views = [
            (Spots(search.weave, search.harmony, w, search.given, span), on - self.on, steps)
            for w, on, steps in windows[1:]
        ]
        self.joint: dict[tuple[int, ...], Table] = {}

    def at(self, start: int, end: int, before: int, after: int, given: bool = False) -> Table:
        key = (start, end, before, after)
        known = self.joint.get(key)
        if known is None:
            rows = [(super().at(start, end, before, after, given), 0)]
            for spots, by, steps in self.views:
                rows.append((spots.at(start + by, end + by, before + by, after + by, given), steps))
            known = self.joint[key] = _Both(rows)
        return known


class _Both(Table):
    """The spots of one line in several places, by its step in the first."""

    def __init__(self, rows: list[tuple[Table, int]]) -> None:
        self.rows = rows

    def find(self, d: int) -> Spot | None:
        found = self.rows[0][0][d]
        for table, steps in self.rows[1:]:
            other = table[d + steps]
            if found is None or other is None:
                return None
            found = Spot(
                found.m,
                found.cost + other.cost,
                found.clash or other.clash,
                found.fall or other.fall,
                found.accented or other.accented,
            )
        return found
