"""A note set by hand frees no other voice from what the figures ask."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import Pin, parse, read

CONTENT = sorted(Path(__file__).parents[3].glob("content/versets/*.md"))
HEAD = "---\ntitle: Test\nverset: {{metre: C, signature: none}}\n---\n\n"
BLOCKS = "```given\n{given}\n```\n\n```plain\n{plain}\n```\n"


def with_own(verset, found, voice):
    """The same verset with a voice of its own setting pinned."""
    given = [g.note for g in verset.given if g.voice == voice and g.note.pitch is not None]
    notes = (
        n for n in found.score.part(voice).sounding() if not any(g.onset <= n.onset < g.end for g in given)
    )
    return replace(verset, pins=(*verset.pins, Pin("plain", voice, tuple(notes))))


def told(found):
    """What is found above a note: the other voices are drawn anew, and a note is no fault."""
    return Counter((f.rule, f.severity) for f in found.findings if not f.allowed and f.severity != "note")


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_its_own_cantus_pinned_costs_the_others_nothing(path):
    verset = read(path)
    found = realise(verset, analyse(verset))
    pinned = with_own(verset, found, "cantus")
    again = realise(pinned, analyse(pinned))
    assert told(again) - told(found) == Counter()
    assert again.score.part("cantus").sounding() == found.score.part("cantus").sounding()


def pinned(given, plain):
    verset = parse(HEAD.format() + BLOCKS.format(given=given, plain=plain))
    return realise(verset, analyse(verset))


FOUR = "cantus C1 | D5/1\naltus C3 | A4/1\ntenor C4 | F4/1\nbassus F4 | {}"


def test_the_others_sound_what_the_figure_writes_beside_a_pin():
    found = pinned(
        FOUR.format("D3/2 F3/2{7 6} | E3/2{6} C3/2 | D3/1"), "cantus 4 | D5/2 A4/2 | G4/2 G4/2 | F4/1"
    )
    assert "figure-not-sounded" not in {f.rule for f in found.findings}
    assert [p.letter for _, p in next(s for s in found.sonorities if s.onset == 14).voices].count("E") == 1


def test_where_a_pin_leaves_no_voice_for_a_figure_the_place_is_told_and_the_rest_sounds():
    found = pinned(
        "cantus C1 | D5/1\naltus C3 | A4/1\nbassus F4 | D3/2 E3/2{6/5} | F3/1", "cantus 3 | F5/2 E5/2 | F5/1"
    )
    (lack,) = [f for f in found.findings if f.rule == "figure-not-sounded"]
    assert str(lack.place) == "bar 3, beat 3"
    assert {p.letter for _, p in next(s for s in found.sonorities if s.bass.name == "E3").voices} & {"C", "B"}
