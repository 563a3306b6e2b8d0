"""The check of the counterpoint room as the gate that every change must pass."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from builder.analysis import Analysis
from builder.counterpoint import Finding, Realisation
from builder.counterpoint.check.judge import Checked, Judge
from builder.diminution.weave import Change, Weave
from builder.source import Verset


class Gate:
    """Compares what the check finds in a score with what it found in the plain one."""

    def __init__(self, verset: Verset, analysis: Analysis, realisation: Realisation, tuning: str) -> None:
        self.judge = Judge(verset, analysis, tuning=tuning)
        self.old = {(f.rule, f.voices, f.place.bar) for f in realisation.findings if f.severity == "error"}

    def whole(self, weave: Weave) -> Checked:
        """Everything the check finds."""
        return self.judge.check(weave.scored())

    def after(self, before: Checked, weave: Weave, changes: Sequence[Change]) -> Checked:
        """The same after changes: only what they reach is judged anew."""
        start = weave.time(min(c.start for c in changes))
        end = weave.time(max(c.end for c in changes))
        voices = {weave.voices[c.voice] for c in changes}
        return before.changed(weave.scored(), start, end, voices)

    def new_errors(self, found: Iterable[Finding]) -> list[Finding]:
        """Errors that the plain score did not have, licences apart."""
        return [
            f
            for f in found
            if f.severity == "error" and not f.allowed and (f.rule, f.voices, f.place.bar) not in self.old
        ]


def warnings(found: Iterable[Finding]) -> int:
    """How often the check warns."""
    return sum(f.severity == "warning" and not f.allowed for f in found)
