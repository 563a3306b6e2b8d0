"""Small parts of the reader's script, and what sounds when."""

from __future__ import annotations

import json
from typing import Any

import pytest
from script_parts import A4, C4, C5, Ask

from builder.sound.ranks import MISTUNED, RANKS

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


def test_pipes_of_the_page_are_voiced_as_those_of_the_file(ask: Ask) -> None:
    ranks, keys = list(RANKS.values()), range(36, 85)
    asked = [
        [{"seed": r.seed, "mistuned": MISTUNED if r.harmonic > 1 else 0}, k] for r in ranks for k in keys
    ]
    found = ask("given.map((each) => voiced(...each))", asked)
    for pair, wanted in zip(found, (rank.voiced(key) for rank in ranks for key in keys), strict=True):
        assert pair == pytest.approx(wanted, abs=1e-9)


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
