"""Every legal voicing of a sonority: which tone each upper voice takes."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role, Variant
from builder.counterpoint.rules.context import Array
from builder.counterpoint.rules.keyboard import hand_spans
from builder.counterpoint.rules.tables import HARSH, interval, look, pitch_code
from builder.counterpoint.search import standing_rules
from builder.counterpoint.search.costs import Parts, Weights
from builder.counterpoint.search.shape import Shape
from builder.counterpoint.search.voicing_costs import Stand, occurrences
from builder.music import KEYBOARD, VOICES, Pitch
from builder.music.keyboard import HIGHEST_KEY, TENTH


@dataclass(frozen=True, slots=True, eq=False)
class Voicings:
    """The voicings of one shape as arrays, one row each: staff steps, MIDI numbers, roles and
    numbers above the bass of the upper voices (highest first), and what each costs by name."""

    shape: Shape
    d: Array
    m: Array
    code: Array
    """The pitches as `tables.pitch_code` has them, of all voices (those silent 0) and of the given line:
    `VOICES` x rows."""
    role: Array
    number: Array
    parts: Parts
    cost: Array

    def __len__(self) -> int:
        return int(self.d.shape[0])


_HIGHEST = HIGHEST_KEY.diatonic
_BEYOND = 4
"""How many staff steps a voice may leave its compass where nothing stands within it."""
_NATURAL = tuple(Pitch(d).midi for d in range(_HIGHEST + 1))
"""MIDI numbers of the unaltered notes, by staff step."""


class _Tones(NamedTuple):
    """Tones that a voice may take, one column each."""

    d: Array
    m: Array
    number: Array
    role: Array
    alone: Array
    """Not doubled: a dissonance, a raised note."""

    def take(self, places: Array) -> _Tones:
        return _Tones(*(x.take(places) for x in self))


@lru_cache(maxsize=20_000)
def _places(bass: Pitch, voice: str, variant: Variant, loose: int) -> Array:
    """Where a voice may sound the members of a sonority: within its keyboard compass, not below the bass; the
    highest first, as the columns of `_Tones`."""
    low, high = (p.diatonic for p in KEYBOARD[voice])
    if loose:
        low, high = low - _BEYOND, min(high + _BEYOND, _HIGHEST)
    bass_m = bass.midi
    alone = {m.number for m in variant.members if m.role is not Role.FREE or m.raised}
    raised = {m.number for m in variant.members if m.raised}
    found = []
    for member in variant.members:
        if member.number == 8 and 8 in raised and loose < 2:
            continue
        first = bass.diatonic + member.offset + (7 if member.number == 9 else 0)
        first += max(0, low - first + 6) // 7 * 7
        for d in range(first, high + 1, 7):
            m = _NATURAL[d] + member.alter
            if m >= bass_m:
                found.append((d, m, member.number, int(member.role), member.number in alone))
    found.sort(key=lambda t: -t[1])
    return np.array(found, dtype=np.int64).reshape(len(found), 5).T


def _pinned(bass: Pitch, pitch: Pitch, variant: Variant) -> Array:
    """A note set by hand, as the member of the sonority that it sounds (number 0: none of them). Whoever
    set it answers for its preparation and resolution, so that it counts as free."""
    offset = (pitch.diatonic - bass.diatonic) % 7
    number, alone = 8 if offset == 0 and pitch.alter == bass.alter else 0, False
    for member in variant.members:
        if (member.offset, member.alter) == (offset, pitch.alter):
            number, alone = member.number, member.role is not Role.FREE or member.raised
    return np.array([[pitch.diatonic], [pitch.midi], [number], [int(Role.FREE)], [int(alone)]])


@lru_cache(maxsize=4096)
def _strangers(shape: Shape, variant: Variant) -> int:
    """How many of the notes set by hand are no member of a sonority."""
    return sum(not _pinned(shape.bass, pitch, variant)[2, 0] for _, pitch in shape.pins)


def _too_close(shape: Shape) -> bool:
    """Two voices meet on one note only where they begin and end."""
    return len(shape.upper) == 1 and not (shape.opening or shape.closing or shape.loose)


class _Growing:
    """The voicings of some shapes of the same voices, grown voice by voice from the highest and pruned as
    they grow: no crossing, no wide gap, no doubled dissonance or raised note, all that must
    sound."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.upper = shapes[0].upper
        self.sounded = [(shape, variant) for shape in shapes for variant in shape.variants]
        count = len(self.upper)
        self.bass = np.array([s.bass.midi for s, _ in self.sounded])
        self.close = np.array([_too_close(s) for s, _ in self.sounded])
        # A pin frees nobody: only where nothing stands beside it may voices cross or stand far apart.
        self.lenient = np.array([bool(s.pins) and s.loose > 0 for s, _ in self.sounded])
        self.pinned = {v: np.array([v in dict(s.pins) for s, _ in self.sounded]) for v in self.upper}
        # Three voices may stand further apart, at a price.
        self.gap = np.array([11 if s.loose else 9 if count == 2 else 7 for s, _ in self.sounded])
        # What the source signs is its own business; what we choose is not harsh.
        self.ours = np.array([not v.signed for _, v in self.sounded])
        self.owed = np.array([sum({1 << n for n in v.must(count)}) for _, v in self.sounded])
        self.must = np.where([s.loose < 2 for s, _ in self.sounded], self.owed, 0)
        self.variant = np.arange(len(self.sounded))
        """Which variant each row sounds."""
        self.tones: list[_Tones] = []
        """What each voice has in each row."""
        have = np.zeros(len(self.sounded), dtype=np.int64)
        for left, voice in zip(range(count - 1, -1, -1), self.upper):
            have = self._grow(voice, left, have)
        self.lacking: Array = np.bitwise_count(self.owed[self.variant] & ~have)
        """How many tones that should sound each row lacks."""

    def _offered(self, voice: str) -> list[Array]:
        found = []
        for shape, variant in self.sounded:
            pin = dict(shape.pins).get(voice) if shape.pins else None
            if pin is not None:
                pinned = _pinned(shape.bass, pin, variant)
                # Where another way to sound the note has more of what is set by hand, it is no stranger.
                other = shape.loose < 2 and _strangers(shape, variant) > min(
                    _strangers(shape, each) for each in shape.variants
                )
                found.append(pinned[:, :0] if other else pinned)
            else:
                found.append(_places(shape.bass, voice, variant, shape.loose))
        return found

    def _grow(self, voice: str, left: int, have: Array) -> Array:
        """Each row with every tone that the voice may add; `left` voices come after it, `have` are the
        numbers sounding, as bits."""
        offered = self._offered(voice)
        many = np.array([x.shape[1] for x in offered])
        first = np.cumsum(many) - many
        times = many[self.variant]
        row = np.repeat(np.arange(len(times)), times)
        variant = self.variant[row]
        choice = np.arange(len(row)) - np.repeat(np.cumsum(times) - times, times) + first[variant]
        new = _Tones(*np.concatenate(offered, axis=1).take(choice, axis=1))
        have = have[row] | (1 << new.number)
        kept = np.bitwise_count(self.must[variant] & ~have) <= left
        ours = self.ours[variant] & ~self.pinned[voice][variant]
        if len(self.upper) == 1:
            kept &= ~((new.m == self.bass[variant]) & self.close[variant])
        code, plain = pitch_code(new.d, new.m), _plain(new)
        for n, tones in enumerate(self.tones):
            above = tones.take(row)
            kept &= ~((above.number == new.number) & (new.alone == 1))
            harsh = look(HARSH, interval(code, pitch_code(above.d, above.m))) & plain & _plain(above)
            kept &= ~(harsh & ours & ~self.pinned[self.upper[n]][variant])
            if n == len(self.tones) - 1:
                near = (new.m <= above.m) & (above.d - new.d <= self.gap[variant])
                kept &= near | self.lenient[variant]
        places = np.flatnonzero(kept)
        row = row[places]
        self.tones = [*(t.take(row) for t in self.tones), new.take(places)]
        self.variant = variant[places]
        return have[places]

    def stacked(self, field: str) -> Array:
        """One field of the tones, rows x voices."""
        if not self.tones:
            return np.zeros((len(self.variant), 0), dtype=np.int64)
        return np.stack([getattr(t, field) for t in self.tones], axis=1)


def _plain(tones: _Tones) -> Array:
    """Tones that are no dissonance: free ones and leading notes."""
    found: Array = (tones.role == Role.FREE) | (tones.role == Role.LEADING)
    return found


_MEMO: OrderedDict[tuple[Shape, Weights], Voicings] = OrderedDict()
_MEMO_SIZE = 4096


def voicings(shape: Shape, weights: Weights) -> Voicings:
    """All voicings of a shape that the rules on one sonority allow, with their costs."""
    return all_voicings([shape], weights)[0]


def all_voicings(shapes: Sequence[Shape], weights: Weights) -> list[Voicings]:
    """The voicings of many shapes, all that are new worked out together; remembered."""
    alike: dict[tuple[str, ...], list[Shape]] = {}
    keys = [(shape, weights) for shape in shapes]
    found = {key: _MEMO.get(key) for key in keys}
    for (shape, _), known in found.items():
        if known is None:
            alike.setdefault(shape.upper, []).append(shape)
    for some in alike.values():
        for made in _made(some, weights):
            found[made.shape, weights] = _MEMO[made.shape, weights] = made
    while len(_MEMO) > _MEMO_SIZE:
        _MEMO.popitem(last=False)
    return [v for key in keys if (v := found[key]) is not None]


def _made(shapes: Sequence[Shape], weights: Weights) -> list[Voicings]:
    grown = _Growing(shapes)
    index = {id(shape): n for n, shape in enumerate(shapes)}
    of_shape = np.array([index[id(shape)] for shape, _ in grown.sounded])[grown.variant]
    d, m, role, number = (grown.stacked(field) for field in ("d", "m", "role", "number"))
    bass = np.array([s.bass.diatonic for s in shapes])[of_shape]
    spans = hand_spans(d, bass)
    kept = _distinct(shapes, of_shape, spans, m, role)
    kept = kept[_fullest(shapes, of_shape[kept], grown.lacking[kept])]
    if standing_rules.RULES:
        sounded = [v for _, v in grown.sounded]
        stand = Stand.of(shapes, of_shape[kept], sounded, grown.variant[kept])
        broken = standing_rules.refused(stand, d[kept], m[kept], spans[kept])
        kept = kept[~(broken & _bound(shapes, of_shape[kept]))]
    d, m, role, number, of_shape, variant = (x[kept] for x in (d, m, role, number, of_shape, grown.variant))
    spans = spans[kept]
    stand = Stand.of(shapes, of_shape, [v for _, v in grown.sounded], variant)
    occurred = occurrences(stand, d, m, number, spans)
    if standing_rules.RULES:
        occurred["warned"] = standing_rules.warned(stand, d, m, spans)
    prices = weights.above(len(shapes[0].upper))
    parts = {name: times * prices[name] for name, times in occurred.items()}
    cost, code = sum(parts.values(), np.zeros(len(kept))), _codes(shapes, of_shape, d, m)
    ends = np.searchsorted(of_shape, np.arange(len(shapes) + 1)).tolist()
    found = []
    for shape, i, j in zip(shapes, ends, ends[1:]):
        own = {name: values[i:j] for name, values in parts.items()}
        found.append(Voicings(shape, d[i:j], m[i:j], code[:, i:j], role[i:j], number[i:j], own, cost[i:j]))
    return found


def _fullest(shapes: Sequence[Shape], of_shape: Array, lacking: Array) -> Array:
    """Whether each row is complete or, where tones may lack (`Shape.loose`), lacks as few as any row of its
    shape."""
    least = np.full(len(shapes), 99)
    np.minimum.at(least, of_shape, lacking)
    bound = np.array([s.loose < 2 for s in shapes])[of_shape]
    found: Array = bound | (lacking == least[of_shape])
    return found


def _codes(shapes: Sequence[Shape], of_shape: Array, d: Array, m: Array) -> Array:
    found = np.zeros((len(VOICES), len(d)), dtype=np.int64)
    upper = shapes[0].upper
    found[[VOICES.index(v) for v in upper]] = pitch_code(d, m).T
    for place, voice in enumerate(VOICES):
        if voice not in upper:
            bass = [pitch_code(s.bass.diatonic, s.bass.midi) if s.voice == voice else 0 for s in shapes]
            found[place] = np.array(bass)[of_shape]
    return found


def _bound(shapes: Sequence[Shape], of_shape: Array) -> Array:
    """Whether all rules hold for the shape of each row."""
    found: Array = np.array([not s.loose for s in shapes])[of_shape]
    return found


def _distinct(shapes: Sequence[Shape], of_shape: Array, spans: Array, m: Array, role: Array) -> Array:
    """Rows that hands can reach, each sonority once: the first variant that has it."""
    reached = np.flatnonzero(~_bound(shapes, of_shape) | (spans <= TENTH))
    key = of_shape[reached]
    for voice in range(m.shape[1]):
        key = (key << 11) | (m[reached, voice] << 3) | role[reached, voice]
    _, first = np.unique(key, return_index=True)
    return reached[np.sort(first)]
