"""Every rule speaks the languages of a course."""

from __future__ import annotations

import pytest

from builder.counterpoint.rules import RULES
from builder.counterpoint.worded import _texts, languages, worded
from builder.pages.words import languages as of_pages


def test_the_rules_speak_every_language_of_the_interface() -> None:
    assert {"en", *languages()} == set(of_pages())


@pytest.mark.parametrize("language", languages())
def test_every_rule_has_title_sentence_and_advice_and_no_other_rule_is_told(language: str) -> None:
    texts = _texts(language)
    assert list(texts) and set(texts) == set(RULES)
    for name, rule in RULES.items():
        assert set(texts[name]) == {"title", "sentence", "advice"}
        told = worded(name, language)
        assert told.id == rule.id and told.severity == rule.severity
        for text, english in (
            (told.title, rule.title),
            (told.sentence, rule.sentence),
            (told.advice, rule.advice),
        ):
            assert (text.strip() == text and text and text != english) or name == "unison", (name, text)
    titles = [worded(name, language).title for name in RULES]
    assert len(set(titles)) == len(titles)
