"""The check of the counterpoint room as the gate that every change must pass."""

from __future__ import annotations

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
        self.old = {(f.rule, f.voices, f.place.bar) for f in realisation.findings if f.severity == "error"}

    def whole(self, weave: Weave) -> Checked:
        """Everything the check finds."""
        return self.judge.check(weave.scored())

    def new_errors(self, found: Iterable[Finding]) -> list[Finding]:
        """Errors that the plain score did not have, licences apart."""
        return [
            f
            for f in found
            if f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in self.old
        ]


def warns(finding: Finding) -> bool:
    """Whether the check warns here, licences apart."""
    return finding.severity == "warning" and not finding.allowed


def warnings(found: Iterable[Finding]) -> int:
    """How often the check warns."""
    return sum(map(warns, found))
