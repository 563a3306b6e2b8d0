"""An exercise of two bars and what a reader has put in, for the tests that ask the parts of the script."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Ask = Callable[..., Any]
"""Evaluates an expression of the script (see the fixture `ask`)."""

C4, D4, E4, F4, G4, A4, B4, C5 = ([step, 0] for step in range(28, 36))


def exercise(**changes: Any) -> dict[str, Any]:
    """Two bars of four quarters over F3 G3 | C4: altus above from the second sonority on, cantus everywhere.
    The first sonority lasts a half note, the second too, the third a whole one; a second is a half note."""
    events = [
        {"at": 0, "length": 2, "start": 0, "end": 1, "bar": 1, "bass": [24, 0], "upper": ["cantus"]},
        {"at": 2, "length": 2, "start": 1, "end": 2, "bar": 1, "bass": [25, 0], "upper": ["cantus", "altus"]},
        {"at": 4, "length": 4, "start": 2, "end": 4, "bar": 2, "bass": C4, "upper": ["cantus", "altus"]},
    ]
    for event in events:
        halves = {"half": event["length"] / 2, "middle": (event["start"] + event["end"]) / 2}
        event |= halves | {"late": event["bass"], "voice": "bassus", "where": f"at {event['at']}"}
        event |= {"figure": [], "figured": False, "joined": event["at"] > 0, "stays": False, "weight": 2}
        event |= {"free": False, "allowed": [], "variants": []}
    line = [
        {"id": f"b{n}", "voice": "bassus", "pitch": e["bass"], "tied": False, "editorial": False}
        | {key: e[key] for key in ("at", "length", "start", "end")}
        for n, e in enumerate(events)
    ]
    return {
        "key": "sample-1-2",
        "title": "Two <bars>",
        "metre": [4, 4],
        "symbol": "C",
        "fifths": 0,
        "signature": [0] * 7,
        "voices": ["cantus", "altus"],
        "order": ["cantus", "altus", "bassus"],
        "closed": True,
        "bars": [[1, 0, 4, ["cantus", "altus"]], [2, 4, 4, ["cantus", "altus"]]],
        "events": events,
        "line": line,
        "ours": {"cantus": [A4, B4, C5], "altus": [None, D4, E4]},
        "compass": {"cantus": [28, 40], "altus": [25, 36]},
        "hertz": {f"{step},{alter}": 100 + step for step in range(21, 41) for alter in (-1, 0, 1)},
        "notes": {"cantus": {}, "altus": {}},
        "pairs": {},
        **changes,
    }


def work(cantus: list[Any], altus: list[Any], /, **then: list[Any]) -> dict[str, Any]:
    return {"cantus": cantus, "altus": altus, **({"then": then} if then else {})}
