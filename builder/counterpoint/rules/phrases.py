"""The rules, what the check says, and what a piece asks of tuning, keyboard and pitch, in every language.

A finding carries phrases, and a warning is one: a key and its values, put in words when somebody asks. What a
key says stands in `builder/language/texts/`; how a place in braces is filled, in `builder/language/texts.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from builder.counterpoint.rules.rule import Rule
from builder.counterpoint.rules.rulebook import RULES
from builder.language.texts import ENGLISH, Phrase, Texts, known_language, texts


def said(phrase: Phrase | str, language: str = ENGLISH) -> str:
    """A phrase in words. A text stays as it is. `KeyError` when the phrase has no wording, or lacks a value.

    >>> from builder.music import Pitch
    >>> tritone = Pitch.parse("F3"), Pitch.parse("B4")
    >>> phrase = Phrase.of("unprepared", tones=(("B", 4),), before=tritone[0], interval=tritone)
    >>> said(phrase)
    'B (4) cannot be held from F3, where it is an augmented fourth'
    >>> said(phrase, "it")
    'si (4) non si può tenere da fa3, dove è una quarta aumentata'
    """
    return phrase if isinstance(phrase, str) else finding_texts(language).said(phrase)


def worded(rule: str, language: str = ENGLISH) -> Rule:
    """A rule as a language says it: English as the rulebook has it, else from the file of the language.

    `rule`: its id.

    >>> worded("wolf", "de").title
    'Intervall über den Wolf'
    >>> worded("wolf").title
    'Interval across the wolf'
    """
    told: dict[str, Any] = texts("rules", language).section(rule)
    return replace(RULES[rule], **told)


class FindingTexts(Texts):
    """What the check says: a rule is read as its title."""

    def as_rule(self, rule: str) -> str:
        return worded(rule, self.language).title

    def as_rules(self, rules: Sequence[str]) -> str:
        return ", ".join(self.as_rule(r).lower() for r in rules)

    def as_titles(self, rules: Sequence[str]) -> str:
        return ", ".join(map(self.as_rule, rules))


@cache
def finding_texts(language: str = ENGLISH) -> FindingTexts:
    """What the check says in a language; `ValueError` when it has no file of texts.

    >>> finding_texts("de").as_rule("wolf")
    'Intervall über den Wolf'
    """
    return FindingTexts("findings", known_language(language))
