"""A plan, and the reason of each grace, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Any

import yaml

from builder.analysis.wording import LANGUAGES, distance, listing, where, wording
from builder.counterpoint import Phrase
from builder.plan.plan import Plan


def in_words(phrase: Phrase, language: str = "en") -> str:
    """A phrase of the plan in words; `KeyError` when it has no wording. A language without a catalogue speaks
    English.

    >>> in_words(Phrase.of("suspension", pitch="D5"))
    'D5 is held over into a dissonance and falls by step.'
    >>> in_words(Phrase.of("suspension", pitch="D5"), "it")
    'D5 si tiene fino alla dissonanza e scende di grado.'
    """
    speaker = _speaker(language if language in LANGUAGES else "en")
    text = speaker.said(phrase)
    return text[:1].upper() + text[1:]


def told(plan: Plan, language: str = "en") -> tuple[str, ...]:
    """What a plan says, a sentence each, in time."""
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
    """Who takes up which motif, where, and how far from the voice that had it."""
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


class _Speaker(Formatter):
    """Says phrases in one language."""

    def __init__(self, language: str) -> None:
        source = files("builder.plan") / "wording" / f"{language}.yaml"
        self.texts: Mapping[str, str] = yaml.safe_load(source.read_text("utf-8"))
        self.language, self.say = language, wording(language)

    def said(self, phrase: Phrase) -> str:
        return self.vformat(self.texts[phrase.key], (), dict(phrase.values))

    def format_field(self, value: Any, format_spec: str) -> str:
        return _READ[format_spec](self, value) if format_spec else str(value)


_READ: Mapping[str, Callable[[_Speaker, Any], str]] = {
    "voice": lambda speaker, name: LANGUAGES[speaker.language].get(f"voice.{name}", name),
    "voices": lambda speaker, names: listing(
        speaker.say, [LANGUAGES[speaker.language].get(f"voice.{n}", n) for n in names]
    ),
    "place": lambda speaker, place: where(speaker.say, place),
    "distance": lambda speaker, steps: distance(speaker.say, steps),
    "as": lambda speaker, key: speaker.texts[key],
}


@cache
def _speaker(language: str) -> _Speaker:
    return _Speaker(language)
