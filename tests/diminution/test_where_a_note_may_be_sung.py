"""Where a voice may sing a note beside the others, and what it costs: voices in plain C, by hand.

How dissonance is treated is Zarlino's (1558), III 42 (from memory); the prices are the room's own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from diminution.by_hand import woven

from builder.diminution import spots as room
from builder.diminution.harmony import Asked, Harmony, bit, natural
from builder.diminution.spots import Beside, Spot, Spots, tone_at
from builder.diminution.weave import Tone, Weave
from builder.music import Pitch


def free(weave: Weave, **asked: Any) -> Harmony:
    """White keys everywhere, and no figure that asks for a tone."""
    size = weave.size
    return Harmony([], [0] * size, [0] * size, [[0] * 7 for _ in range(size)], [-1] * size)


def figured(weave: Weave, start: int, end: int, need: str, may: str = "", checked: bool = True) -> Harmony:
    """A sonority that must have one letter and may have others, asked of the voice at the top."""
    found = free(weave)
    tones = {p: bit(Pitch.parse(f"{p}4").diatonic, Pitch.parse(f"{p}4").midi) for p in need + may}
    wants = [[tones[p] for p in need]]
    all_tones = sum(tones.values())
    found.asked = [Asked(start, end, [[list(row) for row in wants]] * 4, all_tones, all_tones, checked, (0,))]
    found.may[start:end] = [all_tones] * (end - start)
    found.number[start:end] = [0] * (end - start)
    return found


def over(lower: str, *more: str, harmony: Harmony | None = None, given: int = -1, voice: int = 0) -> Spots:
    """The cantus's places over an altus (and a tenor …)."""
    names = ("altus", "tenor", "bassus")
    weave = woven(("cantus", "C5:8"), *zip(names, (lower, *more)))
    return Spots(weave, harmony or free(weave), voice, [given] * weave.size)


def spot(spots: Spots, name: str, start: int, end: int, before: int, after: int) -> Spot | None:
    return spots.at(start, end, before, after)[Pitch.parse(name).diatonic]


def price(spots: Spots, name: str, start: int, end: int, before: int, after: int) -> float:
    found = spot(spots, name, start, end, before, after)
    assert found is not None
    return found.cost


FIRST, SECOND, THIRD = (0, 4, 0, 4), (4, 8, 0, 8), (8, 12, 4, 12)
"""A quarter on each beat of a bar: its ticks, and where the notes beside it begin."""


def test_a_consonance_costs_nothing_anywhere() -> None:
    spots = over("C4:8")
    for beat in (FIRST, SECOND, THIRD, (0, 8, 0, 8)):
        for name, key in (("E4", 64), ("G4", 67), ("A4", 69)):
            assert spot(spots, name, *beat) == Spot(key, 0.0, False, False, False), (name, beat)


def test_a_dissonance_passes_on_a_light_part_and_is_dear_on_a_strong_one() -> None:
    spots = over("C4:8")
    assert spot(spots, "D4", *SECOND) == Spot(62, 0.0, True, False, False)
    assert spot(spots, "D4", *FIRST) == Spot(62, room.ACCENTED, True, False, True)
    assert spot(spots, "D4", *THIRD) == Spot(62, room.ACCENTED, True, False, True)
    # Lighter than what follows, but stronger than what went before.
    assert spot(spots, "D4", 4, 8, 2, 8) == Spot(62, room.AS_STRONG, True, False, False)
    assert spot(spots, "F4", *SECOND) == Spot(65, 0.0, True, False, False)  # a fourth over the lowest note


def test_a_dissonance_longer_than_a_quarter_is_not_sung() -> None:
    spots = over("C4:8")
    assert spot(spots, "D4", 4, 8, 0, 8) and spot(spots, "D4", 4, 9, 0, 9) is None


def test_a_fourth_between_upper_voices_is_consonant() -> None:
    assert spot(over("C4:8", "C3:8"), "F4", *FIRST) is not None
    assert not spot(over("C4:8", "A3:8"), "F4", *FIRST)[2]  # type: ignore[index]
    assert spot(over("C4:8", "C3:8"), "F4", *SECOND)[2]  # type: ignore[index]


def test_what_is_beyond_the_compass_or_has_no_good_accidental_is_not_sung() -> None:
    spots = over("C4:8")
    assert spot(spots, "A5", *FIRST) and spot(spots, "B5", *FIRST) is None
    low = over("G3:8")
    assert spot(low, "G3", *FIRST) and spot(low, "F3", *FIRST) is None
    for row in spots.harmony.alter:
        row[4] = None
    fresh = Spots(spots.weave, spots.harmony, 0, spots.given)
    assert spot(fresh, "G4", *FIRST) is None and spot(fresh, "E4", *FIRST)


def test_a_raised_note_is_dear_and_never_doubled() -> None:
    weave = woven(("cantus", "C5:8"), ("altus", "F4:4 E4:4"))
    harmony = free(weave)
    for row in harmony.alter:
        row[3] = 1
    spots = Spots(weave, harmony, 0, [-1] * weave.size)
    assert spot(spots, "F5", 0, 4, 0, 4) is None  # beside F natural, two quarters away at most
    # Nine quarters on nothing has the letter, except a voice with the same raised note.
    far = woven(("cantus", "C5:16"), ("altus", "A4:8 F#4:4 A4:4"), bars=4)
    harmony = free(far)
    for row in harmony.alter:
        row[3] = 1
    alone = Spots(far, harmony, 0, [-1] * far.size)
    assert alone.at(0, 4, 0, 4)[38] == Spot(78, room.THIRD_KIND, False, False, False)
    assert alone.at(32, 36, 28, 36)[38] is None  # the altus has it
    assert alone.at(28, 36, 24, 36)[38] is None  # the altus strikes it
    flat = woven(("cantus", "C5:8"), ("altus", "A4:8"), flat=True)
    harmony = free(flat)
    for row in harmony.alter:
        row[6] = 0
    assert Spots(flat, harmony, 0, [-1] * 32).raised == [0] * 7


@pytest.mark.parametrize(
    ("name", "ticks", "allowed"),
    [("Bb", (0, 4), False), ("Bb", (8, 12), False), ("Bb", (16, 20), True), ("Bb", (12, 16), False)],
)
def test_a_letter_is_sung_in_one_form_within_two_quarters(
    name: str, ticks: tuple[int, int], allowed: bool
) -> None:
    """The altus has B natural up to tick 8; two quarters are eight ticks."""
    weave = woven(("cantus", "C5:8"), ("altus", "B4:2 C5:6"), ("bassus", "G3:8"))
    spots = Spots(weave, free(weave), 0, [-1] * 32, (0, 32))
    assert spots.other_way(*ticks, 6, 1 << 1) is not allowed
    assert spots.other_way(*ticks, 6, 1 << 2) is False  # the same form
    assert spots.other_way(*ticks, 5, 1 << 2) is False  # a letter that nobody has


def test_what_is_to_be_drawn_anew_does_not_bind_its_own_accidentals() -> None:
    weave = woven(("cantus", "B4:2 C5:2 B4:4"), ("altus", "G4:8"))
    around = Spots(weave, free(weave), 0, [-1] * 32, (0, 16)).around()
    assert (0, 8, 6, 4) not in around and (16, 32, 6, 4) in around and (0, 32, 4, 4) in around
    late = Spots(weave, free(weave), 0, [-1] * 32, (16, 32))
    assert (0, 8, 6, 4) in late.around() and late.marks[6] == 4 and late.marks[0] == 4
    assert late.marks[1] == 0


@pytest.mark.parametrize(
    ("key", "step", "above", "more", "cost"),
    [
        # Under a higher voice's C5 (step 35, key 72)
        (69, 33, True, {}, 0.0),
        (72, 35, True, {}, room.UNISON),
        (74, 36, True, {}, room.CROSSED),
        (76, 37, True, {}, room.CROSSED),
        (77, 38, True, {}, None),
        (60, 28, True, {"near": True}, 0.0),
        (59, 27, True, {"near": True}, room.WIDE),
        (59, 27, True, {}, 0.0),
        # Over a lower voice's C5
        (74, 36, False, {}, 0.0),
        (72, 35, False, {}, room.UNISON),
        (71, 34, False, {}, room.CROSSED),
        (68, 33, False, {}, room.CROSSED),
        (67, 32, False, {}, None),
        (84, 42, False, {"near": True}, 0.0),
        (86, 43, False, {"near": True}, room.WIDE),
        (86, 43, False, {}, 0.0),
        (86, 43, False, {"near": True, "given": True}, 0.0),
        # The given line stays below what is set above it.
        (72, 35, False, {"given": True}, None),
        (71, 34, False, {"given": True}, None),
        (74, 36, False, {"given": True}, 0.0),
    ],
)
def test_voices_cross_a_third_at_most_and_stand_within_an_octave(
    key: int, step: int, above: bool, more: dict[str, bool], cost: float | None
) -> None:
    beside = replace(Beside(35, 72, True, False, False, above, False), **more)  # type: ignore[arg-type]
    assert room._side(step, key, beside, False) == cost


def test_the_given_line_stays_below_the_voices_above_it() -> None:
    above, below = (Beside(35, 72, True, False, False, side, True) for side in (True, False))
    assert room._side(35, 72, above, True) is None and room._side(36, 74, above, True) is None
    assert room._side(34, 71, above, True) == 0.0 and room._side(20, 48, above, True) == 0.0
    assert room._side(35, 72, below, True) == room.UNISON


def test_a_unison_costs_half_where_it_is_held_off_the_beat() -> None:
    spots = over("E4:1 C4:7", "C3:8")
    assert price(spots, "C4", *SECOND) == room.UNISON  # struck together
    assert price(spots, "C4", 8, 10, 4, 10) == room.UNISON  # on a beat
    assert price(spots, "C4", 10, 12, 8, 12) == room.UNISON / 2
    # Met while the note is held: half of it.
    assert price(over("A3:1 C4:7", "C3:8"), "C4", 0, 8, 0, 8) == room.UNISON / 2


def test_what_is_struck_together_in_dissonance_goes_by_step_in_both_voices() -> None:
    leaps, steps = over("G4:1 C4:1 G4:2 G4:4"), over("D4:1 C4:1 D4:2 D4:4")
    assert spot(leaps, "D5", *SECOND) is None
    assert spot(steps, "D5", *SECOND) == Spot(74, room.WIDE + 0.3, True, False, False)


def test_other_voices_are_known_with_what_they_do() -> None:
    """Struck, light, falling, above, next, given, by leap."""
    spots = over("E4:1/2 D4:1/2 C4:3 A3:4", "C3:8", "C3:8", given=2, voice=2)
    (cantus, altus, bassus), lowest = spots.beside(2)
    assert lowest == 48
    assert cantus == Beside(35, 72, False, False, False, True, False)
    assert altus == Beside(29, 62, True, True, True, True, True)
    assert bassus == Beside(21, 48, False, False, False, False, True)
    assert spots.beside(2) is spots.beside(2)
    first = spots.beside(0)[0][1]
    assert first.struck and first.falls and not first.light and not first.leapt
    third = spots.beside(8)[0][1]
    assert (third.struck, third.light, third.falls, third.leapt) == (False, False, False, True)
    given = over("C4:8", given=1).beside(0)[0][0]
    assert given.given and not over("C4:8", given=0).beside(0)[0][0].given
    assert over("R:2 C4:6").beside(0) == ([], 999), "nobody, and no key to stay above"


def test_a_note_is_light_only_where_its_part_of_the_bar_is() -> None:
    on_the_beat = over("E4:1 D4:1 C4:6").beside(4)[0][0]
    assert on_the_beat.light  # the second beat is lighter than the first
    strong = over("E4:2 D4:1/2 C4:11/2").beside(8)[0][0]
    assert strong.light is False or strong.struck
    heavy = over("F4:3 E4:1 D4:1 C4:3").beside(16)[0][0]
    assert not heavy.light and heavy.falls
    long = over("E4:1 D4:3/2 C4:11/2").beside(4)[0][0]
    assert not long.light
    leap = over("E4:1 D4:1 G4:6").beside(4)[0][0]
    assert not leap.light and leap.leapt and not leap.falls


def test_striking_against_a_note_that_is_held_and_falls_is_welcome() -> None:
    """The altus holds D over the bar and falls to C on a lighter part: whoever strikes C makes of it a
    suspension."""
    held = over("D4:6 C4:2", "G3:8")
    found = spot(held, "E4", 16, 20, 12, 20)
    assert found is not None and found.cost == pytest.approx(room.STRIKES) and not found.clash
    rises = spot(over("D4:6 E4:2", "G3:8"), "E4", 16, 20, 12, 20)
    assert rises is not None and rises.clash and rises.accented
    # It falls on a stronger part than this one: no suspension.
    late = spot(over("D4:4 C4:4", "G3:8"), "E4", 12, 16, 8, 16)
    assert late is not None and late.clash
    # What the figures do not ask for makes no suspension of the given line.
    line = woven(("cantus", "C5:8"), ("altus", "D4:6 C4:2"))
    given = Spots(line, free(line), 0, [1] * 32)
    assert given.at(16, 20, 12, 20)[30].clash  # type: ignore[union-attr]
    asked = Spots(line, figured(line, 16, 24, "E", "D"), 0, [1] * 32)
    assert not asked.at(16, 20, 12, 20)[30].clash  # type: ignore[union-attr]


def test_a_held_note_that_another_strikes_against_becomes_a_suspension() -> None:
    """D over D; then the altus strikes C against it: it falls by step."""
    spots = over("D4:2 C4:2 D4:4", "D3:8")
    found = spot(spots, "D5", 0, 12, 0, 12)
    assert found is not None and found.cost == pytest.approx(room.SUSPENDED + room.WIDE / 2)
    assert found[2:] == (False, True, False)
    assert spot(spots, "D5", 0, 8, 0, 8) == Spot(74, 0.0, False, False, False)
    # Struck on the second beat, to fall on the third, which is stronger: none.
    assert spot(over("F4:1 C4:1 F4:6", "D3:8"), "D5", 0, 8, 0, 8) is None
    # What clashed as it was struck is no suspension.
    assert spot(over("C4:5/2 C4:11/2"), "D4", 8, 11, 4, 11) is None
    assert spot(over("C4:5/2 C4:11/2"), "D4", 8, 10, 4, 10) is not None


def test_light_notes_of_others_pass_under_a_held_one() -> None:
    passing = over("E4:1 D4:1 C4:6", "C3:8")
    assert price(passing, "E4", 0, 8, 0, 8) == pytest.approx(room.UNISON + 0.1)
    leaping = over("E4:1 D4:1 G3:6", "C3:8")
    found = spot(leaping, "E4", 0, 8, 0, 8)
    assert found is None


def test_a_tone_that_the_figure_lacks_is_wanted_and_a_stranger_is_dear() -> None:
    weave = woven(("cantus", "C5:8"), ("altus", "C4:8"))
    asked = figured(weave, 0, 16, "E", "G")
    spots = Spots(weave, asked, 0, [-1] * 32)
    assert price(spots, "E4", *FIRST) == room.WANTED
    assert price(spots, "G4", *FIRST) == 0.0
    assert price(spots, "A4", *FIRST) == room.AGAINST
    assert price(spots, "A4", 0, 2, 0, 2) == room.AGAINST / 2
    assert price(spots, "A4", 0, 8, 0, 8) == room.AGAINST * 2
    # More than half of the sonority, from its beginning: it would be another one.
    assert spot(spots, "A4", 0, 9, 0, 9) is None
    assert spot(spots, "A4", 4, 13, 0, 13) is not None
    loose = Spots(weave, figured(weave, 0, 16, "E", "G", checked=False), 0, [-1] * 32)
    assert price(loose, "A4", 0, 12, 0, 12) == pytest.approx(room.AGAINST * 3)
    # A wanted letter that passes as a dissonance gives nothing; nor costs a stranger that passes.
    low = woven(("cantus", "C5:8"), ("altus", "D4:8"))
    assert price(Spots(low, figured(low, 0, 16, "E", "D"), 0, [-1] * 32), "E4", *SECOND) == 0.0
    assert price(Spots(low, figured(low, 0, 16, "F", "A"), 0, [-1] * 32), "E4", *SECOND) == 0.0


def test_what_a_sonority_lacks_is_what_no_other_voice_has() -> None:
    weave = woven(("cantus", "C5:8"), ("altus", "E4:2 C4:6"))
    asked = figured(weave, 0, 16, "E", "G")
    asked.asked[0].voices = (0, 1)
    assert Spots(weave, asked, 0, [-1] * 32).lack(0) == 0
    assert Spots(weave, figured(weave, 8, 16, "E", "G"), 0, [-1] * 32).lack(0) == bit(30, 64)
    # A voice of which nothing is asked has nothing to supply.
    assert Spots(weave, figured(weave, 8, 16, "E", "G"), 1, [-1] * 32).lack(0) == 0


def test_a_note_held_into_a_sonority_that_has_it_not_is_dear() -> None:
    weave = woven(("cantus", "C5:8"), ("altus", "C4:2 F4:6"))
    spots = Spots(weave, figured(weave, 8, 32, "F", "C"), 0, [-1] * 32)
    assert price(spots, "A4", 4, 12, 0, 12) == pytest.approx(0.6)
    assert price(spots, "C5", 4, 12, 0, 12) == 0.0
    assert spot(spots, "A4", 4, 16, 0, 16) and spot(spots, "A4", 4, 17, 0, 17) is None
    whole = Spots(weave, figured(weave, 8, 12, "F", "C"), 0, [-1] * 32)
    assert spot(whole, "A4", 4, 12, 0, 12) is None


def test_strokes_within_a_note_are_those_of_the_other_voices() -> None:
    spots = over("C4:1 D4:1/2 E4:13/2", "C3:2 D3:6")
    assert spots.struck_inside(0, 16) == [4, 6, 8]
    assert spots.struck_inside(4, 8) == [6] and spots.struck_inside(4, 6) == []
    inner = Spots(spots.weave, spots.harmony, 1, spots.given)
    assert inner.struck_inside(0, 16) == [8]


def test_places_are_looked_at_once() -> None:
    spots = over("C4:8")
    assert spots.at(*FIRST) is spots.at(*FIRST) and spots.at(*FIRST) is not spots.at(*SECOND)
    table = spots.at(*FIRST)
    assert 30 not in table and table[30] is table[30] and 30 in table


def test_the_note_that_a_voice_sounds_at_a_tick() -> None:
    weave = woven(("cantus", "D5:2 R:1 C5:1"), bars=1)
    d, c = Tone(0, 8, 36, natural(36)), Tone(12, 16, 35, natural(35))
    assert [tone_at(weave, 0, t) for t in (-1, 0, 7, 8, 11, 12, 15, 16)] == [
        None, d, d, None, None, c, c, None,
    ]  # fmt: skip
