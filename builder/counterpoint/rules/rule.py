"""What a rule is: an id in the trade's words, a sentence for students, its source and its predicate.

A predicate is written with whole-number arithmetic and `&`, `|`, `~`-free comparisons only, so that the same
few lines judge one case (plain numbers), a whole lattice or a whole score (arrays of numbers).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

Number = Any
"""A whole number, or a numpy array of them."""
Truth = Any
"""True or false, or a numpy array of them."""


class Tone(NamedTuple):
    """A pitch: staff steps above C0 and MIDI number."""

    d: Number
    m: Number


class Move(NamedTuple):
    """A voice from one sonority to the next: staff step and MIDI number before and after.

    >>> Move(28, 60, 29, 62).steps
    1
    """

    d0: Number
    m0: Number
    d1: Number
    m1: Number

    @property
    def steps(self) -> Number:
        """Staff steps, negative when it falls."""
        return self.d1 - self.d0

    @property
    def semitones(self) -> Number:
        return self.m1 - self.m0

    @property
    def moves(self) -> Truth:
        """Whether the note changes."""
        return (self.d0 != self.d1) | (self.m0 != self.m1)


ERROR, WARNING, NOTE = "error", "warning", "note"


def severities(two: str, three: str, four: str | None = None) -> Mapping[int, str]:
    """Severity by number of sounding voices; five and more count as four, one as two.

    >>> severities("error", "warning")[5]
    'warning'
    """
    four = three if four is None else four
    return {1: two, 2: two, 3: three, 4: four, 5: four, 6: four}


ALWAYS_ERROR = severities(ERROR, ERROR)
ALWAYS_WARNING = severities(WARNING, WARNING)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of counterpoint, figured bass or the instrument.

    `kind` says what the predicate looks at: `motion` (two voices, lower first, as two `Move`s),
    `melody` (one `Move`), `sonority` (two `Tone`s, lower first), and for rules that need more of the
    score around them `dissonance`, `line`, `hands`, `figures`, `cadence` or `search` (no predicate
    of two notes tells them; the check does). `fault` and `mend` are small examples as a source writes
    them: the fault meets the rule, the mend does not.
    """

    id: str
    title: str
    sentence: str
    advice: str
    source: str
    kind: str
    severity: Mapping[int, str]
    fault: str = ""
    mend: str = ""
    predicate: Callable[..., Truth] | None = None
    given: str = ""
    """For rules on figures and cadences: the given line under the example, as a source's block."""
    lowest: Mapping[int, str] | None = None
    """For rules on motion: severity where one of the two is the lowest voice, when it is another."""

    def severity_for(self, voices: int, lowest: bool = False) -> str:
        """Severity where so many voices sound; `lowest` where one of those concerned is the lowest."""
        severity = self.lowest if lowest and self.lowest else self.severity
        return severity[min(max(voices, 1), 6)]
