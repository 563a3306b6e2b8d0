"""The tables of patterns, ours and a course's own."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from builder.diminution import diminutions, load_tables, patterns, shown
from builder.diminution.pattern import DIVIDED, INTERVALS, WHERE
from builder.music import Pitch, notated
from builder.source import SourceErrors


def test_there_are_more_than_250_shapes_each_written_once() -> None:
    shapes = {(p.interval, p.steps, tuple(n / p.value for n in p.lengths)) for p in patterns()}
    assert len(shapes) >= 250
    written = Counter((p.figure, p.interval, p.steps, p.lengths) for p in patterns())
    assert max(written.values()) == 1
    assert len({p.id for p in patterns()}) == len(patterns())


@pytest.mark.parametrize("interval", [i for i in INTERVALS if i != "any"])
@pytest.mark.parametrize("value", ["breve", "whole", "half", "quarter"])
def test_every_interval_and_value_has_several_patterns(interval: str, value: str) -> None:
    found = [p for p in patterns() if p.interval == INTERVALS[interval] and p.value == DIVIDED[value]]
    assert len(found) >= 2


def test_the_figures_of_the_trade_are_there() -> None:
    names = {p.figure for p in patterns()}
    assert {"minuta", "groppo", "tremolo", "accento", "clamatione"} <= names


def test_every_pattern_says_what_a_teacher_asks() -> None:
    for p in patterns():
        assert p.source and p.character and p.figure and p.density in (1, 2, 3)
        assert p.where and set(p.where) <= set(WHERE)
        assert sum(p.lengths) == p.value


def test_patterns_reach_the_next_plain_note_by_step_or_by_a_small_leap() -> None:
    """Common practice, no source: the last note steps into the next; a broken chord may leap, and the
    accento falls a third from the note it touched."""
    for p in patterns():
        if p.interval is None:
            continue
        gap = abs(p.interval - p.steps[-1])
        assert gap <= 1 or p.figure in ("broken", "accento"), p.id


def test_a_pattern_shows_itself_on_given_notes() -> None:
    turn = next(p for p in patterns() if p.id == "second-up-turn-1/half")
    assert [str(n.pitch) for n in turn.example(Pitch.parse("D5"))] == ["D5", "C5", "D5", "E5"]


@pytest.mark.parametrize(
    ("figure", "steps"),
    [
        # G. Diruta, Il Transilvano (1593), from memory: the groppo shakes with the upper note and turns
        # below before it closes; the tremolo shakes half the note's value; the clamatione rises
        # from the third below.
        ("groppo", (0, 1, 0, 1, 0, -1, 0)),
        ("tremolo", (0, 1, 0, 1, 0)),
        ("clamatione", (-2, -1, 0)),
        # D. Ortiz (1553), in his manner, from memory: through the upper third and back to a second up.
        ("minuta", (0, 2, 1, 0)),
        # S. Ganassi (1535), in his manner, from memory: broken thirds up a fifth.
        ("minuta", (0, 2, 1, 3, 2, 4, 3, 5)),
        # G. Bassano (1585), in his manner, from memory: down a fifth and up again to the second above.
        ("minuta", (0, -1, -2, -3, -4, -2, -1, 0)),
        # R. Rognoni (1592), in his manner, from memory: over the unison's third, in a third up.
        ("minuta", (0, 1, 2, 1, 0, -1, 0, 1)),
    ],
)
def test_patterns_that_treatises_teach_are_in_the_tables(figure: str, steps: tuple[int, ...]) -> None:
    found = [p for p in patterns() if p.figure == figure and p.steps == steps]
    assert any("memory" in p.source for p in found)


def test_the_tremolo_takes_half_of_the_value() -> None:
    """G. Diruta, from memory."""
    tremolo = next(p for p in patterns() if p.id == "any-tremolo-1/half")
    assert tremolo.lengths[-1] == tremolo.value / 2


COURSE = """\
interval: second up
patterns:
  - {id: mine-1, figure: slide, notes: 0/4. 1/8, character: plain, source: our own}
"""


def test_a_course_adds_a_table(tmp_path: Path, plain) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "mine.yaml"
    path.write_text(COURSE)
    (mine,) = load_tables([path], taken=[p.id for p in patterns()])
    assert (mine.id, mine.figure, mine.interval) == ("mine-1/half", "slide", 1)
    used = {
        c.pattern for d in diminutions(*plain("fourth"), up_to=2, tables=[mine]).values() for c in d.choices
    }
    assert used == {"", "mine-1/half"}


BAD = """\
interval: third up
patterns:
  - {id: a, figure: x, notes: 0/4 z/4, character: plain, source: our own}
  - {id: a, figure: x, notes: 0/4 1/4, character: plain}
  - {id: c, figure: x, notes: 0/4 1/8, character: plain, source: us, colour: red}
  - {id: d, figure: x, notes: 0/4 1/4 2/8, character: plain, source: us}
  - {id: e, figure: x, notes: 1/4 2/4, character: plain, source: us, where: [end], density: 7}
---
interval: eleventh up
patterns: []
"""


def test_a_bad_table_gets_all_its_errors_with_file_and_line(tmp_path: Path) -> None:
    bad, broken, missing = tmp_path / "bad.yaml", tmp_path / "broken.yaml", tmp_path / "missing.yaml"
    bad.write_text(BAD)
    broken.write_text("interval: [third up\n")
    with pytest.raises(SourceErrors) as caught:
        load_tables([bad, broken, missing])
    errors = caught.value.errors
    found = [(Path(e.path).name, e.line, e.found) for e in errors]
    assert ("bad.yaml", 3, "'z/4' is not a staff step and value such as 0/4, -1/8 or 2") in found
    assert ("bad.yaml", 4, "the id 'a' again") in found
    assert ("bad.yaml", 4, "no 'source'") in found
    assert ("bad.yaml", 5, "the key 'colour'") in found
    lines = {(name, line) for name, line, _ in found}
    assert {("bad.yaml", n) for n in (3, 4, 5, 6, 7, 9)} <= lines
    assert sum(1 for name, line, _ in found if (name, line) == ("bad.yaml", 7)) == 3
    assert any(name == "broken.yaml" for name, _ in lines) and ("missing.yaml", 1) in lines
    assert all(e.text for e in errors if Path(e.path).name == "bad.yaml")


def test_a_shape_squeezed_below_a_32nd_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "quick.yaml"
    path.write_text(
        COURSE.replace("0/4. 1/8", "0/16 1 2 1 0 1 2 1").replace("source", "also: [quarter], source")
    )
    assert len(load_tables([path])) == 2
    path.write_text(COURSE.replace("0/4. 1/8", "0/16 1 2 1 0 1 2/32 1 2 1, also: [quarter]"))
    with pytest.raises(SourceErrors, match="shorter than a 32nd"):
        load_tables([path])


def test_every_pattern_can_be_shown_on_one_stave() -> None:
    """Within the treble stave and two ledger lines either way, plain notes beside it."""
    for pattern in patterns():
        score = shown(pattern)
        heard = [n.pitch.diatonic for n in score.part("cantus").notes if n.pitch]
        assert min(heard) >= Pitch.parse("A3").diatonic and max(heard) <= Pitch.parse("C6").diatonic
        assert notated(score).part("cantus").notes[-1].end == score.end
        assert len(score.part("altus").notes) == 2
