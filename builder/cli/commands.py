"""What each call of the command line does."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from importlib.resources import files
from pathlib import Path
from string import Template

from builder.cli.language import language_of
from builder.cli.options import defaults_of
from builder.cli.telling import tell
from builder.cli.whole import whole
from builder.counterpoint import Finding
from builder.counterpoint.check.musicxml import UnreadableScore, check_musicxml
from builder.edition.files import write_files
from builder.edition.imprint import UNSIGNED
from builder.edition.pdf.homework import homework
from builder.language.texts import ENGLISH, page_texts, texts
from builder.music import Clef, Version
from builder.pages.facts import where
from builder.pages.trouble import Failure, told_together, tried
from builder.pages.zoning import zones_page
from builder.setting.reading import read_verset
from builder.setting.report import Json, refused
from builder.setting.report_text import findings_text, report_text
from builder.setting.setting import Setting, set_verset
from builder.setting.source_warnings import lost_warnings
from builder.setting.transpose import spoken_interval, suits
from builder.source import Blank, SourceError, SourceErrors, parts_of
from builder.source import write as written_source
from builder.source.files import MUSICXML
from builder.source.wording import told

COURSE = {
    "mkdocs.yml": "mkdocs.yml",
    "index.md": "content/index.md",
    "example.md": "content/{folder}/{example}.md",
}
"""Files of a new course: name in the package, and where it goes; folders and pages in its language."""


def check(sources: Sequence[Path], as_json: bool, language: str = "") -> int:
    """Print a report on each source; 1 when a source is refused or breaks a rule without licence, 2 when one
    cannot be checked. No source keeps the others from their reports. In words it is in the language asked
    for, else in that of the source or its course; the JSON, which programs read, in English unless one is
    asked for."""
    reports: list[Json] = []
    bad, failures = False, []
    for path in sources:
        speaks = language or ("en" if as_json else language_of(path))
        checked = tried(str(path), partial(_checked, path, speaks))
        if isinstance(checked, Failure):
            failures.append(checked)
            continue
        report, told, wrong = checked
        bad |= wrong
        reports.append(report)
        if not as_json:
            tell(told)
    if as_json and reports:
        tell(json.dumps(reports if len(sources) > 1 else reports[0], ensure_ascii=False, indent=2))
    for line in told_together(failures, language=language or language_of(sources[0])):
        tell(line, file=sys.stderr)
    return 2 if failures else int(bad)


def _checked(path: Path, language: str) -> tuple[Json, str, bool]:
    """The report on a source, the same in words, and whether anything is wrong."""
    try:
        score = path.suffix.lower() in MUSICXML and parts_of(path) != 1
        found = check_musicxml(path) if score else ()
    except SourceErrors as errors:
        return refused(str(path), errors.errors), errors.told(language), True
    except UnreadableScore as problem:
        why = str(problem).removeprefix(f"{path}: ").removeprefix(f"{path.stem}: ")
        error = SourceError(str(path), 1, 1, why, "a score of two to five voices")
        return refused(str(path), (error,)), f"{path}: {told(why, language)}", True
    if score:
        report: Json = {"file": path.name, "findings": [_plain(f, language) for f in found]}
        return report, findings_text(str(path), found, language), any(f.severity == "error" for f in found)
    try:
        setting = set_verset(read_verset(path), defaults_of(path), language=language)
    except SourceErrors as errors:
        return refused(str(path), errors.errors), errors.told(language), True
    report = setting.report(language)
    return report, report_text(report, language), bool(setting.errors)


def build(source: Path, folder: Path, audio: bool, move: str = "", language: str = "") -> int:
    """Write every file of one verset's edition, at the pitch `move` from the written one when it says
    one, in the language asked for, else in that of its front matter. Nothing is written from a refused
    source, nor from one whose edition cannot be made whole."""
    w = page_texts(language or language_of(source))
    try:
        verset = read_verset(source)
        if move:
            verset = replace(verset, settings=replace(verset.settings, move="" if move == "none" else move))
        setting: Setting = set_verset(verset, defaults_of(source), language=w.language)
    except SourceErrors as errors:
        tell(errors.told(w.language), file=sys.stderr)
        return 1
    except ValueError as problem:  # a pitch that cannot be written
        tell(f"{source}: {told(f'{problem}: choose a nearer pitch', w.language)}", file=sys.stderr)
        return 1
    for text in setting.warnings(w.language):
        tell(f"{source}: {text}", file=sys.stderr)
    with whole(folder) as work:
        imprint = replace(UNSIGNED, lang=w.language)
        made = write_files(setting, work, audio=None if audio else {}, imprint=imprint)
    for path in made:
        tell(folder / path.name)
    for finding in setting.errors:
        met, _, _ = finding.told(w.language)
        tell(f"{where(finding.place, w)}: {finding.rule}: {met}", file=sys.stderr)
    return int(bool(setting.errors))


def homework_sheets(
    source: Path,
    folder: Path,
    blanks: Sequence[Blank],
    version: Version,
    clefs: Mapping[str, Clef],
    language: str = "",
) -> int:
    """Write a sheet of a verset with blanks, and one with its answers."""
    w = page_texts(language or language_of(source))
    try:
        verset = read_verset(source)
        setting = set_verset(verset, defaults_of(source), language=w.language)
        imprint = replace(UNSIGNED, lang=w.language)
        made = homework(setting, blanks, version=version, clefs=clefs, imprint=imprint)
    except SourceErrors as errors:
        tell(errors.told(w.language), file=sys.stderr)
        return 1
    except ValueError as problem:
        tell(f"{source}: {told(str(problem), w.language)}", file=sys.stderr)
        return 1
    names = [f"{verset.name}-{kind}.pdf" for kind in ("homework", "answers")]
    with whole(folder) as work:
        for name, sheet in zip(names, made, strict=True):
            (work / name).write_bytes(sheet)
    for name in names:
        tell(folder / name)
    return 0


def write(source: Path, target: Path | None) -> int:
    """Write a source of any format as text that can be edited, to a file that is not there yet or to the
    terminal; what is lost is listed."""
    speaks = language_of(source)
    try:
        verset = read_verset(source)
        text = written_source(verset)
    except SourceErrors as errors:
        tell(errors.told(speaks), file=sys.stderr)
        return 1
    for lost in lost_warnings(verset, speaks):
        tell(f"{source}: {lost}", file=sys.stderr)
    if target is None:
        tell(text, end="")
    elif target.exists():
        tell(f"{target} {told('is there already: name a new file', speaks)}", file=sys.stderr)
        return 2
    else:
        target.write_text(text, "utf-8")
        tell(target)
    return 0


def pitches(source: Path) -> int:
    """List the usual transpositions of a verset: signature, clefs, and what is hard there."""
    speaks = language_of(source)
    try:
        verset = read_verset(source)
    except SourceErrors as errors:
        tell(errors.told(speaks), file=sys.stderr)
        return 1
    written = replace(verset, settings=replace(verset.settings, move=""))
    for suit in suits(written, tuning=verset.settings.tuned):
        clefs = dict.fromkeys(g.clef.name for g in suit.verset.given)
        has = told(f"signature {suit.verset.signature}, {' '.join(clefs)}", speaks)
        tell(f"{spoken_interval(suit.interval)}: {has}")
        for text in dict.fromkeys(f.told(speaks)[0] for f in suit.findings):
            tell(f"    {text}")
    return 0


def new(folder: Path, language: str = ENGLISH) -> int:
    """Start a course in a language: a `mkdocs.yml`, a first page and a first verset. Never writes over a
    file."""
    say = texts("start", language)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        tell(say("taken", folder=folder), file=sys.stderr)
        return 2
    option = "" if language == ENGLISH else f":\n      language: {language}"
    names = {key: say(f"names.{key}") for key in ("folder", "example")}
    words = {key: say(key, **names) for key in ("site", "dark", "light", "index", "title", "intro", "words")}
    for name, target in COURSE.items():
        path = folder / target.format(**names)
        path.parent.mkdir(parents=True, exist_ok=True)
        pattern = Template(files("builder.cli").joinpath("course", name).read_text("utf-8"))
        path.write_text(pattern.substitute(words, options=option), "utf-8")
    tell(say("started", folder=folder))
    return 0


def zones(path: Path, language: str) -> int:
    """Write the page with which bars are marked on a picture of a source, where no file is yet."""
    if path.exists():
        tell(f"{path} {told('is there already: name a new file', language)}", file=sys.stderr)
        return 1
    path.write_text(zones_page(language), encoding="utf-8")
    tell(path)
    return 0


def _plain(finding: Finding, language: str) -> Json:
    message, mend, _ = finding.told(language)
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "bar": finding.place.bar,
        "beat": float(finding.place.beat),
        "voices": list(finding.voices),
        "message": message,
        "mend": mend,
    }


__all__ = ["build", "check", "new", "pitches", "write", "zones"]
