"""A note set by hand frees no other voice from what the figures ask."""

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


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_what_our_own_setting_has_set_by_hand_changes_nothing(path):
    """A teacher keeps a voice, or its second half, as it is: every other voice stays as it was."""
    verset = read(path)
    found = realise(verset, analyse(verset))
    for part in found.score.parts[:-1]:
        pinned = with_own(verset, found, part.voice)
        for start in (0, verset.end / 2):
            pin = pinned.pins[-1]
            kept = replace(pin, notes=tuple(n for n in pin.notes if n.onset >= start))
            if not kept.notes:
                continue
            again = realise(replace(verset, pins=(*verset.pins, kept)), analyse(verset))
            assert [p.sounding() for p in again.score.parts] == [p.sounding() for p in found.score.parts]
            assert [(f.rule, f.onset) for f in again.findings] == [(f.rule, f.onset) for f in found.findings]


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
