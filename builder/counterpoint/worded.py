"""The rules in the languages of a course: title, sentence and advice of each, by the rule's id."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files

import yaml

from builder.counterpoint.rule import Rule
from builder.counterpoint.rules import RULES


@cache
def _texts(language: str) -> dict[str, dict[str, str]]:
    source = files("builder.counterpoint") / "wording" / f"{language}.yaml"
    texts: dict[str, dict[str, str]] = yaml.safe_load(source.read_text("utf-8"))
    return texts


def worded(rule: str, language: str = "en") -> Rule:
    """A rule as a language tells it: English as the registry has it, else from `wording/`.

    `rule`: its id. A language without a catalogue tells the rule in English.

    >>> worded("wolf", "de").title
    'Intervall über den Wolf'
    >>> worded("wolf").title
    'Interval across the wolf'
    """
    known = RULES[rule]
    if language not in languages():
        return known
    text = _texts(language)[rule]
    return replace(known, title=text["title"], sentence=text["sentence"], advice=text["advice"])


@cache
def languages() -> tuple[str, ...]:
    """Languages besides English that have a catalogue.

    >>> languages()
    ('de', 'it')
    """
    folder = files("builder.counterpoint") / "wording"
    return tuple(sorted(f.name[:-5] for f in folder.iterdir() if f.name.endswith(".yaml")))
