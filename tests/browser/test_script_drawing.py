"""How the script draws an exercise and marks what sounds."""

from __future__ import annotations

from typing import Any

import pytest
from script_parts import C4, C5, D4, E4, F4, Ask, exercise, work

# Drawing


def test_values_have_their_heads_and_dots(ask: Ask) -> None:
    values = ask(
        "[8, 6, 4, 3, 1, 0.75, 0.25].map((length) => [...Object.values(noteValue(length)), headOf(length)])"
    )
    assert values == [
        [8, False, "E0A0"],
        [4, True, "E0A2"],
        [4, False, "E0A2"],
        [2, True, "E0A3"],
        [1, False, "E0A4"],
        [0.5, True, "E0A4"],
        [0.25, False, "E0A4"],
    ]


def test_a_stave_counts_from_its_lowest_line(ask: Ask) -> None:
    places = "[s.y(30), s.y(38), s.step(100), s.step(52)]"
    assert ask(f"((s) => {places})(makeStave('G', 100))") == [100, 52, 30, 38]
    assert ask("ledgerLines(makeStave('G', 100), 0, 28, 10)") == "M-4 112h18"
    assert ask("ledgerLines(makeStave('G', 100), 0, 42, 10)") == "M-4 40h18M-4 28h18"
    assert ask("ledgerLines(makeStave('G', 100), 0, 39, 10)") == ""


def test_a_stem_reaches_the_middle_line(ask: Ask) -> None:
    stem = (
        "drawNote(makeStave('G', 100), 0, ...given).querySelector('.stem')?.getAttribute('d').split('V')[1]"
    )
    looks = {"up": True, "sign": None, "id": ""}
    assert ask(stem, [32, 1, looks]) == str(94 - 6 - 42)
    assert ask(stem, [23, 1, looks]) == "76"
    assert ask(stem, [32, 4, looks]) is None


def signs(ask: Ask, *bars: list[tuple[Any, ...]], signature: list[int] | None = None) -> dict[str, str]:
    """Signs by key: each note is (step, alteration) and what else is known of it."""
    named = [
        [
            {"onset": k, "step": step, "alter": alter, "key": f"{n}.{k}", **(more[0] if more else {})}
            for k, (step, alter, *more) in enumerate(bar)
        ]
        for n, bar in enumerate(bars)
    ]
    kinds = "[...accidentalsOf(...given)].map(([key, {kind}]) => [key, kind])"
    found = ask(kinds, [named, signature or [0] * 7])
    return dict(found)


def test_an_accidental_holds_for_its_bar_and_is_called_back_in_the_next(ask: Ask) -> None:
    f, sharp = (31, 0), (31, 1)
    assert signs(ask, [sharp, sharp], [f], [f]) == {"0.0": "plain", "1.0": "reminder"}
    assert signs(ask, [sharp, f]) == {"0.0": "plain", "0.1": "plain"}
    assert signs(ask, [sharp, (38, 0)]) == {"0.0": "plain", "0.1": "reminder"}
    assert signs(ask, [sharp], signature=[0, 0, 0, 1, 0, 0, 0]) == {}


def test_an_accidental_of_the_editor_is_for_its_own_note(ask: Ask) -> None:
    added = (31, 1, {"editorial": True})
    assert signs(ask, [added, added]) == {"0.0": "editorial", "0.1": "editorial"}
    assert signs(ask, [added, (31, 0)]) == {"0.0": "editorial", "0.1": "reminder"}


def test_a_note_tied_over_the_bar_line_has_no_sign(ask: Ask) -> None:
    held = (31, 1, {"continued": True})
    assert signs(ask, [(31, 1)], [held, (31, 1)]) == {"0.0": "plain", "1.1": "plain"}


def laid(ask: Ask, width: int) -> list[dict[str, Any]]:
    times = "new Set(given.events.map((event) => event.at))"
    shape = "({bars: s.bars.map((b) => b.number), x: [...s.x], ends: s.ends, width: s.width, head: s.head})"
    head = "(first) => (first ? 80 : 40)"
    return ask(f"layOut(given, {times}, new Set(), {head}, {width}).map((s) => {shape})", exercise())


def test_systems_break_at_bar_lines_and_fill_the_width(ask: Ask) -> None:
    narrow = laid(ask, 200)
    assert [system["bars"] for system in narrow] == [[1], [2]]
    assert narrow[0]["width"] == pytest.approx(200, abs=2)
    assert narrow[1]["head"] == 40
    wide = laid(ask, 1000)
    assert [system["bars"] for system in wide] == [[1, 2]]
    places = [x for _, x in wide[0]["x"]]
    assert places == sorted(places) and places[0] > 80
    assert wide[0]["width"] < 500, "a short last system is not drawn out"


def test_a_longer_note_has_more_room_and_a_short_one_enough_to_be_touched(ask: Ask) -> None:
    assert ask("[0, 0.5, 1.5].map(roomOf)") == [20, 39, 58]
    bar = "roomyBar(given, given.bars[0], new Set([0, 1, 2, 3]), new Set([1]))"
    gaps = ask(f"{bar}.gaps", exercise())
    assert gaps[0] == pytest.approx(gaps[1] + 13)
    short = exercise()
    for event, length in zip(short["events"], (0.25, 3.75, 4)):
        event["length"] = length
    short["events"][1]["at"] = 0.25
    assert ask("roomyBar(given, given.bars[0], new Set([0, 0.25]), new Set()).gaps[0]", short) == 46


def written(ask: Ask, cantus: list[Any], altus: list[Any]) -> dict[tuple[str, float], dict[str, Any]]:
    staves = "new Staves(given[0], makeStave('G', 100), makeStave('F', 250))"
    notes = ask(f"{staves}.written(given[1])", [exercise(), work(cantus, altus)])
    return {(note["voice"], note["onset"]): note for note in notes}


def test_a_voice_alone_turns_its_stems_freely_two_apart(ask: Ask) -> None:
    notes = written(ask, [C5, C5, C5], [None, E4, E4])
    assert notes["cantus", 4]["up"] and not notes["altus", 2]["up"]
    assert not written(ask, [C5, C5, C5], [None] * 3)["cantus", 0]["up"]
    assert written(ask, [E4, E4, E4], [None] * 3)["cantus", 0]["up"]


@pytest.mark.parametrize(("upper", "aside"), [(D4, True), (E4, True), (F4, False), (C4, True)])
def test_notes_that_would_touch_stand_aside(ask: Ask, upper: Any, aside: bool) -> None:
    """Of a whole bar, over D4: a second and crossing voices; not a third. A unison of two kinds of head."""
    notes = written(ask, [None, None, upper], [None, None, D4])
    if upper == D4:
        assert notes["altus", 4]["aside"] == 0
        clash = {"step": 29, "length": 2}
        assert ask("isClose(given, {...given, length: 4})", clash) is aside
    else:
        assert (notes["altus", 4]["aside"] > 0) is aside


def test_a_note_over_the_bar_line_is_written_in_two_with_a_tie(ask: Ask) -> None:
    notes = written(ask, [None, C5, C5], [None] * 3)
    first, then = notes["cantus", 2], notes["cantus", 4]
    assert (first["length"], first["tied"], first["continued"]) == (2, True, False)
    assert (then["length"], then["tied"], then["continued"]) == (4, False, True)
    assert (first["ids"], then["ids"]) == (["mine-cantus-1"], ["mine-cantus-2"])
    assert (first["bar"], then["bar"]) == (1, 2)


def test_a_voice_stands_on_the_stave_of_its_hand(ask: Ask) -> None:
    """In the second bar the left hand takes the altus."""
    piece = exercise(bars=[[1, 0, 4, ["cantus", "altus"]], [2, 4, 4, ["cantus"]]])
    of = "new Staves(given, makeStave('G', 100), makeStave('F', 250)).of('altus', time).letter"
    assert ask(f"[0, 3.5, 4, 7].map((time) => {of})", piece) == ["G", "G", "F", "F"]


def test_the_keys_stand_as_on_an_organ(ask: Ask) -> None:
    places = ask("keyPlaces(13)")
    assert [n for n, place in enumerate(places) if place["black"]] == [1, 3, 6, 8, 10]
    assert [p["left"] for p in places if not p["black"]] == [30 * n for n in range(8)]
    assert places[1]["left"] == 20
    assert ask("[100, 148, 152, 900].map((pitch) => nearestKey([100, 150, 200], pitch))") == [0, 1, 1, 2]


# Marks


def test_notes_are_lit_and_put_out(ask: Ask) -> None:
    lit = """(() => {
        const notes = new Map(["a", "b", "c"].map((id) => [id, [el("i")]]));
        const marks = new Marks({notes, bars: []}, {}, {listen() {}});
        const isLit = ([, [note]]) => note.classList.contains("verset-now");
        const seen = () => [...notes].filter(isLit).map(([id]) => id);
        marks.lightNotes(["a", "b"]);
        const first = seen();
        marks.lightNotes(["b", "c"]);
        return [first, seen()];
    })()"""
    assert ask(lit) == [["a", "b"], ["b", "c"]]


def test_the_bars_to_repeat_are_marked(ask: Ask) -> None:
    marked = """(() => {
        const bars = [1, 2, 3, 4].map((number) => ({number, measure: el("i")}));
        const marks = new Marks({bars}, {}, {listen() {}});
        marks.repeat([2, 3]);
        const seen = () => bars.map(({measure}) => measure.className.replaceAll("verset-", ""));
        const first = seen();
        marks.repeat(null);
        return [first, seen()];
    })()"""
    first, then = ask(marked)
    assert first == ["", "repeated repeat-first", "repeated repeat-last", ""]
    assert then == [""] * 4
