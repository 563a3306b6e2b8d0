"""What a rule is: its id in the trade's words, what it is asked of and when, what it says, its predicate."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from inspect import signature
from typing import NamedTuple

from builder.counterpoint.rules.context import INSTRUMENT, JUDGES, Number, Of, Truth, When, Where


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


class Severity(StrEnum):
    """How grave it is to break a rule."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


ERROR, WARNING, NOTE = Severity


def severities(two: Severity, three: Severity, four: Severity | None = None) -> Mapping[int, Severity]:
    """Severity by number of sounding voices; five and more count as four, one as two.

    >>> severities(ERROR, WARNING)[5]
    <Severity.WARNING: 'warning'>
    """
    four = three if four is None else four
    return {1: two, 2: two, 3: three, 4: four, 5: four, 6: four}


ALWAYS_ERROR = severities(ERROR, ERROR)
ALWAYS_WARNING = severities(WARNING, WARNING)
ALWAYS_NOTE = severities(NOTE, NOTE)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of counterpoint, figured bass or the instrument.

    `of` and `when` say what it is asked of and when (`context`), `where` to which places it is confined, and
    `least` from how many sounding voices on it is asked. Its predicate is a function of named features; it is
    written with `&`, `|` and comparisons, so that the same few lines judge one case and a whole score as
    arrays. `fault` and `mend` are small examples as a source writes them: the fault meets the rule, the mend
    does not.

    >>> from builder.counterpoint.rules.rulebook import RULES
    >>> RULES["parallel-fifths"].features
    ('after', 'before', 'motion')
    >>> RULES["parallel-fifths"].predicate(before=1, after=1, motion=1)
    True
    """

    id: str
    title: str
    sentence: str
    advice: str
    source: str
    of: Of
    when: When
    severity: Mapping[int, Severity]
    fault: str
    mend: str
    predicate: Callable[..., Truth]
    given: str = ""
    """For rules on figures and cadences: the given line under the example, as a source's block."""
    lowest: Mapping[int, Severity] | None = None
    """For rules on motion: severity where one of the two is the lowest voice, when it is another."""
    where: tuple[Where, ...] = ()
    least: int = 1
    says: str = ""
    """Key of the phrase that tells what is met; empty: that of what the rule is asked of."""
    cost: str = ""
    """How the search takes it where it only warns: by the named cost that counts it; `never` where nothing
    that it builds can break it; `unasked` where it is left to the check. Without, it costs `warned`."""
    at_keyboard: bool = False
    """It is but a note among singers, who cross and meet freely; on one keyboard a voice is lost by it."""
    features: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "features", tuple(sorted(signature(self.predicate).parameters)))

    @property
    def of_instrument(self) -> bool:
        """Whether it is a rule of the keyboard, its tuning, or the hands."""
        return bool(INSTRUMENT & {*self.features})

    def severity_for(self, voices: int, lowest: bool = False) -> Severity:
        """Severity where so many voices sound; `lowest` where one of those concerned is the lowest."""
        severity = self.lowest if lowest and self.lowest else self.severity
        return severity[min(max(voices, 1), 6)]

    def refused_by(self) -> str:
        """The judge that cannot ask it, though it asks such rules; empty when there is none. `check` asks all
        rules but those of the search's own path."""
        mine = set(self.features)
        for judge, contexts in JUDGES.items():
            known = contexts.get((self.of, self.when))
            if known is not None and not any(mine <= features for features in known):
                if judge == "search" and self.cost:
                    continue
                return judge
        if not any((self.of, self.when) in contexts for contexts in JUDGES.values()):
            return "every judge"
        return ""
