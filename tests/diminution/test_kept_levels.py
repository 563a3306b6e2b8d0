"""What was kept of a verset's levels gives them back, note for note and word for word; what is of another
form is refused."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from course import course_setting, set_once

from builder.diminution import kept_levels, levels_again
from builder.setting.setting import Defaults, Setting, music_of, set_verset, with_defaults
from builder.source import EXAMPLE, parse
from builder.source.verset import Licence

COURSE = Path(__file__).parents[2] / "content"


def again(setting: Setting, data: dict[str, Any]) -> Any:
    verset = setting.verset
    own = verset.settings
    return levels_again(
        json.loads(json.dumps(data)),
        verset,
        setting.analysis,
        setting.realisation,
        seed=own.seed,
        tables=setting.tables,
        tuning=own.tuned,
    )


@pytest.mark.parametrize("name", ["first", "second", "fourth", "sixth", "eighth"])
def test_the_levels_come_back_as_they_were(name: str) -> None:
    """Notes, graces with their reasons, findings, plan, costs."""
    setting = course_setting(name)
    assert again(setting, kept_levels(setting.diminutions)) == setting.diminutions


def test_those_of_a_moved_and_of_a_pinned_verset_come_back() -> None:
    duo = COURSE / "tones/fifth-duo.md"
    moved = parse(duo.read_text("utf-8").replace("verset:", "verset:\n  move: a tone lower", 1), duo.name)
    pinned = parse(EXAMPLE + "\n```diminished\ncantus 3 | F5/8 E5/8 D5/4 _/2\n```\n")
    for verset in (moved, pinned):
        setting = set_verset(verset)
        assert setting.diminutions[3].choices
        assert again(setting, kept_levels(setting.diminutions)) == setting.diminutions
    assert any(c.pinned for c in setting.diminutions[2].choices)


class Drawer:
    """Keeps in memory, and counts."""

    def __init__(self) -> None:
        self.held: dict[str, dict[str, Any]] = {}
        self.had = 0

    def get(self, music: str) -> dict[str, Any] | None:
        self.had += music in self.held
        return self.held.get(music)

    def keep(self, music: str, found: dict[str, Any]) -> None:
        self.held[music] = found


def test_other_words_take_the_levels_that_were_kept_and_other_notes_do_not() -> None:
    drawer = Drawer()
    first = set_verset(parse(EXAMPLE), keeper=drawer)
    assert (len(drawer.held), drawer.had) == (1, 0)
    words = "Listen to the *cantus*.\n\n" + EXAMPLE[EXAMPLE.index("```given") :]
    other = (
        EXAMPLE[: EXAMPLE.index("```given")].replace("Two voices", "Two") + words + "\n## Altus\n\nHere.\n"
    )
    second = set_verset(parse(other), keeper=drawer)
    assert drawer.had == 1 and second.verset.title == "Two"
    assert [d.choices for d in first.diminutions.values()] == [d.choices for d in second.diminutions.values()]
    set_verset(parse(EXAMPLE.replace("metre: C", "metre: C\n  seed: 2")), keeper=drawer)
    assert (len(drawer.held), drawer.had) == (2, 1)


def test_what_is_of_no_use_is_made_anew() -> None:
    drawer = Drawer()
    first = set_verset(parse(EXAMPLE), keeper=drawer)
    (music,) = drawer.held
    drawer.held[music] = {"plan": 1}
    assert set_verset(parse(EXAMPLE), keeper=drawer).diminutions == first.diminutions
    assert "levels" in drawer.held[music]
    del drawer.held[music]["levels"]["3"]
    assert set_verset(parse(EXAMPLE), keeper=drawer).diminutions == first.diminutions


@pytest.mark.parametrize(
    "change",
    [
        {"seed": 3},
        {"density": 0.5},
        {"tuning": "pythagorean"},
        {"costs": {"leap": 2.0}},
        {"move": "a tone lower"},
    ],
)
def test_what_a_level_depends_on_is_in_the_text_by_which_it_is_kept(change: dict[str, Any]) -> None:
    verset = with_defaults(parse(EXAMPLE), Defaults())
    other = replace(verset, settings=replace(verset.settings, **change))
    assert music_of(verset, Defaults()) != music_of(other, Defaults())


def test_so_are_pins_licences_of_the_course_the_name_and_the_tables() -> None:
    verset = parse(EXAMPLE)
    usual = music_of(verset, Defaults())
    pinned = parse(EXAMPLE + "\n```plain\ncantus 3 | F5/2 D5/2\n```\n")
    assert music_of(pinned, Defaults()) != usual
    assert music_of(replace(verset, name="other"), Defaults()) != usual
    (pattern,) = set_once(COURSE / "versets/fourth.md").tables[:1]
    assert music_of(verset, Defaults(patterns=(pattern,))) != usual
    licence = Licence("direct-fifth", 0, "as the house does", of_course=True)
    assert music_of(replace(verset, licences=(licence,)), Defaults()) != usual


def _cut(data: dict[str, Any]) -> None:
    del data["levels"]["2"]["voices"][0][0][3]


def _early(data: dict[str, Any]) -> None:
    data["levels"]["1"]["voices"][0][0][0] = -4


def _late(data: dict[str, Any]) -> None:
    data["levels"]["1"]["voices"][0][-1][1] = 10**6


def _crossed(data: dict[str, Any]) -> None:
    data["levels"]["1"]["voices"][0].reverse()


def _unsung(data: dict[str, Any]) -> None:
    data["levels"]["1"]["voices"][0][0][3] += 7


def _fewer(data: dict[str, Any]) -> None:
    data["levels"]["3"]["voices"].pop()


def _unit(data: dict[str, Any]) -> None:
    data["levels"]["3"]["unit"] = 3


def _words(data: dict[str, Any]) -> None:
    data["levels"]["3"]["cost"] = "much"


def _planless(data: dict[str, Any]) -> None:
    data["plan"] = data["plan"][:2]


def _other_plan(data: dict[str, Any]) -> None:
    data["plan"][0][0][2] = ["half"]


def _never(data: dict[str, Any]) -> None:
    data["plan"][0][0][2][0] = "1/0"


def _stranger(data: dict[str, Any]) -> None:
    data["plan"][4][0][1] = "quintus"


def _gap(data: dict[str, Any]) -> None:
    del data["levels"]["2"]


@pytest.mark.parametrize(
    "spoil",
    [
        _never,
        _stranger,
        _gap,
        _cut,
        _early,
        _late,
        _crossed,
        _unsung,
        _fewer,
        _unit,
        _words,
        _planless,
        _other_plan,
    ],
)
def test_data_of_another_form_is_refused(spoil: Callable[[dict[str, Any]], None]) -> None:
    setting = course_setting("second")
    data = copy.deepcopy(json.loads(json.dumps(kept_levels(setting.diminutions))))
    spoil(data)
    with pytest.raises(ValueError):
        again(setting, data)
