"""A score of which some notes have changed is judged as far as the change reaches; no finding is lost."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from course import course_setting

from builder.analysis import analyse
from builder.counterpoint.check.judge import Broken, Checked, Judge
from builder.music import Note, Part, Pitch, Score, Version
from builder.setting.setting import Setting
from builder.source import parse

MANY = 600 if os.environ.get("VERSET_MANY") else 24
VERSETS = sorted((Path(__file__).parents[3] / "content" / "versets").glob("*.md"))


@pytest.fixture(scope="module", params=VERSETS, ids=lambda p: p.stem)
def setting(request: pytest.FixtureRequest) -> Setting:
    return course_setting(request.param.stem)


def change(score: Score, dice: random.Random) -> tuple[Score, Fraction, Fraction, str]:
    """The score with some notes of one voice moved, broken in two, silenced or run together; from when
    to when, and in which voice."""
    part = dice.choice([p for p in score.parts if any(n.pitch for n in p.notes)])
    notes = part.sounding()
    first = dice.randrange(len(notes))
    last = min(len(notes), first + dice.randint(1, 4))
    new = tuple(_changed(notes[first:last], dice))
    voice = Part(part.voice, (*notes[:first], *new, *notes[last:]))
    parts = tuple(voice if p is part else p for p in score.parts)
    return replace(score, parts=parts), notes[first].onset, notes[last - 1].end, part.voice


def _changed(notes: Sequence[Note], dice: random.Random) -> Iterator[Note]:
    way = dice.choice(("move", "break", "rest", "join"))
    if way == "join":
        yield replace(notes[0], duration=notes[-1].end - notes[0].onset)
        return
    for note in notes:
        assert note.pitch
        other = Pitch(note.pitch.diatonic + dice.randint(-3, 3), dice.choice((0, 0, 0, 1, -1)))
        if way == "move":
            yield replace(note, pitch=other)
        elif way == "break":
            half = note.duration / 2
            yield replace(note, duration=half)
            yield replace(note, onset=note.onset + half, duration=half, pitch=other)
        elif dice.random() < 0.5:
            yield note


def test_a_change_is_judged_as_far_as_it_reaches_and_no_finding_is_lost(setting: Setting) -> None:
    dice = random.Random(setting.verset.name)
    judge = Judge(setting.verset, setting.analysis)
    for version in ("plain", "diminished"):
        checked = judge.check(setting.scores[version])
        for _ in range(MANY):
            score, start, end, voice = change(checked.score, dice)
            then = checked.changed(score, start, end, [voice])
            assert then.findings == judge.check(score).findings, (version, voice, start, end)
            assert checked.changed(score, start, end).findings == then.findings
            # Some changes stay, so that the score grows stranger; not so many that nothing is left of it.
            checked = then if dice.random() < 0.2 else checked


def test_many_changes_made_alone_are_told_as_each_would_be(setting: Setting) -> None:
    """Though several are made at once, where no finding may be due to two."""
    dice = random.Random(f"{setting.verset.name} many")
    judge, plain = Judge(setting.verset, setting.analysis), setting.scores["plain"]
    plain = replace(plain, parts=tuple(Part(p.voice, p.sounding()) for p in plain.parts))
    changes = []
    for part in plain.parts:
        for note in part.notes:
            assert note.pitch
            half = replace(note, duration=note.duration / 2)
            other = Pitch(note.pitch.diatonic + dice.randint(-2, 2))
            then = replace(half, onset=note.onset + half.duration, pitch=other)
            changes.append(Broken(part.voice, note.onset, note.end, (half, then)))
    several = []

    def told(self: Judge, score: Score) -> Checked:
        several.append(sum(a != b for a, b in zip(score.parts, plain.parts)))
        return check(self, score)

    check, Judge.check = Judge.check, told  # type: ignore[method-assign]
    try:
        found = judge.each(plain, changes)
    finally:
        Judge.check = check  # type: ignore[method-assign]
    assert len(several) < len(changes)
    for change_, findings in zip(changes, found, strict=True):
        part = plain.part(change_.voice)
        notes = [n for n in part.notes if n.onset != change_.start] + [*change_.notes]
        own = Part(part.voice, tuple(sorted(notes, key=lambda n: n.onset)))
        score = replace(plain, parts=tuple(own if p is part else p for p in plain.parts))
        alone = judge.between(score, change_.start, change_.end, [part.voice], before=plain)
        assert findings == alone.findings, change_


def test_what_a_stretch_holds_is_found_in_a_part_of_the_time(setting: Setting) -> None:
    score = setting.scores["diminished"]
    judge = Judge(setting.verset, setting.analysis)
    found = judge.between(score, score.bars[2].onset, score.bars[2].end)
    assert found.start <= score.bars[2].onset and score.bars[2].end <= found.end
    assert found.findings == tuple(
        f for f in judge.check(score).findings if found.start <= f.onset < found.end
    )


def test_figures_without_a_voice_are_told_once_where_their_stretch_begins() -> None:
    verset = parse(
        "---\ntitle: a\nverset: {metre: C, signature: none}\n---\n\n```given\n"
        "bassus F4 | C3/2 E3/2{6} | F3/2{6} G3/2{6} | A3/2{6} G3/2 | C3/1\n```\n"
    )
    notes = tuple(g.note for g in verset.given)
    score = Score("", Version.PLAIN, verset.metre, verset.signature, verset.bars, (Part("bassus", notes),))
    judge = Judge(verset, analyse(verset))
    checked = judge.check(score)
    assert [(f.rule, f.onset) for f in checked.findings if f.rule == "figures-alone"] == [
        ("figures-alone", 2)
    ]
    for n, note in enumerate(notes[1:-1], 1):
        other = replace(note, pitch=Pitch(note.pitch.diatonic + 1)) if note.pitch else note
        part = Part("bassus", (*notes[:n], other, *notes[n + 1 :]))
        then = replace(score, parts=(part,))
        assert checked.changed(then, note.onset, note.end).findings == judge.check(then).findings, n
