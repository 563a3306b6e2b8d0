"""How a formula of a close is set in place of the note before it: voices by hand."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest
from diminution.by_hand import woven

from builder.diminution.closes import Close, closes, formulas, table
from builder.diminution.stillness import Still


def into(kind: str, line: str, level: int = 3) -> list[Any]:
    weave = woven(("cantus", line), ("bassus", "A2:2 D3:6"))
    tone, after = weave.tones[0][:2]
    return [*formulas(weave, Close(kind, 0, tone, after), level, Random(1))]


@pytest.mark.parametrize(
    ("kind", "line", "move"),
    [("cantizans", "C#5:2 D5:6", 1), ("tenorizans", "E5:2 D5:6", -1), ("altizans", "A4:2 A4:6", 0)],
)
def test_a_half_note_takes_every_formula_of_its_clausula_that_is_no_longer(
    kind: str, line: str, move: int
) -> None:
    found = into(kind, line)
    rows = table(kind, move)
    assert len(found) == len(rows[4]) + len(rows[8])
    for change in found:
        assert (change.voice, change.start, change.end) == (0, 0, 8)
        tones = change.tones
        assert tones[0].start == 0 and tones[-1].end == 8
        assert all(a.end == b.start for a, b in pairwise(tones))
        steps = tuple(t.d - tones[0].d for t in tones)
        onsets = [t.start for t in tones]
        shorter = {tuple(s for _, s in f): f for length in (4, 8) for f in rows[length]}
        assert steps in shorter
        # A formula of a quarter waits for the second one.
        assert onsets[0] == 0 and all(t >= 0 for t in onsets)
        assert any(
            [0, *(t + 8 - length for t, _ in f[1:])] == onsets
            for length in (4, 8)
            for f in rows[length]
            if tuple(s for _, s in f) == steps
        )
    assert len({change.tones for change in found}) > 8


def test_at_the_second_level_two_sixteenths_are_enough() -> None:
    two, three = into("cantizans", "C#5:2 D5:6", 2), into("cantizans", "C#5:2 D5:6", 3)
    assert 0 < len(two) < len(three)
    for change in two:
        assert sum(t.end - t.start < 2 for t in change.tones) <= 2


def test_the_leading_note_keeps_its_sharp_and_what_is_below_it_stands_a_tone_lower() -> None:
    keys = {(t.d, t.m) for change in into("cantizans", "C#5:2 D5:6") for t in change.tones}
    assert {m for d, m in keys if d == 35} == {73}  # C sharp
    assert {m for d, m in keys if d == 36} == {74}  # the final
    assert {m for d, m in keys if d == 34} == {71}  # B natural
    flat = woven(("cantus", "C#5:2 D5:6"), ("bassus", "A2:2 D3:6"), flat=True)
    below = {
        t.m
        for change in formulas(flat, Close("cantizans", 0, *flat.tones[0][:2]), 3, Random(1))
        for t in change.tones
        if t.d == 34
    }
    assert below == {71}  # not the B flat of the signature: no augmented second


def test_a_note_too_long_for_any_formula_has_none() -> None:
    assert into("cantizans", "C#5:8 D5:1") == []


def test_each_voice_has_its_clausula_at_a_cadence() -> None:
    """The leading note rises, the second degree falls, the fifth leaps to the final; the altizans stays."""
    weave = woven(
        ("cantus", "C#5:2 D5:6"), ("altus", "A4:2 A4:6"), ("tenor", "E4:2 D4:6"), ("bassus", "A2:2 D3:6")
    )

    def found(kind: str = "composta", given: int = -1, line: bool = True, still: Any = None) -> list[str]:
        cadences = [SimpleNamespace(onset=Fraction(2), degree="D", kind=kind)]
        analysis: Any = SimpleNamespace(cadences=cadences)
        (row,) = closes(weave, analysis, [given] * weave.size, still or Still(weave), line)
        return [f"{close.voice} {close.kind}" for close in row]

    assert found() == ["0 cantizans", "1 altizans", "2 tenorizans", "3 bassizans"]
    assert found(given=3, line=False) == ["0 cantizans", "1 altizans", "2 tenorizans"]
    assert found(given=3) == found()
    kept = Still(weave)
    kept.mark(1, 0, 4)
    assert found(still=kept) == ["0 cantizans", "2 tenorizans", "3 bassizans"]
    late: Any = SimpleNamespace(cadences=[SimpleNamespace(onset=Fraction(3), degree="D", kind="composta")])
    assert closes(weave, late, [-1] * weave.size, Still(weave), True) == [[]]
