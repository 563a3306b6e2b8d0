"""Holds each reason of a grace against the notes: what the sentence says is looked for in the score anew."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from builder.diminution import Choice
from builder.language.texts import Phrase
from builder.music import Note, Score
from builder.setting.setting import Setting

Told = dict[str, Any]


def untrue(setting: Setting, level: int) -> Iterator[tuple[Choice, str]]:
    """The graces of a level whose sentence says what the notes do not, and what that is."""
    held = Held(setting, level)
    for choice in setting.diminutions[level].choices:
        assert choice.reason is not None
        wrong = held.wrong(choice, choice.reason)
        if wrong:
            yield choice, wrong


class Held:
    def __init__(self, setting: Setting, level: int) -> None:
        self.setting = setting
        self.score: Score = setting.diminutions[level].score
        self.plan = setting.diminutions[level].plan

    def wrong(self, choice: Choice, reason: Phrase) -> str:
        kind = reason.key.partition("-")[0]
        return str(getattr(self, f"_{kind}")(choice, dict(reason.values)))

    # what sounds

    def notes(self, voice: str) -> tuple[Note, ...]:
        return tuple(self.score.part(voice).sounding())

    def sounds(self, voice: str, time: Fraction) -> Note | None:
        return next((n for n in self.notes(voice) if n.onset <= time < n.end), None)

    def stretch(self, choice: Choice) -> tuple[Note, ...]:
        end = choice.onset + choice.duration
        return tuple(n for n in self.notes(choice.voice) if choice.onset <= n.onset < end)

    # what is told

    def _statement(self, choice: Choice, told: Told) -> str:
        assert told["voice"] == choice.voice
        one = next(s for s in self.plan.statements if (s.place, s.voice) == (told["place"], choice.voice))
        times = list(itertools.accumulate(one.motif.lengths[:-1], initial=one.onset))
        sung = [self.sounds(choice.voice, t) for t in times]
        if any(n is None for n in sung):
            return "the voice rests in its motif"
        d = [n.pitch.diatonic for n in sung if n and n.pitch]
        steps = tuple(b - a for a, b in itertools.pairwise(d))
        if steps != one.motif.steps:
            return f"the motif has {one.motif.steps}, the voice {steps}"
        steps_told = told["steps"]
        had = self._had(one, told["leader"])
        if had and all(d[0] - h != steps_told for h in had):
            return f"{told['leader']} had it on {had}, not {steps_told} steps from {d[0]}"
        return "" if had else f"{told['leader']} never had it"

    def _had(self, one, leader: str) -> list[int]:
        """The steps on which the leader began what the motif is taken from, before."""
        if one.motif.kind == "line":
            own = [g.note for g in self.setting.verset.given if g.voice == leader and g.note.pitch]
            groups = zip(*(own[k:] for k in range(len(one.motif.lengths))))
            return [
                g[0].pitch.diatonic for g in groups if g[0].onset < one.onset and moves(g) == one.motif.steps
            ]
        return [
            e.pitch.diatonic
            for e in self.setting.analysis.entries
            if e.voice == leader and e.onset < one.onset
        ]

    def _countersubject(self, choice: Choice, told: Told) -> str:
        """The same moves in the same rhythm against two entries, and some of them in the stretch."""
        one = next(c for c in self.plan.countersubject if c.place == told["place"])
        if (one.voice, one.against) != (told["voice"], told["against"]) or one.voice != choice.voice:
            return "the plan has none there"
        if all(e.onset != one.start for e in self.setting.analysis.entries):
            return "no entry there"
        end = choice.onset + choice.duration
        for other in self.plan.countersubject:
            if other.start == one.start:
                continue
            both = [
                (a, b)
                for a in self.notes(one.voice)
                for b in self.notes(other.voice)
                if one.start <= a.onset < one.end and a.onset - one.start == b.onset - other.start
            ]
            for by in {a.pitch.diatonic - b.pitch.diatonic for a, b in both}:
                same = [a for a, b in both if a.pitch.diatonic - b.pitch.diatonic == by]
                if len(same) > 2 and any(choice.onset <= a.onset < end for a in same):
                    return ""
        return "it comes nowhere else"

    def _silent(self, choice: Choice, told: Told) -> str:
        return "it sounds" if self.stretch(choice) or told["voice"] != choice.voice else ""

    def _figure(self, choice: Choice, voice: str, told: Told, steps: int | None) -> str:
        """Whether a figure of four notes in the stretch was heard before in a voice, at the place."""
        end = choice.onset + choice.duration
        row, other = self.notes(choice.voice), self.notes(voice)
        for own in fours(row):
            if not any(choice.onset <= n.onset < end for n in own):
                continue
            for had in fours(other):
                if self.setting.verset.place(had[0].onset) != told["place"] or had[0].onset >= own[0].onset:
                    continue
                by = own[0].pitch.diatonic - had[0].pitch.diatonic
                if moves(own) == moves(had) and gaps(own) == gaps(had) and (steps is None or by == steps):
                    return ""
        return "no such figure there"

    def _answer(self, choice: Choice, told: Told) -> str:
        steps = told.get("steps")
        return self._figure(choice, told["leader"], told, int(steps) if steps is not None else None)

    def _sequence(self, choice: Choice, told: Told) -> str:
        return self._figure(choice, choice.voice, told, int(told["steps"]))

    def _repeated(self, choice: Choice, told: Told) -> str:
        return self._figure(choice, choice.voice, told, 0)

    def _suspension(self, choice: Choice, told: Told) -> str:
        row = self.notes(choice.voice)
        for a, b in itertools.pairwise(row):
            if (
                a.pitch.name != told["pitch"]
                or not a.onset < choice.onset + choice.duration
                or a.end <= choice.onset
            ):
                continue
            if a.end != b.onset or a.pitch.diatonic - b.pitch.diatonic != 1:
                continue
            for part in self.score.parts:
                for n in part.sounding() if part.voice != choice.voice else ():
                    if a.onset < n.onset < a.end and dissonant(a, n, self.lowest(n.onset)):
                        return ""
        return "nothing is suspended"

    def lowest(self, time: Fraction) -> int:
        sung = [self.sounds(p.voice, time) for p in self.score.parts]
        return min(n.pitch.midi for n in sung if n)

    def _formula(self, choice: Choice, told: Told) -> str:
        end = choice.onset + choice.duration
        after = self.sounds(choice.voice, end)
        plain = choice.replaced[-1]
        if after is None or after.onset != end or after.pitch.diatonic - plain.pitch.diatonic != 1:
            return "the plain note does not rise"
        if not any(c.onset == end for c in self.setting.analysis.cadences):
            return "no close"
        return "" if len(self.stretch(choice)) > len(choice.replaced) else "not graced"

    def _walk(self, choice: Choice, told: Told) -> str:
        if {abs(m) for m in moves(self.stretch(choice))} != {1}:
            return "not by step"
        if not any(abs(m) > 1 for m in moves(choice.replaced)):
            return "plain does not leap"
        return self._ends(choice, told)

    def _ends(self, choice: Choice, told: Told) -> str:
        own = self.stretch(choice)
        right = (own[0].pitch.name, own[-1].pitch.name) == (told["first"], told["last"])
        return "" if right else f"from {own[0].pitch.name} to {own[-1].pitch.name}"

    def _run(self, choice: Choice, told: Told) -> str:
        steps = moves(self.stretch(choice))
        return self._ends(choice, told) if len(steps) > 2 and {*steps} in ({1}, {-1}) else "no run"

    def _neighbour(self, choice: Choice, told: Told) -> str:
        """To the note beside and back, once or more."""
        own = self.stretch(choice)
        d = [n.pitch.diatonic for n in own]
        beside = {*d[1::2]}
        right = len(d) > 2 and {*d[::2]} == {d[0]} and beside in ({d[0] + 1}, {d[0] - 1})
        return "" if right and own[0].pitch.name == told["pitch"] else "no neighbour"

    def _passing(self, choice: Choice, told: Told) -> str:
        """From one note to another by step, the same way on, over notes that the plain voice has not."""
        end = choice.onset + choice.duration
        last = self.sounds(choice.voice, end)
        row = [*self.stretch(choice), *([last] if last and last.onset == end else [])]
        plain = {(n.onset, n.pitch) for n in choice.replaced}
        for i, j in itertools.combinations(range(len(row)), 2):
            steps = moves(row[i : j + 1])
            if j - i < 2 or {*steps} not in ({1}, {-1}):
                continue
            passed = any((n.onset, n.pitch) not in plain for n in row[i + 1 : j])
            if passed and (row[i].pitch.name, row[j].pitch.name) == (told["first"], told["last"]):
                return ""
        return "nothing passes"

    def _held(self, choice: Choice, told: Told) -> str:
        own, plain = self.stretch(choice), {n.pitch for n in choice.replaced}
        fewer = len(own) < len(choice.replaced) and {n.pitch for n in own} <= plain
        return "" if fewer and own[-1].end >= choice.onset + choice.duration else "it moves or rests"

    def _shifted(self, choice: Choice, told: Told) -> str:
        own, plain = self.stretch(choice), choice.replaced
        same = [n.pitch for n in own] == [n.pitch for n in plain]
        return "" if same and [n.onset for n in own] != [n.onset for n in plain] else "not shifted"

    def _breath(self, choice: Choice, told: Told) -> str:
        own = self.stretch(choice)
        return "" if sum(n.duration for n in own) < choice.duration else "no rest"

    def _line(self, choice: Choice, told: Told) -> str:
        own, plain = self.stretch(choice), choice.replaced
        if [(n.onset, n.pitch) for n in own] == [(n.onset, n.pitch) for n in plain]:
            return "the plain notes"
        return self._ends(choice, told)

    def _rhythm(self, choice: Choice, told: Told) -> str:
        for n in self.stretch(choice):
            others = [self.sounds(p.voice, n.onset) for p in self.score.parts if p.voice != choice.voice]
            if any(o and o.onset < n.onset for o in others):
                return ""
        return "no other holds"

    def _exchange(self, choice: Choice, told: Told) -> str:
        plain = {n.pitch for n in choice.replaced}
        for n in self.stretch(choice):
            if n.pitch in plain:
                continue
            one = [
                s for s in self.setting.realisation.sonorities if s.onset <= n.onset < s.onset + s.duration
            ]
            letters = {p.letter for s in one for p in (s.bass, *(p for _, p in s.voices))}
            letters |= {name.rstrip("*") for s in one for name in s.full}
            if n.pitch.letter not in letters:
                return f"{n.pitch} is not of the sonority"
        return "" if any(n.pitch not in plain for n in self.stretch(choice)) else "no other tone"

    def _table(self, choice: Choice, told: Told) -> str:
        pattern = next(p for p in self.setting.tables if p.id == choice.pattern)
        own, plain = self.stretch(choice), choice.plain
        if tuple(n.pitch.diatonic - plain.pitch.diatonic for n in own) != pattern.steps:
            return "other steps than the table"
        after = self.sounds(choice.voice, choice.onset + choice.duration)
        if pattern.figure != told["figure"] or plain.pitch.name != told["first"]:
            return "another pattern"
        if choice.after is None or choice.after.pitch.name != told["last"]:
            return "goes elsewhere in plain"
        return "" if after and after.pitch.name == told["last"] else f"goes to {after and after.pitch.name}"

    def _by(self, choice: Choice, told: Told) -> str:
        return "" if choice.pinned else "not pinned"


def fours(row: Sequence[Note]) -> Iterator[tuple[Note, ...]]:
    for group in zip(row, row[1:], row[2:], row[3:]):
        if all(a.end == b.onset for a, b in itertools.pairwise(group)):
            yield group


def moves(row: Sequence[Note]) -> tuple[int, ...]:
    return tuple(b.pitch.diatonic - a.pitch.diatonic for a, b in itertools.pairwise(row))


def gaps(row: Sequence[Note]) -> tuple[Fraction, ...]:
    return tuple(b.onset - a.onset for a, b in itertools.pairwise(row))


def dissonant(a: Note, b: Note, lowest: int) -> bool:
    """Seconds, sevenths and all that is augmented or diminished; a fourth where one of them is the lowest."""
    steps = abs(a.pitch.diatonic - b.pitch.diatonic) % 7
    semitones = abs(a.pitch.midi - b.pitch.midi) % 12
    if steps in (1, 6):
        return True
    if steps == 3:
        return semitones != 5 or lowest in (a.pitch.midi, b.pitch.midi)
    return steps == 4 and semitones != 7
