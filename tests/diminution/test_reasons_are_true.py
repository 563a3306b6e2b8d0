"""Each sentence of why a grace is here is true of the notes: in the course and in invented versets."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from types import MappingProxyType

import pytest
from course import VERSETS, course_setting
from diminution.reasons_held import untrue

from builder.invention import Order, invent
from builder.language.texts import Phrase
from builder.plan import in_words
from builder.setting.setting import Setting, set_verset

LEVELS = (1, 2, 3)
DUO, TRIO = ("cantus", "tenor"), ("cantus", "altus", "bassus")
INVENTED = 20 if os.environ.get("VERSET_MANY") else 2


def false(setting: Setting) -> list[str]:
    return [
        f"level {level}, {choice.voice} at {choice.onset}: {choice.reason and in_words(choice.reason)} {why}"
        for level in LEVELS
        for choice, why in untrue(setting, level)
    ]


@pytest.mark.parametrize("name", [path.stem for path in VERSETS])
def test_what_the_course_says_of_its_graces_is_so(name: str) -> None:
    assert not false(course_setting(name))


@pytest.mark.parametrize("seed", range(INVENTED))
def test_what_is_said_of_graces_in_an_invented_verset_is_so(seed: int) -> None:
    made = invent(Order(1 + seed % 8, (DUO, TRIO)[seed // 8 % 2], seed=900 + seed))
    assert not false(set_verset(made.verset))


def test_a_sentence_that_is_not_so_is_found() -> None:
    """Every kind of sentence, said of another place, voice or note."""
    setting = course_setting("second")
    seen = Counter[str]()
    for level in LEVELS:
        made = setting.diminutions[level]
        for n, choice in enumerate(made.choices):
            assert choice.reason
            told = dict(choice.reason.values)
            lie = {
                "steps": lambda x: x + 9,
                "pitch": lambda x: "C9",
                "first": lambda x: "C9",
                "against": lambda x: "nobody",
            }
            key = next((k for k in lie if k in told), None)
            if key is None:
                continue
            told[key] = lie[key](told[key])
            wrong = replace(choice, reason=Phrase.of(choice.reason.key, **told))
            others = (*made.choices[:n], wrong, *made.choices[n + 1 :])
            kept = MappingProxyType({**setting.diminutions, level: replace(made, choices=others)})
            found = [c for c, _ in untrue(replace(setting, diminutions=kept), level)]
            assert wrong in found, choice.reason
            seen[key] += 1
    assert {*seen} >= {"steps", "pitch", "first"}
