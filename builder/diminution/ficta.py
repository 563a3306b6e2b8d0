"""Turns the staff steps of a pattern into pitches: signature, sonority in force, musica ficta.

A letter that another voice sounds at that time, or that stands altered in the sonorities beside it,
is taken as it is there; then as the plain note or the next has it; then as the signature has it.
What is still free, or known only from the sonorities before and after, may be bent to avoid an
augmented second or the outline of a tritone (*una nota super la semper est canendum fa*; common
practice, no source).
"""

from __future__ import annotations

import itertools

from builder.diminution.texture import SILENT, Stem, Texture
from builder.music.pitch import SEMITONES

_FREE, _BOUND = True, False
CROSS_RELATION = 1.5
TRITONE_OUTLINE = 1.2


def _natural(dia: int) -> int:
    return 12 * (dia // 7 + 1) + SEMITONES[dia % 7]


class Speller:
    """Spells small notes for one voice of a texture, one plain note at a time."""

    def __init__(self, texture: Texture, voice: int) -> None:
        self.others = [line for n, line in enumerate(texture.lines) if n != voice]
        self.signature = [texture.score.signature.alter(step) for step in range(7)]
        self.reach = texture.unit
        self.size = texture.size
        self.near: list[set[int]] = []
        self.during: set[int] = set()

    def at(self, stem: Stem) -> None:
        """Look at the sonorities from a quarter before the plain note to a quarter after it."""
        self.stem = stem
        near: list[set[int]] = [set() for _ in range(7)]
        self.during = set()
        low, high = max(0, stem.start - self.reach), min(self.size, stem.end + self.reach)
        for line in self.others:
            tick = low
            while tick < high:
                dia = line.dia[tick]
                if dia != SILENT:
                    near[dia % 7].add(line.midi[tick] - _natural(dia))
                    if stem.start <= tick < stem.end:
                        self.during.add(dia % 7)
                begin = line.start[tick]
                tick += 1
                while tick < high and line.start[tick] == begin:
                    tick += 1
        self.near = near
        self.own = {}
        for pitch in (stem.after, stem.before, stem.pitch):
            if pitch is not None:
                self.own[pitch.step] = pitch.alter

    def one(self, tick: int, dia: int) -> tuple[int, bool, float] | None:
        """Key number of a staff step at a tick, whether it is free to be bent, and the cost of a
        cross relation; None where voices contradict each other."""
        step = dia % 7
        natural = _natural(dia)
        sounding = None
        for line in self.others:
            other = line.dia[tick]
            if other != SILENT and other % 7 == step:
                alter = line.midi[tick] - _natural(other)
                if sounding is not None and alter != sounding:
                    return None
                sounding = alter
        near = self.near[step]
        if sounding is not None:
            return natural + sounding, _BOUND, 0.0 if len(near) < 2 else CROSS_RELATION
        if step in self.own:
            alter = self.own[step]
            return natural + alter, _BOUND, CROSS_RELATION if near and near != {alter} else 0.0
        if len(near) == 1:
            return natural + next(iter(near)), step not in self.during, 0.0
        return natural + self.signature[step], _FREE, CROSS_RELATION if near else 0.0

    def line(self, ticks: tuple[int, ...], dias: tuple[int, ...]) -> tuple[list[int], float] | None:
        """Key numbers for a whole pattern, bent where they may be, with a cost; None when the voices
        leave no lawful spelling. `dias` end with the next plain note, `ticks` do not."""
        stem = self.stem
        keys: list[int] = []
        free: list[bool] = []
        cost = 0.0
        for tick, dia in zip(ticks, dias):
            if dia == stem.pitch.diatonic:
                keys.append(stem.pitch.midi)
                free.append(_BOUND)
                continue
            spelled = self.one(tick, dia)
            if spelled is None:
                return None
            key, loose, extra = spelled
            keys.append(key)
            free.append(loose)
            cost += extra
        if stem.after is not None:
            keys.append(stem.after.midi)
            free.append(_BOUND)
        if not _mend_seconds(dias, keys, free):
            return None
        return keys, cost + _mend_tritones(dias, keys, free)


def _mend_seconds(dias: tuple[int, ...], keys: list[int], free: list[bool]) -> bool:
    """No augmented second: raise the lower note or lower the upper, where it is free."""
    for n in range(len(keys) - 1):
        if abs(dias[n + 1] - dias[n]) == 1 and abs(keys[n + 1] - keys[n]) > 2:
            low, high = (n, n + 1) if dias[n] < dias[n + 1] else (n + 1, n)
            if free[low]:
                _bend(dias, keys, low, 1)
            elif free[high]:
                _bend(dias, keys, high, -1)
            else:
                return False
    return True


def _bend(dias: tuple[int, ...], keys: list[int], at: int, by: int) -> None:
    """Bend a note and its repeats in the pattern, so that one letter is not two pitches in a breath."""
    old = keys[at]
    for n, dia in enumerate(dias):
        if dia == dias[at] and keys[n] == old:
            keys[n] = old + by


def _mend_tritones(dias: tuple[int, ...], keys: list[int], free: list[bool]) -> float:
    """A line that turns at both ends of an augmented fourth has one of them bent, or costs."""
    cost = 0.0
    turns = (
        [0]
        + [n for n in range(1, len(keys) - 1) if (dias[n] - dias[n - 1]) * (dias[n + 1] - dias[n]) < 0]
        + [len(keys) - 1]
    )
    for a, b in itertools.pairwise(turns):
        if abs(dias[a] - dias[b]) != 3 or abs(keys[a] - keys[b]) != 6:
            continue
        _low, high = (a, b) if dias[a] < dias[b] else (b, a)
        if free[high]:
            _bend(dias, keys, high, -1)
        else:
            cost += TRITONE_OUTLINE
    return cost
