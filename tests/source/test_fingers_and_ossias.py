"""Fingers and ossias in a source: read, written back, and every mistake told at its place."""

from __future__ import annotations

from fractions import Fraction

import pytest

from builder.language.texts import languages
from builder.music import Version
from builder.setting.transpose import read_interval, transpose
from builder.source import EXAMPLE, SourceErrors, parse
from builder.source.write import write

FINGERS = "```fingering\n{}\n```\n"
OSSIA = "```ossia\n{}\n```\n"


def read(*blocks: str):
    return parse("\n\n".join((EXAMPLE, *blocks)), "a.md")


def wrong(*blocks: str) -> list[tuple[str, str, int]]:
    with pytest.raises(SourceErrors) as told:
        read(*blocks)
    for language in languages():
        for error in told.value.errors:
            assert language == "en" or error.told(language) != error.told("en")
    return [(e.found, e.expected, e.column) for e in told.value.errors]


def test_fingers_are_read_bar_by_bar() -> None:
    verset = read(FINGERS.format("cantus 1 | 3 _ 2-1 | 4\naltus plain 4 | 5 4"))
    first, second = verset.fingers
    assert (first.version, first.voice, first.first) == (Version.GIVEN, "cantus", 1)
    assert first.bars == (("3", "", "2-1"), ("4",))
    assert (second.version, second.voice, second.first) == (Version.PLAIN, "altus", 4)


def test_an_ossia_is_read_as_pinned_notes_are() -> None:
    (ossia,) = read(OSSIA.format("cantus diminished 2 | C5/8 D5/8 _/4 _/2")).ossias
    assert (ossia.version, ossia.voice) == (Version.DIMINISHED, "cantus")
    assert [(n.onset, str(n.pitch)) for n in ossia.notes] == [(4, "C5"), (Fraction(9, 2), "D5")]


def test_both_are_written_back() -> None:
    verset = read(
        FINGERS.format("cantus 1 | 3 _ 2-1 | 4\naltus plain 4 | 5 4"),
        OSSIA.format("cantus diminished 2 | C5/8 D5/8 _/4 _/2\naltus 3 | A4/4 G4/4 _/2"),
    )
    again = parse(write(verset))
    assert (again.fingers, again.ossias) == (verset.fingers, verset.ossias)


@pytest.mark.parametrize(
    ("line", "found", "column"),
    [
        ("cantus 1 | 3 6", 'the finger "6"', 14),
        ("cantus 1 | 3 2 1 5", "4 fingers for 3 notes", 18),
        ("tenor 1 | 3", "the tenor, which the given line does not bring in", 1),
        ("cantos 1 | 3", 'the voice "cantos"', 1),
        ("cantus plain x | 3", 'the bar "x"', 14),
        ("cantus 9 | 3", "fingers for bar 9", 8),
        ("cantus 1 3 2", '"3"', 10),
    ],
)
def test_a_mistake_in_fingers_is_told_at_its_place(line: str, found: str, column: int) -> None:
    told = wrong(FINGERS.format(line))
    assert (found, column) in [(f, c) for f, _, c in told]


@pytest.mark.parametrize(
    ("line", "found", "column"),
    [
        ("cantus 2 | C5/8 D5/8 _/4", "a bar of 2 quarters", 25),
        ("cantus 2 | H5/1", 'the pitch "H5"', 12),
        ("tenor 2 | C4/1", "the tenor, which the given line does not bring in", 1),
        ("cantus 9 | C5/1", "notes pinned in bar 9", 8),
    ],
)
def test_a_mistake_in_an_ossia_is_told_at_its_place(line: str, found: str, column: int) -> None:
    told = wrong(OSSIA.format(line))
    assert (found, column) in [(f, c) for f, _, c in told]


def test_an_ossia_moves_with_its_verset_and_fingers_stay_with_their_keys() -> None:
    verset = read(FINGERS.format("cantus 1 | 3"), OSSIA.format("cantus 2 | C5/1"))
    lower = transpose(verset, read_interval("a tone lower"))
    assert [str(n.pitch) for n in lower.ossias[0].notes] == ["Bb4"]
    assert not lower.fingers
