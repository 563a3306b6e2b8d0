"""What tuning and pitch make hard is told on an overview in the language of its course."""

from __future__ import annotations

import re

import pytest

from builder.counterpoint.rules.phrases import finding_texts
from builder.language.texts import page_texts as words
from builder.pages import facts
from builder.setting.setting import Setting, set_verset
from builder.source import parse

SOURCE = """---
title: Howling
verset: {metre: C, signature: none, tuning: just%s}
---

```given
cantus C1 | A4/1
tenor C4 | D4/1
bassus F4 | A2/1 | B2/1{#} | E3/1
```
"""


def letters(text: str) -> set[str]:
    """Words of four letters and more; what one writes into a source, marked as such, is left out."""
    return {w.lower() for w in re.findall(r"[^\W\d_]{4,}", re.sub(r"\{.*?\}|`[^`]*`", " ", text))}


def told(language: str, move: str = "") -> tuple[Setting, list[str]]:
    setting = set_verset(parse(SOURCE % (f", move: {move}" if move else "")), language=language)
    return setting, facts.overview(setting, words(language))["warnings"]


@pytest.mark.parametrize(
    ("language", "lacking", "wolf"),
    [
        (
            "it",
            "il temperamento giusto non ha re♯; suona mi♭;",
            "è stretta di 22 cent nel temperamento giusto;",
        ),
        (
            "de",
            "die Stimmung „rein“ hat kein Dis; es klingt Es;",
            "ist in der Stimmung „rein“ 22 Cent zu eng;",
        ),
    ],
)
def test_no_warning_of_an_overview_is_left_in_english(language: str, lacking: str, wolf: str) -> None:
    setting, warnings = told(language)
    assert any(lacking in text for text in warnings) and any(wolf in text for text in warnings)
    assert len(warnings) == len(setting.warnings())
    english = letters(" ".join(finding_texts("en").texts.values()))
    for text in warnings:
        assert not letters(text) & english - {"note", "wolf"}, text
    assert any("Just has no D♯; E♭ sounds;" in text for text in setting.warnings())


def test_what_another_pitch_makes_hard_is_told_on_the_overview() -> None:
    (low,) = (f for f in told("de", "a fifth lower")[0].pitch if f.rule == "written-compass")
    assert low.told("de")[0] == "D liegt eine Stufe jenseits der ersten Hilfslinie (Bassus, Schlüssel F4)"
    _, warnings = told("it", "a fifth lower")
    assert (
        "battuta 3, tempo 1: re2 sta un grado oltre il primo taglio addizionale (basso, chiave F4): scegli "
        "un’altezza più vicina"
    ) in warnings
