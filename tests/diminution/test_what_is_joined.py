"""A change is made only to the notes that it was drawn for, and joins them as a voice may sing."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import Any

import pytest

from builder.analysis import Analysis
from builder.counterpoint import Finding, Realisation
from builder.diminution.draw import LEGAL, Style
from builder.diminution.gate import Gate
from builder.diminution.harmony import harmony, natural
from builder.diminution.lines import Lines
from builder.diminution.search import Search, unsung
from builder.diminution.stillness import Still
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone, Weave, given_voices
from builder.music import QUARTER_COMMA
from builder.source import Verset

Plain = Callable[[str], tuple[Verset, Analysis, Realisation]]


@pytest.fixture
def search(plain: Plain) -> Search:
    verset, analysis, realisation = plain("first")
    weave = Weave(realisation.score)
    gate = Gate(verset, analysis, realisation, QUARTER_COMMA)
    asked = harmony(weave, gate.judge.cut)
    return Search(weave, asked, gate, given_voices(weave, verset), lambda _: 0.0, Random(1))


def test_an_error_of_the_plain_setting_may_come_elsewhere_in_its_bar_but_not_twice(plain: Plain) -> None:
    verset, analysis, realisation = plain("first")

    def high(onset: int) -> Finding:
        when = Fraction(onset)
        return Finding("compass", "error", when, verset.place(when), ("cantus",), "too high")

    first, later, next_bar = high(8), high(10), high(12)
    old = replace(realisation, findings=(*realisation.findings, first))
    gate = Gate(verset, analysis, old, QUARTER_COMMA)
    assert gate.new_errors([first]) == gate.new_errors([later]) == []
    assert gate.new_errors([later, first]) == [later]
    assert gate.new_errors([first, next_bar]) == [next_bar]
    assert gate.new_errors([first, replace(first, voices=("altus",))])
    assert (
        gate.new_errors([first, replace(later, reason="allowed"), replace(later, severity="warning")]) == []
    )


def divided(tone: Tone, d: int) -> Change:
    """A note of the highest voice goes to another in its second half."""
    half = (tone.start + tone.end) // 2
    return Change(
        0,
        tone.start,
        tone.end,
        (tone._replace(end=half), Tone(half, tone.end, d, natural(d))),
    )


def before(search: Search, d: int) -> Tone:
    """The first C5 of two quarters in the highest voice that goes to a note on another step."""
    row = search.weave.tones[0]
    return next(
        a for a, b in itertools.pairwise(row) if (a.d, a.end - a.start, b.d) == (35, 2 * search.weave.unit, d)
    )


def kept(search: Search) -> list[list[Tone]]:
    return [list(row) for row in search.weave.tones]


def test_a_note_that_goes_on_by_a_diminished_fifth_is_not_set_in(search: Search) -> None:
    """C5 F5, with B4 before the F5: the check would only warn of it."""
    old, tone = kept(search), before(search, 38)
    assert not search.offer([divided(tone, 34)], 0.0, gain=1e6, at_once=True)
    assert kept(search) == old
    # D5 before the F5 goes on by a third.
    assert search.offer([divided(tone, 36)], 0.0, gain=1e6, at_once=True)
    assert kept(search) != old


def test_what_may_not_be_sung_is_looked_for_at_both_ends(search: Search) -> None:
    weave, tone = search.weave, before(search, 38)
    change = divided(tone, 34)
    weave.apply(change)
    b, f = change.tones[1], weave.tones[0][weave.place(0, tone.end)]
    assert (f.d - b.d, f.m - b.m) == (4, 6) not in LEGAL
    for start, end in ((tone.start, tone.end), (tone.end, tone.end + 1), (b.start, tone.end)):
        assert unsung(weave, 0, start, end) == [(b, f)]
    assert unsung(weave, 0, 0, tone.start) == [] == unsung(weave, 1, 0, weave.size)


def test_what_was_drawn_for_notes_that_are_taken_back_is_not_made(
    search: Search, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, change = kept(search), divided(before(search, 38), 36)
    monkeypatch.setattr(search, "settle", lambda: 1)
    assert not search.offer([change], 0.0, gain=1e6, at_once=True)
    assert kept(search) == old
    monkeypatch.setattr(search, "settle", lambda: 0)
    assert search.offer([change], 0.0, gain=1e6, at_once=True)


def test_nothing_is_drawn_while_as_many_wait_as_are_checked_together(search: Search) -> None:
    """The loop puts them to the check first; each proposal finds only notes that have passed it, or fewer
    than eight that wait."""
    weave = search.weave
    lines = Lines(search, Still(weave), Words((), 1, Fraction(1, 2)), Style())
    seen: list[int] = []

    def same() -> list[Any]:
        seen.append(len(search.pending))
        row = weave.tones[0]
        return [Change(0, row[5].start, row[6].start, (row[5],))]

    lines.loop(5, 1.0, 0.5, [same])
    assert max(seen) == 7 and len(seen) > 40
