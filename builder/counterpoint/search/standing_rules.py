"""Rules on sonorities as they stand, asked of voicings: those that no voicing is built to keep, nor any named
cost counts. A voicing that breaks one is refused, or costs more where the rule only warns."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from builder.counterpoint.rules.context import VOICES, Array, Intervals, Of, Tone, When, Where
from builder.counterpoint.rules.rule import ERROR, WARNING, Rule, Severity
from builder.counterpoint.rules.rulebook import asked
from builder.counterpoint.search.voicing_costs import Stand

RULES = tuple(r for r in asked(When.ONSET, *VOICES, Of.SONORITY, Of.NOTE, Of.HAND) if not r.cost)


def refused(stand: Stand, d: Array, m: Array, spans: Array) -> Array:
    """For each voicing (rows of staff steps and MIDI numbers, highest first) whether a rule forbids it."""
    found = np.zeros(len(d), dtype=bool)
    for broken in _broken(ERROR, stand, d, m, spans):
        found |= broken > 0
    return found


def warned(stand: Stand, d: Array, m: Array, spans: Array) -> Array:
    """For each voicing how often it breaks a rule that only warns."""
    return sum(_broken(WARNING, stand, d, m, spans), np.zeros(len(d)))


def _broken(severity: Severity, stand: Stand, d: Array, m: Array, spans: Array) -> Iterator[Array]:
    voices = d.shape[1] + 1
    for rule in RULES:
        if rule.severity[voices] == severity and voices >= rule.least:
            yield _times(rule, stand, d, m, spans) * _confined(rule, stand)


def _confined(rule: Rule, stand: Stand) -> Array:
    """Where the rule is asked at all; all voices of a sonority strike together."""
    found = np.ones(len(stand.strong), dtype=bool)
    if Where.INSIDE in rule.where:
        found &= ~(stand.opening | stand.closing)
    if Where.BEAT in rule.where or Where.FIRM in rule.where:
        found &= stand.strong
    return found


def _times(rule: Rule, stand: Stand, d: Array, m: Array, spans: Array) -> Array:
    """How often each row breaks a rule."""
    d = np.column_stack((d, stand.bass_d))
    m = np.column_stack((m, stand.bass_m))
    if rule.of is Of.HAND:
        return _counted(np.asarray(rule.predicate(span=spans))[:, None])
    if rule.of is Of.NOTE:
        return _counted(np.asarray(rule.predicate(pitch=Tone(d[:, :-1], m[:, :-1]))))
    if rule.of is Of.SONORITY:
        bits = {
            "numbers": np.bitwise_or.reduce(1 << (d - d[:, -1:]) % 7, axis=1),
            "sizes": np.bitwise_or.reduce(1 << (m - m[:, -1:]) % 12, axis=1),
        }
        return _counted(np.asarray(rule.predicate(**{name: bits[name] for name in rule.features}))[:, None])
    high, low = _pairs(rule.of, d.shape[1])
    between = Intervals(d[:, high] - d[:, low], m[:, high] - m[:, low])
    return _counted(np.asarray(rule.predicate(interval=between)))


def _counted(broken: Array) -> Array:
    found: Array = broken.sum(axis=1)
    return found


def _pairs(of: Of, voices: int) -> tuple[Array, Array]:
    high, low = np.triu_indices(voices, 1)
    beside = low - high == 1
    kept = {
        Of.PAIR: beside | ~beside,
        Of.NEIGHBOURS: beside,
        Of.UPPER: beside & (low < voices - 1),
        Of.OUTER: low - high == voices - 1,
    }[of]
    return high[kept], low[kept]
