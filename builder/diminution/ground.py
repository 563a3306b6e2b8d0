"""What all levels of a verset are made from, and how each is made from the one below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution import diminished, invoices
from builder.diminution.choices import choices
from builder.diminution.closes import Close, closes
from builder.diminution.gate import Gate
from builder.diminution.harmony import harmony
from builder.diminution.hearing import Energy
from builder.diminution.moving import Free, Written
from builder.diminution.pattern import Pattern
from builder.diminution.pinned import pinned
from builder.diminution.reasons import Reasons
from builder.diminution.result import Choice, Diminution
from builder.diminution.search import Search
from builder.diminution.stillness import Still, held, kept, still_in_diminution, still_in_voices
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Weave, given_voices
from builder.music import Part, Score, Tuning
from builder.plan import Plan, make_plan
from builder.source import Verset

PLANS = 4
"""Plans that are made and carried out; the voices go on with the one that is realised best."""


class Ground:
    """What all levels of a verset are made from: the plain setting with what is set by hand, what its figures
    ask for, the check that lets changes through, and, of a verset that was moved, the levels as written."""

    def __init__(
        self,
        verset: Verset,
        analysis: Analysis,
        realisation: Realisation,
        table: Sequence[Pattern],
        tuning: Tuning,
        seed: int,
        written: Written | None,
    ) -> None:
        self.verset, self.analysis, self.realisation, self.table = verset, analysis, realisation, table
        self.seed, self.written = seed, written
        self.hand = pinned(verset, realisation.score, table)
        self.pins = [(c.voice, c.onset, c.onset + c.duration) for c in self.hand]
        self.gate = Gate(verset, analysis, realisation, tuning)
        weave = self.laid()
        self.suspended = held(weave)
        self.opening = weave.tick(analysis.entries[0].end) if analysis.entries else 0
        self.asked = harmony(weave, self.gate.judge.cut)
        self.given = given_voices(weave, verset)
        self.bounds: tuple[Still, list[list[Close]]] | None = None

    def laid(self) -> Weave:
        """The plain voices with the notes set by hand."""
        weave = Weave(self.realisation.score)
        for choice in self.hand:
            _lay(weave, choice)
        return weave

    def in_voices(self) -> tuple[Search, Plan]:
        """Level 1, and the plan that it was made from."""
        if self.written:
            weave = self.laid()
            free = self.written.lay(weave, 1, self.gate, self.asked)
            plan = self.written.plan(self._plan(Random(0)), weave)
            if not free:
                return self._search(weave, self._in_voices, self._dice(1)), plan
            weave.cut(_close(weave))
            voices = self._voices(weave, self._dice(1), free)
        else:
            plans = [self._begun(Random(f"{self.verset.name} {self.seed} {n} plan")) for n in range(PLANS)]
            _, voices, plan = min(plans, key=lambda x: x[0])
        voices.run()
        self._mend(voices.search)
        return voices.search, plan

    def in_small_notes(self, weave: Weave, level: int, plan: Plan, *, line: bool) -> Search:
        """Level 2 or 3, from the one below. `line`: whether the given line moves."""
        below = diminished.noted(weave)
        still, ways = self._bounds(weave, line=line)
        worth = diminished.Worth(weave, level, self.verset.settings.density or 1.0, self.opening)
        stated = _stated(weave, plan)
        if self.written:
            free = self.written.lay(weave, level, self.gate, self.asked)
            if not free:
                return self._search(weave, worth, self._dice(level))
            still = still.all_but(free)
        search = self._search(weave, worth, self._dice(level))
        words = Words(self.table, level, Fraction(1, 4))
        ends = [weave.tick(c.onset) for c in self.analysis.cadences]
        diminished.Diminished(search, still, level, below, ways, words, ends, stated).run()
        return search

    def result(self, search: Search, level: int, plan: Plan) -> Diminution:
        """The voices as a search has left them."""
        other = self.written.other_bars(search.weave, level) if self.written else ()
        return self.told(search.weave, level, plan, round(search.now + search.warned, 3), other)

    def told(
        self, weave: Weave, level: int, plan: Plan, cost: float, otherwise: tuple[int, ...]
    ) -> Diminution:
        """Voices of a level with each pattern found in them, why it is there, and what the check finds."""
        plain = self.realisation.score
        score = with_editorial(weave.scored(), plain, self.hand)
        reasons = Reasons(self.verset, score, plan, self.realisation.sonorities)
        graced = tuple(reasons.given(c) for c in choices(plain, score, self.hand, self.table))
        findings = self.gate.whole(weave).findings
        return Diminution(score, level, self.seed, graced, findings, cost, plan, otherwise)

    def _bounds(self, weave: Weave, *, line: bool) -> tuple[Still, list[list[Close]]]:
        """What must stay in small notes, and the formulas of the closes, by the voices of level 1."""
        if self.bounds is None:
            still = still_in_diminution(weave, self.analysis, self.given, self.pins, line, self.suspended)
            own = kept(weave, self.analysis, self.pins)
            self.bounds = still, closes(weave, self.analysis, self.given, own, line)
        return self.bounds

    def _dice(self, level: int) -> Random:
        return Random(f"{self.verset.name} {self.seed} {level}")

    def _plan(self, dice: Random) -> Plan:
        return make_plan(self.verset, self.analysis, self.realisation, dice)

    def _in_voices(self, weave: Weave) -> float:
        return invoices.worth(weave, self.given)

    def _search(self, weave: Weave, worth: Energy, dice: Random) -> Search:
        return Search(weave, self.asked, self.gate, self.given, worth, dice)

    def _voices(self, weave: Weave, dice: Random, free: Sequence[Free] | None = None) -> invoices.Voices:
        still = still_in_voices(weave, self.analysis, self.given, self.pins)
        if free is not None:
            still = still.all_but(free)
        search = self._search(weave, self._in_voices, dice)
        return invoices.Voices(search, self.analysis, still, Words(self.table, 1, Fraction(1, 2)))

    def _begun(self, dice: Random) -> tuple[float, invoices.Voices, Plan]:
        """A plan carried out in voices of its own, and what these cost."""
        weave = self.laid()
        weave.cut(_close(weave))
        voices = self._voices(weave, dice)
        plan = voices.carry_out(self._plan(dice), self.verset)
        search = voices.search
        return search.now + search.price * search.warned - len(plan.statements), voices, plan

    def _mend(self, search: Search) -> None:
        """Hold notes on into the close, where they were cut for the search."""
        weave = search.weave
        close = _close(weave)
        weave.mend(close)
        if self.gate.new_errors(self.gate.whole(weave).findings):
            # Held on, a note may clash where struck again it does not.
            weave.cut(close)


def with_editorial(score: Score, plain: Score, hand: Sequence[Choice]) -> Score:
    """The score with the editor's accidentals told as his: on a note that sounds, at the same pitch, with one
    to which he gave it, in the plain setting or by hand."""
    parts = []
    for part in score.parts:
        his = [note for note in plain.part(part.voice).notes if note.editorial]
        his += [note for c in hand if c.voice == part.voice for note in c.notes if note.editorial]
        notes = [
            replace(note, editorial=True)
            if any(n.pitch == note.pitch and n.onset < note.end and note.onset < n.end for n in his)
            else note
            for note in part.notes
        ]
        parts.append(Part(part.voice, tuple(notes)))
    return replace(score, parts=tuple(parts))


def _stated(weave: Weave, plan: Plan) -> set[tuple[int, int]]:
    """Voices and ticks of the notes with which the plan has them answer the line."""
    found: set[tuple[int, int]] = set()
    for s in (s for s in plan.statements if s.motif.first):
        found.update((weave.voices.index(s.voice), weave.tick(t)) for t in s.times)
    return found


def _close(weave: Weave) -> int:
    """The tick of the last note."""
    return max((row[-1].start for row in weave.tones if row), default=0)


def _lay(weave: Weave, choice: Choice) -> None:
    voice = weave.voices.index(choice.voice)
    notes = tuple(weave.tone(n) for n in choice.notes if n.pitch is not None)
    start, end = weave.tick(choice.onset), weave.tick(choice.onset + choice.duration)
    weave.apply(Change(voice, start, end, notes))
