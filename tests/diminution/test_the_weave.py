"""Voices in ticks: what they hold, how they change and change back; what is heard in them, by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest
from diminution.by_hand import notes, score, tones, woven

from builder.counterpoint.rules.treatment import bears_a_suspension, lighter, steps_through
from builder.diminution.closes import is_groppo
from builder.diminution.florid import aimless, part
from builder.diminution.gate import Gate, warnings
from builder.diminution.habits import bands, cells, ends, learned, length_class, played, sung
from builder.diminution.harmony import bit, natural
from builder.diminution.hearing import beyond, figures, hear, imitated, struck_against, suspensions
from builder.diminution.invoices import judge
from builder.diminution.rhythm import places, silent
from builder.diminution.stillness import Still, held, leading
from builder.diminution.texture import SILENT, lay_out
from builder.diminution.weave import Change, Tone, Weave, changed, given_voices
from builder.music import Note, Pitch, Version
from builder.source import parse

TWO = (("cantus", "D5:2 C5:1 R:1 B4:2 A4:2"), ("bassus", "D3:4 G3:1/2 F3:3/2 D3:2"))


@pytest.fixture
def weave() -> Weave:
    return Weave(score(*TWO))


def test_a_weave_has_every_note_at_its_ticks(weave: Weave) -> None:
    assert (weave.unit, weave.size, weave.voices) == (4, 32, ("cantus", "bassus"))
    assert weave.tones[0] == [
        Tone(0, 8, 36, 74), Tone(8, 12, 35, 72), Tone(16, 24, 34, 71), Tone(24, 32, 33, 69)
    ]  # fmt: skip
    assert weave.tones[1][1:] == [Tone(16, 18, 25, 55), Tone(18, 24, 24, 53), Tone(24, 32, 22, 50)]
    assert weave.d[0][:17] == [36] * 8 + [35] * 4 + [-1] * 4 + [34]
    assert weave.m[0][:17] == [74] * 8 + [72] * 4 + [-1] * 4 + [71]
    assert weave.on[1][14:20] == [0, 0, 16, 16, 18, 18]
    assert (weave.tick(Fraction(5, 2)), weave.time(10)) == (10, Fraction(5, 2))
    assert [weave.place(0, t) for t in (0, 1, 8, 12, 32)] == [0, 1, 1, 2, 4]
    assert weave.inside(1, 16, 24) == weave.tones[1][1:3] and weave.inside(1, 17, 18) == []


def test_the_grid_is_as_fine_as_its_shortest_note_and_begins_with_the_first_bar() -> None:
    assert Weave(score(("cantus", "D5:1/3 C5:2/3"), bars=1)).unit == 12
    assert Weave(score(("cantus", "D5:1"), bars=1), 6).unit == 6
    late = Weave(score(("cantus", "D5:8"), first="6", bars=1))
    assert (late.first, late.size) == (6, 32) and late.tones[0] == [Tone(0, 32, 36, 74)]
    assert late.time(4) == 7 and late.tick(Fraction(8)) == 8
    assert late.scored().parts[0].notes == notes("D5:8", "6")


def test_weights_of_ticks_are_those_of_the_metre(weave: Weave) -> None:
    """First beat before the middle of the bar before the other beats before what lies between."""
    w = weave.weight
    assert w[0] == w[16] > w[8] == w[24] > w[4] == w[12] > w[2] > w[1]
    found = lay_out(score(*TWO))
    assert [found.level[k * 8] for k in range(4)] == [w[0], w[4], w[8], w[12]]


def test_a_change_is_made_and_taken_back(weave: Weave) -> None:
    before = [list(row) for row in (*weave.tones, *weave.d, *weave.m, *weave.on)]
    new = (Tone(8, 10, 37, 76), Tone(12, 16, 35, 72))
    back = weave.apply(Change(0, 8, 16, new))
    assert back == Change(0, 8, 16, (Tone(8, 12, 35, 72),))
    assert weave.tones[0][1:3] == list(new)
    assert weave.d[0][7:17] == [36, 37, 37, -1, -1, 35, 35, 35, 35, 34]
    assert weave.on[0][8:17] == [8, 8, -1, -1, 12, 12, 12, 12, 16]
    weave.apply(back)
    assert [list(row) for row in (*weave.tones, *weave.d, *weave.m, *weave.on)] == before
    undo = changed(weave, [Change(0, 0, 8, ()), Change(1, 0, 16, ())])
    assert [c.voice for c in undo] == [1, 0] and weave.tones[0][0].start == 8
    changed(weave, undo)
    assert [list(row) for row in (*weave.tones, *weave.d, *weave.m, *weave.on)] == before


def test_a_held_note_is_struck_again_and_mended(weave: Weave) -> None:
    plain = [list(row) for row in weave.tones]
    weave.cut(8)
    assert weave.tones[1][:2] == [Tone(0, 8, 22, 50), Tone(8, 16, 22, 50)] and weave.tones[0] == plain[0]
    assert weave.on[1][8] == 8
    weave.mend(8)
    assert [list(row) for row in weave.tones] == plain
    for tick in (0, 12, 16):
        weave.cut(tick) if tick != 12 else None
        weave.mend(tick)
    assert [list(row) for row in weave.tones] == plain


def test_a_weave_becomes_a_score_again(weave: Weave) -> None:
    made = weave.scored()
    assert made.version == Version.DIMINISHED and made.parts == score(*TWO).parts
    assert weave.note(Tone(2, 3, 36, 73)) == Note(Fraction(1, 2), Fraction(1, 4), Pitch.parse("Db5"))


def test_the_given_line_goes_through_the_voices() -> None:
    fence = "`" * 3
    text = f"---\ntitle: T\nverset: {{metre: C, signature: none}}\n---\n\n{fence}given\n"
    verset = parse(text + f"cantus C1 | D5/2 R/2 | D5/2\nbassus F4 | D3/2 | G2/1\n{fence}\n")
    having = given_voices(Weave(verset.score()), verset)
    assert having[::4] == [0, 0, -1, -1, 0, 0, 1, 1, 1, 1, 1, 1]


def test_a_texture_has_lines_and_stems() -> None:
    found = lay_out(score(*TWO))
    assert (found.unit, found.size, found.voices) == (8, 64, ("cantus", "bassus"))
    line = found.lines[0]
    assert line.dia[15:17] == [36, 35] and line.midi[15:17] == [74, 72] and line.start[15:17] == [0, 16]
    assert line.dia[24:32] == [SILENT] * 8 == line.midi[24:32] == line.start[24:32]
    assert line.start[32] == 32 and line.dia[63] == 33
    rows = [
        (s.start, s.end, s.before, s.after, s.opens, s.earliest, s.index, s.voice) for s in found.stems[0]
    ]
    d, c, b, a = (Pitch.parse(p) for p in ("D5", "C5", "B4", "A4"))
    assert rows == [
        (0, 16, None, c, True, 0, 0, 0),
        (16, 24, d, None, False, 16, 1, 0),
        (32, 48, None, a, True, 32, 2, 0),
        (48, 64, b, None, False, 48, 3, 0),
    ]
    assert [s.pitch for s in found.stems[0]] == [d, c, b, a] and found.stems[1][0].voice == 1
    assert found.beats == [8 * k for k in range(8)] and found.beat_number[24] == 3
    assert (found.tick(Fraction(1, 2)), found.time(4)) == (4, Fraction(1, 2))
    line.silence(0, 8)
    line.lay(2, 4, 30, 60)
    assert (
        line.dia[:5] == [-1, -1, 30, 30, -1] and line.start[:5] == [-1, -1, 2, 2, -1] and line.midi[2] == 60
    )
    late = lay_out(score(("cantus", "D5:4"), first="6", bars=1))
    assert late.stems[0][0].start == 0 and late.time(8) == 7


# --- what is heard


def test_figures_are_four_joined_notes_that_move() -> None:
    row = woven(("cantus", "D5:1 E5:1/2 F5:1/2 E5:1 E5:1 E5:1 R:1 E5:1 F5:1")).tones[0]
    found = dict(figures(row))
    assert set(found) == {0, 1}
    assert found[0] == ((1, 1, -1), (4, 2, 2)) and found[1] == ((1, -1, 0), (2, 2, 4))


def test_imitation_is_what_another_voice_had_before() -> None:
    w = woven(("cantus", "D5:1 E5:1 F5:1 D5:1 R:4"), ("bassus", "R:4 G3:1 A3:1 B3:1 G3:1"))
    assert imitated(w) == [set(), {16, 20, 24, 28}]
    both = woven(("cantus", "D5:1 E5:1 F5:1 D5:1"), ("bassus", "G3:1 A3:1 B3:1 G3:1"), bars=1)
    assert imitated(both) == [set(), set()]
    own = woven(("cantus", "D5:1 E5:1 F5:1 D5:1 D5:1 E5:1 F5:1 D5:1"))
    assert imitated(own) == [set()]


def test_a_suspension_is_held_struck_against_and_falls() -> None:
    w = woven(("cantus", "C5:2 B4:2"), ("bassus", "E3:1 D3:3"), bars=1)
    assert suspensions(w) == 1 and struck_against(w, 0, w.tones[0][0]) == 4
    assert held(w) == [(0, w.tones[0][0], w.tones[0][1], 4)]
    for upper, lower in (
        ("C5:2 D5:2", "E3:1 D3:3"),  # it rises
        ("C5:2 B4:2", "E3:1 F3:3"),  # a fifth
        ("C5:2 B4:2", "D3:4"),  # nothing strikes
        ("C5:2 B4:2", "E3:1 D3:1/2 E3:5/2"),  # what struck has gone
        ("C5:2 R:1 B4:1", "E3:1 D3:3"),  # a rest between
    ):
        assert suspensions(woven(("cantus", upper), ("bassus", lower), bars=1)) == 0, upper
    fourth = woven(("cantus", "C5:2 B4:2"), ("altus", "A4:1 G4:3"), bars=1)
    assert suspensions(fourth) == 1  # over the lowest note a fourth is a dissonance,
    three = woven(("cantus", "C5:2 B4:2"), ("altus", "A4:1 G4:3"), ("bassus", "C3:4"), bars=1)
    assert suspensions(three) == 0  # between upper voices it is none


def test_shares_are_of_free_notes_and_of_time_after_the_entry() -> None:
    w = woven(("cantus", "R:2 D5:1 D5:1 G5:1 R:2 F5:1"), ("bassus", "D3:2 D3:2 G2:2 D3:2"))
    found = hear(w, [1] * w.size)
    assert (found.bars, found.free) == (2, 4)
    assert found.silent == pytest.approx(8 / (24 + 32))
    assert found.with_given == pytest.approx(2 / 4) and found.density == pytest.approx(1)
    assert found.repeated == pytest.approx(1 / 2) and found.leaps == pytest.approx(1 / 2)
    assert found.suspensions == 0 and found.imitated == 0
    assert [beyond(x, 2, 4, 2) for x in (1, 2, 3, 4, 7)] == [0.5, 0, 0, 0, 1.5]


@pytest.mark.parametrize(
    ("line", "upper", "sixths", "late"),
    [
        ("G4:1/2 A4:1/2 G4:1/2 F4:1/2 E4:2", 1 / 4, 1 / 4, 0),  # A over C: an upper neighbour, a sixth
        ("G4:1/2 F4:1/2 G4:1/2 F4:1/2 E4:2", 1 / 4, 0, 0),  # of the four the second G alone
        ("G4:1 A4:1/2 B4:1/2 C5:2", 0, 1 / 2, 1 / 4),  # an eighth after a quarter
        ("G4:3/2 A4:1/2 B4:2", 0, 1, 0),  # after a dotted quarter it is where it belongs
        ("G4:1 A4:1 G4:2", 0, 0, 0),  # quarters are not small
        ("G4:1/2 R:1/2 A4:1/2 G4:1/2 F4:2", 0, 1 / 2, 0),  # after a rest there is no neighbour
    ],
)
def test_how_small_notes_lie(line: str, upper: float, sixths: float, late: float) -> None:
    w = woven(("cantus", line), ("bassus", "C3:4"), bars=1)
    found = hear(w, [1] * w.size)
    assert (found.upper, found.sixths, found.late) == pytest.approx((upper, sixths, late))


def test_lines_whose_small_notes_lie_otherwise_than_the_masters_are_dearer() -> None:
    w = woven(("cantus", "G4:3/2 F4:1/2 E4:2"), ("altus", "C4:4"), ("bassus", "C3:4"), bars=1)
    heard = hear(w, [2] * w.size)
    for change in ({"upper": 0.1}, {"sixths": 0.2}, {"late": 0.1}):
        assert judge(replace(heard, **change), 3) > judge(replace(heard, upper=0.0, sixths=0.0, late=0.0), 3)


def test_what_is_treated_as_dissonance_is_said_once() -> None:
    """Zarlino (1558), III, 42 (from memory): by step to and from, on the lighter part; a suspension falls
    on a part no stronger than the one it is struck on."""
    assert steps_through(came=1, goes=-1) and steps_through(came=-1, goes=-1)
    assert not steps_through(came=2, goes=1) and not steps_through(came=1, goes=0)
    assert lighter(here=1, before=2, after=1) and lighter(here=1, before=0, after=2)
    assert not lighter(here=1, before=1, after=1)
    assert bears_a_suspension(here=2, after=1) and bears_a_suspension(here=1, after=1)
    assert not bears_a_suspension(here=0, after=1)


# --- florid lines


@pytest.mark.parametrize(
    ("line", "count"),
    [
        ("30:4 31 30 29 30 31", 1),  # the same note a third time
        ("30:4 31 32 33 34 33", 0),
        ("30:4 30:4", 0),
        ("30:4 30:2", 1),  # a small note struck again
        ("30 30", 1),
        ("30:1 33:1", 1),  # a leap beside a sixteenth
        ("30:2 33:2", 0),
        ("30:2 32:1 31:1", 1 - 1),  # a third to a sixteenth, turned back by step
        ("30:2 32:1 33:1", 1),
        ("30:2 R:2 30:2", 0),
        ("30:4 32 31 33 32", 1),  # four moves to and fro
        ("30:4 32 31 33 34", 0),
    ],
)
def test_aimless_turns_are_counted(line: str, count: int) -> None:
    assert aimless(tones(line), 4, (0,) * 7) == count, line


def test_a_raised_note_left_by_leap_is_aimless() -> None:
    leap = [Tone(0, 4, 31, natural(31) + 1), Tone(4, 8, 33, natural(33))]
    assert aimless(leap, 4, (0,) * 7) == 1 and aimless(leap, 4, (0, 0, 0, 1, 0, 0, 0)) == 0
    step = [Tone(0, 4, 31, natural(31) + 1), Tone(4, 8, 32, natural(32))]
    assert aimless(step, 4, (0,) * 7) == 0


def test_one_voice_by_itself_is_measured_as_counted_by_hand() -> None:
    """A long note, four eighths up, a long one, two sixteenths to and fro, a long one a third away."""
    row = tuple(tones("30:4 31 32 33 34 35:4 34:1 35:1 32:4"))
    found = part(row, 4)
    assert found.notes == 9 and found.small == (4, 6, 8, 10, 16, 17)
    assert found.chains == (4, 2) and found.closed == 2 and found.returns == 0
    assert found.scales == 4 and (found.turns, found.triples) == (1 + 0, 4 + 2)
    assert (found.joins, found.joined_by_leap) == (2, 1) and found.sixteenths == 2
    assert found.beats == frozenset({1, 2, 4}) and found.moves == 6 and found.nats > 0
    assert [c[0] for c in found.cells] == [0, 4, 6, 8, 10][: len(found.cells)]
    assert found.cells[0] == (0, ((1, 1, 1), (4, 2, 2)), 30)
    assert found.rhythms[:2] == ((0, 2), (0, 2)) and (0, 1, 2) in found.rhythms
    back = part(tuple(tones("30:4 31 30:4")), 4)
    assert back.returns == 1 and back.closed == 1
    alone = part(tuple(tones("31 32")), 4)
    assert (alone.closed, alone.joins, alone.chains) == (0, 0, (2,))
    assert part((), 4).notes == 0 and part(tuple(tones("30:8 31:8")), 4).small == ()
    broken = part(tuple(tones("30:4 31 R:2 32 33:4")), 4)
    assert broken.chains == (1, 1) and broken.closed == 0


# --- what was learned


def test_classes_of_length_and_costs_of_moves() -> None:
    assert [length_class(x) for x in (0.25, 0.5, 0.75, 1, 1.5)] == [
        "small",
        "small",
        "quarter",
        "quarter",
        "long",
    ]
    for table in (*(sung(k) for k in ("small", "quarter", "long")), played("as written"), played("halved")):
        assert set(table) == {*range(-7, 8), 99}
        for row in table.values():
            assert set(row) == set(range(-7, 8)) and all(cost > 0 for cost in row.values())
            # Costs are chances in nats: over all moves the chances make one.
            assert sum(2.718281828459045**-cost for cost in row.values()) == pytest.approx(1, abs=1e-6)
    assert sung("small")[1][1] < sung("small")[1][5] and sung("small")[-1][-1] < sung("small")[-1][4]


def test_costs_lean_on_the_counts() -> None:
    """(n + 4 base) / (seen + 4), the base with half a count for each move: as the room says it."""
    from math import log

    counts: dict[tuple[int, int], float] = {}
    for key, n in learned("frescobaldi")["as written"]["moves"].items():
        before, after = map(int, key.split(","))
        counts[before, after] = n
    total = sum(counts.values())
    base = {k: (sum(n for (_, b), n in counts.items() if b == k) + 0.5) / (total + 7.5) for k in range(-7, 8)}
    seen = sum(n for (a, b), n in counts.items() if a == -1 and abs(b) <= 7)
    for k in (-1, 0, 3):
        expected = -log((counts.get((-1, k), 0) + 4 * base[k]) / (seen + 4))
        assert played("as written")[-1][k] == pytest.approx(expected)
        assert played("as written")[99][k] == pytest.approx(-log(base[k]))


def test_chances_that_a_note_ends_are_chances() -> None:
    table = ends()
    assert set(table) == {
        (a, b, c, d) for a in range(1, 9) for b in range(8) for c in range(2) for d in range(3)
    }
    assert all(0 < chance < 1 for chance in table.values())
    raw: dict[int, float] = {0: 0, 1: 0}
    wide: dict[int, float] = {0: 0, 1: 0}
    for key, n in learned("palestrina")["ends"].items():
        if key != "about":
            length, place, low, others, over = map(int, key.split(","))
            if (length, place) == (2, 4):
                wide[over] += n
                if (low, others) == (1, 1):
                    raw[over] += n
    mean = (wide[1] + 0.5) / (wide[0] + wide[1] + 1)
    assert table[2, 4, 1, 1] == pytest.approx((raw[1] + 20 * mean) / (raw[0] + raw[1] + 20))


def test_cells_of_a_quarter_are_counted_most_often_first() -> None:
    for values in ("as written", "halved"):
        found = cells(values)
        counts = [n for _, n in found]
        assert counts == sorted(counts, reverse=True) and len({onsets for onsets, _ in found}) == len(found)
        for onsets, _ in found:
            assert all(0 <= x < 1 and x * 4 == int(x * 4) for x in onsets) and list(onsets) == sorted(onsets)
    for level in (2, 3):
        assert (
            all(low <= middle <= high for low, middle, high in bands(level).values())
            and len(bands(level)) == 16
        )


# --- rhythm, stillness, the gate


def test_places_are_eighths_from_the_bar_line() -> None:
    common = places(woven(("cantus", "D5:8")))
    assert common[::2] == list(range(8)) * 2 and common[1] == 0
    halves = places(woven(("cantus", "D5:12"), metre="3/2"))
    assert halves[::2] == [0, 1, 2, 3, 4, 5, 6, 7, 4, 5, 6, 7] * 2
    w = woven(("cantus", "D5:2 R:2 D5:4"))
    assert [silent(w, 0, a, b) for a, b in ((0, 8), (0, 9), (8, 16), (15, 20), (16, 32))] == [
        *(False, True, True, True, False)
    ]


def test_what_stays_binds_its_onsets_and_pitches() -> None:
    w = woven(("cantus", "D5:2 C5:2 R:2 B4:2"))
    still = Still(w)
    still.mark(0, 8, 12)
    assert (
        not still.whole(0, 8, 16)
        and still.whole(0, 8, 12)
        and not still.none(0, 11, 14)
        and still.none(0, 0, 8)
    )
    assert still.bound(0, 0, 8, [4, 0]) == ([0, 4], {})
    # The bound note begins where it did; what begins inside it does not; after its end a note may begin.
    assert still.bound(0, 0, 16, [0, 4, 10, 12]) == ([0, 4, 8, 12], {8: 35})
    assert still.bound(0, 10, 16, [10, 12]) == ([10, 12], {10: 35})
    still.mark(0, 16, 18)
    assert still.bound(0, 8, 24, [8]) is None  # a rest that stays
    still.mark(0, 28, 99)
    assert still.rows[0][28:] == b"\x01" * 4 and len(still.rows[0]) == w.size
    assert still.bound(0, 24, 32, [24, 26]) == ([24, 26], {26: 34}) or still.bound(0, 24, 32, [24])[1] == {
        24: 34
    }
    fresh = Still(w)
    fresh.mark(0, 0, 4)
    assert fresh.bound(0, 0, 16, [0, 6]) == ([0, 6, 8], {0: 36}) or fresh.bound(0, 0, 16, [0, 6])[0][0] == 0


def test_the_leading_note_rises_to_the_final_above_another_voice() -> None:
    def analysis(kind: str) -> Any:
        return SimpleNamespace(cadences=[SimpleNamespace(onset=Fraction(4), kind=kind)])

    w = woven(("cantus", "D5:2 C#5:2 D5:4"), ("bassus", "D3:2 A2:2 D3:4"))
    assert leading(w, analysis("composta")) == [(0, w.tones[0][1], w.tones[0][2])]
    assert leading(w, analysis("mi")) == []
    mi = woven(("cantus", "D5:4 E5:4"), ("bassus", "F3:4 E3:4"))
    assert leading(mi, analysis("mi")) == [(0, mi.tones[0][0], mi.tones[0][1])]
    assert leading(mi, analysis("composta")) == []
    under = woven(("cantus", "D5:4 D5:4"), ("bassus", "C#3:4 D3:4"))
    assert leading(under, analysis("semplice")) == []  # the lowest voice has none
    rest = woven(("cantus", "C#5:2 R:2 D5:4"), ("bassus", "A2:4 D3:4"))
    assert leading(rest, analysis("semplice")) == []


def test_the_gate_lets_through_what_the_plain_score_had() -> None:
    def finding(rule: str, bar: int, severity: str = "error", allowed: bool = False, onset: int = 0) -> Any:
        place = SimpleNamespace(bar=bar)
        return SimpleNamespace(
            rule=rule, voices=("cantus",), place=place, severity=severity, allowed=allowed, onset=onset
        )

    gate = object.__new__(Gate)
    gate.old, gate.onsets = Counter({("a", ("cantus",), 1): 1}), {("a", ("cantus",), 0)}
    found = [
        finding("a", 1),
        finding("a", 2),
        finding("b", 1),
        finding("c", 1, "warning"),
        finding("d", 1, allowed=True),
    ]
    assert gate.new_errors(found) == found[1:3]
    # Elsewhere in its bar it may come, twice it may not: new is the one that comes elsewhere.
    elsewhere = finding("a", 1, onset=2)
    assert gate.new_errors([elsewhere]) == []
    assert gate.new_errors([elsewhere, finding("a", 1)]) == [elsewhere]
    more = [*found, finding("e", 1, "warning", allowed=True), finding("f", 1, "note")]
    assert warnings(more) == 1


def test_a_tone_is_one_bit_in_any_octave() -> None:
    assert bit(28, 60) == bit(35, 72) == 1 << 2 and bit(28, 61) == 1 << 3 and bit(29, 61) == 1 << 6
    assert [natural(d) for d in (0, 28, 34, 35)] == [12, 60, 71, 72]
    seen = {bit(28 + k, natural(28 + k) + a) for k in range(7) for a in (-2, -1, 0, 1, 2)}
    assert len(seen) == 35


def test_a_groppo_goes_to_and_fro_in_sixteenths() -> None:
    assert is_groppo(((0, 0), (1, 1), (2, 0), (3, -1), (4, 0)))
    assert not is_groppo(((0, 0), (2, 1), (4, 0), (6, -1), (8, 0)))
    assert not is_groppo(((0, 0), (1, 1), (2, 0), (3, 1)))
    assert replace(score(*TWO)).version == Version.PLAIN
