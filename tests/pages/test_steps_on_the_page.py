"""A step is shown, put into words, set as an exercise and played from the note before it to its end."""

from __future__ import annotations

import json
import re
from fractions import Fraction

import pytest

from builder.language.texts import page_texts as words
from builder.pages import facts
from builder.pages.exercise import exercise_data
from builder.pages.practice import Stretch, practice
from builder.pages.told import told
from builder.setting.setting import Setting, set_verset
from builder.source import parse

SOURCE = """---
title: Two parts
verset: {metre: C, signature: none}
---

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
bassus F4 | A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2
bassus F4 | Bb2/2 C3/2{4 3} | F2/2 // G2/2{7 6} | A2/1{4 #} | D3/1{#}
```
"""
EN = words("en")


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE))


def test_the_first_part_ends_and_the_second_begins_with_the_same_note(setting: Setting) -> None:
    one, two = setting.analysis.steps[-2:]
    assert (one.end, two.start, two.onset) == (22, 20, 22)
    assert facts.bars(setting.verset, one.start, one.end, EN) == "bar 4, beat 3, to bar 6, beat 2"
    assert facts.bars(setting.verset, two.start, two.end, EN) == "bars 6 to 8"


@pytest.mark.parametrize("name", ["bassus", "cadence-1", "cadence-2"])
def test_the_exercise_the_sound_and_the_words_have_the_notes_of_the_step(setting: Setting, name: str) -> None:
    step = next(s for s in setting.analysis.steps if s.name == name)
    line = [g.note for g in setting.verset.given if step.start <= g.note.onset < step.end]
    data = exercise_data(setting, step.start, step.end, EN)
    assert data is not None
    assert [note["at"] for note in data["line"]] == [n.onset for n in line]
    assert (data["bars"][0][1], sum(data["bars"][-1][1:3])) == (step.start, step.end)
    assert all(e["at"] + e["length"] <= step.end for e in data["events"])
    html = practice(setting, Stretch(step.start, step.end, ("given", "plain")), {}, EN)
    shown = json.loads(re.search(r"verset-play\">(.*?)</script>", html)[1])
    seconds = [round(setting.tempo.seconds(n.onset), 4) for n in line]
    assert [note[0] for note in shown["play"]["versions"]["given"]] == seconds
    assert shown["span"]["start"] == seconds[0]
    ends = [note[1] for note in shown["play"]["versions"]["plain"]]
    assert max(ends) <= setting.tempo.seconds(step.end) + 1e-3


def test_the_bars_in_words_begin_and_end_with_the_step(setting: Setting) -> None:
    text = told(setting.verset, setting.scores, ("given",), Fraction(20), Fraction(22), EN)
    assert re.findall(r"<li>(.*?)</li>", text) == ["Bar 6: bassus has F."]


def test_parts_in_one_bar_have_works_of_their_own(setting: Setting) -> None:
    keys = [exercise_data(setting, s.start, s.end, EN)["key"] for s in setting.analysis.steps[1:]]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(
    ("language", "tuning", "registration"),
    [
        ("en", "Quarter-comma meantone, A at 440 Hz", "principale, ottava and flauto (the tone is grave"),
        (
            "it",
            "mesotonico a un quarto di comma, la4 a 440 Hz",
            "principale, ottava e flauto (il tono è grave",
        ),
        ("de", "mitteltönig (Viertelkomma), a′ = 440 Hz", "principale, ottava und flauto (der Ton ist"),
    ],
)
def test_the_instrument_is_told_in_the_language_of_the_page(
    setting: Setting, language: str, tuning: str, registration: str
) -> None:
    told = facts.overview(setting, words(language))
    assert told["tuning"] == tuning
    assert told["registration"].startswith(registration)


def test_a_version_that_sounds_as_another_one_is_neither_drawn_nor_offered(setting: Setting) -> None:
    """The theme alone is the same in the given line and in the plain setting."""
    theme = next(s for s in setting.analysis.steps if s.name == "cantus")
    html = practice(setting, Stretch(theme.start, theme.end, ("given", "plain", "diminished")), {}, EN)
    page = json.loads(re.search(r"verset-play\">(.*?)</script>", html)[1])
    given, *others = [page["play"]["versions"][version] for version in page["versions"]]
    assert all(sorted(n[:4] for n in notes) != sorted(n[:4] for n in given) for notes in others)
    assert 'data-version="plain"' not in html
    assert 'class="verset-music" data-version' in html and page["first"] == "given"
