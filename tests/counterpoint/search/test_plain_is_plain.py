"""Plain is note against note: suspensions, and what the given line and its figures ask for, nothing more."""

from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import parse, read

CONTENT = sorted(Path(__file__).parents[3].glob("content/versets/*.md"))
HEAD = "---\ntitle: Test\nverset: {{metre: {metre}, signature: none}}\n---\n\n```given\n{given}\n```\n"
DISSONANT = {2, 4, 7, 9}


def busy(verset):
    """Given notes over which an upper voice has more attacks than the note has figures (one where none); one
    more where the next figure must be prepared."""
    found = realise(verset, analyse(verset))
    given = [g for g in verset.given if g.note.pitch is not None]
    for g, after in zip(given, [*given[1:], None]):
        asked = max(1, len(g.figures))
        prepares = after is not None and any(
            s.number in DISSONANT for f in after.figures[:1] for s in f.signs
        )
        for part in found.score.parts:
            if part.voice == g.voice:
                continue
            struck = [n for n in part.sounding() if g.note.onset <= n.onset < g.note.end]
            if len(struck) > asked + prepares:
                yield f"{part.voice} has {len(struck)} notes over {g.note.pitch} at {g.note.onset}"


@pytest.mark.parametrize("path", CONTENT, ids=lambda p: p.stem)
def test_the_versets_of_the_course_are_plain(path):
    assert list(busy(read(path))) == []


@pytest.mark.parametrize(
    ("metre", "given"),
    [
        ("3/2", "cantus C1 | D5/1.\ntenor C4 | D4/2 C4/2 B3/2 | A3/2 B3/2 C4/2 | D4/1."),
        ("3/2", "cantus C1 | D5/1.\ntenor C4 | D4/1 F4/2 | E4/1{6} D4/2 | D4/1."),
        ("C", "cantus C1 | A4/1\nbassus F4 | A3/2 G3/2 | F3/1 | C3/1 | D3/1"),
        ("C", "cantus C1 | A4/1\naltus C3 | D4/1\nbassus F4 | A3/2 G3/2 | F3/1 | C3/1 | D3/1"),
    ],
)
def test_no_upper_voice_moves_more_than_the_line(metre, given):
    assert list(busy(parse(HEAD.format(metre=metre, given=given)))) == []
