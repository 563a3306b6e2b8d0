"""What a phrase is worth as a whole: what is counted over it, and how often worthier ones are taken."""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import yaml

from builder.analysis import analyse
from builder.counterpoint.search import phrase_worth
from builder.counterpoint.search.draws import drawn
from builder.counterpoint.search.phrase_worth import FEATURES, drawn_again, read_weights, table, worth
from builder.counterpoint.search.realise import lattice_of
from builder.source import read
from tests.counterpoint.search.test_best_paths import small

FIRST = Path(__file__).parents[3] / "content" / "versets" / "first.md"


def counted(*lines, midi=None):
    """What is counted over one phrase; lines in staff steps, highest first, the given line last."""
    d = np.array([list(zip(*lines))])
    m = d if midi is None else np.array([list(zip(*midi))])
    return dict(zip(FEATURES, table(d, m)[0].tolist()))


LOW = [21, 22, 23, 24, 25, 26, 27]


def test_an_arch_has_one_peak_above_both_ends():
    arch = counted([28, 30, 32, 33, 32, 30, 28], LOW)
    assert arch["one-peak"] == 1 and arch["turns"] == 1 and arch["arc"] > 1.5 and arch["rise"] == 0
    again = counted([28, 33, 32, 33, 32, 30, 28], LOW)
    assert again["one-peak"] == 0 and again["turns"] == 3 and again["returns"] == 2


def test_a_repeated_peak_is_one_peak():
    held = counted([28, 30, 33, 33, 33, 30, 28], LOW)
    assert held["one-peak"] == 1 and held["at-peak"] == 3 and held["stands"] == 1


def test_runs_leaps_and_figures_are_those_of_their_voice():
    found = counted([30, 31, 32, 33, 34, 35, 36], [28, 25, 28, 25, 28, 25, 28], [21] * 7)
    assert found["runs"] == 5 and found["inner-runs"] == 0
    assert found["leaps"] == 0 and found["inner-leaps"] == 6 and found["inner-turns"] == 5
    assert found["figure-again"] == 3
    assert found["over-held"] == 6


def test_voices_are_heard_together():
    up, down = LOW, LOW[::-1]
    found = counted([x + 9 for x in up], [x + 2 for x in down], up)
    assert found["outer-parallel"] == 6 and found["outer-contrary"] == 0
    assert found["pair-contrary"] == 6 and found["all-alike"] == 0
    still = counted([30] * 7, [28] * 7, up)
    assert still["still"] == 6 and still["pair-still"] == 6
    leaving = counted([27, 25, *[25] * 5], LOW, midi=([41, 38, *[38] * 5], [35, 36, *[36] * 5]))
    assert leaving["tritone-leaps"] == 1


def test_weights_and_features_agree():
    learned = dict.fromkeys(FEATURES, 1.0)
    found = read_weights(yaml.safe_dump({"learned": learned, "by-ear": {"turns": -0.5}}))
    assert dict(zip(FEATURES, found)) == {**learned, "turns": 0.5}
    with pytest.raises(KeyError, match="one-peak"):
        read_weights(yaml.safe_dump({"learned": {**learned, "one-peaks": 1.0}, "by-ear": {}}))
    with pytest.raises(KeyError, match="peaks"):
        read_weights(yaml.safe_dump({"learned": learned, "by-ear": {"peaks": 1.0}}))


def test_what_is_worth_more_is_drawn_again_more_often_but_not_always(monkeypatch):
    lattice = lattice_of(*small("four voices"))
    paths = [*dict.fromkeys(drawn(lattice, (1,), 12))]
    values = np.zeros(len(paths))
    values[0] = np.log(len(paths) - 1)
    monkeypatch.setattr(phrase_worth, "worth", lambda lattice, paths: values)
    met = Counter(drawn_again(lattice, paths, (seed,))[0] for seed in range(600))
    # It weighs as much as all others together.
    assert abs(met[paths[0]] - 300) < 5 * 150**0.5
    assert set(drawn_again(lattice, paths, (0,))) == set(paths)


def test_the_worth_of_a_path_is_that_of_its_phrases(monkeypatch):
    verset = read(FIRST)
    lattice = lattice_of(verset, analyse(verset), countersubject=False)
    paths = drawn(lattice, (1,), 6)
    monkeypatch.setattr(phrase_worth, "WEIGHTS", np.array([float(n == "moves") for n in FEATURES]))
    for path, found in zip(paths, worth(lattice, paths)):
        top, total = None, 0
        for i, (event, layer) in enumerate(zip(lattice.events, lattice.layers)):
            joined = i and not lattice.joints[i - 1].silent
            if not joined or layer.shape.upper != lattice.layers[i - 1].shape.upper:
                top, moves, many = None, 0, 0
            if layer.shape.upper and not event.hold and not event.still:
                note = layer.d[lattice.row(i, path[i])][0]
                moves, many, top = moves + (top is not None and note != top), many + 1, note
            last = i + 1 == len(lattice.layers) or lattice.joints[i].silent
            if last or lattice.layers[i + 1].shape.upper != layer.shape.upper:
                total += moves if many >= phrase_worth.SHORTEST else 0
        assert found == total
    assert len(set(worth(lattice, paths).tolist())) > 1
