"""Recordings of one's own playing in a source are read, written back, and refused with their place."""

from __future__ import annotations

import pytest

from builder.source import EXAMPLE, SourceErrors, parse, write
from builder.source.playing import Playing, Point


def source(entry: str) -> str:
    return EXAMPLE.replace("verset:\n", f"verset:\n  playing:\n    - {entry}\n", 1)


def test_a_recording_is_read_and_written_back() -> None:
    points = "[{bar: 1, at: 2.5}, {bar: 2, beat: 3, at: 9}]"
    said = f"{{file: a b.mp4, sound: takes/a.mp3, of: improvisation, by: 'Anna: R.', points: {points}}}"
    wanted = Playing(
        "a b.mp4", "improvisation", "Anna: R.", "", "takes/a.mp3", (Point(1, 1, 2.5), Point(2, 3, 9))
    )
    verset = parse(source(said))
    assert verset.playing == (wanted,)
    assert parse(write(verset)).playing == (wanted,)


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ("{of: plain}", "no file"),
        ("{file: ../a.mp3, of: plain}", "beside the source"),
        ("{file: /a.mp3, of: plain}", "beside the source"),
        ("{file: 'http://x.org/a.mp3', of: plain}", "beside the source"),
        ("{file: a.txt, of: plain}", ".mp3, .flac"),
        ("{file: a.mp4, of: plain}", "sound: and a file"),
        ("{file: a.mp3, of: plane}", "did you mean plain"),
        ("{file: a.mp3, of: plain, points: [{bar: 90, at: 3}]}", "a point in bar 90"),
        (
            "{file: a.mp3, of: plain, points: [{bar: 2, at: 3}, {bar: 1, at: 4}]}",
            "in the order of the verset",
        ),
        ("{file: a.mp3, of: plain, points: [{bar: 1, at: 3}, {bar: 2, at: 2}]}", "in which they sound"),
        ("{file: a.mp3, of: plain, points: [{bar: 1, at: .inf}]}", "seconds from the beginning"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(entry: str, told: str) -> None:
    with pytest.raises(SourceErrors) as refused:
        parse(source(entry))
    assert told in str(refused.value)
    assert refused.value.errors[0].line == 5
    assert refused.value.told("it") != refused.value.told("en")
