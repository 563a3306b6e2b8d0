"""How far a change of some notes reaches: the time whose findings may be others, and the notes that these
depend on."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from builder.music import Note, Part, Score

_NOTES = 3
"""A finding asks at most for so many notes of a voice before and after those that sound."""


class _Heard(NamedTuple):
    """A part, with the onsets and places of the notes that begin in it (not what a tie continues)."""

    part: Part
    onsets: list[Fraction]
    places: list[int]

    @classmethod
    def of(cls, part: Part) -> _Heard:
        onsets, places = [], []
        before: Note | None = None
        for place, note in enumerate(part.notes):
            tied = before is not None and before.tied and before.pitch == note.pitch
            if note.pitch is not None and not (tied and before is not None and before.end == note.onset):
                onsets.append(note.onset)
                places.append(place)
            before = note
        return cls(part, onsets, places)

    def begun(self, time: Fraction, back: int) -> Fraction | None:
        """Onset of the note that many places before the last one begun before a time."""
        at = bisect_left(self.onsets, time) - 1
        return self.onsets[max(0, at - back)] if at >= 0 else None

    def over(self, time: Fraction, on: int) -> Fraction | None:
        """End of the note that many places after the last one begun by a time."""
        at = bisect_right(self.onsets, time) - 1
        return self.part.notes[self._place(at + on + 1) - 1].end if at >= 0 else None

    def cut(self, start: Fraction, end: Fraction) -> Part:
        """The notes of a stretch, with those that the rules ask for before and after."""
        first = max(0, bisect_right(self.onsets, start) - 1 - _NOTES)
        last = bisect_left(self.onsets, end) + _NOTES
        return Part(self.part.voice, self.part.notes[self._place(first) : self._place(last)])

    def _place(self, begun: int) -> int:
        return self.places[begun] if begun < len(self.places) else len(self.part.notes)


class Reach(NamedTuple):
    """From `start` up to `end` (quarters) findings may be others than before. `score` holds the notes that
    they depend on; what is found in it outside that time means nothing."""

    start: Fraction
    end: Fraction
    score: Score

    @classmethod
    def of(
        cls,
        scores: Sequence[Score],
        start: Fraction,
        end: Fraction,
        voices: Collection[str] = (),
        whole: Iterable[tuple[Fraction, Fraction]] = (),
    ) -> Reach:
        """How far a change from `start` to `end` reaches in the first of some scores that differ by it only;
        `voices` are those that change (all, when none is named), `whole` stretches of time that are judged
        as a whole, such as sonorities."""
        heard = [[_Heard.of(part) for part in score.parts] for score in scores]
        low, high = start, end
        for each in (part for parts in heard for part in parts):
            reached = _NOTES if not voices or each.part.voice in voices else 0
            low = min(low, each.begun(start, reached) or low)
            high = max(high, each.over(end, reached) or high)
        touched = [(a, b) for a, b in whole if a < end and b > start]
        low, high = min([low, *(a for a, _ in touched)]), max([high, *(b for _, b in touched)])
        return cls(low, high, _excerpt(scores[0], heard[0], low, high))


def _excerpt(score: Score, heard: Sequence[_Heard], start: Fraction, end: Fraction) -> Score:
    # A note held at either end is judged by what sounded when it began, and by what sounds when it ends.
    begun = min((b for h in heard if (b := h.begun(start, 0)) is not None), default=start)
    over = max((o for h in heard if (o := h.over(end, 0)) is not None), default=end)
    parts = tuple(h.cut(min(begun, start), max(over, end)) for h in heard)
    first = min((p.notes[0].onset for p in parts if p.notes), default=start)
    last = max((p.notes[-1].end for p in parts if p.notes), default=end)
    bars = tuple(b for b in score.bars if b.end > min(first, start) and b.onset < max(last, end))
    return replace(score, bars=bars, parts=parts, figures=(), closed=False)
