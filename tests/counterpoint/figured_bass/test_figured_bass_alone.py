"""A figured bass alone: the source names the voices that sound from the start, or its figures are lost."""

from itertools import pairwise

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import SourceErrors, parse, write

FRONT = "---\ntitle: T\nverset:\n  metre: C\n  signature: none\n{more}---\n\n```given\n{given}\n```\n"
BASS = "bassus F4 | C3/2 D3/4{6} E3/4{6} | F3/4 G3/4{4 3} C3/2"


def read(given=BASS, more=""):
    return parse(FRONT.format(given=given, more=more))


def errors(found):
    return [f for f in found.findings if f.severity == "error" and not f.allowed]


def test_figures_above_which_no_voice_sounds_are_told_once_with_what_to_write():
    verset = read()
    (lost,) = errors(realise(verset, analyse(verset)))
    assert lost.rule == "figures-alone" and str(lost.place) == "bar 1, beat 3"
    assert "4 together" in lost.message and "voices" in lost.mend


@pytest.mark.parametrize("voices", [("cantus",), ("cantus", "altus"), ("cantus", "altus", "tenor")])
def test_the_voices_named_sound_from_the_first_note_to_the_last(voices):
    verset = read(more=f"  voices: [{', '.join(voices)}]\n")
    found = realise(verset, analyse(verset))
    assert errors(found) == []
    assert [p.voice for p in found.score.parts] == [*voices, "bassus"]
    for part in found.score.parts:
        notes = part.sounding()
        assert notes[0].onset == 0 and notes[-1].end == 8
        assert all(a.end == b.onset for a, b in pairwise(notes))
    held = [p.at(5).pitch.letter for p in found.score.parts]
    assert "C" in held and "B" not in held


def test_a_voice_from_the_start_may_take_the_line_later():
    given = "bassus F4 | C3/2 D3/4{6} E3/4{6} | F3/4 G3/4{4 3} C3/2\ntenor C4 | C4/2 B3/2{6} | C4/1"
    verset = read(given, "  voices: [cantus, tenor]\n")
    found = realise(verset, analyse(verset))
    assert errors(found) == []
    assert found.score.part("tenor").sounding()[0].onset == 0


def test_the_key_is_written_back_and_what_cannot_sound_is_told():
    verset = read(more="  voices: tenor\n")
    assert parse(write(verset)).from_start == ("tenor",)
    with pytest.raises(SourceErrors) as told:
        read("tenor C4 | C4/1 | C4/1", "  voices: [cantus, bassus]\n")
    assert (
        "6:11: found the bassus from the start, below the given line; expected voices above the tenor"
        in str(told.value)
    )
    with pytest.raises(SourceErrors, match='the voice "sopran"'):
        read(more="  voices: [sopran]\n")


def test_voices_from_the_start_may_be_pinned():
    blocks = "\n```plain\ncantus 1 | E5/2 D5/4 C5/4\n```\n"
    text = FRONT.format(given=BASS, more="  voices: [cantus, altus]\n")
    verset = parse(text + blocks)
    found = realise(verset, analyse(verset))
    assert [n.pitch.name for n in found.score.part("cantus").sounding()][:3] == ["E5", "D5", "C5"]
    with pytest.raises(SourceErrors, match="before it has entered"):
        parse(FRONT.format(given=BASS, more="") + blocks)
