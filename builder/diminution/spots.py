"""Where a voice may sing each note of a stretch, judged against the other voices before any line is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from builder.counterpoint.rules.treatment import bears_a_suspension, lighter, steps_through
from builder.diminution.harmony import NEAR, Harmony, bit, natural
from builder.diminution.weave import SILENT, Tone, Weave
from builder.music import KEYBOARD
from builder.music.consonance import clash as clashes

UNISON, CROSSED, WIDE = 1.6, 3.0, 1.2
AGAINST = 1.1
"""A consonant note outside the sonority, a quarter long."""
ACCENTED = 3.6
"""A dissonance on the stronger part: of keyboard figures' small dissonances one in ten (G. Frescobaldi, Fiori
musicali, 1635), of vocal ones fewer."""
AS_STRONG = 2.2
"""A dissonance on a part no weaker than the note before it."""
SUSPENDED = -1.4
STRIKES = -0.5
"""Striking against a note that is held and falls."""
WANTED = -2.4
"""A tone that the sonority would lack."""
THIRD_KIND = 0.35
"""A raised note, doubled in no case, is dear as an ornament."""
HIDDEN = 1.0


class Spot(NamedTuple):
    """A note that may be sung at an onset: its key, what it costs, whether it clashes as it is struck (then
    it comes and goes by step), and whether it becomes a suspension (then it falls by step)."""

    m: int
    cost: float
    clash: bool
    fall: bool
    accented: bool


@dataclass(slots=True)
class Beside:
    """Another voice's note at a moment."""

    d: int
    m: int
    struck: bool
    light: bool
    """A passing or neighbouring note."""
    falls: bool
    """Goes down by step to a weaker part: may be a suspension."""
    above: bool
    """Belongs to a voice that stands higher in the score."""
    near: bool
    """Belongs to the next voice up or down that sounds."""
    given: bool = False
    leapt: bool = False
    """Reached or left by leap."""


class Place(NamedTuple):
    """A stretch in which one note is to sound, and what it depends on but its pitch."""

    start: int
    end: int
    first: list[Beside]
    """The other voices as it begins."""
    lowest: int
    """The lowest of their keys."""
    inside: list[tuple[int, list[Beside], int]]
    """Ticks at which another voice strikes while it sounds, with all other voices there and the lowest of
    their keys."""
    weaker: bool
    """Begins on a weaker part than the note before."""
    weak: bool
    """Begins on the lighter part, as a passing note does."""
    short: bool
    """A quarter or less."""
    after: int
    """Weight of the part on which the next note begins."""
    lacking: int
    """Tones that the sonorities would lack (bits)."""
    given: bool


class Table(dict[int, "Spot | None"]):
    """Spots by staff step; None where a note may not be sung. What is not in it yet is found when asked
    for."""

    def __missing__(self, d: int) -> Spot | None:
        found = self[d] = self.find(d)
        return found

    def find(self, d: int) -> Spot | None:
        raise NotImplementedError


class _Own(Table):
    """The spots of one voice in one place."""

    def __init__(self, spots: Spots, start: int, end: int, before: int, after: int, given: bool) -> None:
        weave, harmony = spots.weave, spots.harmony
        w = weave.weight
        weaker = w[start] < w[before]
        then = w[after] if after < weave.size else w[start]
        weak = bool(lighter(here=w[start], before=w[before], after=then))
        short = end - start <= weave.unit
        inside = [(t, *spots.beside(t)) for t in spots.struck_inside(start, end)]
        lacking = 0
        for n in {n for t in (start, *(t for t, _, _ in inside)) if (n := harmony.number[t]) >= 0}:
            lacking |= spots.lack(n)
        after_w = w[after] if after < weave.size else 3
        first = spots.beside(start)
        self.place = Place(start, end, *first, inside, weaker, weak, short, after_w, lacking, given)
        self.alters = harmony.alter[start]
        self.spots, self.low, self.high = spots, spots.low, spots.high

    def find(self, d: int) -> Spot | None:
        alter = self.alters[d % 7]
        if alter is None or not self.low <= d <= self.high:
            return None
        if self.spots.other_way(self.place.start, self.place.end, d % 7, 1 << (alter + 2)):
            return None
        return self.spots.judged(d, natural(d) + alter, self.place)


class Spots:
    """The spots of one voice against the others as they stand now."""

    def __init__(
        self, weave: Weave, harmony: Harmony, voice: int, given: list[int], span: tuple[int, int] = (0, 0)
    ) -> None:
        self.weave, self.harmony, self.voice, self.given = weave, harmony, voice, given
        self.span = span
        low, high = KEYBOARD[weave.voices[voice]]
        self.low, self.high = low.diatonic, high.diatonic
        self.moments: dict[int, tuple[list[Beside], int]] = {}
        self.known: dict[tuple[int, ...], Table] = {}
        self.beside_span: list[tuple[int, int, int, int]] | None = None
        self.marks = [0] * 7
        """How each letter is sung around the span, as bits of its alterations."""
        self.lacking: dict[int, int] = {}
        self.raised = [max(0, weave.score.signature.alter(k)) for k in range(7)]

    def beside(self, tick: int) -> tuple[list[Beside], int]:
        """The other voices at a tick, and the lowest of their keys."""
        found = self.moments.get(tick)
        if found is None:
            others = self._beside(tick)
            found = self.moments[tick] = others, min((b.m for b in others), default=999)
        return found

    def _beside(self, tick: int) -> list[Beside]:
        weave, own = self.weave, self.voice
        found: list[Beside] = []
        above = 0
        for v, row in enumerate(weave.on):
            begun = row[tick]
            if v == own or begun == SILENT:
                continue
            light, falls, leapt = self._manner(v, weave.place(v, begun))
            if v < own:
                above = len(found) + 1
            d, m, given = weave.d[v][tick], weave.m[v][tick], self.given[tick] == v
            found.append(Beside(d, m, begun == tick, light, falls, v < own, False, given, leapt))
        # The next voice up and the next one down.
        for one in found[max(0, above - 1) : above + 1]:
            one.near = True
        return found

    def _manner(self, voice: int, k: int) -> tuple[bool, bool, bool]:
        """Of a note of a voice, by its number: whether it is a light passing or neighbouring note, falls by
        step, and is reached or left by leap."""
        weave, row = self.weave, self.weave.tones[voice]
        start, end, d, _ = row[k]
        came = row[k - 1] if k and row[k - 1].end == start else None
        goes = row[k + 1] if k + 1 < len(row) and row[k + 1].start == end else None
        up = d - came.d if came is not None else 0
        on = goes.d - d if goes is not None else 0
        light = False
        if came and goes and end - start <= weave.unit and steps_through(came=up, goes=on):
            w = weave.weight
            light = bool(lighter(here=w[start], before=w[came.start], after=w[goes.start]))
        return light, on == -1, abs(up) > 1 or abs(on) > 1

    def struck_inside(self, start: int, end: int) -> list[int]:
        """Ticks within a note at which another voice strikes."""
        weave = self.weave
        found = set()
        for v in range(len(weave.voices)):
            if v != self.voice:
                row = weave.tones[v]
                k = weave.place(v, start + 1)
                while k < len(row) and row[k].start < end:
                    found.add(row[k].start)
                    k += 1
        return sorted(found)

    def lack(self, number: int) -> int:
        """The tones that a sonority lacks without this voice."""
        found = self.lacking.get(number)
        if found is None:
            one = self.harmony.asked[number]
            found = 0
            if self.voice in one.voices:
                for tone in self.harmony.lacking(self.weave, one, without=self.voice):
                    found |= tone
            self.lacking[number] = found
        return found

    def other_way(self, start: int, end: int, letter: int, mark: int) -> bool:
        """Whether a letter is sung with another alteration than `mark` (a bit) within two quarters; what is
        to be drawn anew does not count."""
        around = self.around() if self.beside_span is None else self.beside_span
        if not self.marks[letter] & ~mark:
            return False
        reach = NEAR * self.weave.unit
        low, high = start - reach, end + reach
        return any(k == letter and m != mark and t < high and stop > low for t, stop, k, m in around)

    def around(self) -> list[tuple[int, int, int, int]]:
        """Notes near the span that are not to be drawn anew: their ticks, letter and alteration."""
        if self.beside_span is None:
            reach = 2 * NEAR * self.weave.unit
            a, b = self.span
            found = []
            for v, row in enumerate(self.weave.tones):
                k = max(0, self.weave.place(v, a - reach) - 1)
                while k < len(row) and row[k].start < b + reach:
                    t, stop, d, m = row[k]
                    k += 1
                    if not (v == self.voice and a <= t < b):
                        mark = 1 << (m - natural(d) + 2)
                        self.marks[d % 7] |= mark
                        found.append((t, stop, d % 7, mark))
            self.beside_span = found
        return self.beside_span

    def at(self, start: int, end: int, before: int, after: int, given: bool = False) -> Table:
        """The notes that may be sung from `start` to `end`, by staff step, each looked at when it is asked
        for; `before` and `after` are the onsets beside it."""
        key = (start, end, before, after)
        known = self.known.get(key)
        if known is None:
            known = self.known[key] = _Own(self, start, end, before, after, given)
        return known

    def judged(self, d: int, m: int, place: Place) -> Spot | None:
        """One note in one place; None where it may not be sung."""
        raised = m - natural(d) > self.raised[d % 7]
        begun = self._begun(d, m, raised, place)
        if begun is None:
            return None
        cost, clash, accented = begun
        if clash:
            if not place.short:
                return None
            if accented:
                cost += ACCENTED
            elif not place.weaker:
                cost += AS_STRONG
        mask = bit(d, m)
        may = self.harmony.may[place.start]
        if mask & place.lacking and not clash:
            cost += WANTED
        elif may and not mask & may and not clash:
            if self._most_of(place.start, place):
                return None
            cost += AGAINST * ((place.end - place.start) / self.weave.unit)
        held = self._held(d, m, raised, clash, cost, place)
        return held and Spot(m, held[0], clash, held[1], accented)

    def _most_of(self, tick: int, place: Place) -> bool:
        """Whether a note takes more than half of a sonority with figures that begins at a tick."""
        one = self.harmony.asked[self.harmony.number[tick]]
        return one.start == tick and one.checked and (place.end - place.start) * 2 > one.end - one.start

    def _begun(self, d: int, m: int, raised: bool, place: Place) -> tuple[float, bool, bool] | None:
        """What a note costs against the other voices as it begins, whether it clashes, and does so on the
        stronger part; None where it may not begin."""
        cost, clash = THIRD_KIND if raised else 0.0, False
        lowest = place.lowest if place.lowest < m else m
        for b in place.first:
            if raised and (b.d - d) % 7 == 0:
                return None
            side = _side(d, m, b, place.given)
            if side is None:
                return None
            cost += side * (1.0 if b.struck or self.weave.weight[place.start] > 0 else 0.5)
            if clashes(d, m, b.d, b.m, lowest):
                # What the figures do not ask for makes no suspension of the given line.
                asked = not b.given or bit(d, m) & self.harmony.may[place.start]
                if asked and not b.struck and b.falls and not b.light and self._falls(b, place.start):
                    cost += STRIKES
                elif b.struck and b.leapt:
                    # What is struck together in dissonance goes by step in both voices.
                    return None
                else:
                    clash = True
                    cost += 0.3 if b.light else 0.0
        return cost, clash, clash and not place.weak

    def _held(
        self, d: int, m: int, raised: bool, clash: bool, cost: float, place: Place
    ) -> tuple[float, bool] | None:
        """What a note costs in all, with what other voices strike while it sounds, and whether it becomes a
        suspension; None where it may not stay."""
        fall = False
        for tick, moment, others in place.inside:
            lowest = others if others < m else m
            struck_against = False
            for b in moment:
                if raised and (b.d - d) % 7 == 0 and b.struck:
                    return None
                side = _side(d, m, b, place.given)
                if side is None:
                    return None
                if b.struck:
                    cost += 0.5 * side
                if clashes(d, m, b.d, b.m, lowest):
                    if b.light and b.struck:
                        cost += 0.1
                    elif b.struck and bears_a_suspension(here=self.weave.weight[tick], after=place.after):
                        struck_against = True
                    elif not b.struck and (fall or b.falls):
                        pass
                    elif b.light:
                        cost += 0.3
                    else:
                        return None
            if struck_against:
                if clash:
                    return None
                fall = True
                cost += SUSPENDED
            if self.harmony.number[tick] >= 0 and not (struck_against or bit(d, m) & self.harmony.may[tick]):
                if self._most_of(tick, place):
                    return None
                cost += 0.6
        return cost, fall

    def _falls(self, b: Beside, tick: int) -> bool:
        """Whether a held note that falls does so on a part no stronger than this one."""
        for v in range(len(self.weave.voices)):
            if v != self.voice and self.weave.d[v][tick] == b.d and self.weave.m[v][tick] == b.m:
                row = self.weave.tones[v]
                tone = row[self.weave.place(v, self.weave.on[v][tick])]
                weight = self.weave.weight
                return tone.end < self.weave.size and bool(
                    bears_a_suspension(here=weight[tick], after=weight[tone.end])
                )
        return False


def _side(d: int, m: int, b: Beside, given: bool) -> float | None:
    """What a note costs for standing too near or too far from another voice's; None where it may not."""
    if given and not b.m > m and b.above:
        return None
    if b.above:
        if m > b.m:
            return None if m > b.m + 4 else CROSSED
        if b.near and b.d - d > 7 and not given:
            return WIDE
    else:
        if b.given and m <= b.m:
            return None
        if m < b.m:
            return None if m < b.m - 4 else CROSSED
        if b.near and d - b.d > 7 and not b.given:
            return WIDE
    return UNISON if m == b.m else 0.0


def tone_at(weave: Weave, voice: int, tick: int) -> Tone | None:
    """The note that a voice sounds at a tick."""
    if not 0 <= tick < weave.size or weave.d[voice][tick] == SILENT:
        return None
    return weave.tones[voice][weave.place(voice, weave.on[voice][tick])]
