"""Adds pinned notes to the text of a source and leaves all else of it as it stands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from builder.music import Version
from builder.source.errors import Faults
from builder.source.page import Block, lines_of, take_apart
from builder.source.parse import parse
from builder.source.verset import Verset
from builder.source.write import write

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")
"""A line with its end, as `lines_of` divides a text."""


class NotPins(ValueError):
    """What is to be added is more than lines of pinned notes."""


def with_pins(text: str, version: Version, lines: Sequence[str], path: str = "verset.md") -> str:
    """The text of a source with lines of pinned notes of a version (plain or diminished) added: to the last
    block of that version, else in a block of their own below the last block of music. Every other line
    stays byte for byte: comments, spaces, ends of lines.

    `SourceErrors` where the source has errors, or would have with these lines (a place of a voice pinned
    twice); `NotPins` where they would change anything but the pins.

    >>> from builder.source import EXAMPLE
    >>> print(with_pins(EXAMPLE, Version.PLAIN, ["cantus 3 | F5/2 D5/2"]).removeprefix(EXAMPLE))
    <BLANKLINE>
    ```plain
    cantus 3 | F5/2 D5/2
    ```
    <BLANKLINE>
    """
    before = parse(text, path)
    rows: list[str] = _LINE.findall(text)
    end = rows[0].removeprefix(rows[0].rstrip("\r\n"))
    if not rows[-1].endswith(("\r", "\n")):
        rows[-1] += end
    page = take_apart(lines_of(text), Faults(path))
    assert page is not None
    at, added = _place(page.blocks, version, lines)
    if at < len(rows) and added[-1] == "```" and rows[at].strip():
        added = [*added, ""]
    after = "".join([*rows[:at], *(line + end for line in added), *rows[at:]])
    _check_added(before, parse(after, path), lines)
    return after


def _place(blocks: Sequence[Block], version: Version, lines: Sequence[str]) -> tuple[int, list[str]]:
    """How many lines of the file stand before what is added, and what that is."""
    same = [block for block in blocks if block.kind == version]
    last = max(same or blocks, key=lambda block: block.line)
    if same:
        return last.line + len(last.lines), [*lines]
    return last.line + len(last.lines) + 1, ["", f"```{version}", *lines, "```"]


def _check_added(before: Verset, after: Verset, lines: Sequence[str]) -> None:
    """Nothing but pins may be new, and each line is one."""
    pins = [(pin.version, pin.voice, pin.notes) for pin in after.pins]
    kept = all((pin.version, pin.voice, pin.notes) in pins for pin in before.pins)
    same = write(replace(before, pins=())) == write(replace(after, pins=()))
    if not (kept and same and len(after.pins) == len(before.pins) + len(lines)):
        raise NotPins("lines of pinned notes change nothing else of a source")
