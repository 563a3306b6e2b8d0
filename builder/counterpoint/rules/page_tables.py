"""The rules as tables, for a page that must judge without Python: verdicts are looked up by the features that
the rules depend on, never worked out anew.

Every entry is found by putting the rules' own predicates to the values of the features; what a clash meets,
by putting it to the check.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import cache
from itertools import product
from typing import Any

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.context import (
    CONTRARY,
    FEATURES,
    JUDGES,
    OBLIQUE,
    SIMILAR,
    VOICES,
    Intervals,
    Of,
    Perfect,
    When,
)
from builder.counterpoint.rules.keyboard import hand_spans
from builder.counterpoint.rules.motion import perfect
from builder.counterpoint.rules.obligations import entered, left
from builder.counterpoint.rules.phrases import worded
from builder.counterpoint.rules.rule import Move, Rule, Severity
from builder.counterpoint.rules.rulebook import RULES, asked
from builder.counterpoint.rules.rulebook import met as met_by
from builder.counterpoint.rules.slices import Grid
from builder.counterpoint.rules.tables import MELODY, STEP_RULES, TURNS
from builder.counterpoint.rules.treatment import UNTREATED, Treatment, clashes
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version
from builder.music.consonance import CLASHES

_Table = dict[str, list[str]]
_NATURAL = (0, 2, 4, 5, 7, 9, 11)
LOWEST, HIGHEST = -26, 30
"""Staff steps between two voices that the tables know."""
LEAPS = 26
"""Widest melodic interval the tables know, in staff steps."""
WIDEST = 10
"""Gap in staff steps from which two notes never lie in one hand."""


def _semitones(steps: int) -> range:
    """Sizes that so many steps may have between notes altered by at most a semitone."""
    large = 12 * (steps // 7) + _NATURAL[steps % 7]
    return range(large - 4, large + 4)


def _intervals(low: int, high: int) -> list[tuple[int, int]]:
    return [(d, m) for d in range(low, high + 1) for m in _semitones(d)]


@cache
def tables() -> dict[str, Any]:
    """All verdicts that do not depend on a verset, ready for JSON.

    >>> found = tables()
    >>> found["perfect"]["4,7"], found["motion"]["1,1,1,0"]
    (1, ['parallel-fifths'])
    >>> found["melody"]["9,16"]
    ['leap-beyond-octave']
    """
    return {
        "rules": _contexts(),
        "perfect": _perfect(),
        "together": _by_interval("interval", _on(asked(When.ONSET, *VOICES), "interval"), LOWEST, HIGHEST),
        "stack": _stacks(),
        "motion": _motion(),
        "across": _across(),
        "chromatic": [f"{d},{m}" for d, m in _intervals(-LEAPS, LEAPS) if d == 0 and m],
        "melody": _by_interval("move", MELODY, -LEAPS, LEAPS),
        "turns": _turns(),
        "owed": _owed(),
        "clash": _clash(True),
        "clashAbove": _clash(False),
        "second": _second(),
        "held": _held(),
        "hands": _hands(),
        "fourth": int(Role.STEPWISE),
        "pedal": int(Role.PEDAL),
        "entered": _entering(),
        "left": _leaving(),
    }


def rule_words(language: str) -> dict[str, list[str]]:
    """Title, sentence and advice of every rule, in a language.

    >>> rule_words("it")["unison"][0]
    'Unisono'
    """
    told = (worded(name, language) for name in RULES)
    return {r.id: [r.title, r.sentence, r.advice] for r in told}


def _severities(rule: Rule) -> dict[str, list[Severity]]:
    """By number of voices; `lowest` where a pair with the lowest voice is judged otherwise."""
    found = {"severity": [rule.severity_for(n) for n in range(1, 7)]}
    if rule.lowest:
        found["lowest"] = [rule.severity_for(n, True) for n in range(1, 7)]
    return found


def _perfect() -> dict[str, int]:
    """1 fifths, 2 octaves, 3 unison; other intervals are not listed."""
    found = {f"{d},{m}": int(perfect(Intervals(d, m))) for d, m in _intervals(LOWEST, HIGHEST)}
    return {key: kind for key, kind in found.items() if kind}


def _by_interval(feature: str, rules: Iterable[Rule], low: int, high: int, **others: int) -> _Table:
    """By an interval (staff steps, semitones): the rules on it."""
    some, found = list(rules), {}
    for d, m in _intervals(low, high):
        known = {feature: Intervals(d, m), **others}
        found[f"{d},{m}"] = _named(some, known)
    return _shortened(found)


def _named(rules: Iterable[Rule], known: Mapping[str, Any]) -> list[str]:
    return [r.id for r in rules if r.predicate(**{name: known[name] for name in r.features})]


def _on(rules: Iterable[Rule], *features: str) -> Iterator[Rule]:
    return (r for r in rules if set(r.features) <= set(features))


def _motion() -> _Table:
    """By perfect interval before and after, motion (1 similar, 2 contrary, 0 neither) and whether the
    upper voice leaps."""
    rules = list(_on(STEP_RULES, "before", "after", "motion", "leaps"))
    found = {}
    for before, after, motion, leaps in product(Perfect, Perfect, (CONTRARY, OBLIQUE, SIMILAR), (0, 1)):
        known = {"before": before, "after": after, "motion": motion, "leaps": leaps}
        found[f"{before},{after},{motion % 3},{leaps}"] = _named(rules, known)
    return {key: met for key, met in found.items() if met}


def _across() -> list[_Table]:
    """From where one voice was to where the other goes (always lower voice to upper); then the same where one
    of the voices makes a chromatic step."""
    rules = list(_on(STEP_RULES, "across", "chromatic"))
    return [_by_interval("across", rules, LOWEST, HIGHEST, chromatic=own) for own in (0, 1)]


def _turns() -> _Table:
    """By steps of two moves one after the other, and the size of both together in semitones. Leaps wider
    than a tenth are left out: they break a rule of their own."""
    found: _Table = {}
    for (one, a), (two, b) in product(_intervals(-9, 9), repeat=2):
        met = _named(TURNS, {"first": Intervals(one, a), "second": Intervals(two, b)})
        key = f"{one},{two},{a + b}"
        if found.setdefault(key, met) != met:
            names = ", ".join({*met} ^ {*found[key]})
            raise TypeError(f"the page cannot ask {names} of two moves: it knows their sizes together only")
    return _shortened(found)


def _stacks() -> dict[str, dict[int, list[str]]]:
    """What sounds over the lowest note, as bits by staff step and by semitone: the rules on it."""
    found: dict[str, dict[int, list[str]]] = {}
    for name in ("numbers", "sizes"):
        rules = list(_on(asked(When.ONSET, Of.SONORITY), name))
        table = {bits: _named(rules, {name: bits}) for bits in FEATURES[name] or () if rules}
        found[name] = {bits: met for bits, met in table.items() if met}
    return found


def _contexts() -> dict[str, dict[str, Any]]:
    """Every rule that the page asks: how grave, of what, and where it is asked."""
    page = JUDGES["page"]
    found = {}
    for rule in RULES.values():
        if (rule.of, rule.when) in page:
            found[rule.id] = {
                **_severities(rule),
                "of": rule.of,
                "where": list(rule.where),
                "least": rule.least,
            }
    return found


def _owed() -> dict[str, list[str]]:
    """By what the page itself finds wrong with a note: the rules on that."""
    return {
        "lacking": _ids(met_by(When.ONSET, Of.FIGURE, lacking=1)),
        "foreign": _ids(met_by(When.ONSET, Of.FIGURE, foreign=1)),
        "undercut": _ids(met_by(When.ONSET, Of.GIVEN, undercut=1)),
        "unraised": _ids(met_by(When.ONSET, Of.CADENCE, unraised=1)),
        "astray": _ids(met_by(When.ONSET, Of.CADENCE, astray=1)),
        "minor": _ids(met_by(When.ONSET, Of.CADENCE, minor=1)),
        "untreated": _ids(met_by(When.ONSET, Of.CLASH, manner=int(Treatment.NONE))),
        "cadential": _ids(met_by(When.ONSET, Of.CLASH, manner=int(Treatment.CADENTIAL))),
    }


def _ids(rules: Iterable[Rule]) -> list[str]:
    return [r.id for r in rules]


def _shortened(found: dict[str, list[str]]) -> dict[str, list[str]]:
    """Where the size in semitones changes nothing, the key goes without it; keys of no rule go."""
    stems: dict[str, list[list[str]]] = {}
    for key, met in found.items():
        stems.setdefault(key.rpartition(",")[0], []).append(met)
    short = {}
    for key, met in found.items():
        stem = key.rpartition(",")[0]
        if all(each == stems[stem][0] for each in stems[stem]):
            short[stem] = met
        else:
            short[key] = met
    return {key: met for key, met in short.items() if met}


def _clash(bass: bool) -> list[str]:
    """Intervals (steps within the octave, semitones) that are dissonant above the lowest voice, or
    between two upper voices."""
    return [f"{k // 12},{k % 12}" for k, clash in enumerate(CLASHES[bass]) if clash]


def _second() -> dict[str, list[str]]:
    """What a second, lighter note in a sonority meets where it clashes: by the steps that lead to it and
    from it; `else` for all wider ones. Going nowhere (0) it is held into the next sonority."""
    found = {
        f"{came},{goes}": _second_met(came, goes) for came in range(-4, 5) for goes in range(-14, 15) if came
    }
    usual = _second_met(6, 6)
    return {"else": usual, **{key: met for key, met in found.items() if met != usual}}


def _held() -> dict[str, list[str]]:
    """What the clash of a second note with a held one meets where the second note itself excuses nothing: by
    the steps with which the held note came and goes on (0 for wider ones), whether the two have clashed
    before, whether it is no longer than a beat, and whether it began on a weaker part than its neighbours;
    `else` for all that is not listed."""
    found = {}
    untreated = _ids(met_by(When.ONSET, Of.CLASH, manner=int(Treatment.NONE)))
    for came, goes, clashed, short, weak in product((-1, 0, 1), (-1, 0, 1), (0, 1), (0, 1), (0, 1)):
        met = _held_met(came or 4, goes or 4, bool(clashed), bool(short), bool(weak))
        if met != untreated:
            found[f"{came},{goes},{clashed},{short},{weak}"] = met
    return {"else": untreated, **found}


def _held_met(came: int, goes: int, clashed: bool, short: bool, weak: bool) -> list[str]:
    """Put to the judge itself: over a half note of the bass a voice leaps, from a fifth or from a second, to
    a ninth and on from there. The half note is the second of its bar, or the first."""
    natural, begins = Signature().pitch, 2 if weak else 4
    below = _row([natural(29 - came), natural(29), natural(29 + goes)], (begins, 2, 6 - begins))
    above = _row([None, *map(natural, (30 if clashed else 33, 37, 43))], (begins, 1, 1, 6 - begins))
    metre = Metre.parse("C|" if short else "C")
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(2))
    parts = Part("cantus", above), Part("bassus", below)
    return _treated(Grid.of(Score("", Version.PLAIN, metre, Signature(), bars, parts)), Fraction(begins + 1))


def _second_met(came: int, goes: int) -> list[str]:
    """Put to the judge itself: a ninth over a held bass that then leaps away."""
    natural = Signature().pitch
    steps = (37 - came, 37, 37 + goes)
    values = (1, 1, 2) if goes else (1, 3)
    above = [natural(step) for step in (steps if goes else steps[:2])]
    below = [natural(step) for step in (29, 25)]
    bars = (Bar(1, Fraction(0), Fraction(4)),)
    parts = tuple(
        Part(voice, _row(pitches, lengths))
        for voice, pitches, lengths in (("cantus", above, values), ("bassus", below, (2, 2)))
    )
    return _treated(
        Grid.of(Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, parts)), Fraction(1)
    )


def _treated(grid: Grid, onset: Fraction) -> list[str]:
    """The rule that a clash of the two voices meets."""
    found, column = clashes(grid), grid.column(onset)
    if not found.clash[0, column]:
        raise ValueError("the second note must clash, else the table says nothing")
    manner = int(found.treatment[0, column])
    # To one who puts in a second note, every clash that nothing excuses is one and the same.
    kind = Treatment.NONE if manner in UNTREATED else manner
    return _ids(met_by(When.ONSET, Of.CLASH, manner=int(kind)))


def _row(pitches: Iterable[Pitch | None], lengths: Iterable[int]) -> tuple[Note, ...]:
    now, notes = Fraction(0), []
    for pitch, length in zip(pitches, lengths, strict=True):
        notes.append(Note(now, Fraction(length), pitch))
        now += length
    return tuple(notes)


def _hands() -> dict[str, Any]:
    """For two, three and four notes, the stretch of the hands by the gaps between neighbours, from the
    highest down (each at most `WIDEST`): a digit, the place among the lists of rules that it meets."""
    lists: list[list[str]] = [[]]
    found = []
    for notes in (2, 3, 4):
        gaps = np.array(list(product(range(WIDEST + 1), repeat=notes - 1)))
        rows = 60 - np.cumsum(gaps, axis=1)
        above = np.column_stack((np.full(len(rows), 60), rows[:, :-1]))
        digits = []
        for span in hand_spans(above, rows[:, -1]).tolist():
            names = _ids(met_by(When.ONSET, Of.HAND, span=span))
            if names not in lists:
                lists.append(names)
            digits.append(str(lists.index(names)))
        found.append("".join(digits))
    return {"widest": WIDEST, "rules": lists, "digits": found}


def _met(named: Iterable[tuple[str, Any]]) -> list[str]:
    return sorted({name for name, bad in named if bool(np.any(bad))})


def _steps(judge: Callable[[Move], list[str]]) -> dict[str, list[str]]:
    """What a judge says of each move; `else` for all moves that are not listed."""
    found = {}
    for d, m in _intervals(-LEAPS, LEAPS):
        found[f"{d},{m}"] = judge(
            Move(np.array([[28]]), np.array([[60]]), np.array([[28 + d]]), np.array([[60 + m]]))
        )
    usual = Counter(map(tuple, found.values())).most_common(1)[0][0]
    return {"else": list(usual), **{key: met for key, met in found.items() if tuple(met) != usual}}


def _entering() -> dict[str, dict[str, list[str]]]:
    """By role of a tone and the move that leads to it (`none` from silence)."""
    found = {}
    for role in Role:
        here = np.array([[int(role)]])
        table = _steps(lambda move, here=here: _met(entered(here, move)))  # type: ignore[misc]
        found[str(int(role))] = {**table, "none": _met(entered(here, None))}
    return found


def _leaving() -> dict[str, dict[str, list[str]]]:
    """By role of a tone, whether the tone it goes to is bound (0, 1) and the given note stays (0, 1):
    the moves that break a rule."""
    found = {}
    for role in Role:
        for bound in (0, 1):
            for stays in (0, 1):
                here, then = np.array([[int(role)]]), np.array([[bound]])

                def judge(
                    move: Move, here: Any = here, then: Any = then, stays: bool = bool(stays)
                ) -> list[str]:
                    return _met(left(here, move, then, stays))

                found[f"{int(role)},{bound},{stays}"] = _steps(judge)
    return found
