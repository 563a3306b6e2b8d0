"""The rules as tables, for a page that must judge without Python: verdicts are looked up by interval and
motion, never worked out anew.

Every entry is found by putting the rule's own predicate to all cases that share the features of the key;
`tables` refuses to be made when a predicate depends on anything else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import cache
from itertools import accumulate, product
from typing import Any

import numpy as np

from builder.counterpoint.figured_bass.sonority import Role
from builder.counterpoint.rules.dissonances import OF_TREATMENT
from builder.counterpoint.rules.keyboard import beyond_tenth, ninth
from builder.counterpoint.rules.melody import MELODY_RULES
from builder.counterpoint.rules.motion import (
    MOTION_RULES,
    false_relation,
    overlap,
)
from builder.counterpoint.rules.obligations import entered, left
from builder.counterpoint.rules.phrases import worded
from builder.counterpoint.rules.rule import Move, Rule, Tone
from builder.counterpoint.rules.rulebook import RULES
from builder.counterpoint.rules.slices import Grid
from builder.counterpoint.rules.tables import PAIR, class_of, pairs_of_moves, perfect
from builder.counterpoint.rules.treatment import Treatment, clashes, dissonant
from builder.counterpoint.search.voicing import hand_span
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature

_NATURAL = (0, 2, 4, 5, 7, 9, 11)
LOWEST, HIGHEST = -26, 30
"""Staff steps between two voices that the tables know."""
LEAPS = 26
"""Widest melodic interval the tables know, in staff steps."""
_OTHERS = ("figure-not-sounded", "against-figures", "third-missing", "given-not-lowest", "compass")
_MORE = ("not-in-tuning", "suspension-unprepared", "suspension-unresolved", "dissonance", "leading-note")
_LAST = ("leading-note-not-raised", "doubled-leading-note", "minor-close", "fourth-by-step")
_HANDS = ("", "hand-stretch", "out-of-reach")
_LEAVES = ("wolf", "escape-note", "accented-passing", "struck-again", *_HANDS[1:])
_HELD = ("weak-suspension", "rising-suspension")
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
        "rules": {name: _severities(RULES[name]) for name in _names()},
        "perfect": _perfect(),
        "sonority": _sonority(),
        "motion": _motion(),
        "cross": _cross(),
        "chromatic": [f"{d},{m}" for d, m in _intervals(-LEAPS, LEAPS) if d == 0 and m],
        "melody": _melody(),
        "line": _line(),
        "clash": _clash(True),
        "clashAbove": _clash(False),
        "second": _second(),
        "held": _held(),
        "hands": _hands(),
        "fourth": {"role": int(Role.STEPWISE), "rule": "fourth-by-step"},
        "passing": [int(role) for role in (Role.PEDAL, Role.RISING, Role.FALLING)],
        "entered": _entering(),
        "left": _leaving(),
    }


def _names() -> list[str]:
    found = [r.id for r in (*MOTION_RULES, *MELODY_RULES) if r.predicate]
    rest = (*_OTHERS, *_MORE, *_LAST, *_LEAVES, *_HELD)
    return [*found, *(name for name in rest if name in RULES)]


def rule_words(language: str) -> dict[str, list[str]]:
    """Title, sentence and advice of every rule, in a language.

    >>> rule_words("it")["unison"][0]
    'Unisono'
    """
    told = (worded(name, language) for name in RULES)
    return {r.id: [r.title, r.sentence, r.advice] for r in told}


def _severities(rule: Rule) -> dict[str, list[str]]:
    """By number of voices; `lowest` where a pair with the lowest voice is judged otherwise."""
    found = {"severity": [rule.severity_for(n) for n in range(1, 7)]}
    if rule.lowest:
        found["lowest"] = [rule.severity_for(n, True) for n in range(1, 7)]
    return found


def _perfect() -> dict[str, int]:
    """1 fifths, 2 octaves, 3 unison; other intervals are not listed."""
    found = {}
    for d, m in _intervals(LOWEST, HIGHEST):
        kind = perfect(Tone(28, 60), Tone(28 + d, 60 + m))
        if kind:
            found[f"{d},{m}"] = kind
    return found


def _sonority() -> dict[str, list[str]]:
    rules = [r for r in MOTION_RULES if r.kind == "sonority"]
    found = {}
    for d, m in _intervals(LOWEST, HIGHEST):
        met = [r.id for r in rules if r.predicate and r.predicate(Tone(28, 60), Tone(28 + d, 60 + m))]
        found[f"{d},{m}"] = met
    return _shortened(found)


def _motion() -> dict[str, list[str]]:
    """By perfect interval before and after, motion (1 similar, 2 contrary, 0 neither) and whether the
    upper voice leaps."""
    moves = [(d, m) for d in range(-8, 9) for m in _semitones(d)[2:6]]
    low, high = pairs_of_moves(_intervals(-4, 16), moves)
    code = class_of(low, high)
    found: dict[str, list[str]] = {}
    for rule in PAIR:
        assert rule.predicate
        for value in _where(rule, rule.predicate(low, high), code):
            way = value // 2 % 3 - 1
            key = f"{value // 24},{value // 6 % 4},{way % 3},{value % 2}"
            found.setdefault(key, []).append(rule.id)
    return found


def _where(rule: Rule, met: Any, code: Any) -> Iterable[int]:
    """Keys under which a rule is met; `ValueError` when the key does not settle it."""
    total = np.bincount(code)
    hits = np.bincount(code, weights=np.broadcast_to(met, code.shape).astype(float), minlength=len(total))
    if ((hits > 0) & (hits < total)).any():
        raise ValueError(f"the table of verdicts has too few features for {rule.id}")
    found: list[int] = np.flatnonzero(hits).tolist()
    return found


def _cross() -> dict[str, list[str]]:
    """From where one voice was to where the other goes (always lower voice to upper): overlap, and
    false relation unless one of the voices makes a chromatic step itself."""
    found: dict[str, list[str]] = {}
    still = Move(28, 60, 28, 60)
    for d, m in _intervals(LOWEST, HIGHEST):
        # The upper voice comes from afar, so that only the one diagonal speaks.
        up = Move(100, 200, 28 + d, 60 + m)
        met = [r.id for r in _crossing_rules() if r.predicate and r.predicate(still, up)]
        found[f"{d},{m}"] = met
    return _shortened(found)


def _crossing_rules() -> list[Rule]:
    return [r for r in MOTION_RULES if r.predicate in (overlap, false_relation)]


def _melody() -> dict[str, list[str]]:
    rules = [r for r in MELODY_RULES if r.kind == "melody"]
    found = {}
    for d, m in _intervals(-LEAPS, LEAPS):
        met = [r.id for r in rules if r.predicate and r.predicate(Move(28, 60, 28 + d, 60 + m))]
        found[f"{d},{m}"] = met
    return _shortened(found)


def _line() -> dict[str, list[str]]:
    """By steps of two moves one after the other, and the size of both together in semitones. Leaps wider
    than a tenth are left out: they break a rule of their own."""
    found: dict[str, list[str]] = {}
    rules = [r for r in MELODY_RULES if r.kind == "line"]
    for one, a in _intervals(-9, 9):
        for two, b in _intervals(-9, 9):
            first = Move(28, 60, 28 + one, 60 + a)
            second = Move(28 + one, 60 + a, 28 + one + two, 60 + a + b)
            met = [r.id for r in rules if r.predicate and r.predicate(first, second)]
            key = f"{one},{two},{a + b}"
            if found.setdefault(key, met) != met:
                raise ValueError(f"the table of verdicts has too few features for {key}")
    return _shortened(found)


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
    found = []
    for d in range(7):
        for m in range(12):
            if dissonant(np.array(28), np.array(60), np.array(28 + d), np.array(60 + m), np.array(bass)):
                found.append(f"{d},{m}")
    return found


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
    for came, goes, clashed, short, weak in product((-1, 0, 1), (-1, 0, 1), (0, 1), (0, 1), (0, 1)):
        met = _held_met(came or 4, goes or 4, bool(clashed), bool(short), bool(weak))
        if met != ["dissonance"]:
            found[f"{came},{goes},{clashed},{short},{weak}"] = met
    return {"else": ["dissonance"], **found}


def _held_met(came: int, goes: int, clashed: bool, short: bool, weak: bool) -> list[str]:
    """Put to the judge itself: over a half note of the bass a voice leaps, from a fifth or from a second, to
    a ninth and on from there. The half note is the second of its bar, or the first."""
    natural, begins = Signature().pitch, 2 if weak else 4
    below = _row([natural(29 - came), natural(29), natural(29 + goes)], (begins, 2, 6 - begins))
    above = _row([None, *map(natural, (30 if clashed else 33, 37, 43))], (begins, 1, 1, 6 - begins))
    metre = Metre.parse("C|" if short else "C")
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(2))
    parts = Part("cantus", above), Part("bassus", below)
    return _treated(Grid.of(Score("", "plain", metre, Signature(), bars, parts)), Fraction(begins + 1))


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
    return _treated(Grid.of(Score("", "plain", Metre.parse("C"), Signature(), bars, parts)), Fraction(1))


def _treated(grid: Grid, onset: Fraction) -> list[str]:
    """The rule that a clash of the two voices meets."""
    found, column = clashes(grid), grid.column(onset)
    if not found.clash[0, column]:
        raise ValueError("the second note must clash, else the table says nothing")
    kind = Treatment(int(found.treatment[0, column]))
    if kind is Treatment.NONE:
        return ["dissonance"]
    return [OF_TREATMENT[kind]] if kind in OF_TREATMENT else []


def _row(pitches: Iterable[Pitch | None], lengths: Iterable[int]) -> tuple[Note, ...]:
    now, notes = Fraction(0), []
    for pitch, length in zip(pitches, lengths, strict=True):
        notes.append(Note(now, Fraction(length), pitch))
        now += length
    return tuple(notes)


def _hands() -> dict[str, Any]:
    """For two, three and four notes, the stretch of the hands by the gaps between neighbours, from the
    highest down (each at most `WIDEST`): a digit that counts up the rules of the stretch."""
    found = []
    for notes in (2, 3, 4):
        digits = []
        for gaps in product(range(WIDEST + 1), repeat=notes - 1):
            rows = list(accumulate(gaps, lambda at, gap: at - gap, initial=60))
            span = hand_span(rows[:-1], rows[-1])
            digits.append("2" if beyond_tenth(span) else "1" if ninth(span) else "0")
        found.append("".join(digits))
    return {"widest": WIDEST, "rules": list(_HANDS), "digits": found}


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
