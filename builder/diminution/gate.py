"""The check of the counterpoint room as the gate that every change must pass."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from builder.analysis import Analysis
from builder.counterpoint import Finding, Realisation
from builder.counterpoint.check.judge import Checked, Judge
from builder.diminution.weave import Weave
from builder.music import Tuning
from builder.source import Verset


class Gate:
    """Compares what the check finds in a score with what it found in the plain one."""

    def __init__(self, verset: Verset, analysis: Analysis, realisation: Realisation, tuning: Tuning) -> None:
        self.judge = Judge(verset, analysis, tuning=tuning)
        self.old = Counter(_where(f) for f in _errors(realisation.findings))
        self.onsets = {(f.rule, f.voices, f.onset) for f in _errors(realisation.findings)}

    def whole(self, weave: Weave) -> Checked:
        """Everything the check finds."""
        return self.judge.check(weave.scored())

    def new_errors(self, found: Iterable[Finding]) -> list[Finding]:
        """Errors that the plain score did not have, licences apart. One that it has may come elsewhere in its
        bar, but not more often."""
        left, new = self.old.copy(), []
        for f in sorted(_errors(found), key=lambda f: (f.rule, f.voices, f.onset) not in self.onsets):
            if left[_where(f)] > 0:
                left[_where(f)] -= 1
            else:
                new.append(f)
        return new


def _errors(found: Iterable[Finding]) -> list[Finding]:
    return [f for f in found if f.severity == "error" and not f.allowed]


def _where(finding: Finding) -> tuple[str, tuple[str, ...], int]:
    """A rule that is broken, by whom and in which bar."""
    return finding.rule, finding.voices, finding.place.bar


def warns(finding: Finding) -> bool:
    """Whether the check warns here, licences apart."""
    return finding.severity == "warning" and not finding.allowed


def warnings(found: Iterable[Finding]) -> int:
    """How often the check warns."""
    return sum(map(warns, found))
