"""Arguments to calls."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from builder.cli import commands


def parser() -> argparse.ArgumentParser:
    """The command line, as `--help` tells it."""
    top = argparse.ArgumentParser(
        prog="verset-builder",
        description="Check a verset source, make the files of its edition, start a course.",
    )
    calls = top.add_subparsers(dest="call", required=True, metavar="WHAT")

    check = calls.add_parser("check", help="read, analyse, realise and judge sources; print a report")
    check.add_argument(
        "sources", nargs="+", type=Path, metavar="FILE", help="a verset source, or a score in MusicXML"
    )
    check.add_argument("--json", action="store_true", help="print reports as in report.json")
    check.set_defaults(run=lambda a: commands.check(a.sources, a.json))

    build = calls.add_parser("build", help="make all files of one verset's edition")
    build.add_argument("source", type=Path, metavar="FILE", help="a verset source")
    build.add_argument("--to", type=Path, default=Path(), metavar="FOLDER", help="where the files go")
    build.add_argument("--no-audio", action="store_true", help="leave the audio files out")
    build.set_defaults(run=lambda a: commands.build(a.source, a.to, not a.no_audio))

    new = calls.add_parser("new", help="start a course in a new or empty folder")
    new.add_argument("folder", type=Path, metavar="FOLDER")
    new.set_defaults(run=lambda a: commands.new(a.folder))
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; 0 when all is well, 1 when something is wrong in the music or its source,
    2 when the call itself is."""
    asked = parser().parse_args(arguments)
    try:
        code: int = asked.run(asked)
    except OSError as error:
        print(f"verset-builder: {error.filename or ''}: {error.strerror or error}", file=sys.stderr)
        return 2
    return code
