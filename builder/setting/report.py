"""What was found in a verset, in words and numbers: the one schema of `report.json`.

The schema is `report.schema.json` beside this file; the page *The report* of the course explains it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction
from importlib.resources import files
from pathlib import PurePath
from typing import Any

from builder.analysis.findings import Analysis, Cadence, Entry, Step, ToneReading
from builder.counterpoint.check.finding import Finding, Realisation
from builder.diminution.result import Diminution
from builder.music import Place, Version
from builder.source.errors import SourceError
from builder.source.verset import Verset

FORMAT = 1
"""Number of the schema; it grows when a key changes its meaning."""

Json = dict[str, Any]


def number(value: Fraction | float) -> int | float:
    """A beat, a length or a cost as JSON writes it: whole when it is whole, else a decimal.

    Everything that a source can write is exact so; only the parts of a value that figures divide in
    three are rounded, to six places.

    >>> number(Fraction(3)), number(Fraction(5, 2)), number(Fraction(4, 3))
    (3, 2.5, 1.333333)
    """
    return int(value) if value == int(value) else round(float(value), 6)


def report(
    verset: Verset,
    analysis: Analysis,
    realisation: Realisation | None = None,
    diminution: Diminution | None = None,
    *,
    findings: Sequence[Finding] = (),
    language: str = "en",
) -> Json:
    """Everything found in one verset, ready for `json.dumps`.

    `findings` are those that belong to the given line itself (a compass, a transposition). What
    the plain version already has is not told again of the diminished one. Bars and beats count
    from 1, a beat being the metre's; pitches are `D5`, `Bb4`; `cost` is None when the verset was not
    realised. Findings are told in `language`. Holds no path and no clock, so that equal input gives
    equal text.
    """
    met = told_once(
        findings,
        realisation.findings if realisation else (),
        diminution.findings if diminution else (),
    )
    met.sort(key=lambda item: item[1].onset)
    return {
        **_source(verset),
        **_read(verset, analysis),
        "findings": [_finding(version, f, language) for version, f in met],
        "cost": number(realisation.cost) if realisation else None,
        "costs": _costs(realisation) if realisation else [],
        "warnings": list(analysis.warnings),
        "editorial": _editorial(verset),
        "licences": [
            {"rule": a.rule, "bar": a.bar or None, "voices": list(a.voices), "because": a.because}
            for a in verset.licences
        ],
        "readings": [
            {"bar": r.bar, "voice": r.voice, "source": r.source, "adopted": r.adopted}
            for r in verset.readings
        ],
        "errors": [],
    }


def _source(verset: Verset) -> Json:
    """What the source says of itself."""
    return {
        "format": FORMAT,
        "name": verset.name,
        "file": PurePath(verset.path).name,
        "title": verset.title,
        "metre": verset.metre.symbol,
        "signature": str(verset.signature),
        "tempo": {"value": number(verset.tempo[0]), "beats": number(verset.tempo[1])},
        "seconds": number(round(verset.end / verset.tempo[0] / verset.tempo[1] * 60, 1)),
        "bars": len(verset.bars),
        "tuning": verset.settings.tuning,
    }


def _read(verset: Verset, analysis: Analysis) -> Json:
    """What the analysis read in it."""
    return {
        "tone": analysis.tone,
        "tones": [_tone(t) for t in analysis.tones],
        "final": analysis.final,
        "voices": len(verset.voices),
        "voice_names": list(verset.voices),
        "theme": {
            "notes": analysis.theme.notes,
            "length": number(analysis.theme.length),
            "pitches": [p.name for p in analysis.theme.pitches],
        },
        "entries": [_entry(e) for e in analysis.entries],
        "cadences": [_cadence(c) for c in analysis.cadences],
        "steps": [_step(s) for s in analysis.steps],
    }


def told_once(
    given: Sequence[Finding], plain: Sequence[Finding], diminished: Sequence[Finding]
) -> list[tuple[Version, Finding]]:
    """Findings with the version they were met in; what an earlier version already has is not told again
    of the diminished one."""
    met = [(Version.GIVEN, f) for f in given] + [(Version.PLAIN, f) for f in plain]
    known = {(f.rule, f.onset, f.voices) for _, f in met}
    new = [(Version.DIMINISHED, f) for f in diminished if (f.rule, f.onset, f.voices) not in known]
    return met + new


def refused(path: str, errors: Sequence[SourceError]) -> Json:
    """The report on a source that could not be read: its name and every error in it.

    >>> from builder.source import EXAMPLE, parse
    >>> from builder.source.errors import SourceErrors
    >>> try:
    ...     parse(EXAMPLE.replace("C5/4 B4/4", "H5/4 B4/4"))
    ... except SourceErrors as wrong:
    ...     told = refused("versets/two.md", wrong.errors)
    >>> told["name"], [(e["line"], e["column"], e["bar"], e["beat"], e["found"]) for e in told["errors"]]
    ('two', [(9, 31, 2, 1, 'the pitch "H5"')])
    """
    pure = PurePath(path)
    return {
        "format": FORMAT,
        "name": pure.stem,
        "file": pure.name,
        "errors": [
            {
                "line": e.line,
                "column": e.column,
                "bar": e.place.bar if e.place else None,
                "beat": number(e.place.beat) if e.place else None,
                "found": e.found,
                "expected": e.expected,
                "text": e.text,
            }
            for e in errors
        ],
    }


def report_json(found: Json) -> str:
    """A report as it stands in `report.json`: UTF-8 text, keys in the order of the schema.

    >>> print(report_json({"format": 1, "name": "first"}), end="")
    {
      "format": 1,
      "name": "first"
    }
    """
    return json.dumps(found, ensure_ascii=False, indent=2) + "\n"


def schema() -> Json:
    """The schema of `report.json` (JSON Schema, draft 2020-12).

    >>> schema()["title"]
    'Report on a verset'
    """
    text = files("builder.setting").joinpath("report.schema.json").read_text(encoding="utf-8")
    loaded: Json = json.loads(text)
    return loaded


def _where(place: Place) -> Json:
    return {"bar": place.bar, "beat": number(place.beat)}


def _tone(reading: ToneReading) -> Json:
    return {
        "tone": reading.tone,
        "weight": number(reading.weight),
        "evidence": [{"text": e.text, "weight": number(e.weight)} for e in reading.evidence],
    }


def _entry(entry: Entry) -> Json:
    return {
        "voice": entry.voice,
        **_where(entry.place),
        "pitch": entry.pitch.name,
        "clef": entry.clef.name,
        "kind": entry.kind,
        "notes": entry.matched,
        "evidence": entry.evidence,
    }


def _cadence(cadence: Cadence) -> Json:
    return {
        **_where(cadence.place),
        "degree": cadence.degree,
        "kind": cadence.kind,
        "evidence": cadence.evidence,
    }


def _step(step: Step) -> Json:
    return {
        "name": step.name,
        "kind": step.kind,
        "first_bar": step.first.bar,
        "first_beat": number(step.first.beat),
        "last_bar": step.last.bar,
        "last_beat": number(step.last.beat),
        "voices": list(step.voices),
    }


def _finding(version: Version, finding: Finding, language: str) -> Json:
    message, mend, allowed = finding.told(language)
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        **_where(finding.place),
        "voices": list(finding.voices),
        "message": message,
        "mend": mend,
        "allowed": allowed,
        "version": version,
    }


def _costs(realisation: Realisation) -> list[Json]:
    return [
        {"bar": bar, "costs": {name: number(cost) for name, cost in sorted(costs.items())}}
        for bar, costs in sorted(realisation.costs_by_bar.items())
    ]


def _editorial(verset: Verset) -> list[Json]:
    """What the editor supplied: accidentals above notes, figures in brackets."""
    supplied: list[Json] = []
    for given in verset.given:
        if given.note.editorial and given.note.pitch:
            where = _where(verset.place(given.note.onset))
            supplied.append(
                {**where, "voice": given.voice, "kind": "accidental", "sign": given.note.pitch.letter}
            )
        for figure in given.figures:
            if any(s.editorial for s in figure.signs):
                where = _where(verset.place(figure.onset))
                supplied.append({**where, "voice": given.voice, "kind": "figure", "sign": str(figure)})
    return supplied
