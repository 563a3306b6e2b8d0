"""Settings are drawn as often as their costs say and are lawful; what each voice has sung is remembered."""

from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.counterpoint.search.choosing import HEADS, chosen, seed_of
from builder.counterpoint.search.costs import COSTS, NAMES, read_prices
from builder.counterpoint.search.countersubject import patterns, placed, share_returning
from builder.counterpoint.search.draws import REMEMBERED, Memory, drawn
from builder.counterpoint.search.lattice import gaining
from builder.counterpoint.search.realise import lattice_of
from builder.source import parse, read
from tests.counterpoint.search.test_best_paths import every_path, small

VERSETS = sorted((Path(__file__).parents[3] / "content" / "versets").glob("*.md"))
FORGETFUL = {**dict.fromkeys(NAMES, 0.3), **dict.fromkeys(REMEMBERED, 0.0)}
"""Low prices, so that many settings are likely, and nothing counts that the lattice does not hold."""


def forgetful(name):
    verset, analysis = small(name)
    settings = replace(verset.settings, costs=FORGETFUL)
    return lattice_of(replace(verset, settings=settings), analysis)


@pytest.mark.parametrize("name", ["two voices, unfigured", "three voices"])
def test_every_lawful_setting_is_drawn_as_often_as_its_cost_says(name):
    lattice = forgetful(name)
    everything = every_path(lattice)
    weights = np.exp(-np.array([cost for _, cost in everything]))
    expected = dict(zip((rows for rows, _ in everything), weights / weights.sum()))
    count = 6000
    met = Counter(
        tuple(lattice.row(i, s) for i, s in enumerate(path)) for path in drawn(lattice, (1,), count)
    )
    assert set(met) <= set(expected)
    often = [(rows, p) for rows, p in expected.items() if p * count > 40]
    assert len(often) > 3
    for rows, p in often:
        assert abs(met[rows] - p * count) < 5 * (p * (1 - p) * count) ** 0.5, rows


def test_the_same_seed_draws_the_same_settings_and_another_one_others():
    lattice = lattice_of(*small("four voices"))
    assert drawn(lattice, (3,), 8) == drawn(lattice, (3,), 8)
    assert drawn(lattice, (3,), 8) != drawn(lattice, (4,), 8)


def test_a_dear_turn_is_drawn_seldom():
    verset, analysis = small("four voices")
    lattices = [
        lattice_of(replace(verset, settings=replace(verset.settings, costs={"leap": leap})), analysis)
        for leap in (0.0, 6.0)
    ]

    def leaps(lattice):
        total = 0
        for path in drawn(lattice, (5,), 40):
            rows = [x.d[lattice.row(i, s)] for i, (x, s) in enumerate(zip(lattice.layers, path))]
            total += sum(int((abs(b - a) > 2).sum()) for a, b in pairwise(rows) if len(a) == len(b))
        return total

    assert leaps(lattices[1]) < leaps(lattices[0]) / 2


def sung(*lines):
    """What is remembered when a cantus has sung some lines (one path each), in staff steps."""
    memory = Memory.empty(len(lines))
    for notes in zip(*lines):
        memory = memory.after(("cantus",), np.array(notes)[:, None])
    return memory


def test_a_voice_that_turns_back_goes_back_or_stands_is_counted_so():
    memory = sung([35, 36], [36, 36], [35, 37])
    candidates = np.array([[[35], [36], [37]]] * 3)
    met = memory.occurrences(("cantus",), candidates)
    assert met["turning"].tolist() == [[1, 0, 0], [0, 0, 0], [1, 1, 0]]
    assert met["shuttle"].tolist() == [[1, 0, 0], [0, 0, 0], [1, 0, 0]]
    assert met["standing"].tolist() == [[0, 0, 0], [0, 1, 0], [0, 0, 0]]


def test_coming_up_to_the_highest_note_again_is_counted_and_passing_it_is_not():
    met = sung([38, 35]).occurrences(("cantus",), np.array([[[37], [38], [39]]]))
    assert met["second-peak"].tolist() == [[0, 1, 0]]


def test_a_silent_voice_is_forgotten():
    memory = sung([35, 36]).after((), np.zeros((1, 0), dtype=np.int64))
    assert not memory.pitch.any() and not memory.change.any()


def test_an_inner_voice_recovers_from_a_leap_as_the_highest_does():
    memory = Memory.empty(1)
    for notes in ([38, 30], [38, 33]):
        memory = memory.after(("cantus", "altus"), np.array([notes]))
    met = memory.occurrences(("cantus", "altus"), np.array([[[38, 34], [38, 32]]]))
    assert met["inner-leap"].tolist() == [[1, 0]]


def test_the_first_clean_path_is_chosen_else_the_one_with_fewest_errors():
    faults = {(1,): (0, 2), (2,): (0, 0), (3,): (0, 0)}
    assert chosen(list(faults), faults.get) == (2,)
    faults = {(1,): (1, 0), (2,): (0, 3), (3,): (0, 2)}
    assert chosen(list(faults), faults.get) == (3,)
    faults = {(1,): (2, 1), (2,): (2, 0), (3,): (1, 5)}
    assert chosen(list(faults), faults.get, (2, 0)) == (2,)


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_a_drawn_setting_breaks_no_more_rules_than_the_cheapest(path):
    verset = read(path)
    analysis = analyse(verset)

    def above_a_note(found):
        return sum(f.severity != "note" and not f.allowed for f in found.findings)

    drawn_one, cheapest = realise(verset, analysis), realise(verset, analysis, cheapest=True)
    assert above_a_note(drawn_one) <= above_a_note(cheapest)


FOUR_ENTRIES = """cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2 | {free}
altus C3 | A4/2 D4/4. E4/8 | F4/4 E4/4 D4/2
tenor C4 | D4/2 A3/4. B3/8 | C4/4 B3/4 A3/2
bassus F4 | A3/2 D3/4. E3/8 | F3/4 E3/4 D3/2 | A2/1{4 #} | D3/breve{#}
"""


def test_the_countersubject_comes_back_at_later_entries():
    text = "---\ntitle: x\nverset: {metre: C, signature: none}\n---\n\n```given\n"
    verset = parse(text + FOUR_ENTRIES.replace(" | {free}", "") + "```\n")
    analysis = analyse(verset)
    bare = replace(verset, settings=replace(verset.settings, costs={"countersubject": 0.0}))
    lattice = lattice_of(bare, analysis)
    pattern, *_ = patterns(lattice, drawn(lattice, (*seed_of(verset), 1), HEADS), analysis)
    kept = lattice_of(verset, analysis)
    back = [share_returning(kept, p, pattern, analysis) for p in drawn(kept, seed_of(verset), 12)]
    free = [share_returning(lattice, p, pattern, analysis) for p in drawn(lattice, seed_of(verset), 12)]
    assert np.mean(back) > 0.8 and np.mean(back) > np.mean(free) + 0.2
    assert gaining(lattice, {"countersubject": placed(lattice, pattern, analysis)}).events == lattice.events


def test_a_cost_without_a_price_is_told_by_its_name():
    text = "learned: {leap: [1, 1, 1]}\nby-ear: {}\n"
    with pytest.raises(KeyError, match="recovery"):
        read_prices(text)
    assert set(NAMES) == set(COSTS)


def test_every_step_s_other_ways_come_from_one_lattice_of_the_verset(monkeypatch):
    from builder.counterpoint import alternatives
    from builder.counterpoint.search import realise as room

    made = []
    monkeypatch.setattr(
        room, "lattice_of", lambda *given, **named: made.append(given) or lattice_of(*given, **named)
    )
    verset, analysis = small("three voices")
    first = realise(verset, analysis)
    ways = [alternatives(verset, analysis, 2, within=(start, start + 4)) for start in (0, 4)]
    assert len(made) == 1 and all(w[0] is first for w in ways)
    copy = replace(verset)
    assert [alternatives(copy, analysis, 2, within=(start, start + 4)) for start in (0, 4)] == ways
    assert len(made) == 2
