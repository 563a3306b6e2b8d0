"""What realising and checking give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from builder.counterpoint.rules.phrases import said, worded
from builder.counterpoint.rules.rule import Severity
from builder.counterpoint.rules.rulebook import RULES
from builder.language.texts import Phrase
from builder.music import Figure, Pitch, Place, Score


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule met in a score. `severity`: `error`, `warning` or `note`.

    What is seen (`detail`), what would put it right (`ways`; none: what the rule advises) and why it is
    allowed (`reason`; empty: it is not) are put in words when somebody asks; what is seen stands under the
    title of its rule. A text in place of a phrase is said as it stands, in every language.

    >>> from builder.counterpoint import check
    >>> from builder.counterpoint.rules.example import example
    >>> (found,) = check(example("cantus A4/2 B4/2\\ntenor D4/2 E4/2"))
    >>> found.message
    'Parallel fifths: cantus over tenor go from D4–A4 to E4–B4.'
    >>> found.told("it")[0]
    'Quinte parallele: tenore e canto vanno da re4–la4 a mi4–si4.'
    """

    rule: str
    severity: Severity
    onset: Fraction
    place: Place
    voices: tuple[str, ...]
    detail: Phrase | str
    ways: tuple[Phrase | str, ...] = ()
    reason: Phrase | str = ""

    def told(self, language: str = "en") -> tuple[str, str, str]:
        """What is met, what would mend it, and why it is allowed (empty when it is not), in a language."""
        met = said(self.detail, language)
        if self.rule in RULES and isinstance(self.detail, Phrase):
            met = f"{worded(self.rule, language).title}: {met}."
        ways = " ".join(said(way, language) for way in self.ways)
        if not ways and self.rule in RULES:
            ways = worded(self.rule, language).advice
        return met, ways, said(self.reason, language)

    @property
    def message(self) -> str:
        """What is met, in English."""
        return self.told()[0]

    @property
    def mend(self) -> str:
        """What would put it right, in English."""
        return self.told()[1]

    @property
    def allowed(self) -> str:
        """Why it is allowed, in English; empty when it is not."""
        return said(self.reason)


@dataclass(frozen=True, slots=True)
class Sonority:
    """One event of the realisation: the given pitch, the figure in force in full, who supplied it
    (`source`, `editor`; `held` where the sonority before goes on over a passing note), and the pitch of
    each sounding voice, highest first."""

    onset: Fraction
    duration: Fraction
    bass: Pitch
    figure: Figure | None
    full: tuple[str, ...]
    supplied: str
    voices: tuple[tuple[str, Pitch], ...]


@dataclass(frozen=True, slots=True)
class Realisation:
    """A verset set in voices. `score` has one part for each voice, highest first, each with its
    stretch of the given line in it; `cost` is the sum of `costs_by_bar` (bar -> name -> cost)."""

    score: Score
    sonorities: tuple[Sonority, ...]
    findings: tuple[Finding, ...]
    cost: float
    costs_by_bar: Mapping[int, Mapping[str, float]] = field(default_factory=dict)
