"""The best path is the best: small lines against every path there is."""

from itertools import product

import numpy as np
import pytest

from builder.analysis import analyse
from builder.counterpoint import alternatives, k_best_settings, realise
from builder.counterpoint.search.arcs import broken
from builder.counterpoint.search.paths import best_path, k_best
from builder.counterpoint.search.realise import faults_of, lattice_of
from builder.counterpoint.search.shape import contexts
from builder.counterpoint.search.step_costs import Steps, melodic, named
from builder.source import parse

FRONT = "---\ntitle: Small\nverset:\n  metre: C\n  signature: none\n---\n\n```given\n"
SMALL = {
    "two voices with a suspension": "cantus C1 | A4/1\nbassus F4 | F3/2{6} E3/2{7 6} | D3/1",
    "two voices, unfigured": "cantus C1 | A4/1\ntenor C4 | D4/4 C4/2 B3/4 | A3/1",
    "two voices over a passing note": "cantus C1 | A4/1\ntenor C4 | D4/4. E4/8 F4/4 D4/4 | D4/1",
    "three voices": "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | D4/4 A3/2.{5/4:2 5/#:4}",
    "four voices": "cantus C1 | D5/1\naltus C3 | A4/1\ntenor C4 | F4/1\nbassus F4 | D3/2{6} G3/2 | A3/1",
}


def small(name):
    verset = parse(f"{FRONT}{SMALL[name]}\n```\n")
    return verset, analyse(verset)


def price(lattice, rows):
    """Cost of one choice of voicings, added up in the order of the music; None when a rule forbids it."""
    layer = lattice.layers[0]
    total, context = float(layer.cost[rows[0]]) + gain(lattice, 0, rows[0]), 0
    for i in range(1, len(rows)):
        a, b, joint = lattice.layers[i - 1], lattice.layers[i], lattice.joints[i - 1]
        total += float(b.cost[rows[i]]) + gain(lattice, i, rows[i])
        if joint.hold:
            if rows[i] != rows[i - 1] or (b.m[rows[i]] < b.shape.bass.midi).any():
                return None
            continue
        if forbidden(a, b, joint)[rows[i - 1], rows[i]]:
            return None
        prices = lattice.weights.above(len(b.shape.upper))
        step = Steps.between(a, b, joint, np.array(rows[i - 1 : i]), np.array(rows[i : i + 1]))
        total += sum(float(cost[0]) for cost in named(step, prices).values())
        after, turns = melodic(step, prices)
        total += float(turns[0, context])
        context = int(after[0, context])
    return total


def gain(lattice, index, row):
    return float(lattice.gains[index][row * contexts(len(lattice.layers[index].shape.upper))])


_masks = {}


def forbidden(a, b, joint):
    key = id(a), id(b), joint
    if key not in _masks:
        bad = np.zeros((len(a), len(b)), dtype=bool)
        for _, mask in broken(a, b, joint):
            bad |= mask
        _masks[key] = (a, b, bad)
    return _masks[key][2]


def every_path(lattice):
    """All legal choices with their costs, dearest last; grown note by note so that dead ends stop early."""
    grown = [((row,), price(lattice, (row,))) for row in range(len(lattice.layers[0]))]
    for layer in lattice.layers[1:]:
        longer = [(*rows, row) for (rows, _), row in product(grown, range(len(layer)))]
        grown = [(rows, cost) for rows in longer if (cost := price(lattice, rows)) is not None]
    return sorted(grown, key=lambda x: x[1])


@pytest.mark.parametrize("name", list(SMALL)[:-1])
def test_no_legal_setting_costs_less_than_the_best(name):
    lattice = lattice_of(*small(name))
    everything = every_path(lattice)
    path = best_path(lattice)
    assert lattice.best == pytest.approx(everything[0][1])
    rows = tuple(lattice.row(i, s) for i, s in enumerate(path))
    assert price(lattice, rows) == pytest.approx(everything[0][1])


@pytest.mark.parametrize("name", ["two voices with a suspension", "three voices"])
def test_the_k_best_are_the_first_k_of_all(name):
    lattice = lattice_of(*small(name))
    everything = [cost for _, cost in every_path(lattice)]
    count = min(25, len(everything))
    found = [cost for cost, _ in k_best(lattice, count)]
    assert found == pytest.approx(everything[:count])
    assert len({path for _, path in k_best(lattice, count)}) == count


def test_the_reported_cost_is_the_cost_of_the_path():
    for name in SMALL:
        verset, analysis = small(name)
        found = realise(verset, analysis, cheapest=True)
        assert found.cost == pytest.approx(lattice_of(verset, analysis).best)
        assert found.cost == pytest.approx(sum(sum(c.values()) for c in found.costs_by_bar.values()))


def test_other_ways_differ_and_break_no_more_rules_than_the_first():
    verset, analysis = small("four voices")
    found = alternatives(verset, analysis, 4)
    assert len(found) == 4
    assert found[0] == realise(verset, analysis)
    assert len({r.score.parts for r in found}) == 4
    assert all(faults_of(way) <= faults_of(found[0]) for way in found)


def test_another_way_within_a_bar_keeps_the_notes_outside_it():
    verset, analysis = small("four voices")
    bar = verset.bars[3]
    first, other = alternatives(verset, analysis, 2, within=(bar.onset, bar.end))
    for sonority, changed in zip(first.sonorities, other.sonorities):
        if not bar.onset <= sonority.onset < bar.end:
            assert changed.voices == sonority.voices
    assert first.sonorities != other.sonorities


def test_k_best_settings_never_get_cheaper():
    costs = [r.cost for r in k_best_settings(*small("four voices"), 12)]
    assert len(costs) == 12 and costs == sorted(costs)


def test_the_same_source_is_set_the_same_way_twice():
    verset, analysis = small("four voices")
    assert realise(verset, analysis) == realise(verset, analysis)
