"""A line drawn over a stretch: what moves cost, which are sung, and how it is joined. Without chance (heat 0)
the cheapest line is drawn. Prices are the room's own; the moves are Zarlino's (from memory)."""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from random import Random
from typing import Any

import pytest
from diminution.by_hand import tones, woven
from diminution.test_where_a_note_may_be_sung import free

from builder.diminution import draw as room
from builder.diminution.draw import LEGAL, Frame, Style, draw, frame, shifts
from builder.diminution.habits import NO_MOVE, played, sung
from builder.diminution.harmony import natural
from builder.diminution.spots import Spots
from builder.diminution.weave import Tone, Weave

CALM = Style(heat=0.0)
KEYS = Style(heat=0.0, keyboard=True)
NOTHING: dict[int, dict[int, float]] = {a: dict.fromkeys(range(-7, 8), 0.0) for a in (*range(-7, 8), NO_MOVE)}


def alone(voice: str = "cantus", line: str = "C5:8") -> Spots:
    weave = woven((voice, line))
    return Spots(weave, free(weave), 0, [-1] * weave.size)


def tone(start: int, end: int, d: int) -> Tone:
    return Tone(start, end, d, natural(d))


def way(*steps: int, clash: bool = False, raised: bool = False) -> Any:
    """A way over some staff steps, one note after another."""
    found: Any = None
    for n, d in enumerate(steps):
        move = d - steps[n - 1] if n else NO_MOVE
        found = room._Way(0.0, d, natural(d), move, clash, False, False, found)
    if raised:
        found.m += 1
    return found


def steps_of(found: tuple[float, Sequence[Tone]] | None) -> list[int]:
    assert found is not None
    return [t.d for t in found[1]]


# --- which moves there are


def test_the_moves_of_a_voice_are_zarlinos() -> None:
    """Steps, thirds, pure fourths, fifths and octaves, the minor sixth upwards; no tritone, no sixth down."""
    sizes = {(steps, keys) for steps, keys in LEGAL if steps > 0}
    assert sizes == {(1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (4, 7), (5, 8), (7, 12)}
    assert {(-a, -b) for a, b in LEGAL if a < 0} == sizes - {(5, 8)} and (0, 0) in LEGAL


def test_a_passing_note_fills_a_third_and_costs_what_its_moves_cost() -> None:
    spots = alone()
    joined = Frame(tone(0, 4, 35), NO_MOVE, tone(8, 12, 37))
    found = draw(spots, [4], 8, joined, CALM, Random(1))
    costs = sung("quarter")
    assert found is not None and found[1] == [tone(4, 8, 36)]
    assert found[0] == pytest.approx(CALM.learned * (costs[NO_MOVE][1] + costs[1][1]))


def test_lengths_are_counted_from_the_note_before() -> None:
    """A half, then two eighths up to the next bar."""
    spots = alone()
    joined = Frame(tone(0, 12, 35), 1, tone(16, 20, 38))
    found = draw(spots, [12, 14], 16, joined, CALM, Random(1))
    assert steps_of(found) == [36, 37]
    long, small = sung("long"), sung("small")
    assert found is not None
    assert found[0] == pytest.approx(CALM.learned * (long[1][1] + small[1][1] * 2))
    keys = draw(spots, [12, 14], 16, joined, KEYS, Random(1))
    assert keys is not None
    figures = played("as written")
    assert keys[0] == pytest.approx(CALM.learned * (long[1][1] + figures[1][1] * 2))


def test_chance_is_gumbels_and_grows_with_heat() -> None:
    class Dice(Random):
        def random(self) -> float:
            return 0.25

    assert room._gumbel(Dice()) == pytest.approx(-log(-log(0.25)))
    spots = alone()
    joined = Frame(tone(0, 4, 35), NO_MOVE, tone(8, 12, 37))
    calm, hot = (draw(spots, [4], 8, joined, style, Dice()) for style in (CALM, Style(heat=2.0)))
    assert calm is not None and hot is not None
    assert calm[0] - hot[0] == pytest.approx(2.0 * -log(-log(0.25)))
    lines = {
        tuple(steps_of(draw(spots, [4, 6, 8, 10], 12, Frame(tone(0, 4, 35), 1, None), Style(heat=2.0), dice)))
        for dice in map(Random, range(12))
    }
    assert len(lines) > 6


def test_what_is_liked_is_sung_and_what_must_be_is() -> None:
    spots = alone()
    before, after = tone(0, 4, 35), tone(8, 12, 37)
    liked = draw(spots, [4], 8, Frame(before, NO_MOVE, after, {4: (38, 9.0)}), CALM, Random(1))
    plain = draw(spots, [4], 8, Frame(before, NO_MOVE, after, must={4: 38}), CALM, Random(1))
    assert steps_of(liked) == [38] == steps_of(plain)
    assert liked is not None and plain is not None
    assert plain[0] - liked[0] == pytest.approx(9.0)
    # A fourth up and a step down: a leap that is turned back.
    costs = sung("quarter")
    assert plain[0] == pytest.approx(CALM.learned * (costs[NO_MOVE][3] + costs[3][-1]) + 2 * CALM.leap)
    assert draw(spots, [4], 8, Frame(before, NO_MOVE, after, must={4: 41}), CALM, Random(1)) is None


def test_a_line_that_opens_begins_near_to_where_it_goes() -> None:
    spots = alone()
    opened = draw(spots, [0], 4, Frame(None, NO_MOVE, tone(4, 8, 36)), CALM, Random(1))
    costs = sung("small")  # nothing was sung before it
    assert opened is not None and len(opened[1]) == 1
    d = opened[1][0].d
    quarter = sung("quarter")
    totals = {
        k: abs(k) * 0.2
        + CALM.learned * quarter[NO_MOVE][k]
        + (CALM.leap * (abs(k) - 1) if abs(k) > 1 else 0)
        + (CALM.octave if abs(k) == 7 else 0)
        + (CALM.repeat if not k else 0)
        for k in (0, 1, -1, 2, -2, 3, -3, 4, -4)
    }
    assert opened[0] == pytest.approx(min(totals.values())) and totals[36 - d] == min(totals.values())
    assert costs is not quarter
    forced = draw(spots, [0], 4, Frame(None, NO_MOVE, tone(4, 8, 36), must={0: 33}), CALM, Random(1))
    assert forced is not None and steps_of(forced) == [33]
    assert forced[0] == pytest.approx(totals[3])
    wished = Frame(None, NO_MOVE, tone(4, 8, 36), {0: (33, 2.0)}, must={0: 33})
    again = draw(spots, [0], 4, wished, CALM, Random(1))
    assert again is not None and forced[0] - again[0] == pytest.approx(2.0)


def test_a_line_with_nothing_before_and_after_begins_in_the_middle_of_its_compass() -> None:
    spots = alone()
    found = draw(spots, [0], 4, Frame(None, NO_MOVE, None), CALM, Random(1))
    assert found is not None and steps_of(found) == [(spots.low + spots.high) // 2] and found[0] == 0.0
    off = draw(spots, [0], 4, Frame(None, NO_MOVE, None, must={0: 36}), CALM, Random(1))
    assert off is not None and off[0] == pytest.approx(4 * 0.15)


def test_a_line_goes_a_sixth_beyond_the_notes_it_joins_at_most() -> None:
    span = room._span(alone(), Frame(tone(0, 4, 33), 0, tone(8, 12, 35)))
    assert (span[0], span[-1]) == (33 - room.REACH, 35 + room.REACH)
    span = room._span(alone(), Frame(None, 0, tone(8, 12, 35)))
    assert (span[0], span[-1]) == (35 - room.REACH, 35 + room.REACH)
    spots = alone()
    span = room._span(spots, Frame(None, 0, None))
    assert (span[0], span[-1]) == (spots.low - room.REACH, spots.high + room.REACH)
    far = Frame(tone(0, 4, 30), NO_MOVE, None, must={4: 33, 8: 37})
    assert draw(alone(), [4, 8], 12, far, CALM, Random(1)) is None
    near = Frame(tone(0, 4, 31), NO_MOVE, None, must={4: 33, 8: 37})
    assert steps_of(draw(alone(), [4, 8], 12, near, CALM, Random(1))) == [33, 37]


def test_no_note_is_struck_again_beside_a_sixteenth_at_the_keyboard() -> None:
    spots = alone()
    must = {4: 35}
    for start, end, sung_ in ((3, 8, False), (0, 5, False), (0, 8, True)):
        joined = Frame(tone(start, 4, 35), NO_MOVE, None, must=dict(must))
        assert (draw(spots, [4], end, joined, KEYS, Random(1)) is not None) is sung_, (start, end)
        assert draw(spots, [4], end, joined, CALM, Random(1)) is not None
    short = Frame(tone(0, 4, 36), NO_MOVE, tone(5, 8, 35), must=dict(must))
    assert draw(spots, [4], 5, short, KEYS, Random(1)) is None
    long = Frame(tone(0, 4, 36), NO_MOVE, tone(8, 12, 35), must=dict(must))
    assert draw(spots, [4], 8, long, KEYS, Random(1)) is not None


def test_a_letter_in_two_forms_is_not_drawn_within_two_quarters() -> None:
    f, sharp = Tone(0, 4, 31, 65), Tone(4, 8, 31, 66)
    assert room._two_ways([f, sharp], 8) and not room._two_ways([f, Tone(4, 8, 32, 67)], 8)
    assert not room._two_ways([f, Tone(12, 16, 31, 66)], 8) and room._two_ways([f, Tone(11, 16, 31, 66)], 8)
    assert not room._two_ways([f, Tone(4, 8, 38, 77)], 8)  # the octave of the same form


# --- how dissonance binds a line


def against(lower: str = "C4:8") -> Spots:
    weave = woven(("cantus", "G4:8"), ("altus", lower))
    return Spots(weave, free(weave), 0, [-1] * weave.size)


def test_a_dissonance_comes_and_goes_by_step() -> None:
    spots = against()
    by_step = Frame(tone(0, 4, 30), 1, tone(8, 12, 32), must={4: 31})
    assert steps_of(draw(spots, [4], 8, by_step, CALM, Random(1))) == [31]
    to_by_leap = Frame(tone(0, 4, 33), 1, tone(8, 12, 32), must={4: 31})
    assert draw(spots, [4], 8, to_by_leap, CALM, Random(1)) is None
    from_by_leap = Frame(tone(0, 4, 30), 1, tone(8, 12, 33), must={4: 31})
    assert draw(spots, [4], 8, from_by_leap, CALM, Random(1)) is None
    within = Frame(tone(0, 4, 30), 1, None, must={4: 31, 8: 33})
    assert draw(spots, [4, 8], 12, within, CALM, Random(1)) is None
    at_the_end = Frame(tone(0, 4, 30), 1, None, must={4: 31})
    assert draw(spots, [4], 8, at_the_end, CALM, Random(1)) is None
    # A note before that clashes binds the first of the line; one after it the last.
    bound = Frame(tone(4, 8, 31), 1, None, must={8: 33})
    assert draw(spots, [8], 12, bound, CALM, Random(1)) is None
    loose = Frame(tone(4, 8, 30), 1, None, must={8: 33})
    assert steps_of(draw(spots, [8], 12, loose, CALM, Random(1))) == [33]
    into = Frame(tone(0, 4, 33), 1, tone(8, 12, 31), must={4: 33})
    assert draw(spots, [4], 8, into, CALM, Random(1)) is None  # the note after clashes: not by leap


def test_a_dissonance_on_a_strong_part_goes_on_as_it_came_or_falls() -> None:
    spots = against()
    for came, goes, lawful in ((30, 32, True), (32, 30, True), (32, 32, False), (30, 30, True)):
        within = Frame(tone(4, 8, came), 1, None, must={8: 31, 12: goes})
        assert (draw(spots, [8, 12], 16, within, CALM, Random(1)) is not None) is lawful, (came, goes)
        joined = Frame(tone(4, 8, came), 1, tone(12, 16, goes), must={8: 31})
        assert (draw(spots, [8], 12, joined, CALM, Random(1)) is not None) is lawful, (came, goes)


def test_a_suspension_falls_by_step() -> None:
    """The cantus holds G while the altus strikes A under it."""
    spots = against("C4:2 A3:2 C4:4")
    weave = woven(("cantus", "G4:8"), ("altus", "E4:2 F4:2 E4:4"))
    spots = Spots(weave, free(weave), 0, [-1] * 32)
    assert spots.at(0, 12, 0, 12)[32].fall  # type: ignore[union-attr]
    for goes, lawful in ((31, True), (33, False), (32, False), (30, False)):
        joined = Frame(None, NO_MOVE, tone(12, 16, goes), must={0: 32})
        assert (draw(spots, [0], 12, joined, CALM, Random(1)) is not None) is lawful, goes
        within = Frame(None, NO_MOVE, None, must={0: 32, 12: goes})
        assert (draw(spots, [0, 12], 16, within, CALM, Random(1)) is not None) is lawful, goes
        bound = Frame(tone(0, 12, 32), NO_MOVE, None, must={12: goes})
        assert (draw(spots, [12], 16, bound, CALM, Random(1)) is not None) is lawful, goes
    assert draw(spots, [0], 12, Frame(None, NO_MOVE, None, must={0: 32}), CALM, Random(1)) is None


# --- other voices


def moves(*pairs: tuple[int, int]) -> list[tuple[Tone, Tone]]:
    return [(tone(0, 4, a), tone(4, 8, b)) for a, b in pairs]


@pytest.mark.parametrize(
    ("own", "other", "wrong"),
    [
        ((32, 33), (28, 29), True),  # fifths, C G to D A
        ((32, 31), (28, 27), False),  # G F over C B: a fifth to a tritone
        ((35, 36), (28, 29), True),  # octaves
        ((28, 29), (28, 29), True),  # unisons
        ((32, 29), (28, 32), False),  # G D over C G: the lower voice above
        ((39, 36), (28, 32), True),  # G D over C G: fifths in contrary motion
        ((35, 28), (28, 28), False),  # the other stays
        ((32, 32), (28, 25), False),  # itself stays
        ((30, 32), (27, 28), True),  # a fifth by leap in the same direction
        ((31, 32), (26, 28), False),  # by step
        ((33, 30), (28, 30), False),  # contrary, into a unison by leap
        ((33, 35), (29, 30), False),  # a leap into a sixth
        ((33, 36), (27, 29), True),  # a leap into an octave
        ((36, 33), (31, 29), True),  # down by leap into a fifth
    ],
)
def test_perfect_consonances_of_a_kind_do_not_follow_one_another(
    own: tuple[int, int], other: tuple[int, int], wrong: bool
) -> None:
    a, b = own
    found = room._parallel(way(a), b - a, natural(b), moves(other))
    assert found is wrong
    assert room._parallel(way(a), b - a, natural(b), moves((20, 20), other)) is wrong


def test_other_voices_strokes_are_known_with_what_they_had_before() -> None:
    weave = woven(("cantus", "G4:8"), ("altus", "C4:1 D4:1 R:1 E4:1 E4:4"), ("bassus", "C3:2 D3:6"))
    spots = Spots(weave, free(weave), 0, [-1] * 32)
    assert room._struck(spots, 4) == [(tone(0, 4, 28), tone(4, 8, 29))]
    assert [b.d for _, b in room._struck(spots, 8)] == [22]
    assert room._struck(spots, 12) == []  # after a rest
    assert [b.d for _, b in room._struck(spots, 16)] == [30]
    assert room._struck(spots, 0) == [] == room._struck(spots, 32) and room._struck(spots, 5) == []
    low = Spots(weave, free(weave), 2, [-1] * 32)
    assert room._struck(low, 4) == room._struck(spots, 4) and room._struck(low, 8) == []
    first = woven(("cantus", "G4:8"), ("altus", "C4:1/4 D4:31/4"))
    assert room._struck(Spots(first, free(first), 0, [-1] * 32), 1) == [(tone(0, 1, 28), tone(1, 32, 29))]


def test_parallels_with_a_moving_voice_are_not_drawn() -> None:
    weave = woven(("cantus", "G4:8"), ("altus", "C4:1 D4:1 E4:2 C4:4"))
    spots = Spots(weave, free(weave), 0, [-1] * 32)
    fifths = Frame(tone(0, 4, 32), 1, None, must={4: 33})
    assert draw(spots, [4], 8, fifths, CALM, Random(1)) is None
    third = Frame(tone(0, 4, 32), 1, None, must={4: 31})
    assert draw(spots, [4], 8, third, CALM, Random(1)) is not None
    into = Frame(None, NO_MOVE, tone(4, 8, 33), must={0: 32})
    assert draw(spots, [0], 4, into, CALM, Random(1)) is None


# --- what a move costs


ST = Style(learned=0.0, repeat=0.8, leap=0.25, octave=1.5, twice=1.0, unrecovered=0.9, turn=0.35)


@pytest.mark.parametrize(
    ("last", "move", "length", "keyboard", "cost"),
    [
        (NO_MOVE, 1, 1.0, False, 0.0),
        (NO_MOVE, 0, 1.0, False, 0.8),
        (NO_MOVE, 0, 0.5, False, 2.0),
        (NO_MOVE, 0, 1.0, True, 0.8 + room.AGAIN),
        (NO_MOVE, 2, 1.0, False, 0.25),
        (NO_MOVE, -3, 1.0, False, 0.5),
        (NO_MOVE, 7, 1.0, False, 3.0),
        (NO_MOVE, 2, 0.25, False, 1.25),
        (NO_MOVE, 1, 0.25, False, 0.0),
        # leaps one after another in one direction; two thirds make a triad
        (2, 3, 1.0, False, 0.5 + 1.0),
        (-2, -3, 1.0, False, 0.5 + 1.0),
        (2, 2, 1.0, False, 0.25),
        (2, 2, 0.25, False, 0.25 + 1.0 + 1.0 + room.JUMP),
        (2, -2, 1.0, False, 0.25),
        (1, 2, 1.0, False, 0.25),
        # a leap before a sixteenth is turned back by step
        (2, -1, 0.25, False, 0.0),
        (2, 1, 0.25, False, room.JUMP),
        (2, -1, 0.5, False, 0.0),
        (2, 1, 0.5, False, 0.0),
        # a leap wider than a third is turned back by step
        (3, -1, 1.0, False, 0.0),
        (3, 1, 1.0, False, 0.9),
        (3, -2, 1.0, False, 0.25 + 0.9),
        (-4, 1, 1.0, False, 0.0),
        (-4, 0, 1.0, False, 0.8 + 0.9),
        (2, 1, 1.0, False, 0.0),
        # to and fro; the upper neighbour of a vocal line
        (1, -1, 1.0, False, 0.0),
        (1, -1, 0.5, False, room.UPPER + 0.35),
        (1, -1, 0.5, True, 0.35),
        (-1, 1, 0.5, False, 0.35),
        (-1, 1, 0.25, False, 0.35 + 1.5),
        (1, 1, 0.5, False, 0.0),
        (-1, -1, 0.25, False, 0.0),
        (2, -2, 0.5, False, 0.25),
    ],
)
def test_a_move_costs_by_what_came_before(
    last: int, move: int, length: float, keyboard: bool, cost: float
) -> None:
    style = Style(**{**{f: getattr(ST, f) for f in Style.__slots__}, "keyboard": keyboard})
    one = way(30)
    one.move = last
    assert room._melody(one, move, length, style, NOTHING) == pytest.approx(cost)


def test_a_move_costs_what_was_learned_of_it_too() -> None:
    table = {a: dict(row) for a, row in NOTHING.items()}
    table[1][1] = 3.0
    one = way(30, 31)
    assert room._melody(one, 1, 1.0, Style(learned=0.5), table) == pytest.approx(1.5)
    assert room._melody(one, -1, 1.0, Style(learned=0.5), table) == pytest.approx(0.0)


def test_the_counts_used_are_those_of_the_length() -> None:
    for length, kind in ((0.25, "small"), (0.5, "small"), (0.75, "quarter"), (1.0, "quarter"), (1.5, "long")):
        assert room._costs(CALM, length) is sung(kind)
    assert room._costs(KEYS, 0.5) is played("as written") and room._costs(KEYS, 1.0) is sung("quarter")
    assert room._costs(Style(keyboard=True, values="halved"), 0.5) is played("halved")


def test_what_a_line_has_sung_makes_its_return_dear() -> None:
    """Eighths: ticks 0, 2, 4 …; two quarters are eight ticks."""
    spots = alone()
    bounds = [2, 4, 6, 8, 10]
    line = way(30, 31, 30, 31)
    ahead = room._ahead(line, bounds, 3, spots)
    assert (ahead.d, ahead.raised, ahead.had, ahead.turned) == (31, False, {30: 2, 31: 2}, 1)
    assert room._ahead(way(30, 31, 32, 31), bounds, 3, spots).turned == 0
    assert room._ahead(way(32, 31, 32, 31), bounds, 3, spots).turned == -1
    assert room._ahead(way(30, 31, 30), bounds, 2, spots).turned == 0
    repeated = room._ahead(way(30, 30, 31), bounds, 2, spots)
    assert repeated.had == {30: 1, 31: 1}
    # What lies more than two quarters back does not count; the note before the line always does.
    bounds = [4, 8, 12, 16]
    assert room._ahead(way(30, 31, 32, 33), bounds, 3, spots).had == {33: 1, 32: 1}
    sharp = room._ahead(way(30, 31, raised=True), [2, 4], 1, spots)
    assert sharp.raised


@pytest.mark.parametrize(
    ("move", "own", "length", "cost"),
    [
        (1, 0.5, 1.0, 0.0),
        (2, 1.0, 1.0, room.LED),  # a raised note left by leap
        (-2, 1.0, 1.0, room.LED),
        (1, 1.0, 1.0, 0.0),
        (-1, 0.5, 1.0, room.ROUND),  # a third time the same note
        (-1, 1.0, 1.0, 0.0),
        (3, 0.25, 1.0, room.LED + room.JUMP),
        (3, 1.0, 0.25, room.LED + room.JUMP),
        (3, 0.5, 0.5, room.LED),
        (2, 0.25, 1.0, room.LED),
    ],
)
def test_the_next_note_is_dear_by_what_came_before(move: int, own: float, length: float, cost: float) -> None:
    assert room._Ahead(31, True, {30: 2, 31: 1, 32: 1}, 0).cost(move, own, length) == pytest.approx(cost)


def test_small_notes_that_come_back_again_and_again_or_go_to_and_fro_are_dear() -> None:
    ahead = room._Ahead(31, False, {30: 4, 31: 9}, 1)
    assert ahead.cost(-1, 0.5, 0.5) == pytest.approx(3 * room.ROUND + room.ROUND)
    assert ahead.cost(1, 0.5, 0.5) == 0.0 == ahead.cost(0, 0.5, 0.5)
    assert ahead.cost(-2, 0.5, 0.5) == pytest.approx(room.ROUND)
    assert ahead.cost(-2, 1.0, 1.0) == 0.0
    assert room._Ahead(31, False, {}, -1).cost(1, 0.5, 0.5) == pytest.approx(room.ROUND)


# --- frames, and figures on other steps


def test_a_frame_has_the_notes_that_join_and_the_move_before() -> None:
    weave = Weave(woven(("cantus", "C5:1 E5:1 D5:1 R:1 A4:4")).score)
    c, e, d, a = weave.tones[0]
    inner = frame(weave, 0, 8, 12)
    assert (inner.before, inner.move, inner.after) == (e, 2, None)
    assert (frame(weave, 0, 4, 8).before, frame(weave, 0, 4, 8).move) == (c, NO_MOVE)
    assert frame(weave, 0, 4, 8).after == d and frame(weave, 0, 0, 4).before is None
    assert frame(weave, 0, 0, 4).after == e and frame(weave, 0, 16, 32).before is None
    assert frame(weave, 0, 12, 16).after == a and frame(weave, 0, 12, 16).before == d
    assert frame(weave, 0, 12, 16).move == -1
    assert frame(weave, 0, 8, 12, given=True).given and not inner.given
    wide = woven(("cantus", "C4:1 E5:1 D5:1 C4:1 D4:4"))
    assert frame(wide, 0, 8, 12).move == 7 and frame(wide, 0, 16, 20).move == -7
    gap = woven(("cantus", "C5:1 R:1 E5:1 D5:1 C5:4"))
    assert frame(gap, 0, 12, 16).move == NO_MOVE


def test_a_figure_goes_on_steps_on_which_each_of_its_notes_can_be_sung() -> None:
    """C D E over an altus C: on the third a dissonance would be reached by leap."""
    spots = against()
    joined = Frame(None, NO_MOVE, None)
    figure = {0: 32, 4: 33}
    assert shifts(spots, [0, 4], 8, joined, figure, range(-2, 3)) == [-2, -1, 0, 1, 2]
    leap = {0: 30, 4: 32}
    # E G, not F A (F clashes), D F (both clash), G B (B clashes); A C may.
    assert shifts(spots, [0, 4], 8, joined, leap, range(-1, 4)) == [0, 3]
    before = Frame(tone(0, 4, 30), 1, None)
    # No seventh, and a sixth only upwards; an octave may be.
    assert shifts(alone(), [4], 8, before, {4: 30}, range(-6, 9)) == [-4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 7]
    # Where the figure says nothing, any note may stand between.
    gap = shifts(spots, [0, 4, 8], 12, joined, {0: 30, 8: 32}, range(-1, 4))
    assert gap == [-1, 0, 1, 2, 3]
    low = alone("cantus")
    assert shifts(low, [0], 4, joined, {0: 25}, range(-2, 2)) == [0, 1]
    assert shifts(low, [0], 4, joined, {0: 60}, range(2)) == []


def test_only_the_moves_of_a_voice_join_the_notes_of_a_figure() -> None:
    spots = alone()
    joined = Frame(None, NO_MOVE, None)
    assert shifts(spots, [0, 4], 8, joined, {0: 31, 4: 34}, (0, 1)) == [1]  # F B is a tritone
    assert tones("30 31")[0] == tone(0, 2, 30)


def test_what_a_note_makes_dear_counts_to_the_note_after_the_line_too() -> None:
    """A raised note that is left by leap."""
    weave = woven(("cantus", "C5:8"))
    harmony = free(weave)
    for row in harmony.alter[4:8]:
        row[0] = 1
    spots = Spots(weave, harmony, 0, [-1] * 32, (0, 32))
    step = draw(spots, [4], 8, Frame(tone(0, 4, 36), NO_MOVE, tone(8, 12, 36), must={4: 35}), CALM, Random(1))
    leap = draw(spots, [4], 8, Frame(tone(0, 4, 36), NO_MOVE, tone(8, 12, 37), must={4: 35}), CALM, Random(1))
    assert step is not None and leap is not None
    moves = sung("quarter")
    told = CALM.learned * (moves[-1][2] - moves[-1][1]) + CALM.leap + room.LED
    assert leap[0] - step[0] == pytest.approx(told)
