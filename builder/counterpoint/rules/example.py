"""Small examples of two to four voices, written as a source writes them; for the rules page and its tests."""

from __future__ import annotations

import re
from fractions import Fraction

from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version
from builder.music.time import VALUES, dotted

_ITEM = re.compile(
    r"(?P<pitch>R|[A-G](?:##|#|bb|b)?-?\d)/(?P<value>breve|1|2|4|8|16)(?P<dots>\.{0,2})(?P<tie>~?)$"
)


def example(text: str, metre: str = "C", title: str = "") -> Score:
    """Read lines such as `cantus A4/2 B4/2` into a score; bar lines are left out, bars fill up by themselves.

    >>> example("cantus A4/2 B4/2").parts[0].notes[1].pitch
    Pitch('B4')
    """
    parts = []
    for line in filter(None, map(str.strip, text.splitlines())):
        voice, *items = line.split()
        now, notes = Fraction(0), []
        for item in items:
            match = _ITEM.match(item)
            if match is None:
                raise ValueError(f"{item!r} is not a note such as D5/2 or R/4")
            length = dotted(VALUES[match["value"]], len(match["dots"]))
            pitch = None if match["pitch"] == "R" else Pitch.parse(match["pitch"])
            notes.append(Note(now, length, pitch, tied=bool(match["tie"])))
            now += length
        parts.append(Part(voice, tuple(notes)))
    time = Metre.parse(metre)
    end = max((p.notes[-1].end for p in parts), default=time.bar)
    count = max(1, -(-end // time.bar))
    bars = tuple(Bar(n + 1, n * time.bar, time.bar) for n in range(int(count)))
    return Score(title, Version.PLAIN, time, Signature(), bars, tuple(parts))
