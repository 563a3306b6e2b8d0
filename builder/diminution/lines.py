"""What all levels share: lines drawn in stretches of a voice, and patterns of the tables, as proposals to the
search."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence

from builder.diminution.draw import Frame, Style, draw
from builder.diminution.search import Search, cooling
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone

CHANCE = 0.5
"""How far chance decides where a figure is tried first."""
Likes = Mapping[int, tuple[int, float]]


class Lines:
    """Proposes lines for the voices of one search."""

    def __init__(self, search: Search, still: Still, words: Words, style: Style) -> None:
        self.search, self.still, self.words, self.style = search, still, words, style
        self.weave, self.dice, self.given = search.weave, search.dice, search.given
        self.unit = self.weave.unit
        self.likes: Sequence[Likes] = [{} for _ in self.weave.voices]

    def loop(
        self, bars_rounds: int, hot: float, cold: float, kinds: Sequence[Callable[[], list[Change] | None]]
    ) -> None:
        """Proposals of several kinds, so many to a bar of four quarters, while the search cools."""
        rounds = int(bars_rounds * self.weave.size / (self.unit * 4))
        for heat in cooling(rounds, hot, cold):
            if self.search.full:
                # Before anything is drawn to what may be taken back.
                self.search.settle()
            changes = self.dice.choice(kinds)()
            if changes and not any(map(self.stumbles, changes)):
                self.search.offer(changes, heat)
        self.search.settle()

    def stumbles(self, change: Change) -> bool:
        """Whether a note begins between eighths and lasts longer than one."""
        eighth = self.unit // 2
        return any(t.start % eighth and t.end - t.start > eighth for t in change.tones)

    def free(self, voice: int, start: int, end: int) -> bool:
        """Whether anything may move in a stretch."""
        return end <= self.weave.size and not self.still.whole(voice, start, end)

    def line(self, v: int, start: int, end: int, onsets: Sequence[int], joined: Frame) -> list[Change] | None:
        """A line with these onsets, as far as what stays in the voice lets it."""
        bound = self.still.bound(v, start, end, onsets)
        if bound is None:
            return None
        ordered, must = bound
        joined.likes = self.likes[v]
        joined.given = self.given[start] == v
        if any(joined.must.get(t, d) != d for t, d in must.items()):
            return None
        joined.must = {**joined.must, **must}
        found = draw(self.search.spots(v, start, end), ordered, end, joined, self.style, self.dice)
        return [Change(v, start, end, tuple(found[1]))] if found else None

    def likeliest(
        self, places: Iterable[tuple[int, int]], figure: Sequence[tuple[int, int]]
    ) -> list[tuple[int, int]]:
        """Places for a figure (ticks from its first note, staff steps), each a voice and a tick: mostly first
        those where the voice sounds many of its notes already, on whatever step."""

        def unlike(place: tuple[int, int]) -> float:
            v, at = place
            row = self.weave.d[v]
            steps = [row[at + t] - d for t, d in figure]
            return CHANCE * self.dice.random() - max(map(steps.count, steps)) / len(steps)

        return sorted(places, key=unlike)

    def word(self) -> list[Change] | None:
        """A pattern of the tables on one note."""
        v = self.dice.randrange(len(self.weave.voices))
        row = self.weave.tones[v]
        if len(row) < 2:
            return None
        k = self.dice.randrange(len(row) - 1)
        found = self._pattern(v, row[k], row[k + 1])
        return [found] if found else None

    def own_words(self) -> None:
        """The course's own patterns, wherever they fit and break no rule; they stay."""
        for v in range(len(self.weave.voices)) if self.words.own else ():
            for tone, after in list(itertools.pairwise(self.weave.tones[v])):
                change = self._pattern(v, tone, after)
                if change and self.search.offer([change], 0.0, self.words.worth, at_once=True):
                    self.still.mark(v, tone.start, tone.end)

    def _pattern(self, v: int, tone: Tone, after: Tone) -> Change | None:
        still = self.still.rows[v]
        if tone.end != after.start or any(still[tone.start + 1 : tone.end]):
            return None
        found = self.words.change(self.weave, self.search.harmony, v, tone, after, self.dice)
        if found is None or (still[tone.start] and found.tones[0].d != tone.d):
            return None
        return found
