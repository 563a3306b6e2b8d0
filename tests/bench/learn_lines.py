"""Learns how voices move, for `builder/diminution/learned/palestrina.json`: `python
tests/bench/learn_lines.py OUT [N]`.

From the files at even places of Palestrina's list in music21's corpus (those at odd places are kept to report
on), N of them, evenly spread. Values are halved, so that his minim is our quarter note. Counted, in
all voices but the lowest: whether a note ends after so many eighths, by its place in four quarters and by
what the other voices do; and the interval that follows an interval, by the length of the note between."""

from __future__ import annotations

import itertools
import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "worth"))

from passages import half

PUBLISHED = "G. P. da Palestrina, masses, as music21's corpus has them, files at even places of its list"
LONGEST = 8
"""Eighths after which all lengths are one."""


def voices(path: str) -> list[list[tuple[float, float, int]]]:
    """Onset and end in our quarters, staff step; ties joined."""
    from music21 import corpus

    out = []
    for part in corpus.parse(path).parts:
        notes: list[tuple[float, float, int]] = []
        for n in part.flatten().notes:
            q = n.pitches[-1]
            on, end = float(n.offset) / 2, float(n.offset + n.duration.quarterLength) / 2
            held = n.tie and n.tie.type in ("stop", "continue")
            if held and notes and notes[-1][2] == q.diatonicNoteNum and abs(notes[-1][1] - on) < 1e-6:
                notes[-1] = notes[-1][0], end, notes[-1][2]
            else:
                notes.append((on, end, q.diatonicNoteNum))
        if notes:
            out.append(notes)
    return out


def kind(length: float) -> str:
    return "small" if length <= 0.5 else "quarter" if length <= 1 else "long"


def count(lines: list[list[tuple[float, float, int]]], hazard: Counter[str], moves: Counter[str]) -> None:
    struck: Counter[int] = Counter(round(2 * n[0]) for line in lines for n in line)
    low = {round(2 * n[0]) for n in lines[-1]}
    for line in lines[:-1]:
        own = {round(2 * n[0]) for n in line}
        for a, b in itertools.pairwise(line):
            if abs(a[1] - b[0]) > 1e-6:
                continue
            first, last = round(2 * a[0]), round(2 * a[1])
            for t in range(first + 1, last + 1):
                others = struck[t] - (t in own) - (t in low)
                key = f"{min(t - first, LONGEST)},{t % 8},{int(t in low)},{min(others, 2)}"
                hazard[f"{key},{int(t == last)}"] += 1
        for a, b, c in zip(line, line[1:], line[2:]):
            if abs(a[1] - b[0]) < 1e-6 and abs(b[1] - c[0]) < 1e-6:
                moves[f"{kind(b[1] - b[0])},{b[2] - a[2]},{c[2] - b[2]}"] += 1


def main(out: str, many: int) -> None:
    files = [str(path) for path in half("palestrina", odd=False)]
    chosen = files[:: max(1, len(files) // many)]
    hazard: Counter[str] = Counter()
    moves: Counter[str] = Counter()
    for path in chosen:
        count(voices(path), hazard, moves)
    found: dict[str, Any] = {
        "source": PUBLISHED,
        "pieces": len(chosen),
        "ends": {
            "about": "eighths since its onset (8: or more), eighth in four quarters, lowest voice strikes, "
            "other voices that strike (2: or more), ends (1) or goes on (0): count",
            **dict(sorted(hazard.items())),
        },
        "moves": {
            "about": "length of the note between, staff steps before, staff steps after: count",
            **dict(sorted((k, v) for k, v in moves.items() if v > 2)),
        },
    }
    Path(out).write_text(json.dumps(found, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 90)
