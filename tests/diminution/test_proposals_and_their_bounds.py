"""What the search never keeps, whatever it is worth, and what proposals make: voices by hand, and a search
that takes everything."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest
from diminution.by_hand import notes, woven
from diminution.test_where_a_note_may_be_sung import free

from builder.diminution import diminished as levels
from builder.diminution import search as loop
from builder.diminution.countersubject import Joint, WithCountersubject, _Both
from builder.diminution.diminished import Diminished, Worth, noted
from builder.diminution.draw import Style
from builder.diminution.habits import ends
from builder.diminution.harmony import natural
from builder.diminution.lines import Lines
from builder.diminution.rhythm import AFTER_A_QUARTER, figured, places, vocal
from builder.diminution.search import Search, cooling, harsh, rests
from builder.diminution.spots import Spot, Spots, Table
from builder.diminution.statements import Sung
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone, Weave


def tone(start: int, end: int, d: int) -> Tone:
    return Tone(start, end, d, natural(d))


class Always(Random):
    """Dice of one number."""

    def __init__(self, number: float) -> None:
        super().__init__(1)
        self.number = number

    def random(self) -> float:
        return self.number


class Row(Random):
    """Some numbers, then one that ends nothing."""

    def __init__(self, *numbers: float) -> None:
        super().__init__(1)
        self.numbers = [*numbers]

    def random(self) -> float:
        return self.numbers.pop(0) if self.numbers else 0.9999999


def searching(weave: Weave, given: int = -1, dice: Random | None = None) -> Any:
    """A search that takes every change."""
    taken: list[Change] = []
    harmony, line = free(weave), [given] * weave.size

    def offer(changes: Any, heat: float, gain: float = 0.0, *, at_once: bool = False) -> bool:
        taken.extend(changes)
        for change in changes:
            weave.apply(change)
        return True

    def spots(voice: int, start: int, end: int) -> Spots:
        return Spots(weave, harmony, voice, line, (start, end))

    return SimpleNamespace(
        weave=weave,
        dice=dice or Random(3),
        given=line,
        harmony=harmony,
        spots=spots,
        offer=offer,
        taken=taken,
    )


def true_search(weave: Weave, **more: Any) -> Search:
    """A search whose check finds nothing and whose measure is told by hand."""
    judge = SimpleNamespace(findings=())
    gate = SimpleNamespace(whole=lambda w: judge, new_errors=lambda f: [])
    uncovered = SimpleNamespace(uncovered=lambda *a: more.get("uncovered", False))
    worth = more.get("worth", lambda w: 0.0)
    return Search(weave, uncovered, gate, [-1] * weave.size, worth, more.get("dice", Always(1.0)))  # type: ignore[arg-type]


# --- what is never kept


def test_a_change_that_makes_things_worse_is_taken_back_when_it_is_cold() -> None:
    weave = woven(("cantus", "C5:4 E5:4"), ("bassus", "C3:8"))
    before = noted(weave)
    search = true_search(weave, worth=lambda w: float(len(w.tones[0])))
    two = [Change(0, 0, 16, (tone(0, 8, 35), tone(8, 16, 37)))]
    assert not search.offer(two, 0.0) and noted(weave) == before and search.now == 2.0
    assert search.offer(two, 0.0, gain=1.0) and search.now == 3.0 and len(search.pending) == 1
    assert search.settle() == 0 and search.pending == [] and search.kept == 1 and search.tried == 2
    hot = true_search(weave, worth=lambda w: -float(w.tones[0] == before[0]), dice=Always(0.5))
    assert hot.offer([Change(0, 0, 16, (tone(0, 16, 35),))], 0.0)


def test_heat_lets_a_worse_change_pass_by_chance() -> None:
    weave = woven(("cantus", "C5:4 E5:4"), ("bassus", "C3:8"))
    two = [Change(0, 0, 16, (tone(0, 8, 35), tone(8, 16, 37)))]
    for number, taken in ((0.3, True), (0.4, False)):  # exp(-1) is .37
        search = true_search(Weave(weave.score), worth=lambda w: float(len(w.tones[0])), dice=Always(number))
        assert search.offer(two, 1.0) is taken
    colder = true_search(Weave(weave.score), worth=lambda w: float(len(w.tones[0])), dice=Always(0.3))
    assert not colder.offer(two, 0.5)


def test_a_figure_is_never_left_unsounded() -> None:
    weave = woven(("cantus", "C5:4 E5:4"), ("bassus", "C3:8"))
    search = true_search(weave, uncovered=True)
    assert not search.offer([Change(0, 0, 16, (tone(0, 16, 36),))], 0.0, gain=1e9)
    assert weave.tones[0][0].d == 35


def test_changes_are_checked_eight_at_a_time_or_at_once() -> None:
    weave = woven(("cantus", "C5:4 E5:4"), ("bassus", "C3:8"))
    search = true_search(weave)
    same = [Change(0, 0, 16, (tone(0, 16, 35),))]
    for _ in range(loop.TOGETHER):
        assert search.offer(same, 0.0)
    assert len(search.pending) == loop.TOGETHER and search.checked == 0
    search.offer(same, 0.0)
    assert len(search.pending) == 1 and search.checked == 1
    assert search.offer(same, 0.0, at_once=True) and search.pending == [] and search.checked == 3


@pytest.mark.parametrize(
    ("line", "well"),
    [
        ("C5:2 R:2 C5:4", True),
        ("C5:2 R:1 C5:5", False),  # shorter than a half
        ("C5:5/2 R:2 C5:7/2", False),  # off the quarters
        ("C5:3/2 C5:1/2 R:2 C5:4", False),  # after an eighth
        ("C5:2 R:2 C5:1/2 C5:7/2", False),  # before one
        ("C5:1 R:2 C5:5", True),
        ("C5:2 R:2 D5:4", False),  # out of a rest into a dissonance
    ],
)
def test_a_rest_is_a_half_note_long_between_notes_that_are_not_short(line: str, well: bool) -> None:
    weave = woven(("cantus", "C5:8"), ("bassus", "C3:8"))
    search = true_search(weave)
    new = tuple(weave.tone(n) for n in notes(line))
    weave.apply(Change(0, 0, 32, new))
    assert search._rests_well(Change(0, 0, 32, new)) is well
    old = true_search(woven(("cantus", line), ("bassus", "C3:8")))
    assert old._rests_well(Change(0, 0, 32, new))  # what was there before may stay


def test_a_voice_does_not_come_back_on_the_perfect_consonance_it_left() -> None:
    plain = woven(("cantus", "G4:8"), ("tenor", "C4:2 D4:6"))
    search = true_search(plain)
    for line, well in (("G4:2 R:2 A4:4", False), ("G4:2 R:2 F4:4", True), ("E4:2 R:2 F4:4", True)):
        new = tuple(plain.tone(n) for n in notes(line))
        back = plain.apply(Change(0, 0, 32, new))
        assert search._rests_well(Change(0, 0, 32, new)) is well, line
        plain.apply(back)


def test_gaps_are_told_with_the_notes_beside_them() -> None:
    weave = woven(("cantus", "C5:1 R:1 D5:2 R:2 E5:2"))
    assert loop._gaps(weave, 0, 0, 32) == [(0, 4, 8, 4, 8), (0, 16, 24, 8, 8)]
    assert loop._gaps(weave, 0, 0, 6) == [(0, 4, 8, 4, 8)]
    assert loop._gaps(weave, 0, 20, 32) == [(0, 16, 24, 8, 8)]


def test_a_letter_does_not_come_in_two_forms_within_two_quarters() -> None:
    weave = woven(("cantus", "C5:8"), ("tenor", "B3:2 C4:6"))
    search = true_search(weave)

    def flat(start: int, end: int) -> bool:
        return search._two_ways(Change(0, start, end, (Tone(start, end, 34, 70),)))

    assert flat(0, 4) and flat(8, 12) and flat(12, 16) and not flat(16, 20)
    assert not search._two_ways(Change(0, 0, 4, (tone(0, 4, 34),)))
    assert not search._two_ways(Change(0, 0, 4, ()))


def test_a_dissonance_with_the_lowest_voice_comes_or_goes_by_step() -> None:
    for line, count in (("G4:2 F4:2 G4:4", 0), ("A4:2 F4:2 A4:4", 1), ("E4:2 F4:2 A4:4", 0)):
        weave = woven(("cantus", line), ("bassus", "C3:8"))
        assert len(harsh(weave, 0, 32)) == count, line
    leap = woven(("cantus", "A4:2 F4:2 A4:4"), ("bassus", "C3:8"))
    assert harsh(leap, 0, 32) == {(0, tone(8, 16, 31))}
    assert harsh(leap, 24, 32) == set()
    three = woven(("cantus", "A4:2 F4:2 A4:4"), ("tenor", "C4:8"), ("bassus", "A2:8"))
    assert harsh(three, 0, 32) == set()  # a sixth over the lowest
    repeated = woven(("cantus", "F4:2 F4:2 A4:4"), ("bassus", "C3:8"))
    assert harsh(repeated, 0, 32) == set()


def test_temperatures_fall_by_the_same_part_each_time() -> None:
    assert cooling(3, 2.0, 0.5) == pytest.approx([2.0, 1.0, 0.5])
    assert cooling(1, 2.0, 0.5) == [0.5] and cooling(0, 2.0, 0.5) == []


def test_pending_changes_know_what_may_be_due_to_them() -> None:
    one = loop._Pending((Change(0, 8, 16, ()),), (), 0.0)
    assert [one.reaches(t, 4) for t in (3, 4, 19, 20)] == [False, True, True, False]
    assert one.near([Change(1, 20, 24, ())], 4) and not one.near([Change(1, 21, 24, ())], 4)
    assert one.near([Change(1, 0, 4, ())], 4) and not one.near([Change(1, 0, 3, ())], 4)


def test_what_the_check_refuses_is_taken_back_with_what_was_built_on_it() -> None:
    weave = woven(("cantus", "C5:4 E5:4"), ("bassus", "C3:8"))
    before = noted(weave)
    search = true_search(weave)
    bad = [SimpleNamespace(onset=Fraction(1), severity="error", allowed=False)]
    search.gate.new_errors = lambda found: bad if weave.tones[0][0].d == 36 else []  # type: ignore[method-assign]
    assert search.offer([Change(0, 0, 16, (tone(0, 16, 36),))], 0.0)
    assert search.offer([Change(0, 16, 32, (tone(16, 32, 35),))], 0.0)
    assert search.settle() == 2 and noted(weave) == before  # the second touches the first
    assert search.offer([Change(0, 0, 16, (tone(0, 16, 36),))], 0.0)
    assert search.settle() == 1 and noted(weave) == before
    assert not search.offer([Change(0, 0, 16, (tone(0, 16, 36),))], 0.0, at_once=True)


def test_a_silent_stretch_is_known() -> None:
    weave = woven(("cantus", "C5:2 R:2 C5:4"))
    assert rests(weave, 0, 8, 9) and rests(weave, 0, 0, 9) and not rests(weave, 0, 0, 8)


# --- rhythm


def test_notes_end_by_chance_on_the_eighths() -> None:
    weave = woven(("cantus", "C5:8"), ("bassus", "C3:8"))
    place = [0] * 32
    busy = vocal(weave, place, 0, -1, 0, 16, 1e9, Always(0.5))
    assert busy == [0, 2, 4, 6, 8, 10, 12, 14]
    assert vocal(weave, place, 0, -1, 0, 16, 1e-9, Always(0.5)) == [0]
    # A lone eighth on a beat before the next stroke is held on.
    assert vocal(weave, place, 0, -1, 0, 14, 1e9, Always(0.5)) == [0, 2, 4, 6, 8, 10]
    assert vocal(weave, place, 0, -1, 4, 16, 1e9, Always(0.5))[0] == 4


def test_an_eighth_seldom_follows_a_quarter() -> None:
    weave = woven(("cantus", "C5:8"), ("bassus", "C3:8"))

    place = places(weave)
    for first, last, factor in (((0.9999999, 0.0), [0, 4], AFTER_A_QUARTER), ((0.0, 0.0), [0, 2, 4], 1.0)):
        chance = ends()[1, place[6], 0, 0]
        odds = factor * chance / (1 - chance)
        for more, ended in ((-1e-6, True), (1e-6, False)):
            found = vocal(weave, place, 0, -1, 0, 16, 1.0, Row(*first, odds / (1 + odds) + more))
            assert found == [*last, *((6,) if ended else ())], (first, more)


def test_notes_end_together_with_the_lowest_voice_and_others() -> None:
    """The chance is that of the place, of whether the given line strikes and of how many others do."""
    weave = woven(("cantus", "C5:8"), ("altus", "C4:1 C4:7"), ("tenor", "C4:1 C4:7"), ("bassus", "C3:1 C3:7"))
    place = places(weave)
    for given, key in ((-1, (2, 2, 0, 2)), (3, (2, 2, 1, 2)), (2, (2, 2, 1, 2))):
        chance = ends()[key]
        before = 0.9999999
        assert vocal(weave, place, 0, given, 0, 16, 1.0, Row(before, chance + 1e-6)) == [0]
        assert vocal(weave, place, 0, given, 0, 16, 1.0, Row(before, chance - 1e-6)) == [0, 4]


def test_cells_of_keyboard_figures_keep_the_onsets_that_stay() -> None:
    weave = woven(("cantus", "C5:8"), ("bassus", "C3:8"))
    for seed in range(20):
        found = figured(weave, 2, 16, "as written", (6, 8, 15), Random(seed))
        assert found == sorted({*found}) and {2, 6, 8, 15} <= {*found}
        assert all(2 <= t < 16 for t in found)
        # What begins between eighths lasts an eighth at most, if it need not stay.
        for a, b in pairwise([*found, 16]):
            assert a % 2 == 0 or a == 15 or b - a <= 2
    quiet = [t for s in range(40) for t in figured(weave, 0, 16, "halved", (), Random(s), 0.0)]
    loud = [t for s in range(40) for t in figured(weave, 0, 16, "halved", (), Random(s), 50.0)]
    assert not [t for t in quiet if t % 2] and [t for t in loud if t % 2]


# --- lines


def lines(weave: Weave, **more: Any) -> Lines:
    search = searching(weave, **more)
    return Lines(search, Still(weave), Words((), 1, Fraction(1, 2)), Style(heat=0.0))


def test_a_note_between_eighths_that_lasts_longer_than_one_stumbles() -> None:
    it = lines(woven(("cantus", "C5:8")))
    for start, end, stumbles in ((0, 8, False), (1, 3, False), (1, 4, True), (2, 8, False), (3, 6, True)):
        assert it.stumbles(Change(0, 0, 32, (tone(start, end, 35),))) is stumbles, (start, end)


def test_only_what_does_not_stay_is_free() -> None:
    it = lines(woven(("cantus", "C5:4 E5:4")))
    it.still.mark(0, 0, 16)
    assert not it.free(0, 0, 16) and it.free(0, 0, 20) and it.free(0, 16, 32) and not it.free(0, 16, 33)


def test_a_line_keeps_the_notes_that_stay() -> None:
    weave = woven(("cantus", "C5:2 D5:2 E5:4"))
    it = lines(weave)
    it.still.mark(0, 8, 16)
    joined = levels.frame(weave, 0, 0, 16)
    (change,) = it.line(0, 0, 16, [0, 4, 12], joined) or ()
    assert [t.start for t in change.tones] == [0, 4, 8] and change.tones[2].d == 36
    against = levels.frame(weave, 0, 0, 16, must={8: 37})
    assert it.line(0, 0, 16, [0, 8], against) is None
    it.likes = [{4: (38, 50.0)}]
    (liked,) = it.line(0, 0, 16, [0, 4], levels.frame(weave, 0, 0, 16)) or ()
    assert liked.tones[1].d == 38
    assert liked[:3] == (0, 0, 16)


def test_a_figure_is_tried_where_most_of_its_notes_sound() -> None:
    weave = woven(("cantus", "C5:1 D5:1 E5:1 F5:1 G5:4"))
    it = lines(weave, dice=Always(0.0))
    figure = [(0, 28), (4, 29), (8, 30)]
    assert it.likeliest([(0, 16), (0, 4), (0, 8)], figure) == [(0, 4), (0, 8), (0, 16)]


# --- small notes


def diminished(weave: Weave, level: int = 2, below: Any = None, **more: Any) -> Diminished:
    search = searching(weave, **more)
    words = Words((), level, Fraction(1, 4))
    return Diminished(search, Still(weave), level, below or noted(weave), (), words, (16,))


def test_two_voices_do_not_run_in_sixteenths_at_once() -> None:
    weave = woven(("cantus", "C5:8"), ("altus", "C4:1/4 D4:1/4 E4:1/2 C4:7"))
    it = diminished(weave)
    assert it.stumbles(Change(0, 0, 4, (tone(0, 1, 35), tone(1, 2, 36), tone(2, 4, 35))))
    assert not it.stumbles(Change(0, 0, 4, (tone(0, 2, 35), tone(2, 4, 36))))
    assert not it.stumbles(Change(0, 8, 12, (tone(8, 9, 35), tone(9, 10, 36), tone(10, 12, 35))))
    assert not it.stumbles(Change(1, 0, 4, (tone(0, 1, 28), tone(1, 2, 29), tone(2, 4, 30))))
    assert it.stumbles(Change(0, 8, 16, (tone(9, 16, 35),)))  # between eighths


def test_a_stretch_goes_from_what_sounds_to_what_begins() -> None:
    weave = woven(("cantus", "C5:1 D5:1 E5:1 R:1 F5:4"), ("altus", "C4:16"), bars=4)
    it = diminished(weave)
    assert it.stretch(0, 1, 5) == (0, 8) and it.stretch(0, 4, 8) == (4, 8)
    assert it.stretch(0, 12, 16) is None and it.stretch(0, 8, 16) is None  # a rest
    assert it.stretch(0, 8, 20) is None  # nothing begins after
    assert it.stretch(1, 0, 4) is None
    it.still.mark(0, 0, 4)
    assert it.stretch(0, 0, 4) is None and it.stretch(0, 0, 8) == (0, 8)
    long = woven(("cantus", "C5:9 D5:7"), ("altus", "C4:8 D4:8"), bars=4)
    assert diminished(long).stretch(0, 0, 4) is None and diminished(long).stretch(1, 0, 4) == (0, 32)


def test_the_notes_below_mostly_keep_their_onsets_and_those_of_the_line_always() -> None:
    weave = woven(("cantus", "C5:1 D5:1 E5:2 F5:4"), ("altus", "C4:8"))
    assert diminished(weave, dice=Always(0.99)).kept(0, 0, 16) == []
    assert diminished(weave, dice=Always(0.5)).kept(0, 0, 16) == [0, 4, 8]
    assert diminished(weave, dice=Always(0.99), given=0).kept(0, 4, 17) == [4, 8, 16]


def test_a_figure_that_comes_again_joins_and_is_mostly_small() -> None:
    weave = woven(("cantus", "C5:1/2 D5:1/2 E5:1/2 F5:1/2 G5:6"), ("altus", "C4:8"))
    found = [diminished(weave, dice=Random(n))._figure() for n in range(20)]
    some = [each for each in found if each]
    assert some and all(w == 0 and len(tones) > 3 for w, tones in some)
    assert {tones[0].start for _, tones in some} <= {0, 2}
    assert diminished(woven(("cantus", "C5:1/2 D5:1/2 E5:1/2 F5:13/2")), dice=Random(1))._figure() is None


def test_a_figure_comes_again_a_few_quarters_off() -> None:
    weave = woven(("cantus", "C5:1/2 D5:1/2 E5:1/2 F5:1/2 E5:6"), ("altus", "C4:8"))
    it = diminished(weave, dice=Random(2))
    own = it._places(0, weave.tones[0][:4], other=False)
    assert {at for _, at in own} <= {4, 8, 16} and {v for v, _ in own} == {0}
    other = it._places(0, weave.tones[0][:4], other=True)
    assert {v for v, _ in other} == {1} and len(other) == levels.PLACES
    assert {at for _, at in other} <= {n * 4 for n in levels.OTHER if n * 4 + 6 < 32}
    given = diminished(weave, given=1, dice=Random(2))
    assert given._places(0, weave.tones[0][:4], other=True) == []


def test_an_answered_figure_has_the_same_moves_and_lengths() -> None:
    weave = woven(
        ("cantus", "C5:1/2 D5:1/2 E5:1/2 F5:1/2 E5:6"), ("altus", "G4:2 A4:2 G4:2 A4:2"), ("bassus", "C3:8")
    )
    it = diminished(weave, dice=Random(4))
    figure = weave.tones[0][:4]
    found = it._placed(0, figure, 1, 16)
    assert found is not None and found.voice == 1
    new = [t for t in found.tones if 16 <= t.start <= 22]
    assert [t.start for t in new] == [16, 18, 20, 22]
    assert [b.d - a.d for a, b in pairwise(new)] == [1, 1, 1]
    assert (found.start, found.end) == (16, 24)
    it.still.mark(1, 16, 24)
    assert it._placed(0, figure, 1, 16) is None


def test_what_was_broken_is_given_back() -> None:
    plain = woven(("cantus", "C5:2 E5:2 D5:2 C5:2"))
    below = noted(plain)
    plain.apply(Change(0, 0, 8, (tone(0, 4, 35), tone(4, 8, 36))))
    found = [diminished(plain, below=below, dice=Random(n)).restore() for n in range(30)]
    changes = [change for each in found if each for change in each]
    assert changes
    for change in changes:
        assert change.start == 0 and change.tones[0] == tone(0, 8, 35)
        assert change.tones == tuple(t for t in below[0] if t.start < change.end)
    same = diminished(woven(("cantus", "C5:2 E5:2 D5:2 C5:2")), dice=Random(1))
    assert same.restore() is None


def test_the_final_is_graced_once_it_has_been_heard() -> None:
    weave = woven(("cantus", "D5:4 C5:4"), ("altus", "F4:4 E4:3"), ("bassus", "G3:4 C3:4"))
    it = diminished(weave, level=3)
    assert it._graceable() == [0]  # not the lowest, nor what has ended
    runs = [*it._out()]
    assert runs and {change.voice for change in runs} == {0}
    for change in runs:
        assert (change.start, change.end) == (16, 32) and change.tones[-1].end == 32
        first = change.tones[0]
        assert first.start == 16 and first.end in (21, 25) and first.d == 35
        steps = tuple(t.d - 35 for t in change.tones)
        assert steps in levels.RUNS or tuple(-s for s in steps) in levels.RUNS
        assert all(t.end - t.start == 1 for t in change.tones[1:-1])


def test_a_run_into_a_close_is_in_sixteenths() -> None:
    weave = woven(("cantus", "E5:2 D5:2 C5:4"), ("bassus", "C3:2 G3:2 C3:4"))
    it = diminished(weave, level=3, dice=Random(1))
    found = [change for change in it._into(16) if change.voice == 0]
    assert found and (found[0].start, found[0].end) == (8, 16)
    assert [t.start for t in found[0].tones] == [*range(8, 16)]
    assert [*it._into(4)] == []  # before the beginning


# --- how far from real pieces


def worth(level: int = 2, density: float = 1.0, bars: int = 8, **heard: Any) -> float:
    names = ("cantus", "altus", "tenor", "bassus") if "bass" in heard else ("cantus",)
    weave = woven(*((name, f"C5:{4 * bars}") for name in names), bars=bars)
    it = Worth(weave, level, density)
    low, high = levels.DENSITY[level]
    usual = round((low + high) / 2 * density * 4 * bars)
    calm = {"small": usual, "thirds": (1, 2, 3), "nats": 0.0, "aimless": 0, "strong": 0, "dissonant": 0}
    calm |= {"circling": 0, "bass": usual}
    onsets = heard.pop("onsets", range(0, weave.size, 4))
    it.florid = SimpleNamespace(cost=lambda skipped: 0.0, onsets=onsets, **{**calm, **heard})  # type: ignore[assignment]
    it.close = weave.size
    return it(weave)


def test_what_is_as_it_should_be_costs_nothing() -> None:
    assert worth() == pytest.approx(0.0) == worth(3) and worth(density=0.5) == pytest.approx(0.0)


def test_growth_likelihood_aim_and_strong_dissonances_cost() -> None:
    assert worth(thirds=(3, 3, 3)) == pytest.approx(3.0 * 1.2)
    assert worth(thirds=(0, 0, 1)) == pytest.approx(3.0 * 1.2)
    assert worth(thirds=(1, 0, 4)) == pytest.approx(0.0)
    assert worth(nats=2.5) == pytest.approx(0.5 * 8) and worth(nats=1.5) == pytest.approx(0.0)
    small = round(sum(levels.DENSITY[2]) / 2 * 32)
    assert worth(aimless=10) == pytest.approx(levels.AIMLESS * (10 - levels.AIMS * small))
    assert worth(aimless=1) == pytest.approx(0.0)
    assert worth(strong=3, dissonant=10) == pytest.approx(levels.HARD * (3 - levels.STRONG * 10))
    assert worth(strong=0, dissonant=10) == pytest.approx(0.0)
    assert worth(circling=2) == pytest.approx(2 * levels.CIRCLING)


def test_the_lowest_of_four_voices_has_a_tenth_of_the_small_notes() -> None:
    assert worth(small=40, bass=4) == pytest.approx(0.0) == worth(small=40, bass=9)
    assert worth(small=40, bass=1) == pytest.approx(3 * levels.BASS)


def test_too_few_and_too_many_small_notes_cost_more_where_a_course_asks() -> None:
    low, high = levels.DENSITY[2]
    assert worth(small=0) == pytest.approx(1.5 * 8 * low)
    assert worth(small=64) == pytest.approx(1.5 * 8 * (2.0 - high))
    assert worth(small=0, density=2.0) == pytest.approx(6.0 * 8 * 2 * low)
    assert worth(small=0, bars=2) == pytest.approx(1.5 * levels.SHORT * low)


def test_stillness_costs_by_the_quarter_beyond_two() -> None:
    onsets = [0, 4, 8, 28, *range(32, 128, 4)]  # three quarters beyond two
    assert worth(onsets=onsets) == pytest.approx(levels.STILL[2] * 3)
    assert worth(3, onsets=onsets) == pytest.approx(levels.STILL[3] * 3)
    weave = woven(("cantus", "C5:8"))
    it = Worth(weave, 2, opening=16)
    assert it.close == 0
    it.close = 32
    it.florid = SimpleNamespace(onsets=(0, 4, 20, 32))  # type: ignore[assignment]
    assert it.still(4) == pytest.approx(((20 - 8) - 8 + (32 - 20) - 8) / 4)


# --- what the plan sets before


def test_a_statement_is_set_after_its_rest_on_the_step_where_it_goes_best() -> None:
    weave = woven(("cantus", "G4:4 A4:2 G4:2 A4:4 G4:4"), ("bassus", "C3:16"), bars=4)
    it = Sung(searching(weave), SimpleNamespace(), Still(weave), Words((), 1, Fraction(1, 2)))  # type: ignore[arg-type]
    it.style = Style(heat=0.0)
    figure = [(0, 0), (4, 1), (8, 0)]
    (change,) = it.stated(0, 16, figure, 8) or ()
    assert change.voice == 0 and change.tones[0] == tone(0, 8, 32)  # what sounds before the rest
    new = [t for t in change.tones if t.start >= 16]
    assert [t.start for t in new][:3] == [16, 20, 24]
    assert [b.d - a.d for a, b in pairwise(new[:3])] == [1, -1]
    assert it.stated(0, 4, figure, 8) is None  # before the beginning
    assert it.stated(0, 56, figure, 0) is None  # beyond the end
    joined = it.stated(0, 16, figure, 0)
    assert joined and joined[0].start == 16
    it.still.mark(0, 12, 16)
    assert it.stated(0, 16, figure, 8) is None


def test_windows_of_a_countersubject_follow_the_entries() -> None:
    weave = woven(("cantus", "D5:8 C5:8"), ("altus", "R:4 A4:12"), ("tenor", "R:8 D4:8"), bars=4)

    def entry(voice: str, onset: int, step: int) -> Any:
        return SimpleNamespace(voice=voice, onset=Fraction(onset), pitch=SimpleNamespace(diatonic=step))

    entries = [entry("cantus", 0, 36), entry("altus", 4, 33), entry("tenor", 8, 29), entry("quintus", 9, 1)]
    theme = SimpleNamespace(length=Fraction(4))
    analysis = SimpleNamespace(entries=entries, theme=theme)
    it = WithCountersubject(searching(weave), analysis, Still(weave), Words((), 1, Fraction(1, 2)))  # type: ignore[arg-type]
    assert it.windows() == [(0, 16, 0), (1, 32, -4)]
    entries[1] = entry("cantus", 4, 33)
    assert it.windows() == [(0, 32, -4)]


def test_a_countersubject_is_sung_where_all_its_voices_are_free() -> None:
    weave = woven(("cantus", "C5:2 D5:2 E5:2 C5:2"), ("altus", "C4:2 D4:2 E4:2 C4:2 D4:4"), bars=3)
    theme = SimpleNamespace(length=Fraction(4))
    analysis = SimpleNamespace(entries=(), theme=theme)
    it = WithCountersubject(searching(weave), analysis, Still(weave), Words((), 1, Fraction(1, 2)))  # type: ignore[arg-type]
    windows = [(0, 0, 0), (1, 16, 0)]
    assert it.common(windows) == [(0, 16)]
    it.still.mark(1, 16, 17)
    assert it.common(windows) == [(8, 16)]
    it.still.mark(0, 9, 10)
    assert it.common(windows) == []


def test_a_line_in_several_places_costs_what_it_costs_in_each() -> None:
    class Row(Table):
        def __init__(self, offset: int) -> None:
            self.offset = offset

        def find(self, d: int) -> Spot | None:
            return None if d == 33 else Spot(60 + d, d - self.offset, d % 2 == 0, d % 3 == 0, d % 5 == 0)

    both = _Both([(Row(0), 0), (Row(10), -3)])
    assert both[36] is None and both[33] is None  # 33 stands in the way of either
    assert both[35] == Spot(95, 35 + 22, True, False, True)
    weave = woven(("cantus", "C5:16"), ("altus", "C4:8 D4:8"), bars=4)
    search = searching(weave)
    joint = Joint(search, [(0, 0, 0), (0, 32, 1)])
    # Over C the E, over D an F; a G over C would be an A over D.
    alone = Spots(weave, search.harmony, 0, search.given, (0, 64))
    here, there = alone.at(0, 8, 0, 8)[30], alone.at(32, 40, 32, 40)[31]
    assert here and there
    found = joint.at(0, 8, 0, 8)[30]
    assert found and found.cost == here.cost + there.cost and found.m == here.m
    assert joint.at(0, 8, 0, 8) is joint.at(0, 8, 0, 8)
    assert joint.at(0, 8, 0, 8)[31] is None  # a fourth over C, longer than a quarter
