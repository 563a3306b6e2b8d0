"""A student's file of work, judged as its page judges it: which sonorities are in order, and what is not."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.analysis import Analysis, Step, analyse
from builder.counterpoint import Finding, Phrase, check
from builder.counterpoint.figured_bass.events import Event
from builder.language.texts import texts
from builder.music import VOICES, Note, Part, Pitch, Score, Version
from builder.pages.exercise import exercise_key, parted, second_half
from builder.setting.setting import is_error
from builder.source import Verset

LARGEST = 1_000_000
"""Bytes of a file of work; a page writes some thousands."""
UNPREPARED = "suspension-unprepared"
"""The rule that asks for the sonority before."""
_HIGHEST = 70
"""Staff steps of the highest note a file may name (C10)."""
Row = Sequence[Pitch | None]
"""The notes of a voice, sonority by sonority."""


class WorkError(ValueError):
    """A file that is no work on a step of this course, and why: `told` says it in a language."""

    def __init__(self, why: Phrase, path: Path | None = None) -> None:
        self.why, self.path = why, path
        super().__init__(f"{path}: {self.told()}" if path else self.told())

    def told(self, language: str = "en") -> str:
        """In words, without the file."""
        return texts("homework", language).said(self.why)


@dataclass(frozen=True, slots=True)
class Work:
    """What a student put in: by voice a pitch at each sonority, and where the student divided it a second
    one (None: nothing yet, or not divided)."""

    key: str
    first: Mapping[str, Row]
    second: Mapping[str, Row]


@dataclass(frozen=True, slots=True)
class Marked:
    """A step as the student left it: of `total` sonorities `complete` have all their notes, and of these
    `good` are in order. `findings`: what the rules say inside the step, in time."""

    verset: Verset
    step: Step
    total: int
    complete: int
    good: int
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """What is not in order."""
        return tuple(f for f in self.findings if is_error(f))


def read_work(path: Path) -> Work:
    """The work in a file that the page of a step wrote. `WorkError` when it is none.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "work.json"
    ...     _ = path.write_text('{"key": "two-1-2", "work": {"cantus": [[35, 0], null, [31, 1]]}}')
    ...     work = read_work(path)
    >>> work.key, work.first["cantus"]
    ('two-1-2', (Pitch('C5'), None, Pitch('F#4')))
    """
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise WorkError(Phrase.of("wrong.large", most=LARGEST), path)
        data = json.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError):
        raise WorkError(Phrase("wrong.cut"), path) from None
    if not (
        isinstance(data, dict) and isinstance(data.get("key"), str) and isinstance(data.get("work"), dict)
    ):
        raise WorkError(Phrase("wrong.other"), path)
    rows = {v: row for v, row in data["work"].items() if v in VOICES}
    then = data["work"].get("then", {})
    second = {v: row for v, row in then.items() if v in rows} if isinstance(then, dict) else {}
    return Work(data["key"], _rows(path, rows), _rows(path, second))


def _rows(path: Path, rows: Mapping[str, Any]) -> dict[str, Row]:
    found: dict[str, Row] = {}
    for voice, row in rows.items():
        if not isinstance(row, list):
            raise WorkError(Phrase.of("wrong.row", voice=voice), path)
        found[voice] = tuple(_pitch(path, voice, n, each) for n, each in enumerate(row, 1))
    return found


def _pitch(path: Path, voice: str, n: int, each: Any) -> Pitch | None:
    if each is None:
        return None
    whole = isinstance(each, list) and len(each) == 2 and all(type(x) is int for x in each)
    if not whole or not 0 <= each[0] <= _HIGHEST or not -1 <= each[1] <= 1:
        found = json.dumps(each)[:40]
        raise WorkError(Phrase.of("wrong.pitch", voice=voice, n=n, found=found), path)
    return Pitch(*each)


def marked(work: Work, versets: Mapping[str, Verset], analyses: dict[str, Analysis]) -> Marked:
    """Judge a work against the course's versets by name. An analysis is looked for in `analyses`, and left
    there. `WorkError` when no step of the course has such an exercise.

    A student sets the cantus over the altus, and at the close takes B for the leading note C sharp, so
    that the suspension before it does not resolve either:

    >>> from builder.source import EXAMPLE, parse
    >>> row = tuple(map(Pitch.parse, ("A4", "A4", "C5", "C5", "F5", "D5", "D5", "B4")))
    >>> seen = marked(Work("two-2.2-4.2", {"cantus": row}, {}), {"two": parse(EXAMPLE, "two.md")}, {})
    >>> seen.step.name, seen.total, seen.complete, seen.good
    ('altus', 8, 8, 6)
    >>> seen.findings[0].rule
    'suspension-unresolved'
    """
    for name, verset in versets.items():
        if not work.key.startswith(f"{name}-"):
            continue
        analysis = analyses.get(name) or analyses.setdefault(name, analyse(verset))
        for step in analysis.steps:
            if exercise_key(verset, step.start, step.end) == work.key:
                return _marked(work, verset, analysis, step)
    raise WorkError(Phrase.of("wrong.step", step=work.key))


def _marked(work: Work, verset: Verset, analysis: Analysis, step: Step) -> Marked:
    events = parted(verset, analysis, step.start, step.end)
    for voice, row in work.first.items():
        if len(row) != len(events):
            asked = {"step": work.key, "voice": voice, "count": len(row), "events": len(events)}
            raise WorkError(Phrase.of("wrong.count", **asked))
    score = _score(work, verset, step, events)
    findings = tuple(
        f
        for f in check(score, verset=verset, analysis=analysis, tuning=verset.settings.tuned)
        if step.start <= f.onset < step.end and not f.allowed and not _begun_before(f, events)
    )
    complete = [
        event
        for n, event in enumerate(events)
        if all(v in work.first and work.first[v][n] for v in event.upper)
    ]
    wrong = {f.onset for f in findings if is_error(f)}
    good = [e for e in complete if not any(e.onset <= onset < e.end for onset in wrong)]
    told = tuple(f for f in findings if any(e.onset <= f.onset < e.end for e in complete))
    return Marked(verset, step, len(events), len(complete), len(good), told)


def _begun_before(finding: Finding, events: Sequence[Event]) -> bool:
    """Whether a finding asks for what stands before the step: its first sonority may hold a note over."""
    return finding.rule == UNPREPARED and finding.onset == events[0].onset


def _score(work: Work, verset: Verset, step: Step, events: Sequence[Event]) -> Score:
    """The line of the step with the student's voices over it."""
    line = verset.score().excerpt(step.start, step.end)
    parts = []
    for voice in VOICES:
        given = next((part.notes for part in line.parts if part.voice == voice), ())
        notes = sorted((*given, *_held(work, events, voice)), key=lambda note: note.onset)
        if notes:
            parts.append(Part(voice, tuple(notes)))
    return Score(
        verset.title,
        Version.PLAIN,
        verset.metre,
        verset.signature,
        line.bars,
        tuple(parts),
        line.figures,
        line.closed,
    )


def _held(work: Work, events: Sequence[Event], voice: str) -> Iterator[Note]:
    """The notes of a voice; one that stays from sonority to sonority is held."""
    open_note: Note | None = None
    for note in _struck(work, events, voice):
        if open_note and open_note.end == note.onset and open_note.pitch == note.pitch:
            open_note = Note(open_note.onset, open_note.duration + note.duration, note.pitch)
            continue
        if open_note:
            yield open_note
        open_note = note
    if open_note:
        yield open_note


def _struck(work: Work, events: Sequence[Event], voice: str) -> Iterator[Note]:
    first, second = work.first.get(voice, ()), work.second.get(voice, ())
    for n, event in enumerate(events):
        if voice not in event.upper or n >= len(first) or not (pitch := first[n]):
            continue
        then = second[n] if n < len(second) else None
        half = second_half(event) if then else None
        if half is None:
            yield Note(event.onset, event.duration, pitch)
        else:
            yield Note(event.onset, half, pitch)
            yield Note(event.onset + half, event.duration - half, then)
