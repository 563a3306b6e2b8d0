"""Why each grace is here: what the plan says of the stretch, else what is heard there."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from builder.counterpoint import Phrase
from builder.diminution.result import Choice
from builder.music import Note, Score
from builder.plan import Plan, told_statement
from builder.source import Verset

SMALL = Fraction(1, 2)
Figure = tuple[tuple[int, ...], tuple[Fraction, ...]]


class Reasons:
    """Knows a diminished score and its plan."""

    def __init__(self, verset: Verset, score: Score, plan: Plan) -> None:
        self.verset, self.score, self.plan = verset, score, plan
        self.notes = {part.voice: part.sounding() for part in score.parts}
        self.figures: dict[Figure, list[tuple[Fraction, str, int]]] = {}
        for voice, notes in self.notes.items():
            for group, figure in _figures(notes):
                assert group[0].pitch is not None
                self.figures.setdefault(figure, []).append((group[0].onset, voice, group[0].pitch.diatonic))
        self.closes = {(c.voice, c.onset) for c in plan.clausulae if c.kind == "cantizans"}

    def given(self, choice: Choice) -> Choice:
        """A choice with its reason; a turn is a groppo only where it leads into a close."""
        if choice.name == "groppo" and (choice.voice, choice.onset + choice.duration) not in self.closes:
            choice = replace(choice, name="minuta", pattern="", source="", character="")
        return replace(choice, reason=self.reason(choice))

    def reason(self, choice: Choice) -> Phrase:
        if choice.pinned:
            return Phrase("by-hand")
        return (
            self._planned(choice)
            or self._closing(choice)
            or self._answer(choice)
            or self._suspension(choice)
            or self._table(choice)
            or self._shape(choice)
        )

    def _planned(self, choice: Choice) -> Phrase | None:
        start, end = choice.onset, choice.onset + choice.duration
        for n, statement in enumerate(self.plan.statements):
            if statement.voice == choice.voice and start < statement.end and end > statement.onset:
                return told_statement(self.plan, n)
        for c in self.plan.countersubject:
            if c.voice == choice.voice and start < c.end and end > c.start and choice.notes:
                key = "countersubject-first" if c.first else "countersubject"
                return Phrase.of(key, voice=c.voice, against=c.against, place=c.place)
        if not choice.notes:
            return Phrase.of("silent", voice=choice.voice)
        return None

    def _closing(self, choice: Choice) -> Phrase | None:
        end = choice.onset + choice.duration
        return Phrase("formula") if (choice.voice, end) in self.closes and len(choice.notes) > 1 else None

    def _answer(self, choice: Choice) -> Phrase | None:
        """A figure of four notes that begins or lies in the stretch and was heard before, the nearest
        first."""
        start, end = choice.onset, choice.onset + choice.duration
        for group, figure in _figures(self.notes[choice.voice]):
            first = group[0]
            assert first.pitch is not None
            if not any(start <= n.onset < end for n in group[1:3]):
                continue
            before = [
                (onset, voice, d)
                for onset, voice, d in self.figures[figure]
                if onset < first.onset and (voice != choice.voice or group[0].onset - onset <= 8)
            ]
            if not before:
                continue
            onset, voice, d = max(before, key=lambda x: (x[1] != choice.voice, x[0]))
            steps = first.pitch.diatonic - d
            place = self.verset.place(onset)
            way = "same" if steps % 7 == 0 and voice != choice.voice else "above" if steps > 0 else "below"
            if voice == choice.voice:
                if not steps:
                    return Phrase.of("repeated", place=place)
                return Phrase.of(f"sequence-{way}", place=place, steps=steps)
            return Phrase.of(f"answer-{way}", leader=voice, place=place, steps=steps)
        return None

    def _suspension(self, choice: Choice) -> Phrase | None:
        notes = self.notes[choice.voice]
        for a, b in itertools.pairwise(notes):
            if not choice.onset <= a.onset < choice.onset + choice.duration:
                continue
            falls = a.end == b.onset and a.pitch and b.pitch and a.pitch.diatonic - b.pitch.diatonic == 1
            if falls and a.pitch and self._struck(choice.voice, a):
                return Phrase.of("suspension", pitch=a.pitch.name)
        return None

    def _struck(self, voice: str, held: Note) -> bool:
        assert held.pitch is not None
        for other, notes in self.notes.items():
            for note in notes if other != voice else ():
                struck = held.onset < note.onset < held.end <= note.end and note.pitch is not None
                if struck and note.pitch and abs(held.pitch.diatonic - note.pitch.diatonic) % 7 in (1, 6):
                    return True
        return False

    def _table(self, choice: Choice) -> Phrase | None:
        if not choice.pattern or choice.after is None or choice.after.pitch is None:
            return None
        assert choice.plain.pitch is not None
        return Phrase.of(
            "table", figure=choice.name, first=choice.plain.pitch.name, last=choice.after.pitch.name
        )

    def _shape(self, choice: Choice) -> Phrase:
        """What its notes do by themselves."""
        sung = [n.pitch for n in choice.notes if n.pitch is not None]
        moves = [b.diatonic - a.diatonic for a, b in itertools.pairwise(sung)]
        first, last = sung[0].name, sung[-1].name
        if len(moves) >= 3 and len(set(moves)) == 1 and abs(moves[0]) == 1:
            return Phrase.of("run", first=first, last=last)
        plain = [n.pitch.diatonic for n in choice.replaced if n.pitch is not None]
        leapt = any(abs(b - a) > 1 for a, b in itertools.pairwise(plain))
        if moves and all(abs(m) == 1 for m in moves):
            if leapt:
                return Phrase.of("walk", first=first, last=last)
            if len(moves) == 2 and sum(moves) == 0:
                return Phrase.of("neighbour", pitch=first)
            return Phrase.of("passing", first=first, last=last)
        if len(choice.notes) > len(choice.replaced):
            return Phrase("rhythm")
        return Phrase("exchange")


def _figures(notes: Sequence[Note]) -> Iterator[tuple[tuple[Note, ...], Figure]]:
    for group in zip(notes, notes[1:], notes[2:], notes[3:]):
        pairs = list(itertools.pairwise(group))
        if any(a.end != b.onset or a.pitch is None or b.pitch is None for a, b in pairs):
            continue
        steps = tuple(b.pitch.diatonic - a.pitch.diatonic for a, b in pairs if a.pitch and b.pitch)
        if sum(s != 0 for s in steps) > 1:
            yield group, (steps, tuple(b.onset - a.onset for a, b in pairs))
