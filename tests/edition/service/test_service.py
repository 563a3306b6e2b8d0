"""A service plan hands the choir its note, adds up the time, and warns where things do not meet."""

import json
from pathlib import Path

import pytest
from course import course_setting

from builder.edition.service.order import is_order, parse_order
from builder.edition.service.plan import plan, service_data, service_page
from builder.setting.setting import Setting
from builder.source import SourceErrors

VERSETS = Path(__file__).parents[3] / "content" / "versets"


@pytest.fixture(scope="module")
def versets() -> dict[str, Setting]:
    return {n: course_setting(n) for n in ("first", "fourth", "sixth")}


def order(body: str, sung: str = "{tone: 1, begins: A, ends: D, minutes: 0.5}"):
    return parse_order(
        f"---\ntitle: Evening\nservice:\n  sung: {sung}\n  order:\n{body}\n---\nSoftly.\n", "evening.md"
    )


TURNS = "    - choir: One\n    - organ: first\n    - choir: Two"


def test_choir_and_organ_take_turns_and_the_time_is_added_up(versets):
    service = plan(order(TURNS), versets)
    assert [r.kind for r in service.rows] == ["choir", "organ", "choir"]
    # 30 half notes of the verset at 52 a minute, and twice half a minute
    assert float(service.minutes) == pytest.approx(30 / 52 + 1.0)
    assert service.warnings == ()


def test_the_choir_takes_its_note_from_the_last_sound_of_the_organ(versets):
    service = plan(order(TURNS), versets)
    assert service.rows[1].closes == "D"
    assert service.rows[1].takes == "A, a fifth above the close"


def test_a_note_that_is_not_in_the_closing_sound_is_warned_of(versets):
    service = plan(order(TURNS, "{begins: F}"), versets)
    assert len(service.warnings) == 1  # the close has F sharp, or no third
    assert "the choir’s F is not in that sound" in service.warnings[0]


def test_a_moved_verset_closes_at_its_new_pitch(versets):
    moved = TURNS.replace("organ: first", "{organ: first, move: a tone lower}")
    service = plan(order(moved), versets)
    assert (service.rows[1].closes, service.rows[1].move) == ("C", "a tone lower")
    assert any("closes on C" in w for w in service.warnings)


def test_tones_that_differ_are_warned_of(versets):
    service = plan(order(TURNS.replace("first", "sixth")), versets)
    assert "Verses 1 and 2: the choir is in tone 1, the organ in tone 6." in service.warnings


def test_two_sung_verses_in_a_row_are_warned_of(versets):
    service = plan(order("    - choir: One\n    - choir: Two"), versets)
    assert "they usually take turns" in service.warnings[0]


def test_the_organ_enters_on_the_choirs_note_or_a_fourth_or_fifth_from_it(versets):
    assert plan(order(TURNS, "{ends: D}"), versets).warnings == ()
    assert plan(order(TURNS, "{ends: A}"), versets).warnings == ()
    assert "the organ enters on D" in plan(order(TURNS, "{ends: C}"), versets).warnings[0]


def test_a_verset_that_is_not_there_is_named_with_its_line_and_a_guess(versets):
    with pytest.raises(SourceErrors) as caught:
        plan(order(TURNS.replace("first", "frist")), versets)
    (error,) = caught.value.errors
    assert error.line == 7
    assert "did you mean first?" in error.expected


def test_all_errors_of_an_order_are_told_together():
    with pytest.raises(SourceErrors) as caught:
        order(
            "    - {choir: One, tone: 9}\n    - {organ: first, move: up}\n    - {begins: A}\n    - organ: 3"
        )
    assert [e.line for e in caught.value.errors] == [6, 7, 8, 9]


def test_a_page_without_the_key_is_no_service():
    assert not is_order("---\ntitle: A\n---\nservice: no\n")
    assert is_order("---\ntitle: A\nservice:\n  order: []\n---\n")


def test_the_page_has_the_table_the_links_and_the_warnings(versets):
    moved = TURNS.replace("organ: first", "{organ: first, for: Second verse, move: a tone lower}")
    page = service_page(plan(order(moved), versets), {"first": "first.md"})
    assert page.startswith("Softly.")
    assert "| 2 | Organ | [Second verse (a tone lower)](first.md) | 1 | 35 s | C | C |" in page
    assert "## Before the day" in page


def test_the_plan_is_plain_data(versets):
    data = service_data(plan(order(TURNS), versets))
    assert json.loads(json.dumps(data)) == data
    assert data["rows"][1]["takes"] == "A, a fifth above the close"
