"""A plan, and the reason of each grace, in words."""

from __future__ import annotations

from typing import Any

from builder.language.texts import Phrase, opened, texts
from builder.plan.plan import Plan


def in_words(phrase: Phrase, language: str = "en") -> str:
    """A phrase of the plan in words; `KeyError` when it has no wording.

    >>> in_words(Phrase.of("suspension", pitch="D5"))
    'D5 is held over into a dissonance and falls by step.'
    >>> in_words(Phrase.of("suspension", pitch="D5"), "it")
    'Re5 si tiene fino alla dissonanza e scende di grado.'
    """
    return opened(texts("plan", language).said(phrase))


def told(plan: Plan, language: str = "en") -> tuple[str, ...]:
    """What a plan says, a sentence each, in time.

    >>> from random import Random
    >>> from builder.analysis import analyse
    >>> from builder.counterpoint import realise
    >>> from builder.plan.making import make_plan
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> analysis = analyse(verset)
    >>> plain = realise(verset, analysis)
    >>> told(make_plan(verset, analysis, plain, Random(1)))[-1]
    'In bar 4, beat 3 the cantus has the leading note and rises to D.'
    """
    found: list[tuple[Any, int, Phrase]] = []
    for n, s in enumerate(plan.statements):
        found.append((s.onset, 1, told_statement(plan, n)))
    for c in plan.countersubject:
        key = "countersubject-first" if c.first else "countersubject"
        found.append((c.start, 0, Phrase.of(key, voice=c.voice, against=c.against, place=c.place)))
    for r in plan.rests:
        found.append(
            (r.start, 2, Phrase.of("rest", voice=r.voice, place=r.place, count=_count(r.end - r.start)))
        )
    for k in plan.clausulae:
        if k.kind == "cantizans":
            found.append((k.start, 3, Phrase.of("clausula", voice=k.voice, place=k.place, degree=k.degree)))
    return tuple(in_words(phrase, language) for _, _, phrase in sorted(found, key=lambda x: (x[0], x[1])))


def told_statement(plan: Plan, number: int) -> Phrase:
    """Who takes up which motif, where, and how far from the voice that had it.

    >>> from fractions import Fraction
    >>> from builder.music import Place
    >>> from builder.plan.motif import Motif
    >>> from builder.plan.plan import Statement
    >>> head = Motif("head", (1,), (Fraction(1), Fraction(1)))
    >>> start, end, place = Fraction(8), Fraction(9), Place(3, Fraction(1))
    >>> plan = Plan(statements=(Statement(head, "altus", start, end, place, "cantus", steps=-4),))
    >>> in_words(told_statement(plan, 0), "en")
    'The altus takes up the head of the theme in bar 3, beat 1, a fifth below the cantus.'
    """
    s = plan.statements[number]
    way = "same" if s.steps % 7 == 0 else "above" if s.steps > 0 else "below"
    return Phrase.of(
        f"statement-{way}",
        voice=s.voice,
        motif=f"motif-{s.motif.kind}",
        place=s.place,
        leader=s.leader,
        steps=s.steps,
    )


def _count(length: Any) -> str:
    return str(length) if length.denominator == 1 else f"{float(length):g}"
