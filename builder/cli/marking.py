"""The call `mark`: the work that students sent, judged step by step, and what they most often get wrong."""

from __future__ import annotations

import csv
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from builder.analysis import Analysis
from builder.cli.known import known_versets
from builder.cli.telling import tell
from builder.counterpoint.rules.phrases import worded
from builder.language.columns import columns
from builder.language.texts import Texts, page_texts, texts
from builder.pages.facts import step_title, where
from builder.pages.homework import Marked, WorkError, marked, read_work
from builder.source.errors import visible

COMMON = 5
"""How many of the commonest faults are told."""


def mark(paths: Sequence[Path], config_file: Path, table: Path | None = None) -> int:
    """Print a table of what is in order in each file of work, its faults below it, and what the class gets
    wrong most often; with `table` the same for a spreadsheet. A folder stands for the files of work in it, at
    any depth. 0 when every file could be judged, whatever is in it; 1 when one could not; 2 when the course
    cannot be read."""
    course = known_versets(config_file)
    if course is None:
        return 2
    known, language = course
    say, analyses = texts("homework", language), dict[str, Analysis]()
    done, refused = list[tuple[str, Marked]](), list[tuple[str, str]]()
    for path in _files(paths):
        try:
            done.append((_student(path, paths), marked(read_work(path), known, analyses)))
        except (WorkError, OSError) as problem:
            why = problem.told(language) if isinstance(problem, WorkError) else str(problem)
            tell(f"{path}: {why}", file=sys.stderr)
            refused.append((_student(path, paths), say("refused", why=why)))
    rows = [_row(student, each, say, page_texts(language)) for student, each in done]
    heads = [say(f"heads.{name}") for name in ("student", "step", "whole", "good", "faults")]
    if rows:
        shown = columns([heads[:4], *((visible(row[0]), *row[1:4]) for row in rows)], right=(2, 3))
        for line, faults in zip(shown, [[], *(row[4] for row in rows)], strict=True):
            tell(line)
            tell("".join(f"  {fault}\n" for fault in faults), end="")
    for student, why in refused:
        tell(f"{student}: {why}")
    if rows:
        tell(f"{say('often')}: {_often([each for _, each in done], say) or say('none')}")
    if table:
        with table.open("w", encoding="utf-8-sig", newline="") as file:
            lines = [[*row[:4], "; ".join(row[4])] for row in rows]
            lost = [[student, "", "", "", why] for student, why in refused]
            csv.writer(file).writerows([heads, *lines, *lost])
    return int(bool(refused))


def _files(paths: Sequence[Path]) -> Iterator[Path]:
    for path in paths:
        yield from sorted(path.rglob("*.json")) if path.is_dir() else [path]


def _student(path: Path, paths: Sequence[Path]) -> str:
    """Whose work a file is: the folder that it lies in below one that was named, else the file's own name."""
    within = next((path.relative_to(top) for top in paths if top.is_dir() and path.is_relative_to(top)), path)
    return within.parts[0] if len(within.parts) > 1 and within is not path else path.stem


def _row(student: str, each: Marked, say: Texts, page: Texts) -> tuple[str, str, str, str, list[str]]:
    faults = [f"{where(f.place, page)}: {worded(f.rule, page.language).title}" for f in each.errors]
    return (
        student,
        say("step", title=each.verset.title, name=step_title(each.step, page)),
        f"{each.complete}/{each.total}",
        f"{each.good}/{each.complete}",
        faults,
    )


def _often(done: Sequence[Marked], say: Texts) -> str:
    """The rules that most works break, each counted once a work."""
    met = Counter(rule for each in done for rule in {f.rule for f in each.errors})
    return ", ".join(
        say("count", count=count, rule=worded(rule, say.language).title)
        for rule, count in sorted(met.items(), key=lambda item: (-item[1], item[0]))[:COMMON]
    )
