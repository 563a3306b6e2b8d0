"""How a verset walks through the files while it is set: the functions in the order in which they are first
called, and how often that order comes back to a file which it has left (few returns read well).

    python tests/bench/walk.py [ROOM …]

What is written inside another function (comprehensions, lambdas) is not counted. Without a room: those that
`realise` goes through, `counterpoint/search` and `counterpoint/figured_bass`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import builder
from builder.analysis import analyse
from builder.counterpoint import realise
from builder.source import read

HOUSE = Path(builder.__file__).parent
SOURCE = HOUSE.parent / "content" / "versets" / "first.md"
ROOMS = ("counterpoint/search", "counterpoint/figured_bass")


def first_calls(call: Callable[[], Any], rooms: tuple[str, ...]) -> list[tuple[str, str]]:
    """File and name of each function of some rooms, as each is first called."""
    found: dict[tuple[str, str], None] = {}

    def noted(frame: FrameType, event: str, _: Any) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(str(HOUSE)):
            path = str(Path(code.co_filename).relative_to(HOUSE))
            if path.startswith(rooms) and not code.co_name.startswith("<"):
                found[path, code.co_qualname] = None

    sys.setprofile(noted)
    try:
        call()
    finally:
        sys.setprofile(None)
    return [*found]


def visits(calls: list[tuple[str, str]]) -> Iterator[tuple[str, str, bool]]:
    """Each change of file: the file, the function by which it is entered, and whether it was left before."""
    left: set[str] = set()
    here = ""
    for path, name in calls:
        if path != here:
            yield path, name, path in left
            left.add(here)
            here = path


def main(rooms: tuple[str, ...]) -> None:
    verset = read(SOURCE)
    analysis = analyse(verset)
    calls = first_calls(lambda: realise(verset, analysis), rooms)
    row = [*visits(calls)]
    for path, name, back in row:
        print("<-" if back else "  ", path, name)
    files = {path for path, _ in calls}
    print(f"{len(calls)} functions in {len(files)} files, {sum(back for *_, back in row)} returns")


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or ROOMS)
