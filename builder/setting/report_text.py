"""The report in words, as the command line prints it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from builder.counterpoint.check.finding import Finding
from builder.language.texts import ENGLISH, Texts, texts
from builder.music.figure import SHOWN
from builder.source.wording import told

Json = dict[str, Any]
_SHOWN = str.maketrans({sign: SHOWN[sign] for sign in "#bn"} | {"(": "[", ")": "]"})
"""A figure of a source as print shows it."""


def report_text(found: Json, language: str = ENGLISH) -> str:
    """A report (see `builder.setting.report`) as lines of text that end in a verdict. Evidence and findings
    are quoted in the language in which the report was made.

    >>> found = {"name": "x", "file": "x.md", "errors": [{"line": 3, "column": 5, "bar": 1,
    ...     "beat": 2.5, "found": "H4", "expected": "a pitch", "text": ""}]}
    >>> print(report_text(found), end="")
    x.md:3:5: bar 1, beat 2.5: found H4; expected a pitch
    Refused: 1 error in the source.
    >>> print(report_text(found, "it"), end="")
    x.md:3:5: battuta 1, tempo 2.5: trovato: H4; atteso: un’altezza
    Respinto: 1 errore nel sorgente.
    """
    w = texts("report", language)
    return "\n".join(_refused(found, w) if found["errors"] else _lines(found, w)) + "\n"


def _refused(found: Json, w: Texts) -> Iterable[str]:
    for error in found["errors"]:
        place = f"{_place(error, w)}: " if error["bar"] else ""
        halves = {half: told(error[half], w.language) for half in ("found", "expected")}
        frame = told("found {found}; expected {expected}", w.language)
        said = frame.replace("{found}", halves["found"]).replace("{expected}", halves["expected"])
        yield f"{found['file']}:{error['line']}:{error['column']}: {place}{said}"
        if error["text"]:
            yield f"    {error['text']}"
            yield f"    {' ' * (error['column'] - 1)}^"
    yield w("refused", errors=_count(len(found["errors"]), "errors", w))


def _lines(found: Json, w: Texts) -> Iterable[str]:
    yield f"{found['title']} ({found['file']})"
    yield ""
    yield from _block("tone", (_tone(found, w), *_evidence(found)), w)
    voices = f"{found['voices']}: {', '.join(map(w.voice, found['voice_names']))}"
    yield from _block("voices", (voices,), w)
    theme = found["theme"]
    yield from _block("theme", (w("notes", n=theme["notes"], pitches=theme["pitches"]),), w)
    yield from _block("entries", (_entry(e, w) for e in found["entries"]), w)
    yield from _block("cadences", (_cadence(c, w) for c in found["cadences"]), w)
    yield from _block("steps", (_step(s, w) for s in found["steps"]), w)
    yield from _block("supplied", (_supplied(s, w) for s in found["editorial"]), w)
    yield from _block("warnings", iter(found["warnings"]), w)
    yield from _block("findings", (line for f in found["findings"] for line in _finding(f, w)), w)
    if found["cost"] is not None:
        yield from _block("cost", (str(found["cost"]),), w)
    yield ""
    yield _verdict(found, w)


def _tone(found: Json, w: Texts) -> str:
    signature = (
        w("no-accidental") if found["signature"] == "none" else w.as_written_row(found["signature"].split())
    )
    near = ""
    if len(found["tones"]) > 1:
        first, second = found["tones"][:2]
        near = w("near", weight=first["weight"], tone=second["tone"], other=second["weight"])
    return w("tone", tone=found["tone"], final=found["final"], signature=signature, near=near)


def _evidence(found: Json) -> Iterable[str]:
    for reading in found["tones"][:1]:
        for reason in reading["evidence"]:
            yield f"{reason['weight']:+g}  {reason['text']}"


def _block(name: str, lines: Iterable[str], w: Texts) -> Iterable[str]:
    """Lines under one name in the margin; nothing when there are none."""
    label = w(f"label.{name}")
    for n, line in enumerate(lines):
        yield f"{label if n == 0 else '':<10}{line}"


def _wide(text: str, width: int) -> str:
    """A text in a column, with a gap after it where it is wider."""
    return text.ljust(max(width, len(text) + 2))


def _place(item: Json, w: Texts, edge: str = "") -> str:
    return w("place", bar=item[f"{edge}bar"], beat=item[f"{edge}beat"])


def _entry(entry: Json, w: Texts) -> str:
    return (
        f"{_wide(_place(entry, w), 18)}{w.voice(entry['voice']):<8}{_wide(w.written(entry['pitch']), 4)}"
        f"{w('clef')} {entry['clef']:<4}"
        f"{w('kind.' + entry['kind'])}: {entry['evidence']}"
    )


def _cadence(cadence: Json, w: Texts) -> str:
    kind = w(f"cadence.{cadence['kind']}")
    degree = _wide(w.written(cadence["degree"]), 3)
    return f"{_wide(_place(cadence, w), 18)}{w('degree')} {degree}{kind}: {cadence['evidence']}"


def _step(step: Json, w: Texts) -> str:
    name, _, number = step["name"].partition("-")
    called = w(f"step.{name}") if f"step.{name}" in w.texts else w.voice(name)
    span = f"{_place(step, w, 'first_')} – {_place(step, w, 'last_')}"
    voices = ", ".join(map(w.voice, step["voices"]))
    return f"{called + (f'-{number}' if number else ''):<12}{_wide(span, 36)}{voices}"


def _supplied(item: Json, w: Texts) -> str:
    sign = w.written(item["sign"]) if item["kind"] == "accidental" else item["sign"].translate(_SHOWN)
    return f"{_wide(_place(item, w), 18)}{w.voice(item['voice']):<8}{w(item['kind'])} {sign}"


def _finding(finding: Json, w: Texts) -> Iterable[str]:
    message = finding["message"].rstrip(".")
    voices = [w.voice(voice) for voice in finding["voices"]]
    who = "" if all(voice in message for voice in voices) else f" ({', '.join(voices)})"
    allowed = w("licence", reason=finding["allowed"]) if finding["allowed"] else ""
    yield (
        f"{w(finding['severity'])}: {_place(finding, w)}: {message}{who} "
        f"[{finding['rule']}, {w('version.' + finding['version'])}]{allowed}"
    )
    if finding["mend"] and not finding["allowed"]:
        yield f"    {finding['mend']}"


def _verdict(found: Json, w: Texts) -> str:
    standing = [f for f in found["findings"] if not f["allowed"]]
    errors = sum(f["severity"] == "error" for f in standing)
    warnings = sum(f["severity"] == "warning" for f in standing) + len(found["warnings"])
    allowed = len(found["findings"]) - len(standing)
    verdict = f"{_count(errors, 'errors', w)}, {_count(warnings, 'warnings', w)}"
    return verdict + (f", {w('allowed', n=allowed)}." if allowed else ".")


def _count(number: int, things: str, w: Texts) -> str:
    return w(f"{things}.{'none' if not number else 'one' if number == 1 else 'many'}", n=number)


def findings_text(name: str, findings: Sequence[Finding], language: str = ENGLISH) -> str:
    """The findings of a check in lines: how many, then each with its place, severity, rule and voices.

    >>> from fractions import Fraction
    >>> from builder.source import EXAMPLE, parse
    >>> place = parse(EXAMPLE).place(Fraction(9))
    >>> voices = ("cantus", "altus")
    >>> found = Finding("parallel-fifths", "error", Fraction(9), place, voices, "D5/G4 to E5/A4")
    >>> print(findings_text("two", [found]))
    two: 1 finding
      bar 3, beat 2: error: parallel-fifths (cantus, altus): D5/G4 to E5/A4
    """
    w = texts("report", language)
    lines = [f"{name}: {_count(len(findings), 'findings', w)}"]
    for finding in findings:
        met, _, _ = finding.told(language)
        voices = ", ".join(map(w.voice, finding.voices))
        lines.append(f"  {w.where(finding.place)}: {w(finding.severity)}: {finding.rule} ({voices}): {met}")
    return "\n".join(lines)
