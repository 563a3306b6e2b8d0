"""Authentic or plagal: how a voice lies about the final.

The cantus and the tenor have the compass of the tone, altus and bassus its companion's (common
practice): an authentic melody moves between the final and its octave, a plagal one from the fourth
below the final to the fifth above it, each with a step more at either end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder.analysis.line import Sung
from builder.music import Pitch

REACH = {"authentic": (-1, 8), "plagal": (-4, 5)}
"""Lowest and highest note in staff steps from the final."""

LEADING = ("tenor", "cantus")
"""The voices that show the compass, the one that decides first."""

WIDE = 6
"""Staff steps that a voice must span for its middle to tell how it lies."""


@dataclass(frozen=True, slots=True)
class Compass:
    """A voice's compass: its lowest and highest note."""

    voice: str
    low: Pitch
    high: Pitch

    @property
    def span(self) -> int:
        """Staff steps from the lowest note to the highest."""
        return self.high.diatonic - self.low.diatonic


def compasses(notes: Sequence[Sung]) -> Mapping[str, Compass]:
    """The compass of each voice in the line."""
    found: dict[str, Compass] = {}
    for voice in dict.fromkeys(n.voice for n in notes):
        pitches = [n.pitch for n in notes if n.voice == voice]
        low, high = (one(pitches, key=lambda p: p.midi) for one in (min, max))
        found[voice] = Compass(voice, low, high)
    return found


def lies(compass: Compass, final: str) -> str:
    """How a voice lies about a final: `authentic`, `plagal`, or nothing where it may be either.

    >>> p = Pitch.parse
    >>> lies(Compass("tenor", p("C3"), p("D4")), "D"), lies(Compass("cantus", p("A4"), p("A5")), "D")
    ('authentic', 'plagal')
    >>> lies(Compass("cantus", p("A4"), p("D5")), "D")
    ''
    """
    low, high = compass.low.diatonic, compass.high.diatonic
    step = Pitch.parse(f"{final}4").step
    within = [
        kind
        for kind, (below, above) in REACH.items()
        if any(f + below <= low and high <= f + above for f in range(step, 70, 7))
    ]
    if within:
        return within[0] if len(within) == 1 else ""
    # Wider than either: what lies in the middle is told by the distance from the final, in half steps.
    middle = (low + high - 2 * step) % 14
    off = {
        kind: min((middle - below - above) % 14, (below + above - middle) % 14)
        for kind, (below, above) in REACH.items()
    }
    near, far = sorted(off, key=lambda kind: off[kind])
    return near if compass.span >= WIDE and off[far] - off[near] >= 2 else ""


def judged(found: Mapping[str, Compass], final: str) -> tuple[str, Compass | None]:
    """The kind that the leading voices show, and the voice that shows it; no kind where none decides
    (then the voice that was asked first), no voice where neither has the line."""
    there = [found[v] for v in LEADING if v in found]
    for compass in there:
        kind = lies(compass, final)
        if kind:
            return kind, compass
    return "", there[0] if there else None
