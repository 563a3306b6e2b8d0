"""The script's own work of the reader: what is put in, taken back, written and played."""

from __future__ import annotations

import json
from typing import Any
from xml.etree import ElementTree

import pytest
from script_parts import A4, B4, C5, D4, E4, G4, Ask, exercise, work

# The reader's work


def test_only_work_that_fits_is_read(ask: Ask) -> None:
    piece, good = exercise(), work([A4, B4, C5], [None, D4, E4])

    def read(key: Any, kept: Any) -> Any:
        return ask("readWork(...given)", [piece, {"key": key, "work": kept}])

    assert read("sample-1-2", good) == good
    assert read("another", good) is None
    assert read("sample-1-2", None) is None
    assert read("sample-1-2", work([A4, B4], [None, D4, E4])) is None
    assert read("sample-1-2", {"cantus": [A4, B4, C5]}) is None
    odd = work([[28], [28, 2], [28.5, 0]], ["C4", D4, [28, 1]])
    assert read("sample-1-2", odd) == work([None, None, None], [None, D4, [28, 1]])


def test_second_notes_are_read_where_there_is_room(ask: Ask) -> None:
    piece = exercise()
    del piece["events"][1]["half"]
    kept = work([A4, B4, C5], [None, D4, E4], cantus=[G4, G4, None])
    found = ask("readWork(...given)", [piece, {"key": "sample-1-2", "work": kept}])
    assert found["then"] == {"cantus": [G4, None, None]}


def test_a_second_note_is_put_in_and_taken_away(ask: Ask) -> None:
    put = "((work) => (divide(work, 'cantus', 1, [33, 0]), work))(given)"
    plain = work([A4, B4, C5], [None, D4, E4])
    assert ask(put, plain)["then"] == {"cantus": [None, A4, None]}
    away = "((work) => (divide(work, 'cantus', 1, null), work))(given)"
    assert ask(away, work(plain["cantus"], plain["altus"], cantus=[None, A4, None])) == plain


def test_equal_neighbours_are_held(ask: Ask) -> None:
    own = work([A4, A4, C5], [None, D4, None], cantus=[None, G4, None])
    notes = ask("heldNotes(given[0], given[1], 'cantus')", [exercise(), own])
    assert [(n["onset"], n["length"], n["pitch"]) for n in notes] == [(0, 3, A4), (3, 1, G4), (4, 4, C5)]
    assert [p["id"] for p in notes[0]["pieces"]] == ["mine-cantus-0", "mine-cantus-1"]
    assert [n["onset"] for n in ask("heldNotes(given[0], given[1], 'altus')", [exercise(), own])] == [2]


def test_the_work_sounds_with_the_line(ask: Ask) -> None:
    own = work([A4, A4, None], [None, None, None])
    played = ask("workToPlay(given[0], given[1], ['cantus', 'altus', 'bassus'])", [exercise(), own])
    start, end, hertz, voice, pieces = played[0]
    assert (start, hertz, voice) == (0, 133, 0)
    assert end == pytest.approx(2 - 0.09)
    assert pieces == [["mine-cantus-0", 0], ["mine-cantus-1", 1]]
    assert [note[3] for note in played[1:]] == [2, 2, 2]


def test_a_note_falls_silent_a_little_before_the_next(ask: Ask) -> None:
    """By 12 hundredths of its length, by 90 thousandths of a second at most."""
    assert ask("released(1, 1.5)") == pytest.approx(1.44)
    assert ask("released(1, 4)") == pytest.approx(3.91)


def test_lengths_are_cut_at_bar_lines_into_written_values(ask: Ask) -> None:
    bars = [[1, 0, 4, []], [2, 4, 4, []]]

    def cut(onset: float, length: float) -> list[tuple[float, float, str, bool]]:
        pieces = ask("writtenPieces(...given)", [onset, length, bars])
        return [(p["bar"], p["size"], p["type"], p["dotted"]) for p in pieces]

    assert cut(0, 3) == [(1, 3, "half", True)]
    assert cut(2, 6) == [(1, 2, "half", False), (2, 4, "whole", False)]
    # What would want two dots: the undotted value first.
    assert cut(0, 3.5) == [(1, 2, "half", False), (1, 1.5, "quarter", True)]


def test_the_work_is_written_as_music_for_other_programs(ask: Ask) -> None:
    own = work([[29, 1], [29, 1], None], [None, D4, E4])
    xml = ask("workToMusicXML(given[0], given[1], (voice) => voice + '&')", [exercise(), own])
    tree = ElementTree.fromstring(xml)
    assert tree.findtext("work/work-title") == "Two <bars>"
    assert [e.text for e in tree.iter("part-name")] == ["cantus&", "altus&", "bassus&"]
    for measure in tree.iter("measure"):
        assert sum(int(d.text or 0) for d in measure.iter("duration")) == 64
    first = tree.find("part/measure/note")
    assert first is not None
    assert [first.findtext(f"pitch/{name}") for name in ("step", "alter", "octave")] == ["D", "1", "4"]
    assert first.findtext("type") == "whole"


# Undoing, and the pen


def test_changes_are_undone_and_done_again(ask: Ask) -> None:
    steps = """((c) => {
        c.keep("b"); c.keep("b"); c.keep("c");
        const back = [c.undo(), c.undo(), c.undo()];
        const on = c.redo();
        c.keep("d");
        return [back, on, c.redo(), c.undo()];
    })(new Changes("a"))"""
    assert ask(steps) == [["b", "a", None], "b", None, "b"]


PEN = """((given) => {
  const log = [];
  const watch = {};
  for (const act of ["changed", "moved", "wrote"]) watch[act] = () => log.push(act);
  const pen = new Pen(given[0], given[1], watch);
  const at = () => [pen.voice, pen.n, pen.second];
  return {pen, log, at};
})(given)"""


def pen(ask: Ask, acts: str, own: dict[str, Any] | None = None) -> Any:
    """What some acts with a pen give, on an exercise where nothing is put in."""
    own = own or work([None] * 3, [None] * 3)
    return ask(f"(({{pen, log, at}}) => {{ {acts} }})({PEN})", [exercise(), own])


def test_the_pen_goes_where_its_voice_has_notes(ask: Ask) -> None:
    assert pen(ask, "pen.choose('altus'); pen.go(-1); return at();") == ["altus", 1, False]
    assert pen(ask, "pen.go(1); pen.go(1); pen.go(1); return at();") == ["cantus", 2, False]
    assert pen(ask, "pen.chooseNext(1); pen.chooseNext(1); return at();") == ["altus", 1, False]
    divided = work([A4, B4, C5], [None, D4, E4], cantus=[G4, None, None])
    assert pen(ask, "pen.go(1); const there = at(); pen.go(1); return [there, at()];", divided) == [
        ["cantus", 0, True],
        ["cantus", 1, False],
    ]


def test_the_pen_begins_in_the_middle_and_stays_on_the_paper(ask: Ask) -> None:
    assert pen(ask, "pen.shift(1); return pen.tone;") == [34, 0]
    assert pen(ask, "pen.put([40, 0]); pen.shift(1); return pen.tone;") == [40, 0]
    assert pen(ask, "pen.put([30, 0]); pen.alter(1); pen.alter(1); return pen.tone;") == [30, 1]
    assert pen(ask, "pen.putLetter(6); return pen.tone;") == [34, 0]


def test_the_pen_is_near_the_notes_about_it(ask: Ask) -> None:
    own = work([A4, None, None], [None] * 3)
    assert pen(ask, "pen.go(1); return pen.near;", own) == 33
    assert pen(ask, "return pen.near;", work([None, D4, None], [None] * 3)) == 29
    assert pen(ask, "pen.second = true; return pen.near;", work([G4, D4, None], [None] * 3)) == 32
    assert pen(ask, "pen.second = true; return pen.near;", work([None, D4, None], [None] * 3)) == 34


def test_the_pen_divides_towards_the_next_note(ask: Ask) -> None:
    down = work([C5, A4, None], [None] * 3)
    assert pen(ask, "pen.divideHere(); return [pen.work.then.cantus, at()];", down) == [
        [B4, None, None],
        ["cantus", 0, True],
    ]
    assert pen(ask, "pen.divideHere(); pen.put(null); return [pen.work.then, at()];", down) == [
        None,
        ["cantus", 0, False],
    ]


def test_a_key_puts_the_plainest_note_in_and_goes_on(ask: Ask) -> None:
    assert pen(ask, "pen.putKey(72); return [pen.work.cantus[0], at()[1]];") == [C5, 1]
    assert pen(ask, "pen.putKey(40); return [pen.work.cantus[0], at()[1], log];") == [None, 0, []]


def test_what_the_pen_wrote_is_undone(ask: Ask) -> None:
    acts = "pen.put([33, 0]); pen.put([34, 0]); pen.undo(); const one = pen.tone; pen.redo();"
    assert pen(ask, f"{acts} return [one, pen.tone];") == [A4, B4]
    assert pen(ask, "pen.choose('altus'); pen.n = 0; pen.put([29, 0]); return [pen.work.altus, log];") == [
        [None] * 3,
        ["moved"],
    ]


def test_the_best_hint_is_ours_else_the_one_with_least_against_it(ask: Ask) -> None:
    acts = "pen.hints = given; return pen.bestHint();"
    own = work([A4, None, None], [None] * 3)

    def best(*hints: tuple[list[int], int]) -> Any:
        offered = json.dumps([{"pitch": p, "price": price} for p, price in hints])
        return pen(ask, f"pen.go(1); const given = {offered}; {acts}", own)

    assert best((G4, 0), (B4, 3)) == B4
    assert best((G4, 1), (C5, 0)) == C5
    assert best((D4, 0), (G4, 0)) == G4


def test_what_the_teacher_does_not_ask_for_stands_there_and_stays(ask: Ask) -> None:
    piece = exercise(stands={"cantus": [True, True, False], "altus": [True, True, True]})
    assert ask("emptyWork(given)", piece) == work([A4, B4, None], [None, D4, E4])
    kept = {"key": "sample-1-2", "work": work([G4, G4, G4], [G4, G4, G4], cantus=[G4, None, G4])}
    found = ask("readWork(...given)", [piece, kept])
    assert found == work([A4, B4, G4], [None, D4, E4], cantus=[None, None, G4])
    steps = """(() => {
        const watch = { changed() {}, moved() {}, wrote() {} };
        const pen = new Pen(given, emptyWork(given), watch);
        const at = [pen.voice, pen.n];
        pen.go(-1);
        pen.choose('altus');
        const still = [pen.voice, pen.n];
        pen.put([31, 0]);
        return [at, still, pen.work];
    })()"""
    at, still, written = ask(steps, piece)
    assert at == still == ["cantus", 2]
    assert written == work([A4, B4, [31, 0]], [None, D4, E4])
