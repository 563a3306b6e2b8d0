"""Pins are added to a source, and all else in it stays as the teacher wrote it."""

from __future__ import annotations

import pytest

from builder.music import Version
from builder.source import EXAMPLE, SourceErrors, parse
from builder.source.pinning import NotPins, with_pins

LINE = "cantus 3 | F5/2 D5/2"
KEPT = EXAMPLE.replace("title: Two voices", "title:   Two voices   # a remark").replace(
    "```given\n", "```given\n%  the line, as it came\n"
)


def pinned(text: str) -> list[tuple[str, str, list[str]]]:
    return [(p.version, p.voice, [str(n.pitch) for n in p.notes]) for p in parse(text).pins]


def test_what_is_not_pinned_stays_byte_for_byte() -> None:
    after = with_pins(KEPT, Version.PLAIN, [LINE])
    assert after.replace(f"\n```plain\n{LINE}\n```\n", "", 1) == KEPT
    assert pinned(after) == [("plain", "cantus", ["F5", "D5"])]


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_ends_of_lines_stay_as_they_are(end: str) -> None:
    after = with_pins(KEPT.replace("\n", end), Version.DIMINISHED, [LINE])
    assert after.replace(end, "\n") == with_pins(KEPT, Version.DIMINISHED, [LINE])
    assert "\n" not in after.replace(end, "")


def test_a_block_of_the_version_takes_more_lines() -> None:
    once = with_pins(KEPT + "\n## altus\n\nWords.\n", Version.PLAIN, ["cantus 3 | F5/2 _/2"])
    twice = with_pins(once, Version.PLAIN, ["cantus 3 | _/2 D5/2"])
    assert twice.count("```plain") == 1 and len(pinned(twice)) == 2
    assert "cantus 3 | F5/2 _/2\ncantus 3 | _/2 D5/2\n```\n\n## altus" in twice


def test_a_file_without_a_last_line_end_and_words_below_the_music() -> None:
    text = KEPT.rstrip("\n")
    assert with_pins(text, Version.PLAIN, [LINE]) == f"{text}\n\n```plain\n{LINE}\n```\n"
    close = text + "\nWords that follow at once."
    assert f"\n```plain\n{LINE}\n```\n\nWords that follow" in with_pins(close, Version.PLAIN, [LINE])


def test_a_place_that_is_pinned_is_told_with_its_line() -> None:
    once = with_pins(KEPT, Version.PLAIN, [LINE])
    with pytest.raises(SourceErrors, match="pinned here already, in line"):
        with_pins(once, Version.PLAIN, [LINE])


@pytest.mark.parametrize(
    "line",
    [
        "% nothing but a remark",
        "cantus 3 | F5/2 D5/2\n```\n\n# More",
        "cantus 3 | F5/2 D5/2\naltus 3 | A4/2 F4/2",
        "",
        "```",
    ],
)
def test_only_lines_of_pins_are_added(line: str) -> None:
    with pytest.raises((NotPins, SourceErrors)):
        with_pins(KEPT, Version.PLAIN, [line])


def test_a_source_with_errors_is_not_written_to() -> None:
    with pytest.raises(SourceErrors, match="H5"):
        with_pins(KEPT.replace("D5/2", "H5/2", 1), Version.PLAIN, [LINE])
