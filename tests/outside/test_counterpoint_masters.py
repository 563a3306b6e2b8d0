"""Basses of Palestrina and Bach (music21's corpus) with the figures that their own voices imply.

A sample of what `tests/worth/lawful.py` measures on whole halves of the lists; even places only.
"""

import sys
from fractions import Fraction
from pathlib import Path

import pytest

music21 = pytest.importorskip("music21")
sys.path.insert(0, str(Path(__file__).parents[1] / "worth"))

from lawful import chorale, chorale_scores, chorales, palestrina, pinned  # noqa: E402
from passages import halved, passages, spelled_out  # noqa: E402

from builder.analysis import analyse  # noqa: E402
from builder.counterpoint import realise  # noqa: E402
from builder.counterpoint.check.musicxml import from_music21  # noqa: E402
from builder.music import FigureSign, Note, Pitch  # noqa: E402
from builder.source import parse  # noqa: E402


@pytest.fixture(scope="module")
def some():
    return list(chorale_scores(odd=False, most=3))


def test_in_chorales_no_written_figure_lacks_and_no_accidental_is_another_than_the_composer_s(some):
    found = chorales(some)
    assert found["bass notes"] > 150
    assert found["not sounded"] == found["errors"] == 0
    assert found["other accidental"] <= found["bass notes"] / 100


def test_where_moving_voices_do_not_help_the_rules_give_way_and_it_is_told():
    """In this chorale no voice finds a way though all may move over a held bass note."""
    score = from_music21(music21.corpus.parse("bach/bwv381"), "bwv381")
    verset, _ = chorale("bwv381", score)
    assert "no-way" in [f.rule for f in realise(verset, analyse(verset)).findings]


def test_our_own_cantus_set_by_hand_brings_no_more_findings(some):
    found = pinned(chorale(*each)[0] for each in some[:2])
    assert found["versets"] == 2 and found["with more findings"] == 0


def test_voicings_of_palestrina_over_his_own_basses_can_be_built():
    path = next(p for p in music21.corpus.getComposer("palestrina")[::2] if p.name == "Agnus_I_59.krn")
    found = palestrina(passages(path.name, halved(from_music21(music21.corpus.parse(path), path.name)), 4))
    assert found["voicings"] > 100
    assert found["not buildable"] < 0.08 * found["voicings"]


def test_what_the_reader_would_alter_otherwise_is_written_out():
    """An F sharp of the bass is in force a bar later, where the voice above has F: the figure says so."""
    front = "---\ntitle: T\nverset:\n  metre: C\n  signature: none\n---\n\n```given\n"
    verset = parse(f"{front}cantus C1 | A4/1\nbassus F4 | F#3/1 | D3/1 | G3/1\n```\n")
    line = [Note(Fraction(4 * n), Fraction(4), Pitch.parse(p)) for n, p in ((1, "A4"), (2, "F4"), (3, "B4"))]
    written = spelled_out(verset, [line], Fraction(4))
    assert [g.figures[0].signs for g in written.given if g.note.onset == 8] == [(FigureSign(3, "n"),)]
    assert analyse(written).final == "G"
