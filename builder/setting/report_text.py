"""The report in words, as the command line prints it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Json = dict[str, Any]

_KINDS = {
    "theme": "theme",
    "exact": "exact answer",
    "modal": "answer in the mode",
    "tonal": "tonal answer",
    "altered": "altered answer",
    "free": "free",
}


def report_text(found: Json) -> str:
    """A report (see `builder.setting.report`) as lines of text that end in a verdict.

    >>> print(report_text({"name": "x", "file": "x.md", "errors": [{"line": 3, "column": 5, "bar": 1,
    ...     "beat": 2.5, "found": "H4", "expected": "a pitch", "text": ""}]}), end="")
    x.md:3:5: bar 1, beat 2.5: found H4; expected a pitch
    Refused: 1 error in the source.
    """
    return "\n".join(_refused(found) if found["errors"] else _lines(found)) + "\n"


def _refused(found: Json) -> Iterable[str]:
    for error in found["errors"]:
        place = f"{_place(error)}: " if error["bar"] else ""
        yield (
            f"{found['file']}:{error['line']}:{error['column']}: {place}"
            f"found {error['found']}; expected {error['expected']}"
        )
        if error["text"]:
            yield f"    {error['text']}"
            yield f"    {' ' * (error['column'] - 1)}^"
    yield f"Refused: {_count(len(found['errors']), 'error')} in the source."


def _lines(found: Json) -> Iterable[str]:
    yield f"{found['title']} ({found['file']})"
    yield ""
    yield f"tone      {_tone(found)}"
    for line in _evidence(found):
        yield f"          {line}"
    yield f"voices    {found['voices']}: {', '.join(found['voice_names'])}"
    theme = found["theme"]
    yield f"theme     {theme['notes']} notes: {' '.join(theme['pitches'])}"
    yield from _block("entries", (_entry(e) for e in found["entries"]))
    yield from _block("cadences", (_cadence(c) for c in found["cadences"]))
    yield from _block("steps", (_step(s) for s in found["steps"]))
    yield from _block("supplied", (_supplied(s) for s in found["editorial"]))
    yield from _block("warnings", iter(found["warnings"]))
    yield from _block("findings", (line for f in found["findings"] for line in _finding(f)))
    if found["cost"] is not None:
        yield f"cost      {found['cost']}"
    yield ""
    yield _verdict(found)


def _tone(found: Json) -> str:
    metre = "no accidental" if found["signature"] == "none" else found["signature"]
    near = ""
    if len(found["tones"]) > 1:
        first, second = found["tones"][:2]
        near = f" (weight {first['weight']}; next is tone {second['tone']}, {second['weight']})"
    return f"{found['tone']}, final {found['final']}, signature {metre}{near}"


def _evidence(found: Json) -> Iterable[str]:
    for reading in found["tones"][:1]:
        for reason in reading["evidence"]:
            yield f"{reason['weight']:+g}  {reason['text']}"


def _block(name: str, lines: Iterable[str]) -> Iterable[str]:
    """Lines under one name in the margin; nothing when there are none."""
    for n, line in enumerate(lines):
        yield f"{name if n == 0 else '':<10}{line}"


def _place(item: Json) -> str:
    return f"bar {item['bar']}, beat {item['beat']}"


def _entry(entry: Json) -> str:
    return (
        f"{_place(entry):<18}{entry['voice']:<8}{entry['pitch']:<4}clef {entry['clef']:<4}"
        f"{_KINDS[entry['kind']]}: {entry['evidence']}"
    )


def _cadence(cadence: Json) -> str:
    return f"{_place(cadence):<18}on {cadence['degree']:<3}{cadence['kind']}: {cadence['evidence']}"


def _step(step: Json) -> str:
    first, last = (f"bar {step[f'{edge}_bar']}, beat {step[f'{edge}_beat']}" for edge in ("first", "last"))
    return f"{step['name']:<12}{f'{first} – {last}':<36}{', '.join(step['voices'])}"


def _supplied(item: Json) -> str:
    return f"{_place(item):<18}{item['voice']:<8}{item['kind']} {item['sign']}"


def _finding(finding: Json) -> Iterable[str]:
    message = finding["message"].rstrip(".")
    named = all(voice in message for voice in finding["voices"])
    who = "" if named else f" ({', '.join(finding['voices'])})"
    allowed = f"; allowed: {finding['allowed']}" if finding["allowed"] else ""
    yield (
        f"{finding['severity']}: {_place(finding)}: {message}{who} "
        f"[{finding['rule']}, {finding['version']}]{allowed}"
    )
    if finding["mend"] and not finding["allowed"]:
        yield f"    {finding['mend']}"


def _verdict(found: Json) -> str:
    standing = [f for f in found["findings"] if not f["allowed"]]
    errors = sum(f["severity"] == "error" for f in standing)
    warnings = sum(f["severity"] == "warning" for f in standing) + len(found["warnings"])
    allowed = len(found["findings"]) - len(standing)
    text = f"{_count(errors, 'error')}, {_count(warnings, 'warning')}"
    return text + (f", {allowed} allowed." if allowed else ".")


def _count(number: int, thing: str) -> str:
    return f"{number or 'no'} {thing}{'' if number == 1 else 's'}"
