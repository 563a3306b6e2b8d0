"""What makes a draft of a new verset usable, and one better than another."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.invention import Invention, Order, continuing, invent, inventing
from builder.invention.blemishes import blemishes
from builder.invention.closing import Sung, bears, drawn_close
from builder.invention.continuing import continued
from builder.invention.draft import Draft, Unusable, draft
from builder.invention.figures import (
    DOUBLE,
    FIFTH_SIXTH,
    FOURTH,
    PASSING,
    PLAIN,
    SEVENTH,
    SIXTH,
    Bass,
    sonorities,
    written_figures,
)
from builder.invention.melody import Frame
from builder.invention.order import leading
from builder.invention.shape import dullness
from builder.invention.theme import themes
from builder.music import WRITTEN, Interval, Pitch, Signature
from builder.source import parse

THREE = ("cantus", "altus", "bassus")
ORDER = Order(1, THREE, bars=13, seed=3)


def frame(signature: str = "none") -> Frame:
    return Frame(Signature.parse(signature), *(p.diatonic for p in WRITTEN["bassus"]))


def drafted(order: Order = ORDER) -> Draft:
    """The first draft of an order that becomes a verset."""
    dice = Random(repr(order))
    for theme in themes(order, dice):
        try:
            found = draft(order, theme, dice)
            inventing._taken(found, found.text("en"), "en", Counter())
        except Unusable:
            continue
        return found
    raise AssertionError


@pytest.fixture(scope="module")
def good() -> Draft:
    return drafted()


def made(seed: int) -> Invention:
    return invent(replace(ORDER, seed=seed))


def refused(found: Draft, text: str | None = None) -> str:
    with pytest.raises(Unusable) as why:
        inventing._taken(found, text or found.text("en"), "en", Counter())
    return str(why.value)


def test_a_close_that_is_not_heard_where_it_was_ordered_sends_a_draft_back(good: Draft) -> None:
    moved = replace(good, closes=((good.closes[0][0] + 1, good.closes[0][1]), *good.closes[1:]))
    assert refused(moved) == "read otherwise: cadences"
    other = replace(good, closes=((good.closes[0][0], "B"), *good.closes[1:]))
    assert refused(other) == "read otherwise: cadences"


def test_another_tone_other_voices_another_theme_send_a_draft_back(good: Draft) -> None:
    assert refused(replace(good, order=replace(good.order, tone=8))) == "read otherwise: tone"
    swapped = replace(good.order, voices=("altus", "cantus", "bassus"))
    assert refused(replace(good, order=swapped), good.text("en")) == "read otherwise: entries"
    longer = replace(good.theme, lengths=(*good.theme.lengths, Fraction(1)))
    assert refused(replace(good, theme=longer)) == "read otherwise: theme"


def test_a_tonal_answer_is_tonal_and_an_exact_one_exact(good: Draft) -> None:
    kind = analyse(parse(good.text("en"))).entries[1].kind
    asked = "exact" if kind != "exact" else "tonal"
    assert refused(replace(good, order=replace(good.order, answers=asked))) == "read otherwise: answers"


def test_a_warning_sends_a_draft_back_but_not_the_double_cadences_own(
    good: Draft, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = realise(parse(good.text("en")), analyse(parse(good.text("en"))))
    model = next(f for seed in range(9) for f in made(seed).realisation.findings)
    for rule, severity, back in (
        ("wide", "warning", True),
        ("wide", "error", True),
        ("wide", "note", False),
        ("fourth-by-step", "warning", False),
    ):
        found = replace(plain, findings=(replace(model, rule=rule, severity=type(model.severity)(severity)),))
        monkeypatch.setattr(inventing, "realise", lambda *a, _found=found, **k: _found)
        if back:
            assert refused(good) == f"rule: {rule}"
        else:
            assert isinstance(inventing._taken(good, good.text("en"), "en", Counter()), Invention)


def test_of_six_the_one_with_the_fewest_blemishes_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []

    def fewer_and_fewer(verset, realisation) -> float:  # type: ignore[no-untyped-def]
        seen.append(str([str(g.note.pitch) for g in verset.given]))
        return float(-len(seen))

    monkeypatch.setattr(inventing, "blemishes", fewer_and_fewer)
    best = made(11)
    assert len(seen) == inventing.CHOICE
    assert str([str(g.note.pitch) for g in best.verset.given]) == seen[-1]


def test_where_the_theme_closes_a_leading_note_finds_its_octave() -> None:
    notes = [
        Bass(Pitch.parse("A3"), Fraction(2), 3),
        Bass(Pitch.parse("B3"), Fraction(1), 2, raised=True, closes=True),
        Bass(Pitch.parse("A3"), Fraction(1), 1),
        Bass(Pitch.parse("D3"), Fraction(2), 3),
    ]
    drawn = [sonorities(notes, 2, Signature(), Random(seed)) for seed in range(200)]
    closes = [d[1:3] for d in drawn if d and d[1] in (SIXTH, SEVENTH)]
    assert len(closes) > 100
    assert {after for _, after in closes} <= {PLAIN, FIFTH_SIXTH}
    # A seventh is held over from A, and is much the usual thing there.
    assert sum(over == SEVENTH for over, _ in closes) > len(closes) / 2


def test_eighths_between_steps_pass_and_bear_no_figure() -> None:
    notes = [
        Bass(Pitch.parse(name), Fraction(length), weight)
        for name, length, weight in (("D3", "3/2", 3), ("E3", "1/2", 0), ("F3", "2", 2))
    ]
    drawn = {found[1] for seed in range(50) if (found := sonorities(notes, 2, Signature(), Random(seed)))}
    assert drawn == {PASSING}
    assert written_figures(notes[1], PASSING, Signature()) == ""


def test_short_notes_bear_no_suspension_and_f_no_augmented_fourth() -> None:
    quarter = [Bass(Pitch.parse(name), Fraction(1), 3) for name in ("D3", "E3", "D3")]
    half = [Bass(Pitch.parse(name), Fraction(2), 3) for name in ("B3", "F3", "E3")]
    for seed in range(200):
        short, long = (sonorities(notes, 3, Signature(), Random(seed)) for notes in (quarter, half))
        assert short and {*short} <= {PLAIN, SIXTH}
        assert long and long[1] != FOURTH


@pytest.mark.parametrize(
    ("degree", "signature", "final", "before"),
    [
        ("D", "none", True, {("A", FOURTH, True), ("A", DOUBLE, True)}),
        ("E", "none", True, {("F", SEVENTH, False)}),
        (
            "A",
            "none",
            False,
            {("E", FOURTH, True), ("E", PLAIN, True), ("B", SEVENTH, True), ("B", SIXTH, True)},
        ),
        ("A", "Bb", False, {("Bb", SEVENTH, False), ("Bb", SIXTH, False)}),
        ("E", "F#", False, {("F#", SEVENTH, True), ("F#", SIXTH, True)}),
    ],
)
def test_closes_come_from_the_fifth_by_the_tenors_clausula_or_as_that_of_mi(
    degree: str, signature: str, final: bool, before: set[tuple[str, str, bool]]
) -> None:
    found = set()
    for seed in range(80):
        close = drawn_close(ORDER, frame(signature), degree, Random(seed), final=final)
        if close:
            assert close.goal.letter == degree
            assert close.before.length == (4 if final else 2)
            found.add((close.before.pitch.letter, close.before.fixed, close.before.raised))
    assert found == before


def test_two_voices_close_by_step_more_often_than_three_and_hold_fewer_fourths() -> None:
    """Over the lower of two voices Palestrina has no fourth that is held and falls (counted in his odd pieces
    by `tests/worth/inventions.py`)."""
    held, stepwise = {}, {}
    for voices in (("cantus", "tenor"), ORDER.voices):
        closes = [
            close.before
            for seed in range(400)
            if (close := drawn_close(replace(ORDER, voices=voices), frame(), "D", Random(seed), final=False))
        ]
        held[len(voices)] = sum(before.fixed == FOURTH for before in closes) / len(closes)
        stepwise[len(voices)] = sum(before.pitch.letter == "E" for before in closes) / len(closes)
    assert held[2] < 0.15 < held[len(ORDER.voices)]
    assert stepwise[2] > 0.6 > 0.5 > stepwise[len(ORDER.voices)]


def test_the_final_cadence_is_the_one_that_is_ordered() -> None:
    for kind, over in (("semplice", PLAIN), ("composta", FOURTH), ("doppia", DOUBLE)):
        asked = replace(ORDER, close=kind)
        drawn = {
            close.before.fixed
            for seed in range(20)
            if (close := drawn_close(asked, frame(), "D", Random(seed), final=True))
        }
        assert drawn == {over}


def test_leading_notes_are_those_that_the_organ_has() -> None:
    assert [d for d in ("C", "D", "E", "F", "G", "A", "B", "Bb") if leading(d)] == [*"CDFGA", "Bb"]


def test_what_is_held_over_can_sound_before_it() -> None:
    d = Pitch.parse("D4")
    assert [n for n in "CDEFGAB" if bears(Pitch.parse(f"{n}3"), d, Signature(), 3)] == [*"DFGB"]
    # Under one voice a sixth is the sixth itself.
    assert not bears(Pitch.parse("B3"), d, Signature(), 1)


def test_the_line_behind_the_entries_goes_somewhere() -> None:
    dice = Random(5)
    theme = next(themes(ORDER, dice))
    drawn = 0
    for _ in range(200):
        found = continued(ORDER, theme, 6, dice)
        if found is None:
            continue
        drawn += 1
        line, closes = found
        assert sum(n.length for n in line[:-1]) == 24 == closes[-1][0]
        assert closes[-1][1] == "D" == line[-1].pitch.letter
        steps = [n.pitch.diatonic for n in line]
        # A voice that has leapt by a fourth or more does not leap so again, but into a close.
        into = {n for n, note in enumerate(line) if note.fixed}
        for n in range(1, len(steps) - 1):
            leaps = abs(steps[n] - steps[n - 1]) > 2 and abs(steps[n + 1] - steps[n]) > 2
            assert not leaps or into & {n - 1, n, n + 1}
    assert drawn > 20


def source(line: str) -> str:
    return (
        "---\ntitle: T\nverset: {metre: C, signature: none, voices: [cantus, altus]}\n---\n\n"
        f"```given\nbassus F4 | {line}\n```\n"
    )


def worth(line: str) -> float:
    verset = parse(source(line))
    return blemishes(verset, replace(realise(verset, analyse(verset)), findings=()))


GOOD = "D3/2 E3/4 F3/4 | G3/2 A3/2{4 3} | D3/2 C3/4 B2/4{6} | A2/2 G2/4 F2/4 | A2/1{4 #} | D3/1"


WORSE = {
    "no suspension": "D3/2 E3/4 F3/4 | G3/2 A3/2 | D3/2 C3/4 B2/4{6} | A2/2 G2/4 F2/4 | A2/1{#} | D3/1",
    "said again": "D3/2 E3/4 E3/4 | G3/2 A3/2{4 3} | D3/2 D3/4 B2/4{6} | A2/2 A2/4 F2/4 | A2/1{4 #} | D3/1",
    "in few notes": "D3/2 E3/4 D3/4 | E3/2 D3/2 | D3/2 E3/4 F3/4 | E3/2 D3/4 E3/4 | A2/1{4 #} | D3/1{4 3}",
    "on one letter": "D3/2 E3/4 F3/4 | D3/2 A3/2{4 3} | D3/2 C3/4 B2/4{6} | D3/2 G2/2 | A2/1{4 #} | D3/1",
    "in one rhythm": (
        "D3/2 E3/4 F3/4 | G3/2 A3/4 G3/4 | A3/2 C3/4 B2/4{6} | A2/2 G2/4 F2/4 | A2/1{4 #} | D3/1{4 3}"
    ),
}


@pytest.mark.parametrize("worse", WORSE.values(), ids=WORSE)
def test_dull_lines_have_more_blemishes(worse: str) -> None:
    assert worth(worse) > worth(GOOD)


def test_remarks_of_the_check_are_blemishes() -> None:
    remarked = next(found for seed in range(9) if (found := made(seed)).realisation.findings)
    clean = replace(remarked.realisation, findings=())
    remarks = sum(f.severity == "note" for f in remarked.realisation.findings)
    rough = blemishes(remarked.verset, remarked.realisation) - blemishes(remarked.verset, clean)
    assert rough == pytest.approx(remarks / len(remarked.verset.bars))


def test_a_theme_is_answered_a_fourth_or_fifth_below_in_every_voice() -> None:
    dice = Random(9)
    for _, theme in zip(range(10), themes(Order(8, THREE, bars=12, answers="exact"), dice)):
        for n, (a, b) in enumerate(zip(theme.entries["cantus"], theme.entries["altus"], strict=True)):
            assert Interval.between(b, a).semitones % 12 in (5, 7), n
        for a, b in zip(theme.entries["cantus"], theme.entries["bassus"], strict=True):
            assert Interval.between(b, a).semitones % 12 == 0


def sung(names: str) -> list[Sung]:
    """A line in half notes."""
    return [Sung(Pitch.parse(name), Fraction(2)) for name in names.split()]


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        ("D3 E3 E3 F3 G3 A3", "C3 D3 E3 F3 G3 A3"),  # a note said again
        ("D3 F3 E3 F3 G3 F3", "D3 F3 E3 F3 G3 A3"),  # one letter on three of six strong parts
        ("D3 A3 G3 A3 F3 E3", "D3 F3 G3 A3 F3 E3"),  # the highest note is touched, left and touched again
        ("D3 G3 F3 B2 A2 E3", "D3 E3 F3 B2 A2 G2"),  # leaps where there could be steps
        ("F3 C3 F3 C3 D3 E3", "F3 C3 D3 E3 F3 C3"),  # to and fro
    ],
)
def test_a_phrase_that_stands_still_is_duller_than_one_that_moves(worse: str, better: str) -> None:
    def dull(names: str) -> float:
        return dullness(sung(names), 5, Fraction(0), ORDER.time)

    assert dull(worse) > dull(better)


def test_what_was_sung_before_a_phrase_makes_it_dull() -> None:
    behind_others, behind_its_own = sung("B2 D3 G3 F3 C3"), sung("F3 C3 G3 F3 C3")
    assert dullness(behind_its_own, 2, Fraction(0), ORDER.time) > dullness(
        behind_others, 2, Fraction(0), ORDER.time
    )
    # Weak parts are not remembered: a line that begins on the second quarter has others on its strong ones.
    assert dullness(behind_its_own, 2, Fraction(1), ORDER.time) == dullness(
        behind_others, 2, Fraction(1), ORDER.time
    )


def test_lines_are_less_dull_than_phrases_taken_as_they_come(monkeypatch: pytest.MonkeyPatch) -> None:
    def mean(phrases: int) -> float:
        monkeypatch.setattr(continuing, "PHRASES", phrases)
        dice, found = Random(7), list[float]()
        theme = next(themes(ORDER, dice))
        while len(found) < 20:
            drawn = continued(ORDER, theme, 8, dice)
            if drawn:
                found.append(dullness(drawn[0], len(drawn[0]), Fraction(0), ORDER.time))
        return sum(found) / len(found)

    assert mean(8) < 0.8 * mean(1)
