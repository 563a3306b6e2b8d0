"""How far one line imitates another: the same rhythm and contour from the head on, at another
pitch, allowing a tonal bend, other note values, a cut end and another beginning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from builder.analysis.line import Sung
from builder.music import Interval, Pitch, Signature

SCALES = (Fraction(1), Fraction(2), Fraction(1, 2), Fraction(4), Fraction(1, 4))
"""The note values of an answer against the theme's: the same, augmented, diminished."""

HEAD = 4
"""A tonal bend belongs to the head: it may come in up to this note (common practice)."""

LINKS = 2
"""Notes with which a voice may lead to the theme when it takes the line (common practice)."""

STEPS_ALONE = 5
"""Notes that must agree for a theme to be known by its steps when its rhythm has changed."""


@dataclass(frozen=True, slots=True)
class Match:
    """An imitation found. `count` notes agree, from note `skipped` of the theme and `added` of the
    answer on; the answer's values are `scale` times the theme's; `offsets` are staff steps from
    each theme note to its answer; `first_value` says that the first note has another length and
    `rhythm` that the values agree at all."""

    count: int
    scale: Fraction
    skipped: int
    added: int
    offsets: tuple[int, ...]
    first_value: bool = False
    rhythm: bool = True

    @property
    def links(self) -> int:
        """Notes of the answer that lead to the theme and are no part of it."""
        return 0 if self.skipped else self.added

    @property
    def bends(self) -> int:
        return sum(a != b for a, b in pairwise(self.offsets))

    @property
    def worth(self) -> tuple[int, int, int]:
        """To compare matches: notes that agree, less what had to be conceded."""
        changed = self.scale != 1
        conceded = self.skipped + self.added + changed + self.first_value
        return self.count - conceded, -conceded, -self.bends


def imitate(theme: Sequence[Sung], answer: Sequence[Sung], *, strict: bool = False) -> Match | None:
    """The best imitation of the head of `theme` by the head of `answer`; None when they have no
    more in common than chance. `strict` concedes nothing but other note values.
    """
    starts = ((0, 0),) if strict else ((0, 0), (1, 0), (0, 1), (1, 1), (0, LINKS))
    found = [
        match
        for scale in SCALES
        for skipped, added in starts
        if (match := _run(theme, answer, scale, skipped, added))
        and match.count >= _least(theme, match)
        and not (strict and (match.bends or match.first_value))
    ]
    if not found and not strict:
        found = _steps_alone(theme, answer)
    return max(found, key=lambda m: m.worth, default=None)


def _steps_alone(theme: Sequence[Sung], answer: Sequence[Sung]) -> list[Match]:
    """The theme's steps in another rhythm: enough of them, and none bent."""
    offset = answer[0].pitch.diatonic - theme[0].pitch.diatonic
    count = 0
    for t, a in zip(theme, answer):
        if a.pitch.diatonic - t.pitch.diatonic != offset:
            break
        count += 1
    shape = {n.pitch.diatonic for n in theme[:count]}
    if count < STEPS_ALONE or len(shape) < 3:
        return []
    return [Match(count, Fraction(1), 0, 0, (offset,) * count, rhythm=False)]


def _least(theme: Sequence[Sung], match: Match) -> int:
    """How many notes must agree to be more than chance: four, or all of a shorter theme; one more
    for each concession, but never more than a whole theme of four or more that is neither bent nor begun
    otherwise. A fourth answered by a fifth (or the reverse) concedes nothing."""
    concessions = match.skipped + match.added + (match.scale != 1)
    if concessions:
        whole = len(theme) if len(theme) >= 4 and not match.bends and not match.skipped else 99
        return min(4 + concessions, whole)
    short = min(4, len(theme))
    exchange = _is_exchange(theme, match)
    bent = match.bends > 0 and not exchange
    return max(2, short + (bent and short < 4) + (match.first_value and short < 4))


def _is_exchange(theme: Sequence[Sung], match: Match) -> bool:
    """Whether the only bend lies in the first leap, a fourth against a fifth."""
    if match.bends != 1 or match.offsets[0] == match.offsets[1]:
        return False
    leap = theme[1].pitch.diatonic - theme[0].pitch.diatonic
    return {abs(leap), abs(leap + match.offsets[1] - match.offsets[0])} == {3, 4}


def _run(
    theme: Sequence[Sung], answer: Sequence[Sung], scale: Fraction, skipped: int, added: int
) -> Match | None:
    theme, answer = theme[skipped:], answer[added:]
    offsets: list[int] = []
    first_value = False
    for n, (t, a) in enumerate(zip(theme, answer)):
        offset = a.pitch.diatonic - t.pitch.diatonic
        if n:
            if a.onset - answer[n - 1].onset != scale * (t.onset - theme[n - 1].onset):
                if n > 1 or skipped or added:
                    break
                first_value = True
            moves = t.pitch.diatonic - theme[n - 1].pitch.diatonic, offset - offsets[-1]
            if moves[0] * (moves[0] + moves[1]) < 0 or not _may_bend(offsets, offset):
                break
        offsets.append(offset)
    offsets = _trimmed(offsets, len(theme))
    if len(offsets) < 2 or (first_value and len(offsets) < 3):
        return None
    return Match(len(offsets), scale, skipped, added, tuple(offsets), first_value)


def _may_bend(offsets: Sequence[int], offset: int) -> bool:
    """Whether the line may go on at this distance: a bend by one step, in the head only, that may
    be taken back once."""
    if offset == offsets[-1]:
        return True
    row = [*offsets, offset]
    bends = sum(a != b for a, b in pairwise(row))
    in_head = len(offsets) <= HEAD or offset == offsets[0]
    return max(row) - min(row) == 1 and bends <= 2 and in_head


def _trimmed(offsets: list[int], length: int) -> list[int]:
    """Without a bend on the very last note: there the line has already gone its own way, unless
    that note ends the theme."""
    if 2 < len(offsets) < length and offsets[-1] != offsets[-2]:
        return offsets[:-1]
    return offsets


@dataclass(frozen=True, slots=True)
class SetAside:
    """An accidental that was set aside to compare: the note, and `editorial` or `leading`."""

    note: Sung
    reason: str


def same_intervals(theme: Sequence[Pitch], answer: Sequence[Pitch]) -> int | None:
    """Number (from 0) of the first note of the answer that is not reached by the theme's interval,
    quality included; None when all are.

    >>> p = Pitch.parse
    >>> same_intervals([p("D4"), p("E4"), p("F4")], [p("G4"), p("A4"), p("B4")])
    2
    """
    for n in range(1, min(len(theme), len(answer))):
        if Interval.between(theme[n - 1], theme[n]) != Interval.between(answer[n - 1], answer[n]):
            return n
    return None


def without_accidentals(
    notes: Sequence[Sung], following: Sung | None, signature: Signature
) -> tuple[tuple[Pitch, ...], tuple[SetAside, ...]]:
    """The pitches as the signature has them wherever an editorial accidental or a raised leading
    note stands, and what was set aside. `following` is the note after the last."""
    pitches: list[Pitch] = []
    aside: list[SetAside] = []
    for note, after in zip(notes, (*notes[1:], following)):
        plain = signature.pitch(note.pitch.diatonic)
        raised = note.pitch.alter > plain.alter
        rises = after is not None and Interval.between(note.pitch, after.pitch) == Interval(1, 1)
        if note.pitch != plain and (note.editorial or (raised and rises)):
            pitches.append(plain)
            aside.append(SetAside(note, "editorial" if note.editorial else "leading"))
        else:
            pitches.append(note.pitch)
    return tuple(pitches), tuple(aside)
