"""Ideas: one figure exchanged between voices, or in sequence, at equal distances."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from builder.diminution import patterns
from builder.diminution import weights as w
from builder.diminution.ideas import Idea, ideas
from builder.diminution.offers import Offer
from builder.diminution.relay import Terms, best
from builder.diminution.texture import Stem
from builder.music import Note, Pitch

UNIT = 4
HALF = 2 * UNIT
BAR = 4 * UNIT
TURN = "second-up-turn-1/half"
MIRROR = "second-down-turn-1/half"


def offer(voice: int, half: int, pitch: str, pattern: str = TURN, cost: float = 0.0) -> Offer:
    """A figure on the half note of that number."""
    found = next(p for p in patterns() if p.id == pattern)
    at, start = Pitch.parse(pitch), half * HALF
    stem = Stem(voice, half, start, start + HALF, at, at, at, Note(Fraction(start, UNIT), Fraction(2), at))
    back = [sum(found.lengths[n:]) for n in range(len(found.lengths))]
    ticks = tuple(int(start + HALF - b * UNIT) for b in back)
    dias = tuple(at.diatonic + s for s in found.steps)
    number = {TURN: 0, MIRROR: 1}[pattern]
    return Offer(stem, found, ticks, dias, dias, ticks[1], start + HALF, number, cost, len(ticks) - 1)


def found(*offers: Offer) -> list[Idea]:
    return ideas(offers, lambda one, two: False, UNIT, UNIT, BAR)


def longest(several: list[Idea]) -> Idea:
    return max(several, key=lambda i: len(i.parts))


def test_voices_exchange_a_figure_at_equal_distances() -> None:
    idea = longest(found(*(offer(n % 2, n, "D4") for n in range(4))))
    assert [p.stem.voice for p in idea.parts] == [0, 1, 0, 1]
    assert idea.cost == 3 * w.TAKEN_UP
    starts = [p.start for p in idea.parts]
    assert {b - a for a, b in pairwise(starts)} == {HALF}


def test_no_idea_goes_on_at_another_distance() -> None:
    assert len(longest(found(offer(0, 0, "D4"), offer(1, 1, "D4"), offer(0, 3, "D4"))).parts) == 2


def test_a_figure_upside_down_is_kin_but_counts_for_less() -> None:
    (idea,) = found(offer(0, 0, "D4"), offer(1, 1, "D4", MIRROR))
    assert idea.cost == w.TAKEN_UP_INVERTED > w.TAKEN_UP


def test_one_voice_has_a_sequence_only_where_its_plain_notes_climb_or_fall_alike() -> None:
    climbing = found(*(offer(0, n, p) for n, p in enumerate(("D4", "E4", "F4"))))
    assert [len(i.parts) for i in climbing] == [3]
    assert not found(*(offer(0, n, p) for n, p in enumerate(("D4", "E4", "G4"))))
    assert not found(*(offer(0, n, "D4") for n in range(3)))


def test_figures_of_an_idea_do_not_clash() -> None:
    two = offer(0, 0, "D4"), offer(1, 1, "D4")
    assert not ideas(two, lambda one, after: True, UNIT, UNIT, BAR)


def test_the_relay_sets_an_idea_whole_and_nothing_between() -> None:
    idea = longest(found(offer(0, 0, "D4"), offer(1, 2, "D4"), offer(0, 4, "D4")))
    between = offer(1, 1, "A4", MIRROR, cost=-0.5)
    terms = Terms(near=UNIT, room=0, crowd=0.0, dearer=(0.0, 0.0))
    cost, chosen = best([*idea.parts, between, idea], lambda one, two: False, terms)
    assert chosen == [idea] and cost == idea.cost
