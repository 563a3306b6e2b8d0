"""What is set against the theme: it comes back, and it would do below the theme too."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.counterpoint import Finding, realise
from builder.music import QUARTER_COMMA, Place
from builder.source import read

FIRST = Path(__file__).parents[3] / "content" / "versets" / "first.md"


def set_with(**costs):
    verset = read(FIRST)
    verset = replace(verset, settings=replace(verset.settings, costs={**verset.settings.costs, **costs}))
    analysis = analyse(verset)
    return analysis, realise(verset, analysis, cheapest=True)


def against_the_theme(analysis, found):
    """For each later entry the intervals, within the octave, of the voice of the entry before over it."""
    for before, entry in pairwise(sorted(analysis.entries, key=lambda e: e.onset)):
        over = [s for s in found.sonorities if entry.onset < s.onset < entry.end and s.supplied != "held"]
        yield [
            (dict(s.voices)[before.voice].diatonic - s.bass.diatonic) % 7 + 1
            for s in over
            if before.voice in dict(s.voices)
        ]


def fifths(analysis, found):
    return sum(intervals.count(5) for intervals in against_the_theme(analysis, found))


def named(found, name):
    return sum(costs.get(name, 0.0) for costs in found.costs_by_bar.values())


def test_a_counterpoint_that_could_stand_below_the_theme_has_fewer_fifths_against_it():
    free, usual, strict = (
        fifths(*set_with(invertible=weight, countersubject=0.0)) for weight in (0.0, 0.5, 8.0)
    )
    assert strict < free
    assert strict <= usual <= free


def test_each_fifth_against_the_theme_is_told_among_the_costs():
    # As a gain, so that there are some.
    analysis, found = set_with(invertible=-4.0, countersubject=0.0)
    told = named(found, "invertible")
    assert told < 0, fifths(analysis, found)
    # Passing fifths, and one on which an entry begins, are free.
    assert told / -4.0 <= fifths(analysis, found)
    assert named(set_with(invertible=0.0)[1], "invertible") == 0


@pytest.mark.parametrize("weight", [0.5, 8.0])
def test_no_rule_is_broken_for_it(weight):
    _, found = set_with(invertible=weight)
    assert not [f for f in found.findings if f.severity == "error" and not f.allowed]


def test_the_countersubject_comes_back_with_the_theme_where_that_is_dear_to_the_source():
    def repeated(found, analysis):
        first, *later = against_the_theme(analysis, found)
        return sum(a == b for row in later for a, b in zip(first, row))

    shunned, dear = (set_with(countersubject=weight) for weight in (8.0, -8.0))
    assert repeated(dear[1], dear[0]) > repeated(shunned[1], shunned[0])
    assert named(dear[1], "countersubject") < 0


def test_a_countersubject_is_given_up_where_it_alone_brings_a_fault(monkeypatch):
    from builder.counterpoint.search import realise as room

    def faulty(verset, analysis, lattice, judge):
        path, found = taken(verset, analysis, lattice, judge)
        if not any("countersubject" in gains for gains in lattice.named_gains):
            return path, replace(found, findings=())
        return path, replace(found, findings=(fault,))

    fault = Finding("overlap", "error", Fraction(0), Place(1, Fraction(1)), ("cantus",), "a fault")
    taken = room.taken
    monkeypatch.setattr(room, "taken", faulty)
    verset = read(FIRST)
    drawn = room.drawn_for(verset, analyse(verset), QUARTER_COMMA)
    assert not any("countersubject" in gains for gains in drawn.lattice.named_gains)
