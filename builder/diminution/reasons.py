"""Why each grace is here: what the plan says of the stretch, else what is heard there."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from builder.counterpoint import Phrase, Sonority
from builder.diminution.result import Choice
from builder.music import Note, Score
from builder.plan import Countersubject, Plan, Statement, told_statement
from builder.source import Verset

COMMON = 3
"""Notes that two statements of a countersubject share, at least, where it is told of."""
Figure = tuple[tuple[int, ...], tuple[Fraction, ...]]


class Reasons:
    """Knows a diminished score and its plan."""

    def __init__(self, verset: Verset, score: Score, plan: Plan, sonorities: Sequence[Sonority] = ()) -> None:
        self.verset, self.score, self.plan, self.sonorities = verset, score, plan, sonorities
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
            meets = statement.voice == choice.voice and start < statement.end and end > statement.onset
            if meets and self._sung(statement):
                return told_statement(self.plan, n)
        for c in self.plan.countersubject:
            if c.voice == choice.voice and choice.notes and self._returns(c, start, end):
                key = "countersubject-first" if c.first else "countersubject"
                return Phrase.of(key, voice=c.voice, against=c.against, place=c.place)
        if not choice.notes:
            return Phrase.of("silent", voice=choice.voice)
        return None

    def _sounding(self, voice: str, time: Fraction) -> Note | None:
        return next((n for n in self.notes[voice] if n.onset <= time < n.end), None)

    def _sung(self, statement: Statement) -> bool:
        """Whether each note of a motif still sounds on its onset: small notes may have covered it."""
        found = [self._sounding(statement.voice, t) for t in statement.times]
        d = [n.pitch.diatonic for n in found if n is not None and n.pitch is not None]
        moves = tuple(b - a for a, b in itertools.pairwise(d))
        right = statement.pitch is None or d[:1] == [statement.pitch.diatonic]
        return right and moves == statement.motif.steps

    def _returns(self, one: Countersubject, start: Fraction, end: Fraction) -> bool:
        """Whether what a voice sings in a stretch against an entry is heard against another one too: three
        notes of both at least, and one of the stretch."""

        def line(c: Countersubject) -> dict[Fraction, int]:
            return {
                n.onset - c.start: n.pitch.diatonic
                for n in self.notes[c.voice]
                if c.start <= n.onset < c.end and n.pitch is not None
            }

        own = line(one)
        for other in (line(c) for c in self.plan.countersubject if c.start != one.start):
            for by in {other[t] - d for t, d in own.items() if t in other}:
                both = [one.start + t for t, d in own.items() if other.get(t) == d + by]
                if len(both) >= COMMON and any(start <= t < end for t in both):
                    return True
        return False

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

    def _after(self, choice: Choice) -> Note | None:
        """The note that begins where a stretch ends."""
        end = choice.onset + choice.duration
        found = self._sounding(choice.voice, end)
        return found if found is not None and found.onset == end and found.pitch is not None else None

    def _table(self, choice: Choice) -> Phrase | None:
        after = self._after(choice)
        if not choice.pattern or choice.after is None or after is None or after.pitch != choice.after.pitch:
            return None
        assert choice.plain.pitch is not None and after.pitch is not None
        return Phrase.of("table", figure=choice.name, first=choice.plain.pitch.name, last=after.pitch.name)

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
            if len(moves) > 1 and all(a == -b for a, b in itertools.pairwise(moves)):
                return Phrase.of("neighbour", pitch=first)
        return self._passing(choice) or self._moving(choice)

    def _passing(self, choice: Choice) -> Phrase | None:
        """The first notes between which others pass by step that the plain voice has not."""
        after = self._after(choice)
        row = [n for n in (*choice.notes, *([after] if after else [])) if n.pitch is not None]
        pitches = [n.pitch for n in row if n.pitch is not None]
        plain = {(n.onset, n.pitch) for n in choice.replaced}
        for k in range(1, len(row) - 1):
            way = pitches[k].diatonic - pitches[k - 1].diatonic
            new = (row[k].onset, row[k].pitch) not in plain
            if abs(way) != 1 or pitches[k + 1].diatonic - pitches[k].diatonic != way or not new:
                continue
            j = k + 1
            while j + 1 < len(row) and pitches[j + 1].diatonic - pitches[j].diatonic == way:
                j += 1
            return Phrase.of("passing", first=pitches[k - 1].name, last=pitches[j].name)
        return None

    def _moving(self, choice: Choice) -> Phrase:
        """What is neither step nor neighbour: notes of the sonority, notes held on or broken off, a rhythm of
        its own, or merely another line."""
        pitches = {n.pitch for n in choice.replaced}
        new = [n for n in choice.notes if n.pitch not in pitches]
        if new and all(map(self._of_the_sonority, new)):
            return Phrase("exchange")
        long = sum((n.duration for n in choice.notes), Fraction(0))
        if not new and len(choice.notes) <= len(choice.replaced) and long < choice.duration:
            return Phrase("breath")
        if not new and len(choice.notes) < len(choice.replaced):
            return Phrase("held")
        if [n.pitch for n in choice.notes] == [n.pitch for n in choice.replaced]:
            return Phrase("shifted")
        if len(choice.notes) > len(choice.replaced) and self._alone(choice):
            return Phrase("rhythm")
        first, last = choice.notes[0].pitch, choice.notes[-1].pitch
        assert first is not None and last is not None
        return Phrase.of("line", first=first.name, last=last.name)

    def _of_the_sonority(self, note: Note) -> bool:
        assert note.pitch is not None
        now = [s for s in self.sonorities if s.onset <= note.onset < s.onset + s.duration]
        return any(note.pitch.letter in {*s.full, s.bass.letter} for s in now)

    def _alone(self, choice: Choice) -> bool:
        """Whether a note begins while another voice holds one."""
        return any(
            a.onset < n.onset < a.end
            for n in choice.notes
            for voice, notes in self.notes.items()
            if voice != choice.voice
            for a in notes
        )


def _figures(notes: Sequence[Note]) -> Iterator[tuple[tuple[Note, ...], Figure]]:
    for group in zip(notes, notes[1:], notes[2:], notes[3:]):
        pairs = list(itertools.pairwise(group))
        if any(a.end != b.onset or a.pitch is None or b.pitch is None for a, b in pairs):
            continue
        steps = tuple(b.pitch.diatonic - a.pitch.diatonic for a, b in pairs if a.pitch and b.pitch)
        if sum(s != 0 for s in steps) > 1:
            yield group, (steps, tuple(b.onset - a.onset for a, b in pairs))
