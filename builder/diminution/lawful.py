"""What a pattern may do beside the other voices: the rules of counterpoint at the surface.

Consonant, or a dissonance that passes or neighbours by step on a weaker part than the note before
it; no consecutive unisons, fifths or octaves, from note to note or from beat to beat; no crossing;
the hands can take it. This prunes the search; the whole result is checked again by the counterpoint
room.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import Protocol

from builder.diminution.ficta import Speller
from builder.diminution.pattern import Pattern
from builder.diminution.texture import SILENT, Stem, Texture
from builder.music import KEYBOARD

_CONSONANT = frozenset({(0, 0), (2, 3), (2, 4), (4, 7), (5, 8), (5, 9)})
_FOURTHS = frozenset({(3, 5), (3, 6), (4, 6)})
"""Consonant between upper voices when each agrees with the lowest."""
_PERFECT = frozenset({(0, 0), (4, 7)})
_STEPS = {0: (0,), 1: (1, 2), 2: (3, 4), 3: (5,), 4: (7,), 5: (8,), 7: (12,)}
"""Melodic intervals allowed: staff steps -> semitones. No tritone, sixth only minor, no seventh."""
HAND = 8
"""Staff steps one hand takes: a ninth."""
NEAR_UNISON = 0.8
DIRECT = 1.0
ACCENTED = 1.2

_REFUSED = (2, 0.0)


class Court:
    """Judges what a voice wants to do against the texture as it stands."""

    def __init__(self, texture: Texture, voice: int, *, accented: bool = False) -> None:
        self.t = texture
        self.voice = voice
        self.accented = accented
        self.line = texture.lines[voice]
        self.others = [(n, line) for n, line in enumerate(texture.lines) if n != voice]
        self.speller = Speller(texture, voice)
        name = texture.voices[voice]
        plain = [s.pitch for s in texture.stems[voice]]
        low, high = KEYBOARD[name]
        self.low = min([low.diatonic, *(p.diatonic for p in plain)])
        self.high = max([high.diatonic, *(p.diatonic for p in plain)])
        self.memo: dict[tuple[int, int, int, int], tuple[int, float]] = {}

    def at(self, stem: Stem) -> None:
        self.stem = stem
        self.speller.at(stem)

    def judge(
        self, pattern: Pattern, ticks: tuple[int, ...]
    ) -> tuple[tuple[int, ...], tuple[int, ...], float] | None:
        """Staff steps and key numbers of the pattern's notes on the plain note at hand, with a cost;
        None when a rule forbids it. `ticks` are the onsets of its notes."""
        stem = self.stem
        base = stem.pitch.diatonic
        dias = tuple(base + s for s in pattern.steps)
        if min(dias) < self.low or max(dias) > self.high:
            return None
        full = dias if stem.after is None else (*dias, stem.after.diatonic)
        spelled = self.speller.line(ticks, full)
        if spelled is None:
            return None
        keys, cost = spelled
        if not self._sings(full, keys):
            return None
        beside = self._beside(ticks, full, keys)
        if beside is None:
            return None
        motion = self._motion(ticks, full, keys)
        if motion is None:
            return None
        return dias, tuple(keys[: len(dias)]), cost + beside + motion

    def _sings(self, dias: tuple[int, ...], keys: list[int]) -> bool:
        """Each melodic interval can be sung; two leaps one way make a consonance."""
        before = self.stem.before
        if dias[0] != self.stem.pitch.diatonic and before is not None:
            dias, keys = (before.diatonic, *dias), [before.midi, *keys]
        last = 0
        for n in range(len(keys) - 1):
            steps = dias[n + 1] - dias[n]
            semitones = abs(keys[n + 1] - keys[n])
            if semitones not in _STEPS.get(abs(steps), ()):
                return False
            if abs(steps) > 1 and abs(last) > 1 and steps * last > 0:
                span = abs(keys[n + 1] - keys[n - 1])
                if span not in (7, 8, 9, 12):
                    return False
            last = steps
        return True

    def _beside(self, ticks: tuple[int, ...], dias: tuple[int, ...], keys: list[int]) -> float | None:
        """Each small note beside the other voices."""
        cost = 0.0
        weight = self.t.level
        count = len(ticks)
        for n in range(count):
            begin = ticks[n]
            end = ticks[n + 1] if n + 1 < count else self.stem.end
            if n == 0 and dias[0] == self.stem.pitch.diatonic:
                if not self._leaves_well(end, dias, keys):
                    return None
                continue
            verdict, extra = self._note(begin, end, dias[n], keys[n])
            cost += extra
            if verdict == 2:
                return None
            if verdict == 1:
                if n == 0 or n + 1 >= len(dias):
                    return None
                if abs(dias[n] - dias[n - 1]) != 1 or abs(dias[n + 1] - dias[n]) != 1:
                    return None
                if end - begin > self.t.unit:
                    return None
                strongest = max(weight[ticks[n - 1] : begin])
                if strongest <= weight[begin]:
                    falls = dias[n] < dias[n - 1] and dias[n + 1] < dias[n]
                    if not (
                        self.accented and falls and weight[begin] <= 0 and 2 * (end - begin) <= self.t.unit
                    ):
                        return None
                    cost += ACCENTED
        return cost

    def _leaves_well(self, tick: int, dias: tuple[int, ...], keys: list[int]) -> bool:
        """A plain note that has become a dissonance is left by step downwards."""
        last = tick - 1
        for _, line in self.others:
            dia = line.dia[last]
            if dia == SILENT:
                continue
            if not self._agree(dias[0], keys[0], dia, line.midi[last], last):
                return len(dias) > 1 and dias[1] == dias[0] - 1
        return True

    def _agree(self, dia: int, key: int, other: int, other_key: int, tick: int) -> bool:
        steps, semitones = (dia - other, key - other_key) if dia >= other else (other - dia, other_key - key)
        size = steps % 7, semitones % 12
        if size in _CONSONANT:
            return True
        if size not in _FOURTHS:
            return False
        lower = min(key, other_key)
        lines = self.t.lines
        return any(
            lines[n].midi[tick] != SILENT and lines[n].midi[tick] < lower
            for n in range(len(lines))
            if n != self.voice
        )

    def _note(self, begin: int, end: int, dia: int, key: int) -> tuple[int, float]:
        """0 consonant, 1 dissonant as it begins, 2 refused; with a cost. Remembered."""
        memo = (begin, end, dia, key)
        found = self.memo.get(memo)
        if found is None:
            found = self.memo[memo] = self._look(begin, end, dia, key)
        return found

    def _look(self, begin: int, end: int, dia: int, key: int) -> tuple[int, float]:
        verdict = 0
        cost = 0.0
        plain = key == self.stem.pitch.midi
        starts = {begin}
        for _, line in self.others:
            starts.update(k for k in line.start[begin:end] if begin < k < end)
        for tick in sorted(starts):
            for n, line in self.others:
                other = line.dia[tick]
                if other == SILENT:
                    continue
                above = n < self.voice
                key_there = line.midi[tick]
                if key_there == key:
                    return _REFUSED
                if (above and (other < dia or key_there < key)) or (
                    not above and (other > dia or key_there > key)
                ):
                    return _REFUSED
                if abs(other - dia) == 1:
                    cost += NEAR_UNISON
                if self._agree(dia, key, other, key_there, tick):
                    continue
                if tick > begin:
                    if plain:
                        continue
                    return _REFUSED
                if line.start[tick] == begin:
                    return _REFUSED
                verdict = 1
            if not self._hands(tick, dia):
                return _REFUSED
        return verdict, cost

    def _hands(self, tick: int, dia: int) -> bool:
        """The voices at a tick lie under two hands, or lie no worse than before."""
        lines = self.t.lines
        now = [line.dia[tick] for line in lines if line.dia[tick] != SILENT]
        new = [
            dia if n == self.voice else line.dia[tick]
            for n, line in enumerate(lines)
            if line.dia[tick] != SILENT
        ]
        return _stretch(new) <= max(HAND, _stretch(now))

    def _motion(self, ticks: tuple[int, ...], dias: tuple[int, ...], keys: list[int]) -> float | None:
        """No consecutives from note to note, nor from beat to beat."""
        stem = self.stem
        cost = 0.0
        attacks = (*ticks[1:], stem.end) if stem.after is not None else ticks[1:]
        for n, tick in enumerate(attacks, 1):
            for m, line in self.others:
                if tick >= self.t.size or line.start[tick] != tick or line.midi[tick - 1] == SILENT:
                    continue
                if line.midi[tick - 1] == line.midi[tick]:
                    continue
                found = _pair(
                    dias[n - 1],
                    keys[n - 1],
                    dias[n],
                    keys[n],
                    line.dia[tick - 1],
                    line.midi[tick - 1],
                    line.dia[tick],
                    line.midi[tick],
                )
                if found == 2:
                    return None
                if found == 1:
                    if len(self.others) == 1:
                        return None
                    if {m, self.voice} == {0, len(self.t.lines) - 1}:
                        cost += DIRECT
        return None if self._strong(ticks, dias, keys) else cost

    def _strong(self, ticks: tuple[int, ...], dias: tuple[int, ...], keys: list[int]) -> bool:
        """Whether perfect intervals follow each other from beat to beat that did not in the plain."""
        stem, line = self.stem, self.line
        notes = dict(zip(ticks, zip(dias, keys)))
        beats = self.t.beats
        inner = beats[bisect_right(beats, ticks[0]) : bisect_left(beats, stem.end)]
        if not inner:
            return False
        at = {b: _sounding(notes, ticks, b) for b in inner}
        moved = [b for b in inner if at[b][1] != line.midi[b]]
        for b in moved:
            place = self.t.beat_number[b]
            for p, q in ((place - 1, place), (place, place + 1)):
                if p < 0 or q >= len(beats):
                    continue
                one, two = beats[p], beats[q]
                mine = [at.get(k, (line.dia[k], line.midi[k])) for k in (one, two)]
                if SILENT in (mine[0][1], mine[1][1]) or mine[0][1] == mine[1][1]:
                    continue
                for _, other in self.others:
                    theirs = [(other.dia[k], other.midi[k]) for k in (one, two)]
                    if SILENT in (theirs[0][1], theirs[1][1]) or theirs[0][1] == theirs[1][1]:
                        continue
                    if _pair(*mine[0], *mine[1], *theirs[0], *theirs[1]) == 2:
                        return True
        return False


def _sounding(notes: dict[int, tuple[int, int]], ticks: tuple[int, ...], tick: int) -> tuple[int, int]:
    return notes[max(t for t in ticks if t <= tick)]


def _pair(d1: int, k1: int, d2: int, k2: int, o1: int, p1: int, o2: int, p2: int) -> int:
    """Two voices that both move: 2 consecutive perfect intervals, 1 a perfect interval reached
    directly with a leap in the upper voice, 0 otherwise.

    >>> _pair(35, 60, 36, 62, 31, 53, 32, 55), _pair(35, 60, 37, 64, 31, 53, 33, 57)
    (2, 2)
    """
    size = ((d2 - o2) % 7, (k2 - p2) % 12) if d2 >= o2 else ((o2 - d2) % 7, (p2 - k2) % 12)
    if size not in _PERFECT:
        return 0
    old = ((d1 - o1) % 7, (k1 - p1) % 12) if d1 >= o1 else ((o1 - d1) % 7, (p1 - k1) % 12)
    if old == size and k1 != k2 and p1 != p2:
        return 2
    upper = d2 - d1 if k2 >= p2 else o2 - o1
    return 1 if (d2 - d1) * (o2 - o1) > 0 and abs(upper) > 1 else 0


def _stretch(dias: list[int]) -> int:
    """The wider hand's reach, at the best division of the voices between two hands."""
    if len(dias) < 3:
        return 0
    ordered = sorted(dias)
    return min(max(ordered[k - 1] - ordered[0], ordered[-1] - ordered[k]) for k in range(1, len(ordered)))


class Moving(Protocol):
    """A figure set in its place."""

    stem: Stem
    ticks: tuple[int, ...]
    dias: tuple[int, ...]
    keys: tuple[int, ...]
    start: int
    end: int


def clash(texture: Texture, one: Moving, two: Moving) -> bool:
    """Whether two figures of different voices, the second beginning where or soon after the first
    ends, make consecutive perfect intervals that neither makes beside the plain notes."""
    lines = texture.lines
    first, second = lines[one.stem.voice], lines[two.stem.voice]
    if two.start == one.end:
        tick = one.end
        old = two.dias[0], two.keys[0]
        if (
            _pair(
                one.dias[-1], one.keys[-1], first.dia[tick], first.midi[tick], *old, two.dias[1], two.keys[1]
            )
            == 2
        ):
            return True
    beats = texture.beats
    last, following = bisect_left(beats, one.end) - 1, bisect_left(beats, two.start)
    if last < 0 or following - last != 1 or following >= len(beats):
        return False
    p, q = beats[last], beats[following]
    if p < one.start or q >= two.end:
        return False
    a = _sounding(dict(zip(one.ticks, zip(one.dias, one.keys))), one.ticks, p)
    d = _sounding(dict(zip(two.ticks, zip(two.dias, two.keys))), two.ticks, q)
    b, c = (first.dia[q], first.midi[q]), (second.dia[p], second.midi[p])
    return a[1] != b[1] and c[1] != d[1] and SILENT not in (b[1], c[1]) and _pair(*a, *b, *c, *d) == 2
