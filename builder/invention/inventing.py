"""From an order to a verset: drawn, read, set, and drawn again until it is what was asked for."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import islice
from random import Random

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.invention.blemishes import blemishes
from builder.invention.draft import Draft, Unusable, draft
from builder.invention.order import Order, OrderError, checked
from builder.invention.theme import themes
from builder.language.texts import ENGLISH, Phrase
from builder.source import SourceErrors, Verset, parse, write

TRIES = 400
"""Drafts of which one must do."""
CHOICE = 6
"""Lawful versets of which the one with the fewest blemishes is given."""
BORNE = ("fourth-by-step",)
"""Rules whose warning the double cadence brings with it."""


@dataclass(frozen=True, slots=True)
class Invention:
    """A new verset: its source as text, the same read, its analysis and plain setting; how many drafts were
    thrown away, by reason."""

    text: str
    verset: Verset
    analysis: Analysis
    realisation: Realisation
    thrown: tuple[tuple[str, int], ...]


def invent(order: Order, *, language: str = ENGLISH) -> Invention:
    """A verset as ordered. The same order gives the same verset; `OrderError` when it cannot be met.

    >>> made = invent(Order(1, ("cantus", "tenor"), bars=8, seed=3))
    >>> made.analysis.tone, [entry.voice for entry in made.analysis.entries]
    (1, ['cantus', 'tenor'])
    """
    checked(order)
    dice = Random(repr(order))
    thrown: Counter[str] = Counter()
    found: list[Invention] = []
    for theme in islice(themes(order, dice), TRIES):
        try:
            drafted = draft(order, theme, dice)
            found.append(_taken(drafted, drafted.text(language), language, thrown))
        except Unusable as why:
            thrown[str(why)] += 1
        if len(found) == CHOICE:
            break
    if not found:
        raise OrderError((Phrase.of("none", drafts=TRIES),))
    return min(found, key=lambda made: blemishes(made.verset, made.realisation))


def _taken(drafted: Draft, text: str, language: str, thrown: Counter[str]) -> Invention:
    """The verset of a draft; `Unusable` where it is not read as ordered, or a rule would send it back."""
    try:
        verset = parse(text)
    except SourceErrors as errors:
        raise Unusable(f"source: {errors.errors[0].found}") from errors
    analysis = analyse(verset, language=language)
    misread = _misread(drafted, analysis)
    if misread:
        raise Unusable(f"read otherwise: {misread}")
    realisation = realise(verset, analysis, tuning=verset.settings.tuned)
    grave = [f for f in realisation.findings if f.severity != "note" and f.rule not in BORNE]
    if grave:
        raise Unusable(f"rule: {grave[0].rule}")
    return Invention(write(verset), verset, analysis, realisation, tuple(sorted(thrown.items())))


def _misread(drafted: Draft, analysis: Analysis) -> str:
    """What the analysis reads otherwise than ordered; empty: nothing."""
    order = drafted.order
    if analysis.tone != order.tone or analysis.tones[0].tone != order.tone:
        return "tone"
    if tuple(e.voice for e in analysis.entries) != order.voices:
        return "entries"
    if analysis.theme.notes != len(drafted.theme.lengths):
        return "theme"
    kinds = {"exact": ("exact",), "tonal": ("exact", "tonal")}.get(order.answers, ("exact", "modal", "tonal"))
    if any(e.kind not in kinds for e in analysis.entries[1:]):
        return "answers"
    if order.answers == "tonal" and analysis.entries[1].kind != "tonal":
        return "answers"
    found = {(c.onset, c.degree) for c in analysis.cadences}
    return "" if found.issuperset(drafted.closes) else "cadences"
