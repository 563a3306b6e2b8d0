"""How the script judges what the reader puts in."""

from __future__ import annotations

from typing import Any

import pytest
from script_parts import A4, B4, C4, C5, D4, E4, F4, G4, Ask, exercise, work

# Judging


def judging(ask: Ask, own: dict[str, Any], n: int, act: str, **changes: Any) -> Any:
    made = "new Judging(window.versetVerdicts, given[0], given[1], given[2])"
    return ask(f"((j) => {act})({made})", [exercise(**changes), own, n])


def test_a_table_is_asked_with_the_size_and_without(ask: Ask) -> None:
    table = {"1,2": ["a"], "3": ["b"], "4,1,2": ["c"]}
    assert ask("['1,2', '1,3', '3,9', '4,1,2'].map((key) => look(given, key).join())", table) == [
        "a",
        "",
        "b",
        "c",
    ]
    assert ask("[bitsOf([0, 7, 9], 7), bitsOf([-1], 12)]") == [0b101, 1 << 11]


@pytest.mark.parametrize(
    ("upper", "lower", "met"),
    [
        ([[32, 0], [33, 0]], [C4, D4], "parallel-fifths"),
        ([[35, 0], [36, 0]], [C4, D4], "parallel-octaves"),
        ([[32, 0], [33, 0]], [C4, F4], ""),
        ([[32, 0], [33, 0]], [C4, [22, 0]], "contrary-fifths"),
        ([[31, 0], [33, 0]], [C4, D4], "direct-fifth"),
        ([[32, 0], [33, 0]], [C4, C4], ""),
    ],
)
def test_the_way_of_two_voices_is_looked_up(ask: Ask, upper: Any, lower: Any, met: str) -> None:
    """By the interval before and after, the motion, and whether the upper voice leaps."""
    motion = "[...Judging.prototype.motion.call({tables: window.versetVerdicts}, ...given)]"
    assert ask(motion, [upper, lower]) == ([met] if met else [])


def test_the_note_before_is_found_across_held_ones(ask: Ask) -> None:
    own = work([G4, A4, A4], [None] * 3)
    before = "j.noteBefore('cantus', [33, 0], false)"
    assert judging(ask, own, 2, before) == G4
    assert judging(ask, work([A4, A4, A4], [None] * 3), 2, before) is None
    assert judging(ask, work([G4, A4, A4], [None] * 3, cantus=[B4, None, None]), 2, before) == B4


def test_each_verdict_is_told_once_and_what_is_allowed_not(ask: Ask) -> None:
    """F3 C5, G3 D5: fifths; the same with a licence."""
    own = work([C5, [36, 0], C5], [None, None, None])
    found = judging(ask, own, 1, "j.all().map((met) => met.rule)")
    assert found.count("parallel-fifths") == 1
    piece = exercise()
    piece["events"][1]["allowed"] = ["parallel-fifths"]
    assert "parallel-fifths" not in judging(ask, own, 1, "j.all().map((met) => met.rule)", **piece)


def test_a_figure_is_read_by_the_notes_put_in(ask: Ask) -> None:
    """Over G3: the third and the fifth must sound when all voices are there; C is foreign."""
    piece = exercise()
    members = [[1, 0, 0], [3, 0, 0], [5, 0, 2]]
    piece["events"][1]["variants"] = [{"members": members, "must": [3, 5]}]
    read = "readings(given[0], given[1], 1).map((r) => [r.foreign, r.lack, [...r.roles]])"
    good = work([None, B4, None], [None, D4, None])
    assert ask(read, [piece, good]) == [[[], [], [["cantus", 0], ["altus", 2]]]]
    bare = work([None, B4, None], [None, B4, None])
    assert ask(read, [piece, bare])[0][:2] == [[], [5]]
    half = work([None, C5, None], [None, None, None])
    assert ask(read, [piece, half])[0][:2] == [["cantus"], []]


def test_a_clash_is_of_the_upper_note_over_the_lower(ask: Ask) -> None:
    """A fourth clashes over the lowest note and not between two upper ones (common practice)."""
    clash = "[true, false].map((lowest) => isClash(window.versetVerdicts, lowest, ...given))"
    assert ask(clash, [C4, F4]) == [True, False]
    assert ask(clash, [F4, C4]) == [True, False]
    assert ask(clash, [C4, E4]) == [False, False]
    assert ask(clash, [C4, D4]) == [True, True]
    assert ask("[stepBetween(...given), stepBetween(given[1], given[0])]", [C4, D4]) == [1, -1]
    assert ask("[stepBetween(...given), stepBetween(given[0], null)]", [C4, E4]) == [0, 0]


ABOUT = {
    "past": None,
    "next": None,
    "pitch": D4,
    "length": 1,
    "weight": 0,
    "before": 2,
    "after": 2,
    "here": 2,
}
TREATED = {
    "second": {"1,1": ["passing"], "else": ["wide"]},
    "held": {"-1,1,0,1,1": ["light"], "else": ["bare"]},
}


def treated(ask: Ask, act: str, clashed: bool = False, **about: Any) -> Any:
    given = [TREATED, {"metre": [4, 4]}, {**ABOUT, **about}, clashed]
    return ask(f"{act}(...given)", given)


def test_a_note_that_clashes_is_excused_by_its_way(ask: Ask) -> None:
    """Struck: by the steps to it and from it. Held: falling by step on a beat not lighter than the next it
    is a suspension; else by its steps, its length and its place."""
    assert treated(ask, "excused", struck=True, past=C4, next=E4) == ["passing"]
    assert treated(ask, "excused", struck=True, past=C4, next=F4) == ["wide"]
    assert treated(ask, "excused", struck=True, past=C4) == ["wide"]
    assert treated(ask, "excused", struck=False, past=E4, next=C4) == []
    assert treated(ask, "excused", True, struck=False, past=E4, next=C4) == ["bare"]
    assert treated(ask, "excused", struck=False, past=E4, next=C4, here=1) == ["bare"]
    assert treated(ask, "excused", struck=False, past=E4, next=E4) == ["light"]
    assert treated(ask, "excused", struck=False, past=E4, next=E4, length=2) == ["bare"]
    assert treated(ask, "excused", struck=False, past=E4, next=E4, weight=2) == ["bare"]


def test_what_nobody_knows_yet_is_not_held_against_a_note(ask: Ask) -> None:
    unknown = "(t, e, note, clashed) => excuse(t, e, {...note, next: undefined}, clashed)"
    assert treated(ask, f"({unknown})", struck=True, past=C4) is None
    assert treated(ask, f"({unknown})", struck=True, past=G4) == ["wide"]
    assert treated(ask, "excuse", struck=True, past=C4, next=E4) == ["passing"]


def test_a_voice_is_unknown_where_it_may_still_be_put_in(ask: Ask) -> None:
    piece = exercise()
    known = "given[1].map(([voice, time]) => isUnknown(given[0], voice, time))"
    places = [["altus", 0], ["altus", 2], ["bassus", 1], ["altus", -1], ["altus", 8]]
    assert ask(known, [piece, places]) == [False, True, True, True, False]
    assert ask(known, [{**piece, "closed": False}, [["altus", 8]]]) == [True]


def test_a_note_is_seen_between_its_neighbours(ask: Ask) -> None:
    piece = exercise()
    for event, weight in zip(piece["events"], (3, 1, 3)):
        event["weight"] = weight
    own = work([A4, G4, None], [None] * 3)
    about = ask("noteAbout(given[0], given[1], 1, 'cantus', toneAt)", [piece, own])
    assert (about["past"], about["pitch"], about["length"], about["struck"]) == (A4, G4, 2, True)
    assert (about["weight"], about["before"], about["after"], about["here"]) == (1, 3, 3, 1)
    bass = ask("noteAbout(given[0], given[1], 1, 'bassus', toneAt)", [piece, own])
    assert (bass["past"], bass["pitch"], bass["next"]) == ([24, 0], [25, 0], C4)


def test_a_bound_tone_owes_its_way(ask: Ask) -> None:
    """By role, whether it is bound again, and whether the bass stays; a second note may adorn the way."""
    tables = {
        "left": {"1,0,0": {"-1,-2": [], "else": ["unresolved"]}, "1,1,0": {"else": ["bound"]}},
        "entered": {"1": {"0,0": [], "none": ["unprepared"], "else": ["leapt"]}},
        "pedal": 3,
    }
    ways = "waysOn(given[0], given[1], given[2], 1, 'cantus', 1, {roles: new Map(given[3])})"
    fell, rose = work([A4, G4, None], [None] * 3), work([A4, B4, None], [None] * 3)
    assert ask(ways, [tables, exercise(), fell, []]) == [[]]
    assert ask(ways, [tables, exercise(), rose, []]) == [["unresolved"]]
    assert ask(ways, [tables, exercise(), rose, [["cantus", 1]]]) == [["bound"]]
    adorned = work([A4, G4, None], [None] * 3, cantus=[C5, None, None])
    assert ask(ways, [tables, exercise(), adorned, []]) == [["unresolved"], []]
    far = work([A4, G4, None], [None] * 3, cantus=[[38, 0], None, None])
    assert ask(ways, [tables, exercise(), far, []]) == [["unresolved"]]
    owed = "owedAfter(given[0], given[1], given[2], 1, {roles: new Map([['cantus', 1]])}, {roles: new Map()})"
    assert ask(owed, [tables, exercise(), rose]) == [
        {"rule": "unresolved", "voices": ["cantus"], "owed": True}
    ]
    before = "owedBefore(given[0], given[1], given[2], 1, {roles: new Map([['cantus', 1]])})"
    came = f"{before}.map((met) => met.rule)"
    assert ask(came, [tables, exercise(), fell]) == ["leapt"]
    assert ask(came, [tables, exercise(), work([A4, A4, None], [None] * 3)]) == []
    assert ask(came, [tables, exercise(), work([None, A4, None], [None] * 3)]) == []
