"""The theme of a new verset, and its answers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import count, pairwise, product, repeat
from random import Random

from builder.analysis.imitation import HEAD, same_intervals
from builder.invention.melody import Frame, Row, Ways, outlines_tritone, singable
from builder.invention.order import Order, OrderError
from builder.language.texts import Phrase
from builder.music import VOICES, WRITTEN, Pitch, Signature
from builder.source.symbols import read_symbol

ENDS = {0: 3.0, 4: 3.0, 2: 1.0}
"""Steps above the final on which a drawn theme ends, with how often each does beside the others."""
AGAIN = 1
"""How many notes of a theme are the one before said again: pairs of repeated notes alone have no shape."""
LEAST_NOTES = 4
"""Notes of a theme: fewer are not known again."""
DRAWS = 40
"""Themes drawn for one rhythm before another one is tried."""
OWN, TURNS = 60, 5
"""How often a seed looks for themes with a beginning of its own before it takes others, and how often with
each of these."""
HEADS = tuple(
    (a, b)
    for a in range(-4, 6)
    for b in range(-4, 5)
    if (a or b) and min(abs(a), abs(b)) < 3 and (a * b <= 0 or (a * b < 4 and abs(a + b) < 4))
)
"""First two moves of themes, in staff steps: no leap goes on the same way, one of two leaps is a third."""
EVEN = 0.7
"""The power of the learned chances in themes: 1 as with the masters, 0 all moves alike."""
FIRST = 0.7
"""How often the first note of a theme is its highest one, beside each other note that can be."""
RISE = 4
"""Staff steps that a theme goes at most above the highest of its first three notes."""
_FIFTH_DOWN, _FOURTH_DOWN = -4, -3


@dataclass(frozen=True, slots=True)
class Theme:
    """Lengths in quarter notes, how many notes the first bar has (`head`), and each voice's form of it."""

    lengths: tuple[Fraction, ...]
    head: int
    entries: dict[str, tuple[Pitch, ...]]

    @property
    def duration(self) -> Fraction:
        return sum(self.lengths, Fraction(0))


def themes(order: Order, dice: Random) -> Iterator[Theme]:
    """Themes with their answers, drawn without end, each with a profile and lawful answers; a given theme
    alone where there is one. The seed says which two moves they begin with, and in which rhythm; other
    themes come when `OWN` have been looked for there."""
    signature = Signature.parse(order.form.signature)
    if order.theme:
        yield from repeat(_given(order, signature))
    rhythms = [r for r in order.rhythms.themes if order.least(len(r)) <= order.bars]
    drawing = [_Drawing(order, signature, tuple(n for bar in rhythm for n in bar), {}) for rhythm in rhythms]
    head, at = share(order, len(rhythms))
    for turn in count():
        if turn >= OWN:
            head, at = share(order, len(rhythms), other=1 + (turn - OWN) // TURNS)
        lengths = drawing[at].lengths
        for _ in range(DRAWS):
            steps = drawing[at].steps(head, dice)
            if steps is None:
                continue
            pitches = tuple(signature.pitch(s) for s in steps)
            if not has_profile(pitches, lengths):
                continue
            entries = answered(order, signature, pitches)
            if entries is not None:
                yield Theme(lengths, len(rhythms[at][0]), entries)
                break
        else:
            at = (at + 1) % len(rhythms)


def share(order: Order, rhythms: int, other: int = 0) -> tuple[tuple[int, int], int]:
    """With which two moves the themes of an order begin, and in which of its rhythms: another of them with
    every seed, until all have come, and with every tone and number of voices. `other`: those of the seeds
    that follow, in another rhythm, where its own cannot be sung.

    >>> len({share(Order(tone, seed=seed), 10) for tone in range(1, 9) for seed in range(20)})
    160
    """
    place = order.seed * 24 + (order.tone - 1) * 3 + len(order.voices) - 2
    heads = list(HEADS)
    Random(order.character).shuffle(heads)
    return heads[(place + other) % len(heads)], (place // len(heads) + bool(other) * rhythms // 2) % rhythms


def _given(order: Order, signature: Signature) -> Theme:
    """The theme that is asked for, with its answers; `OrderError` where it cannot be read or answered."""
    symbols = [read_symbol(text, 1) for text in order.theme.replace("|", " ").split()]
    for symbol in symbols:
        if symbol.faults or symbol.pitch is None or symbol.duration is None or symbol.tied or symbol.groups:
            raise OrderError((Phrase.of("theme.note", note=symbol.text),))
    lengths = tuple(s.duration for s in symbols if s.duration is not None)
    pitches = tuple(s.pitch for s in symbols if s.pitch is not None)
    bar, time, head = order.time.bar, Fraction(0), 0
    for length in lengths:
        if time // bar != (time + length) // bar and (time + length) % bar:
            raise OrderError((Phrase.of("theme.bar", number=int(time // bar) + 1),))
        head += time < bar
        time += length
    if order.time.weight(time) < 2 or len(pitches) < LEAST_NOTES:
        raise OrderError((Phrase.of("theme.length", least=LEAST_NOTES),))
    least = order.least(int(-(-time // bar)))
    if order.bars < least:
        raise OrderError((Phrase.of("short", least=least),))
    entries = answered(order, signature, pitches)
    if entries is None:
        raise OrderError((Phrase.of("theme.answer"),))
    return Theme(lengths, head, entries)


@dataclass(frozen=True, slots=True)
class _Drawing:
    """How themes of a rhythm are drawn in the first voice: which note is the highest, and where, is drawn
    first, then a way up to it and down from it. `kept`: the ways by the highest note and its staff step."""

    order: Order
    signature: Signature
    lengths: tuple[Fraction, ...]
    kept: dict[tuple[int, int], Ways | None]

    def steps(self, head: tuple[int, int], dice: Random) -> tuple[int, ...] | None:
        """Staff steps of a theme from the final or its fifth, which begins with the moves of `head`."""
        final, frame = Pitch.parse(f"{self.order.form.final}4").step, self._frame()
        places = (final, (final + 4) % 7)
        starts = [s for s in frame.steps if s % 7 in places and frame.low + 2 <= s < frame.high]
        start = dice.choice(starts)
        peak = highest(start, head, len(self.lengths), frame.high, dice)
        if peak is None:
            return None
        if peak not in self.kept:
            self.kept[peak] = self._ways(*peak)
        ways = self.kept[peak]
        return None if ways is None else ways.path(start, dice, head)

    def _frame(self) -> Frame:
        return Frame(self.signature, *(p.diatonic for p in WRITTEN[self.order.voices[0]]))

    def _ways(self, peak: int, top: int) -> Ways | None:
        """The ways to one of `ENDS` with the highest note on top, which may be said twice. What the masters
        do most comes less often than with them (`EVEN`), so that all themes are reached."""
        final, frame = Pitch.parse(f"{self.order.form.final}4").step, self._frame()
        ends = {s: ENDS[(s - final) % 7] for s in frame.steps if s < top and (s - final) % 7 in ENDS}

        def worth(note: int, step: int) -> float:
            return float(step == top if note == peak else step < top + (note == peak + 1))

        row = Row.of(self.lengths, "themes", worth)
        return Ways.to(frame, replace(row, chances=row.chances**EVEN), ends)


def highest(start: int, head: tuple[int, int], notes: int, high: int, dice: Random) -> tuple[int, int] | None:
    """Which note of a theme is its highest, and its staff step, where it begins on a step with two moves: the
    first one seldom, the last one never; None where there is none up to `high`.

    >>> {highest(28, (4, -1), 6, 40, Random(seed))[0] for seed in range(30)}
    {1, 3, 4}
    """
    sung = (start, start + head[0], start + sum(head))
    top, low = max(sung), min(sung)
    again = sung[0] == sung[2] == top
    places = {sung.index(top): FIRST if sung[0] == top else 1.0} if top <= high and not again else {}
    above = range(top + 1, min(high, low + 7, top + RISE) + 1)
    if above:
        places |= dict.fromkeys(range(len(sung), notes - 1), 1.0)
    if not places:
        return None
    place = dice.choices(list(places), list(places.values()))[0]
    return place, dice.choice(above) if place >= len(sung) else top


def has_profile(pitches: Sequence[Pitch], lengths: Sequence[Fraction]) -> bool:
    """Whether a theme can be known again (common practice, no source): it spans a fourth to an octave, has
    one high point, a leap of a third or more among its first four moves, or a note said twice in a rhythm of
    dots and short notes, one note at most that is said twice in a row, few leaps, no shuttle, no tritone from
    turn to turn, and comes to its end by step.

    >>> p = [Pitch.parse(name) for name in "D5 A4 B4 C5 B4 A4".split()]
    >>> half = [Fraction(1)] * 6
    >>> has_profile(p, half), has_profile(p[:1] + p[2:] + p[3:5], half)
    (True, False)
    """
    steps = [p.diatonic for p in pitches]
    moves = [b - a for a, b in pairwise(steps)]
    if not 3 <= max(steps) - min(steps) <= 7:
        return False
    tops = [n for n, step in enumerate(steps) if step == max(steps)]
    if len(tops) > 1 and tops != list(range(tops[0], tops[0] + 2)):
        return False
    again = 0 in moves[:3] and any(length < 1 for length in lengths)
    if not (again or any(abs(m) > 1 for m in moves[:4])) or abs(moves[-1]) != 1:
        return False
    if any(a == b == 0 for a, b in pairwise(moves)) or sum(m == 0 for m in moves) > AGAIN:
        return False
    if sum(abs(m) > 2 for m in moves) > 2 or any(
        a * b > 0 and abs(a) > 1 and abs(b) > 1 for a, b in pairwise(moves)
    ):
        return False
    if any(abs(a) > 2 and a * b > 0 for a, b in pairwise(moves)):
        return False
    if any(length < 1 and abs(moves[n - 1]) > 1 for n, length in enumerate(lengths) if n):
        return False
    shuttles = any(
        steps[n] == steps[n + 2] and steps[n + 1] == steps[n + 3] and steps[n] != steps[n + 1]
        for n in range(len(steps) - 3)
    )
    turns = sum(a * b < 0 for a, b in pairwise([m for m in moves if m]))
    quick = any(length < 1 and abs(move) > 1 for length, move in zip(lengths, moves))
    return not shuttles and turns <= max(2, len(moves) // 2) and not quick and not outlines_tritone(pitches)


def answered(
    order: Order, signature: Signature, pitches: Sequence[Pitch]
) -> dict[str, tuple[Pitch, ...]] | None:
    """Each voice's form of the theme: final and fifth in turn, an octave or more lower with each pair of
    voices. None where a voice could not sing it, or the answer is not of the kind that is asked for."""
    steps = tuple(p.diatonic for p in pitches)
    bends = [p.alter - signature.alter(p.step) for p in pitches]
    real, *bent = _replies(steps, Pitch.parse(f"{order.form.final}4").step)
    for reply in {"exact": [real], "tonal": bent}.get(order.answers, [*bent, real]):
        entries = _placed(order, signature, steps, reply, bends)
        if entries is None:
            continue
        theme, answer = (entries[voice] for voice in order.voices[:2])
        if order.answers != "exact" or same_intervals(theme, answer) is None:
            return entries
    return None


def _replies(steps: Sequence[int], final: int) -> list[tuple[int, ...]]:
    """The theme at the other place, first by the same steps, then with final and fifth exchanged in its head
    where that changes it."""
    level = _FOURTH_DOWN if steps[0] % 7 == final else _FIFTH_DOWN
    exchange = {0: _FOURTH_DOWN, 4: _FIFTH_DOWN}
    real = tuple(s + level for s in steps)
    bent = [
        tuple(
            s + (exchange.get((s - final) % 7, rest) if n < HEAD - 1 else rest) for n, s in enumerate(steps)
        )
        for rest in (_FIFTH_DOWN, _FOURTH_DOWN)
    ]
    best = min(bent, key=lambda reply: _bends(steps, reply))
    return [real] if best == real or _bends(steps, best) > 2 else [real, best]


def _bends(theme: Sequence[int], reply: Sequence[int]) -> int:
    """How many moves of the answer are not the theme's."""
    return sum(b - a != d - c for (a, b), (c, d) in zip(pairwise(theme), pairwise(reply)))


def _placed(
    order: Order,
    signature: Signature,
    steps: Sequence[int],
    reply: Sequence[int],
    bends: Sequence[int],
) -> dict[str, tuple[Pitch, ...]] | None:
    """Theme and answer in turn, in the octaves that suit the voices best of those in which each begins below
    the end of the voices above it; None where there are none.
    `bends`: by how many semitones each note stands off the signature."""
    rows: list[list[tuple[float, tuple[Pitch, ...]]]] = []
    for place, voice in enumerate(order.voices):
        row = steps if place % 2 == 0 else reply
        low, high = (p.diatonic for p in WRITTEN[voice])
        octaves = [
            7 * n
            for n in range(-4, 3)
            if low <= min(row) + 7 * n and max(row) + 7 * n <= high and (place or not n)
        ]
        off = (min(row) + max(row) - low - high) / 2
        rows.append(
            [
                (abs(off + o), tuple(_bent(signature.pitch(s + o), b) for s, b in zip(row, bends)))
                for o in octaves
            ]
        )
    for taken in sorted(product(*rows), key=lambda taken: sum(distance for distance, _ in taken)):
        found = {voice: pitches for voice, (_, pitches) in zip(order.voices, taken)}
        sung = all(singable(a, b) for pitches in found.values() for a, b in pairwise(pitches))
        if sung and not any(map(outlines_tritone, found.values())) and _descend(order, found):
            return found
    return None


def _bent(pitch: Pitch, semitones: int) -> Pitch:
    return Pitch(pitch.diatonic, pitch.alter + semitones)


def _descend(order: Order, entries: dict[str, tuple[Pitch, ...]]) -> bool:
    """Whether each voice begins no higher than the last note of the voices above it that have entered."""
    for n, voice in enumerate(order.voices[1:], 1):
        above = [v for v in order.voices[:n] if VOICES.index(v) < VOICES.index(voice)]
        if any(entries[v][-1].diatonic < entries[voice][0].diatonic for v in above):
            return False
    return True
