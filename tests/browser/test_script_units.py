"""The parts of the reader's script one by one: its files joined without the two that start it, in one empty
page. What is expected is worked out here by hand."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any
from xml.etree import ElementTree

import pytest
from playwright.sync_api import Browser

from builder.pages import assets

STARTING = {"theme", "start", "borrowed", "answers"}
Ask = Callable[..., Any]

C4, D4, E4, F4, G4, A4, B4, C5 = ([step, 0] for step in range(28, 36))


@pytest.fixture(scope="module")
def ask(chromium: Browser) -> Iterator[Ask]:
    """Evaluates an expression in which every name of the script is known, and `given` is what is passed."""
    page = chromium.new_page()
    page.context.set_offline(True)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    names = [n for n in (*assets.SCRIPT_ORDER, *assets.OWN_ORDER) if n not in STARTING]
    pieces = [(assets.source_folder() / f"script/{name}.js").read_text("utf-8") for name in names]
    # Once as a classic script, so that every expression afterwards sees the names.
    tables = f"window.versetVerdicts={assets.rule_tables()};"
    page.add_script_tag(content="\n".join([assets.glyphs(), tables, *pieces]))

    def evaluate(expression: str, given: Any = None) -> Any:
        return page.evaluate(f"(given) => ({expression})", given)

    yield evaluate
    page.close()
    assert faults == []


def exercise(**changes: Any) -> dict[str, Any]:
    """Two bars of four quarters over F3 G3 | C4: altus above from the second sonority on, cantus everywhere.
    The first sonority lasts a half note, the second too, the third a whole one; a second is a half note."""
    events = [
        {"at": 0, "length": 2, "start": 0, "end": 1, "bar": 1, "bass": [24, 0], "upper": ["cantus"]},
        {"at": 2, "length": 2, "start": 1, "end": 2, "bar": 1, "bass": [25, 0], "upper": ["cantus", "altus"]},
        {"at": 4, "length": 4, "start": 2, "end": 4, "bar": 2, "bass": C4, "upper": ["cantus", "altus"]},
    ]
    for event in events:
        halves = {"half": event["length"] / 2, "middle": (event["start"] + event["end"]) / 2}
        event |= halves | {"late": event["bass"], "voice": "bassus", "where": f"at {event['at']}"}
        event |= {"figure": [], "figured": False, "joined": event["at"] > 0, "stays": False, "weight": 2}
        event |= {"free": False, "allowed": [], "variants": []}
    line = [
        {"id": f"b{n}", "voice": "bassus", "pitch": e["bass"], "tied": False, "editorial": False}
        | {key: e[key] for key in ("at", "length", "start", "end")}
        for n, e in enumerate(events)
    ]
    return {
        "key": "sample-1-2",
        "title": "Two <bars>",
        "metre": [4, 4],
        "symbol": "C",
        "fifths": 0,
        "signature": [0] * 7,
        "voices": ["cantus", "altus"],
        "order": ["cantus", "altus", "bassus"],
        "closed": True,
        "bars": [[1, 0, 4, ["cantus", "altus"]], [2, 4, 4, ["cantus", "altus"]]],
        "events": events,
        "line": line,
        "ours": {"cantus": [A4, B4, C5], "altus": [None, D4, E4]},
        "compass": {"cantus": [28, 40], "altus": [25, 36]},
        "hertz": {f"{step},{alter}": 100 + step for step in range(21, 41) for alter in (-1, 0, 1)},
        "notes": {"cantus": {}, "altus": {}},
        "pairs": {},
        **changes,
    }


def work(cantus: list[Any], altus: list[Any], /, **then: list[Any]) -> dict[str, Any]:
    return {"cantus": cantus, "altus": altus, **({"then": then} if then else {})}


# Small things


def test_texts_are_filled_and_numbers_held(ask: Ask) -> None:
    assert ask('say("bar {bar} of {all}, {other}", {bar: 0, all: 9})') == "bar 0 of 9, {other}"
    assert ask("[clamp(-3, 0, 5), clamp(3, 0, 5), clamp(8, 0, 5)]") == [0, 3, 5]
    assert ask("[modulo(-1, 7), modulo(7, 7), modulo(9, 7)]") == [6, 0, 2]


def test_an_element_takes_attributes_listeners_and_children(ask: Ask) -> None:
    attributes = '{id: "a", hidden: true, title: null, lang: false, tabindex: 0}'
    assert (
        ask(f'el("p", {attributes}, "x", null, el("b")).outerHTML')
        == '<p id="a" hidden="" tabindex="0">x<b></b></p>'
    )
    assert ask("(() => { let n = 0; el('a', {click: () => n++}).click(); return n; })()") == 1


def test_a_forbidden_store_forgets(ask: Ask) -> None:
    """An empty page may not use the store: nothing is thrown, and the other answer is given."""
    assert ask('(memory.set("a", 1), memory.get("a", "forgotten"))') == "forgotten"


# Pitches and intervals


def test_pitches_are_counted_from_c0(ask: Ask) -> None:
    assert ask("given.map(midiOf)", [C4, A4, [27, -1], [31, 1], [14, 0]]) == [60, 69, 58, 66, 36]
    assert ask("interval(...given)", [C4, [32, 0]]) == "4,7"
    assert ask("interval(...given)", [C5, [28, 1]]) == "-7,-11"
    assert ask("given.map((pair) => samePitch(...pair))", [[C4, C4], [C4, [28, 1]], [C4, None]]) == [
        True,
        False,
        False,
    ]


@pytest.mark.parametrize(
    ("letter", "near", "step"), [(0, 32, 35), (0, 31, 28), (6, 28, 27), (3, 28, 31), (4, 28, 25), (2, 30, 30)]
)
def test_a_letter_means_the_nearest_note(ask: Ask, letter: int, near: int, step: int) -> None:
    assert ask("nearestStep(...given)", [letter, near]) == step


# What sounds when


def timeline() -> str:
    notes = [[0, 2, 440, 0, [["a", 0], ["b", 1]]], [1, 3, 330, 1, [["c", 1]]]]
    data = {
        "voices": ["cantus", "bassus"],
        "bars": [[3, 0], [4, 2], [5, 4]],
        "beats": [0, 1, 2, 3, 4, 5, 6, 7],
        "end": 8,
        "versions": {"plain": notes},
    }
    return f"new Timeline({json.dumps(data)})"


def test_the_last_entry_is_found_by_bisection(ask: Ask) -> None:
    assert ask("[-1, 0, 0.5, 1, 2, 9].map((at) => lastAt([0, 1, 2], at))") == [-1, 0, 0, 1, 2, 2]
    assert ask("lastAt([], 1)") == -1


def test_bars_are_found_by_position_and_number(ask: Ask) -> None:
    line = timeline()
    assert ask(f"[-1, 0, 1.9, 1.9999999, 2, 99].map((at) => {line}.bar(at))") == [3, 3, 3, 4, 4, 5]
    assert ask(f"[{line}.barStart(4), {line}.barEnd(4), {line}.barEnd(5)]") == [2, 4, 8]
    assert ask(f"[2, 2.5, 4].map((at) => {line}.isBarStart(at))") == [True, False, True]


def test_a_drawn_note_sounds_until_the_next_one_it_is_tied_to(ask: Ask) -> None:
    sounding = f"[0, 0.99, 1, 2, 3].map((at) => {timeline()}.sounding('plain', at).join())"
    assert ask(sounding) == ["a", "a", "b,c", "c", ""]
    assert ask(f"[{timeline()}.noteStart('b'), {timeline()}.sounding('none', 0)]") == [1, []]


def test_one_bar_is_counted_in_even_before_a_longer_one(ask: Ask) -> None:
    assert ask(f"[0, 4.5].map((at) => {timeline()}.counting(at))") == [{"count": 2, "length": 1}] * 2


def test_versions_that_sound_alike_are_offered_once(ask: Ask) -> None:
    versions = {name: {"notes": [note]} for name, note in (("a", 1), ("b", 2), ("c", 1))}
    for name, of in versions.items():
        of["notes"] = [{"start": 0, "end": 1, "hertz": 440 if name != "b" else 330, "voice": 0}]
    assert ask("differing({versions: given}, ['a', 'b', 'c', 'd'])", versions) == ["a", "b"]


PLAYED = """(() => {
  const log = [];
  const context = {currentTime: 10, resume: async () => {}};
  const note = (when, until, hertz, voice) => {
    const sound = {when, until, over: until + 1, end: (at) => log.push(["end", hertz, at])};
    sound.kill = () => log.push(["kill", hertz]);
    log.push(["note", hertz, when, until]);
    return sound;
  };
  const knock = (when, first) => (log.push(["knock", first, when]), {when, over: when, end() {}, kill() {}});
  const organ = {context, note, knock, heard: () => context.currentTime};
  const transport = new Transport(%s, () => organ, {start: 0, end: 8});
  return {log, context, transport};
})()"""


def rounded(log: list[Any]) -> list[Any]:
    return [[round(x, 3) if isinstance(x, float) else x for x in each] for each in log]


def test_notes_are_planned_a_little_ahead_and_taken_up_within(ask: Ask) -> None:
    log = ask(
        """(async () => {
            const {log, context, transport} = PLAYED;
            transport.seek(1.5); // both notes already sound
            await transport.go();
            context.currentTime = 10.58;
            log.push(transport.position());
            transport.stop();
            clearInterval(transport.timer);
            return [log, transport.position(), transport.going];
        })()""".replace("PLAYED", PLAYED % timeline())
    )
    assert rounded(log[0][:2]) == [["note", 440, 10.08, 10.58], ["note", 330, 10.08, 11.58]]
    assert log[0][2] == pytest.approx(2)
    assert log[0][3:] == [["end", 440, 10.58], ["end", 330, 10.58]]
    assert (log[1], log[2]) == (pytest.approx(2), False)


def test_a_change_of_speed_holds_what_sounds_and_a_count_comes_before(ask: Ask) -> None:
    log = ask(
        """(async () => {
            const {log, context, transport} = PLAYED;
            transport.setBeat(true, false);
            transport.setRate(0.5);
            await transport.go(); // two beats of two seconds are counted, from 10.08 on
            clearInterval(transport.timer);
            log.push(transport.counting);
            context.currentTime = 14;
            transport.look();
            context.currentTime = 15.08; // a second into the first note: half a second of the verset
            log.push(transport.counting, transport.position());
            transport.setRate(1);
            context.currentTime = 15.585;
            log.push(transport.position());
            transport.setRepeat([4, 3]);
            return [log, transport.settings.repeat, transport.low, transport.high];
        })()""".replace("PLAYED", PLAYED % timeline())
    )
    log, *state = log
    assert rounded(log[:2]) == [["knock", True, 10.08], ["knock", False, 12.08]]
    assert rounded(log[3:4]) == [["note", 440, 14.08, 18.08]]
    assert log[2] is True and log[4] is False and log[5] == pytest.approx(0.5)
    assert log[6][:2] == ["end", 440]
    assert log[6][2] == pytest.approx(15.085 + 1.5)
    assert next(each for each in log[7:] if not isinstance(each, list)) == pytest.approx(1.0)
    assert state == [[3, 4], 0, 4]


def test_a_stretch_is_gone_through_again_with_its_beats(ask: Ask) -> None:
    """Bar 4 (two seconds) is repeated and clicked; once more it begins where it ended."""
    log, state = ask(
        """(async () => {
            const {log, context, transport} = PLAYED;
            transport.setRepeat([4, 4]);
            transport.setBeat(false, true);
            await transport.go();
            clearInterval(transport.timer);
            for (const time of [11, 12, 13]) { context.currentTime = time; transport.look(); }
            const there = transport.position();
            transport.seek(1); // outside: no repeat any more
            const repeat = transport.settings.repeat;
            context.currentTime = 30;
            transport.look();
            return [log, [there, repeat, transport.going, transport.position()]];
        })()""".replace("PLAYED", PLAYED % timeline())
    )
    knocks = [(round(at, 2), first) for kind, first, at, *_ in log if kind == "knock"][:4]
    assert knocks == [(10.08, True), (11.08, False), (12.08, True), (13.08, False)]
    assert [each[:3] for each in rounded(log) if each[0] == "note"][:2] == [
        ["note", 330, 10.08],
        ["note", 330, 12.08],
    ]
    assert state == [pytest.approx(2.92), None, False, 0]


def test_what_is_at_its_end_begins_anew(ask: Ask) -> None:
    begun = """(async () => {
        const {context, transport} = PLAYED;
        transport.seek(99);
        const end = transport.position();
        await transport.go();
        clearInterval(transport.timer);
        return [end, transport.position(), transport.counted];
    })()""".replace("PLAYED", PLAYED % timeline())
    assert ask(begun) == [pytest.approx(7.99), 0, 0]


def test_beats_shorter_than_a_second_are_counted(ask: Ask) -> None:
    data = {"voices": [], "bars": [[1, 0], [2, 2], [3, 4]], "beats": [k / 2 for k in range(12)], "end": 6}
    counted = f"[0, 2].map((at) => new Timeline({json.dumps({**data, 'versions': {}})}).counting(at))"
    assert ask(counted) == [{"count": 4, "length": 0.5}] * 2


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
