"""From a plain realisation to voices, to diminished ones, and back."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from builder.analysis import Analysis
from builder.counterpoint import Realisation
from builder.diminution import diminished, invoices
from builder.diminution.choices import choices
from builder.diminution.closes import closes
from builder.diminution.gate import Gate
from builder.diminution.harmony import harmony
from builder.diminution.hearing import Energy
from builder.diminution.pattern import Pattern
from builder.diminution.pinned import pinned
from builder.diminution.reasons import Reasons
from builder.diminution.result import Choice, Diminution
from builder.diminution.search import Search
from builder.diminution.stillness import held, kept, still_in_diminution, still_in_voices
from builder.diminution.tables import patterns
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Weave, given_voices
from builder.music import QUARTER_COMMA, Part, Score, Tuning, Version
from builder.plan import Plan, make_plan
from builder.source import Verset

LEVELS = (1, 2, 3)
PLANS = 4
"""Plans that are made and carried out; the voices go on with the one that is realised best."""


def diminish(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    level: int | None = None,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
    tuning: Tuning = QUARTER_COMMA,
) -> Diminution:
    """Set a plain realisation in graceful voices, and break their notes into shorter ones.

    `level` 1 in voices, 2 diminished in eighths, 3 full (none: the source's, else 2); each holds what the one
    below has. Each `seed` gives its own, always the same. `tables` are the patterns (none: the house's);
    `given_line` lets the given line move after its entries. `tuning` is what the keys are judged by.

    No voice but a pinned one departs from its plain notes in an entry of the theme, and the check finds no
    error that the plain setting had not.

    Raises `ValueError` for a level that is not 1, 2 or 3.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> graced = diminish(verset, analysis, plain, level=2)
    >>> sum(len(p.notes) for p in graced.score.parts) > sum(len(p.notes) for p in plain.score.parts)
    True
    """
    level = level or verset.settings.level or 2
    if level not in LEVELS:
        raise ValueError(f"level {level}: there are three, 1 (in voices), 2 (diminished) and 3 (full)")
    made = diminutions(
        verset,
        analysis,
        realisation,
        up_to=level,
        seed=seed,
        tables=tables,
        given_line=given_line,
        tuning=tuning,
    )
    return made[level]


def diminutions(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation,
    *,
    up_to: int = 3,
    seed: int | None = None,
    tables: Sequence[Pattern] | None = None,
    given_line: bool = True,
    tuning: Tuning = QUARTER_COMMA,
) -> dict[int, Diminution]:
    """All levels up to one, each made from the one below. As `diminish`.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> sorted(diminutions(verset, analysis, plain, up_to=2))
    [1, 2]
    """
    seed = verset.settings.seed if seed is None else seed
    table = patterns() if tables is None else tuple(tables)
    ground = _Ground(verset, analysis, realisation, table, tuning)
    plans = [ground.begun(Random(f"{verset.name} {seed} {n} plan")) for n in range(PLANS)]
    _, voices, plan = min(plans, key=lambda x: x[0])
    weave = voices.weave
    suspended = held(ground.laid())
    opening = weave.tick(analysis.entries[0].end) if analysis.entries else 0
    ends = [weave.tick(c.onset) for c in analysis.cadences]
    found: dict[int, Diminution] = {}
    for level in range(1, up_to + 1):
        dice = Random(f"{verset.name} {seed} {level}")
        if level == 1:
            search = voices.search
            voices.run()
            close = _close(weave)
            weave.mend(close)
            if search.gate.new_errors(search.gate.whole(weave).findings):
                # Held on, a note may clash where struck again it does not.
                weave.cut(close)
        else:
            below = diminished.noted(weave)
            if level == 2:
                given, pins = ground.given, ground.pins
                still = still_in_diminution(weave, analysis, given, pins, given_line, suspended)
                ways = closes(weave, analysis, given, kept(weave, analysis, pins), given_line)
            worth = diminished.Worth(weave, level, verset.settings.density or 1.0, opening)
            search = ground.search(weave, worth, dice)
            words = Words(table, level, Fraction(1, 4))
            stated = _stated(weave, plan)
            diminished.Diminished(search, still, level, below, ways, words, ends, stated).run()
        found[level] = ground.result(search, level, seed, plan)
    return found


def _stated(weave: Weave, plan: Plan) -> set[tuple[int, int]]:
    """Voices and ticks of the notes with which the plan has them answer the line."""
    found: set[tuple[int, int]] = set()
    for s in (s for s in plan.statements if s.motif.first):
        times = itertools.accumulate(s.motif.lengths[:-1], initial=s.onset)
        found.update((weave.voices.index(s.voice), weave.tick(t)) for t in times)
    return found


class _Ground:
    """What all levels of a verset are made from: the plain setting with what is set by hand, what its figures
    ask for, and the check that lets changes through."""

    def __init__(
        self,
        verset: Verset,
        analysis: Analysis,
        realisation: Realisation,
        table: Sequence[Pattern],
        tuning: Tuning,
    ) -> None:
        self.verset, self.analysis, self.realisation, self.table = verset, analysis, realisation, table
        self.hand = pinned(verset, realisation.score, table)
        self.pins = [(c.voice, c.onset, c.onset + c.duration) for c in self.hand]
        self.gate = Gate(verset, analysis, realisation, tuning)
        weave = self.laid()
        self.asked = harmony(weave, self.gate.judge.cut)
        self.given = given_voices(weave, verset)

    def laid(self) -> Weave:
        """The plain voices with the notes set by hand."""
        weave = Weave(self.realisation.score)
        for choice in self.hand:
            _lay(weave, choice)
        return weave

    def search(self, weave: Weave, worth: Energy, dice: Random) -> Search:
        return Search(weave, self.asked, self.gate, self.given, worth, dice)

    def begun(self, dice: Random) -> tuple[float, invoices.Voices, Plan]:
        """A plan carried out in voices of its own, and what these cost."""
        weave = self.laid()
        weave.cut(_close(weave))
        search = self.search(weave, lambda w: invoices.worth(w, self.given), dice)
        still = still_in_voices(weave, self.analysis, self.given, self.pins)
        voices = invoices.Voices(search, self.analysis, still, Words(self.table, 1, Fraction(1, 2)))
        plan = make_plan(self.verset, self.analysis, self.realisation, dice)
        plan = voices.carry_out(plan, self.verset)
        return search.now + search.price * search.warned - len(plan.statements), voices, plan

    def result(self, search: Search, level: int, seed: int, plan: Plan) -> Diminution:
        """The voices as a search has left them, with each pattern found in them and why it is there."""
        plain = self.realisation.score
        score = with_editorial(search.weave.scored(), plain, self.hand)
        reasons = Reasons(self.verset, score, plan)
        graced = tuple(reasons.given(c) for c in choices(plain, score, self.hand, self.table))
        findings, cost = self.gate.whole(search.weave).findings, round(search.now + search.warned, 3)
        return Diminution(score, level, seed, graced, findings, cost, plan)


def skeleton(diminution: Diminution) -> Score:
    """The plain realisation inside a diminished one: every choice gives its plain notes back.

    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> skeleton(diminish(verset, analysis, plain, level=2)) == plain.score
    True
    """
    parts = []
    for part in diminution.score.parts:
        own = [c for c in diminution.choices if c.voice == part.voice]
        spans = [(c.onset, c.onset + c.duration) for c in own]
        kept = [n for n in part.sounding() if not any(a <= n.onset < b for a, b in spans)]
        kept += [n for c in own for n in (c.replaced or (c.plain,))]
        parts.append(Part(part.voice, tuple(sorted(kept, key=lambda n: n.onset))))
    return replace(diminution.score, version=Version.PLAIN, parts=tuple(parts))


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


def _close(weave: Weave) -> int:
    """The tick of the last note."""
    return max((row[-1].start for row in weave.tones if row), default=0)


def _lay(weave: Weave, choice: Choice) -> None:
    voice = weave.voices.index(choice.voice)
    notes = tuple(weave.tone(n) for n in choice.notes if n.pitch is not None)
    start, end = weave.tick(choice.onset), weave.tick(choice.onset + choice.duration)
    weave.apply(Change(voice, start, end, notes))
