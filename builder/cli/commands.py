"""What each call of the command line does."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

from builder.counterpoint import Finding
from builder.counterpoint.check.musicxml import check_musicxml
from builder.edition.files import write_files
from builder.setting.reading import read_verset
from builder.setting.report import Json, refused
from builder.setting.report_text import report_text
from builder.setting.setting import Defaults, Setting, set_verset
from builder.setting.transpose import spoken_interval, suits
from builder.source import SourceErrors

COURSE = {
    "mkdocs.yml": "mkdocs.yml",
    "index.md": "content/index.md",
    "example.md": "content/versets/example.md",
}
"""Files of a new course: name in the package, and where it goes."""


def check(sources: Sequence[Path], as_json: bool) -> int:
    """Print a report on each source; 1 when a source is refused or breaks a rule without licence."""
    reports: list[Json] = []
    bad = False
    for path in sources:
        if path.suffix in {".musicxml", ".xml", ".mxl"} and not _is_given_line(path):
            found = check_musicxml(path)
            bad |= any(f.severity == "error" for f in found)
            reports.append({"file": path.name, "findings": [_plain(f) for f in found]})
            if not as_json:
                _print_findings(path, found)
            continue
        try:
            setting = set_verset(read_verset(path))
        except SourceErrors as errors:
            bad = True
            reports.append(refused(str(path), errors.errors))
            if not as_json:
                print(errors)
            continue
        bad |= bool(setting.errors)
        reports.append(setting.report())
        if not as_json:
            print(report_text(reports[-1]))
    if as_json:
        print(json.dumps(reports if len(reports) > 1 else reports[0], ensure_ascii=False, indent=2))
    return int(bad)


def build(source: Path, folder: Path, audio: bool, move: str = "") -> int:
    """Write every file of one verset's edition, at the pitch `move` from the written one when it says
    one; nothing is written from a refused source."""
    try:
        verset = read_verset(source)
        if move:
            verset = replace(verset, settings=replace(verset.settings, move="" if move == "none" else move))
        setting: Setting = set_verset(verset)
    except SourceErrors as errors:
        print(errors, file=sys.stderr)
        return 1
    except ValueError as problem:  # a pitch that cannot be written
        print(f"{source}: {problem}: choose a nearer pitch", file=sys.stderr)
        return 1
    for text in setting.warnings():
        print(f"{source}: {text}", file=sys.stderr)
    for path in write_files(setting, folder, audio=audio):
        print(path)
    for finding in setting.errors:
        print(f"{finding.place}: {finding.rule}: {finding.message}", file=sys.stderr)
    return int(bool(setting.errors))


def pitches(source: Path) -> int:
    """List the usual transpositions of a verset: signature, clefs, and what is hard there."""
    try:
        verset = read_verset(source)
    except SourceErrors as errors:
        print(errors, file=sys.stderr)
        return 1
    written = replace(verset, settings=replace(verset.settings, move=""))
    for suit in suits(written, tuning=verset.settings.tuning or Defaults().tuning):
        clefs = dict.fromkeys(g.clef.name for g in suit.verset.given)
        print(f"{spoken_interval(suit.interval)}: signature {suit.verset.signature}, {' '.join(clefs)}")
        for text in dict.fromkeys(f.message for f in suit.findings):
            print(f"    {text}")
    return 0


def new(folder: Path) -> int:
    """Start a course: a `mkdocs.yml`, a first page and a first verset. Never writes over a file."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        print(f"{folder} is not empty: name a new folder", file=sys.stderr)
        return 2
    for name, target in COURSE.items():
        path = folder / target
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(files("builder.cli").joinpath("course", name).read_text("utf-8"), "utf-8")
    print(f"Started a course in {folder}. Build it there with: mkdocs build")
    return 0


def _is_given_line(path: Path) -> bool:
    """Whether a MusicXML file is a verset source, one part with figures, and not a finished score, whose
    bass may have them too."""
    if path.suffix == ".mxl":
        return False
    text = path.read_text("utf-8", errors="replace")
    return "<figured-bass" in text and text.count("</part>") == 1


def _plain(finding: Finding) -> Json:
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "bar": finding.place.bar,
        "beat": float(finding.place.beat),
        "voices": list(finding.voices),
        "message": finding.message,
        "mend": finding.mend,
    }


def _print_findings(path: Path, found: Sequence[Finding]) -> None:
    print(f"{path}: {len(found)} findings")
    for f in found:
        print(f"  {f.place}: {f.severity}: {f.rule} ({', '.join(f.voices)}): {f.message}")


__all__ = ["build", "check", "new", "pitches"]
