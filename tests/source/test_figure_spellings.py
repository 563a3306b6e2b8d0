"""Figures as old and new prints spell them: each is read, or refused with its meaning asked."""

import pytest

from builder.music import FigureSign
from builder.source import SourceErrors, parse, write
from builder.source.stacks import read_groups

FRONT = "---\ntitle: T\nverset: {metre: C, signature: none}\n---\n```given\nbassus F4 | %s\n```\n"


def read(text):
    groups, faults = read_groups(text, 1)
    assert not faults, faults
    return [[str(s) for s in g.signs] or ["-"] for g in groups]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("4+", [["#4"]]),
        ("6+/4", [["#6", "4"]]),
        ("2+", [["#2"]]),
        ("6\\", [["#6"]]),
        ("6\u0338/5", [["#6", "5"]]),
        ("4\u0337/2", [["#4", "2"]]),
        ("[6]", [["(6)"]]),
        ("[6]/[4]", [["(6)", "(4)"]]),
        ("[#]", [["(#)"]]),
        ("[4+]", [["(#4)"]]),
        ("10", [["10"]]),
        ("12/10", [["12", "10"]]),
        ("b7", [["b7"]]),
        ("♭7", [["b7"]]),
        ("♯6/♮3", [["#6", "n3"]]),
        ("♯", [["#"]]),
        ("bb7", [["bb7"]]),
        ("##4", [["##4"]]),
        ("##", [["##"]]),
        ("𝄫7", [["bb7"]]),
        ("6/4 5/-", [["6", "4"], ["5", "4"]]),
        ("6/4 -/3", [["6", "4"], ["6", "3"]]),
        ("9/7 8/– 8/6", [["9", "7"], ["8", "7"], ["8", "6"]]),
        ("6 –", [["6"], ["-"]]),
    ],
)
def test_a_spelling_is_read(written, meant):
    assert read(written) == meant


@pytest.mark.parametrize(
    ("written", "asked"),
    [
        ("65", "{6/5} over one another, or {6 5} one after another"),
        ("643", "{6/4/3} over one another, or {6 4 3} one after another"),
        ("7#6", "{7/#6} over one another, or {7 #6} one after another"),
        ("5\\", "#5, the raised 5, or b5"),
        ("7+", "#7, the raised 7, or b7"),
        ("6#", "the sign before the figure: #6"),
        ("x4", "#4 for a sharp, ##4 for a double sharp"),
        ("5/-", "only where the stack before has a figure in that row"),
        ("10/3", "each interval once in a stack"),
        ("13", "a figure from 2 to 12"),
        ("1", "a figure from 2 to 12"),
    ],
)
def test_what_may_mean_two_things_is_asked_about(written, asked):
    groups, faults = read_groups(written, 1)
    assert not groups and asked in faults[0][2]


def test_figures_over_a_rest_are_told_with_what_to_write():
    with pytest.raises(SourceErrors, match=r"write the note that bears it, or give the note before it"):
        parse(FRONT % "C3/2 R/2{6}")


def test_what_is_read_is_written_in_one_form_and_read_again():
    text = FRONT % "C3/1{4+ 12/10} | D3/1{6/4 5/-} | E3/1{[6] ♭7} | F3/1{##4 bb7}"
    verset = parse(text)
    again = parse(write(verset))
    figures = [g.figures for g in verset.given]
    assert [g.figures for g in again.given] == figures
    assert [str(f) for row in figures for f in row] == [
        *("#4", "12/10", "6/4", "5/4", "(6)", "b7", "##4", "bb7"),
    ]
    assert figures[0][1].signs == (FigureSign(12), FigureSign(10))
