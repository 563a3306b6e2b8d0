"""What few voices may leave out, and how far they may go: at a price, never an impasse."""

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.counterpoint.figured_bass.sonority import read_figure
from builder.counterpoint.search.costs import Weights
from builder.counterpoint.search.shape import Shape
from builder.counterpoint.search.voicing import voicings
from builder.music import FigureSign, Pitch, Signature
from builder.source import SourceErrors, parse

HEAD = "---\ntitle: Test\nverset:\n  metre: C\n  signature: none\n{more}---\n\n```given\n{given}\n```\n"


def source(given, more=""):
    return parse(HEAD.format(given=given, more=more))


def setting(given, more=""):
    verset = source(given, more)
    return realise(verset, analyse(verset))


def errors(found):
    return [f for f in found.findings if f.severity == "error" and not f.allowed]


def over(bass, upper, figure=()):
    """The voicings over a note, as sets of numbers, with what leaving out costs in each."""
    signs = tuple(FigureSign(n) for n in figure)
    shape = Shape(Pitch.parse(bass), "bassus", upper, (read_figure(Pitch.parse(bass), signs, Signature()),))
    found = voicings(shape, Weights.of({}))
    return list(zip((set(row) for row in found.number.tolist()), found.parts["incomplete"].tolist()))


THREE, FOUR = ("cantus", "tenor"), ("cantus", "altus", "tenor")


@pytest.mark.parametrize(
    ("figure", "sung"),
    [
        ((), {5, 8}),
        ((), {3, 8}),
        ((6,), {6, 8}),
        ((7,), {5, 7}),
        ((7,), {7, 8}),
        ((4,), {4, 8}),
        ((9,), {5, 9}),
    ],
)
def test_three_voices_may_leave_out_the_third_or_the_fifth_but_never_what_the_figure_writes(figure, sung):
    """Palestrina in music21's corpus (a sixteenth of the movements): 17 % of his voicings in three voices
    leave out a third that the full sonority has."""
    found = over("C3", THREE, figure)
    assert sung in [numbers for numbers, _ in found]
    assert all(set(figure) <= numbers for numbers, _ in found)
    without = min(cost for numbers, cost in found if numbers == sung)
    full = {3, *(figure or (5,))}
    if 3 not in sung and full in [numbers for numbers, _ in found]:
        assert without > min(cost for numbers, cost in found if numbers == full)


def test_four_voices_keep_the_third():
    assert all(3 in numbers for numbers, _ in over("C3", FOUR))
    assert all({3, 6} <= numbers for numbers, _ in over("E3", FOUR, (6,)))


def test_two_upper_voices_may_stand_further_apart_than_an_octave():
    shape = Shape(Pitch.parse("C3"), "bassus", THREE, (read_figure(Pitch.parse("C3"), (), Signature()),))
    gaps = [high - low for high, low in voicings(shape, Weights.of({})).d.tolist()]
    assert max(gaps) == 9


def test_a_bass_may_close_on_the_lowest_key_of_the_organ():
    found = setting("cantus C1 | C5/1\nbassus F4 | C3/2 G2/2{#} | C2/1".replace("{#}", ""))
    assert found.score.part("bassus").sounding()[-1].pitch.name == "C2"
    assert errors(found) == []


def test_a_note_off_its_stave_wants_a_licence_and_has_it_then():
    given = "cantus C1 | C5/1 | E5/2 A5/2 | G5/1"
    with pytest.raises(SourceErrors, match="licence for the rule compass"):
        source(given)
    more = '  allow:\n    - {rule: compass, bar: 2, because: "the organ has it"}\n'
    assert source(given, more).given[2].note.pitch.name == "A5"


def test_where_no_voice_fits_within_its_compass_it_goes_beyond_and_the_report_says_so():
    more = '  allow:\n    - {rule: compass, bar: 4, voices: [bassus], because: "a high verset"}\n'
    given = "cantus C1 | E5/1\naltus C2 | C5/1\ntenor C3 | G4/1\nbassus C4 | B4/2{6} E4/2 | E4/1"
    found = setting(given, more)
    assert "no-way" not in {f.rule for f in found.findings}
    assert "compass" in {f.rule for f in errors(found)}
    assert all(len(s.voices) == 4 for s in found.sonorities if s.bass.name == "B4")
