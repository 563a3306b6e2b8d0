"""New versets are what was ordered, lawful, and their own."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product
from random import Random

import pytest

from builder.analysis import analyse
from builder.counterpoint import RULES
from builder.invention import CHARACTERS, Order, OrderError, invent
from builder.invention.figures import FOURTH, PLAIN, SEVENTH, SIXTH, Bass, sonorities, tones, written_figures
from builder.invention.inventing import BORNE
from builder.invention.melody import Frame, Row, draw, outlines_tritone, singable
from builder.invention.order import characters
from builder.invention.theme import HEADS, answered, has_profile, highest, share, themes
from builder.language.texts import languages
from builder.music import Pitch, Signature
from builder.source import parse, write

TWO, THREE = ("cantus", "tenor"), ("cantus", "altus", "bassus")
FOUR = ("cantus", "altus", "tenor", "bassus")
NONE = Signature()


def pitches(names: str) -> list[Pitch]:
    return [Pitch.parse(name) for name in names.split()]


ORDERS = [
    Order(tone, (TWO, THREE, FOUR)[tone % 3], bars=13, character=CHARACTERS[tone % 4], seed=40 + tone)
    for tone in range(1, 9)
]


@pytest.mark.parametrize("order", ORDERS, ids=lambda order: f"tone {order.tone}")
def test_the_analysis_reads_what_was_ordered_and_no_rule_sends_it_back(order: Order) -> None:
    made = invent(order)
    read = parse(made.text)
    analysis = analyse(read)
    assert analysis.tone == order.tone == analysis.tones[0].tone
    assert tuple(entry.voice for entry in analysis.entries) == order.voices
    assert all(entry.kind in ("theme", "exact", "tonal", "modal") for entry in analysis.entries)
    assert analysis.cadences[-1].degree == order.form.close
    assert abs(len(read.bars) - order.bars) <= 2
    grave = {f.rule for f in made.realisation.findings if f.severity != "note"}
    assert grave <= set(BORNE)
    assert write(read) == made.text


def test_the_rule_that_the_double_cadence_breaks_is_in_the_rulebook() -> None:
    assert set(BORNE) <= set(RULES)


def test_the_same_order_gives_the_same_verset_and_another_seed_another() -> None:
    order = Order(6, TWO, bars=9, character="tripla", seed=5)
    assert invent(order).text == invent(order).text
    other = invent(Order(6, TWO, bars=9, character="tripla", seed=6))
    assert [g.note.pitch for g in other.verset.given] != [g.note.pitch for g in invent(order).verset.given]


def test_every_seed_begins_its_theme_in_another_way_until_all_have_come() -> None:
    """What a teacher orders for student after student is never the same theme again."""
    for voices in (TWO, FOUR):
        orders = [Order(2, voices, bars=16, seed=seed) for seed in range(len(HEADS))]
        places = [share(order, len(order.rhythms.themes)) for order in orders]
        assert len(set(places)) == len(places)
        drawn = [next(themes(order, Random(repr(order)))) for order in orders]
        moves = {
            (theme.lengths, tuple(b.diatonic - a.diatonic for a, b in pairwise(theme.entries["cantus"])))
            for theme in drawn
        }
        assert len(moves) == len(orders)


def test_themes_of_one_order_in_all_tones_and_numbers_of_voices_are_all_different() -> None:
    orders = [Order(tone, voices, bars=16, seed=5) for tone in range(1, 9) for voices in (TWO, THREE, FOUR)]
    drawn = [next(themes(order, Random(repr(order)))) for order in orders]
    assert len(
        {tuple(b.diatonic - a.diatonic for a, b in pairwise(t.entries["cantus"])) for t in drawn}
    ) == len(orders)


def test_no_two_characters_have_a_rhythm_in_common() -> None:
    """Else two of them could have the same theme, for each has the same beginnings."""
    rhythms = [theme for character in characters().values() for theme in character.themes]
    assert len({tuple(n for bar in theme for n in bar) for theme in rhythms}) == len(rhythms)


def test_each_beginning_of_a_theme_is_one_that_a_voice_sings() -> None:
    """Common practice: no leap goes on the same way, and of two leaps one is a third."""
    assert len(HEADS) == len(set(HEADS)) > 40
    for a, b in HEADS:
        assert not (a * b > 0 and max(abs(a), abs(b)) > 2) and min(abs(a), abs(b)) < 3


def test_a_given_theme_is_answered_and_the_closes_are_where_they_were_ordered() -> None:
    order = Order(
        1,
        FOUR,
        bars=14,
        theme="D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2",
        answers="tonal",
        cadences=("F", "A"),
        seed=2,
    )
    made = invent(order)
    heard = {voice: [str(g.note.pitch) for g in made.verset.given if g.voice == voice][:6] for voice in FOUR}
    assert heard["cantus"] == ["D5", "A4", "B4", "C5", "B4", "A4"]
    # Final and fifth change places: the fourth down is answered by a fifth down.
    assert heard["altus"] == ["A4", "D4", "E4", "F4", "E4", "D4"]
    assert heard["bassus"] == ["A3", "D3", "E3", "F3", "E3", "D3"]
    behind = made.analysis.entries[-1].end
    closes = iter([c.degree for c in made.analysis.cadences if c.onset > behind])
    assert all(degree in closes for degree in "FAD")
    assert made.analysis.entries[1].kind == "tonal"


def test_the_third_and_fourth_tone_close_with_the_cadence_of_mi() -> None:
    made = invent(Order(4, THREE, bars=11, character="slow", seed=1))
    assert (made.analysis.cadences[-1].degree, made.analysis.cadences[-1].kind) == ("E", "mi")


def test_everything_that_is_wrong_with_an_order_is_told_in_each_language() -> None:
    wrong = Order(
        1,
        ("tenor", "cantus"),
        bars=3,
        character="slow",
        metre="3/2",
        answers="free",
        cadences=("H", "B"),
        close="mi",
    )
    with pytest.raises(OrderError) as caught:
        invent(wrong)
    assert [f.key for f in caught.value.faults] == [
        "entries", "bars", "answers", "metres", "cadences", "mi",
    ]  # fmt: skip
    told = {caught.value.told(language) for language in languages()}
    assert len(told) == len(languages())


@pytest.mark.parametrize(
    ("theme", "key"),
    [
        ("D5/2 R/2 A4/2 B4/2", "theme.note"),
        ("D5/2 H4/2 A4/2 B4/2", "theme.note"),
        ("D5/2 A4/2{6} B4/2 A4/2", "theme.note"),
        ("D5/2. A4/2 B4/4 A4/2", "theme.bar"),
        ("D5/2 A4/2", "theme.length"),
        ("D5/2 A4/2 B4/4 A4/4 G4/4", "theme.length"),
        ("D5/2 A4/2 B4/2 A4/2 D5/2 A4/2 B4/2 A4/2", "short"),
        ("D5/2 A5/2 D4/2 A4/2", "theme.answer"),
    ],
)
def test_a_theme_that_cannot_be_used_is_told(theme: str, key: str) -> None:
    bars = 18 if key == "short" else 14
    with pytest.raises(OrderError) as caught:
        invent(Order(1, FOUR, bars=bars, theme=theme))
    assert [f.key for f in caught.value.faults] == [key]


def test_a_line_is_drawn_by_moves_that_a_voice_sings_and_ends_where_it_must() -> None:
    frame = Frame(NONE, Pitch.parse("F2").diatonic, Pitch.parse("B3").diatonic)
    lengths = [Fraction(1), Fraction(1, 2), Fraction(1, 2), Fraction(2), Fraction(1), Fraction(1)]
    for seed in range(60):
        row = Row.of(lengths, "line", lambda note, step: 1.0)
        start, end = Pitch.parse("D3").diatonic, Pitch.parse("A2").diatonic
        steps = draw(frame, row, start, {end: 1.0}, Random(seed))
        assert steps is not None and (steps[0], steps[-1]) == (start, end)
        sung = [frame.pitch(s) for s in steps]
        assert all(singable(a, b) for a, b in pairwise(sung))
        # Eighths are reached and left by step.
        assert all(abs(steps[n] - steps[n - 1]) <= 1 for n in (1, 2, 3))


def test_no_line_is_drawn_where_none_can_be() -> None:
    frame = Frame(NONE, 21, 30)
    row = Row.of([Fraction(1, 2)] * 3, "line", lambda note, step: 1.0)
    assert draw(frame, row, 21, {28: 1.0}, Random(1)) is None


def test_a_drawn_theme_comes_to_its_highest_note_before_its_end_and_leaves_it() -> None:
    """With Palestrina's first notes after a rest 22 to 24 in a hundred begin on their highest note and most
    of the others have it in the midst (files at even and odd places of music21's list)."""
    places = []
    for tone, seed in product(range(1, 9), range(8)):
        order = Order(tone, THREE, bars=14, seed=seed, character=CHARACTERS[seed % 4])
        theme = next(themes(order, Random(repr(order))))
        steps = [p.diatonic for p in theme.entries["cantus"]]
        tops = [n for n, step in enumerate(steps) if step == max(steps)]
        assert tops in ([tops[0]], [tops[0], tops[0] + 1]) and tops[-1] < len(steps) - 1
        places.append(tops[0])
    assert 0.05 < sum(not place for place in places) / len(places) < 0.3


def test_the_highest_note_of_a_theme_is_where_its_two_first_moves_allow() -> None:
    def drawn(head: tuple[int, int], high: int = 40) -> set[tuple[int, int] | None]:
        return {highest(28, head, 6, high, Random(seed)) for seed in range(200)}

    # Down and up again: the first note, or one behind the first three, at most an octave above the lowest.
    assert drawn((-4, 1)) == {(0, 28), *((n, top) for n in (3, 4) for top in (29, 30, 31))}
    # No note above D at the top of the compass.
    assert drawn((-4, 1), high=28) == {(0, 28)}
    assert drawn((4, -1), high=31) == {None}


@pytest.mark.parametrize(
    ("names", "good"),
    [
        ("D5 A4 B4 C5 B4 A4", True),
        ("D4 E4 F4 G4 F4 E4", False),  # only steps: nothing to know it by
        ("D4 A4 D4 A4 G4 F4", False),  # a shuttle
        ("D4 G4 C5 B4 A4 G4", False),  # two leaps the same way
        ("F4 G4 B4 A4 G4 F4", False),  # a tritone from turn to turn
        ("D4 D4 E4 F4 G4 F4", False),  # a note said twice in even values, then steps
        ("D4 D4 D4 F4 E4 D4", False),  # a note three times
        ("D4 D4 G4 F4 F4 E4", False),  # two notes said twice
        ("D4 D4 G4 F4 E4 D4", True),
        ("D4 G4 E4 G4 F4 E4", False),  # two high points
        ("D4 F4 G4 A4 G4 D4", False),  # it ends by leap
    ],
)
def test_a_theme_can_be_known_again(names: str, good: bool) -> None:
    assert has_profile(pitches(names), [Fraction(1)] * 6) is good


def test_a_tritone_is_heard_from_turn_to_turn() -> None:
    assert outlines_tritone(pitches("B3 C4 D4 F4 E4"))
    assert not outlines_tritone(pitches("B3 C4 D4 F4 G4 F4"))


def test_an_answer_goes_a_fourth_down_from_the_final_and_a_fifth_from_the_fifth() -> None:
    exact = Order(1, FOUR, answers="exact")
    final = answered(exact, NONE, pitches("D4 F4 G4 F4 E4 D4"))
    assert final is not None and [str(p) for p in final["altus"]] == ["A3", "C4", "D4", "C4", "B3", "A3"]
    fifth = answered(exact, NONE, pitches("A4 C5 B4 A4"))
    assert fifth is not None and [str(p) for p in fifth["altus"]] == ["D4", "F4", "E4", "D4"]
    # B flat is not in the scale: a theme over B natural has no exact answer over F.
    assert answered(exact, NONE, pitches("A4 B4 D5 C5")) is not None
    assert answered(exact, NONE, pitches("D5 C5 B4 A4 B4")) is None


def test_what_is_held_over_sounds_before() -> None:
    notes = [
        Bass(Pitch.parse("F3"), Fraction(2), 3),
        Bass(Pitch.parse("G3"), Fraction(2), 2),
        Bass(Pitch.parse("A3"), Fraction(4), 3, FOURTH, raised=True),
        Bass(Pitch.parse("D3"), Fraction(4), 3, PLAIN),
    ]
    for seed in range(200):
        drawn = sonorities(notes, 3, NONE, Random(seed))
        assert drawn is not None
        # D can be held over A only where it sounds over G: as its fifth.
        assert drawn[1] in (PLAIN, FOURTH)
        for n, held in ((1, {FOURTH: 3, SEVENTH: 6}),):
            if drawn[n] in held:
                tone = NONE.pitch(notes[n].pitch.diatonic + held[drawn[n]])
                assert Pitch(28 + tone.step) in tones(notes[n - 1], drawn[n - 1], NONE)


def test_nothing_is_drawn_where_what_must_stand_has_no_preparation() -> None:
    notes = [Bass(Pitch.parse("B3"), Fraction(2), 3), Bass(Pitch.parse("C4"), Fraction(2), 2, FOURTH)]
    assert sonorities(notes, 3, NONE, Random(1)) is None


def test_over_a_false_fifth_stands_a_sixth() -> None:
    notes = [Bass(p, Fraction(1), 1) for p in pitches("A3 B3 C4")]
    assert {found[1] for seed in range(40) if (found := sonorities(notes, 2, NONE, Random(seed)))} == {SIXTH}


def test_a_leading_note_is_raised_by_the_sign_that_the_signature_asks_for() -> None:
    def over(name: str, signature: str) -> str:
        note = Bass(Pitch.parse(name), Fraction(4), 3, raised=True)
        return written_figures(note, FOURTH, Signature.parse(signature))

    assert over("A2", "none") == "{4 #}"
    assert over("F3", "Bb") == "{4 3}"
    assert over("G2", "Bb") == "{4 n}"
