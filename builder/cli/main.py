"""Arguments to calls."""

from __future__ import annotations

import argparse
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

from builder.cli import commands
from builder.cli.language import language_of
from builder.cli.telling import tell
from builder.edition.service.order import FIRST, PARTS
from builder.invention.order import ANSWERS, CHARACTERS, CLOSES, Order
from builder.language.texts import ENGLISH, languages
from builder.music import VOICES, Clef, Version
from builder.pages.trouble import asked_for, log_of, of_the_system, unforeseen
from builder.setting.transpose import read_interval
from builder.source import Blank
from builder.source.wording import told


def parser() -> argparse.ArgumentParser:
    """The command line, as `--help` tells it."""
    top = argparse.ArgumentParser(
        prog="verset-builder",
        description="Check a verset source, make the files of its edition, start a course, release it.",
    )
    calls = top.add_subparsers(dest="call", required=True, metavar="WHAT")
    _verset_calls(calls)
    _course_calls(calls)
    return top


_Calls = argparse._SubParsersAction  # the standard library gives it no public name


def _verset_calls(calls: _Calls[argparse.ArgumentParser]) -> None:
    """Calls on the source of a verset."""
    check = calls.add_parser("check", help="read, analyse, realise and judge sources; print a report")
    check.add_argument(
        "sources", nargs="+", type=Path, metavar="FILE", help="a verset source, or a score in MusicXML"
    )
    check.add_argument("--json", action="store_true", help="print reports as in report.json")
    check.add_argument("--language", choices=languages(), help="of the report; without, that of the course")
    check.set_defaults(run=lambda a: commands.check(a.sources, a.json, a.language or ""))

    build = calls.add_parser("build", help="make all files of one verset's edition")
    build.add_argument("source", type=Path, metavar="FILE", help="a verset source")
    build.add_argument("--to", type=Path, default=Path(), metavar="FOLDER", help="where the files go")
    build.add_argument("--no-audio", action="store_true", help="leave the audio files out")
    build.add_argument(
        "--move", type=_interval, metavar="INTERVAL", help='another pitch, as in "a tone lower"'
    )
    build.add_argument("--language", choices=languages(), help="of its texts; without, that of the course")
    build.set_defaults(
        run=lambda a: commands.build(a.source, a.to, not a.no_audio, a.move or "", a.language or "")
    )

    sheet = calls.add_parser("homework", help="a sheet with voices or bars left blank, and its answers")
    sheet.add_argument("source", type=Path, metavar="FILE", help="a verset source")
    sheet.add_argument(
        "--blank", action="append", required=True, type=_blank, metavar="VOICE [BARS]",
        help='what is left blank, as in "altus" or "tenor 3-6"; may be given again',
    )  # fmt: skip
    sheet.add_argument("--of", choices=("plain", "diminished"), default="plain", help="the version")
    sheet.add_argument(
        "--clef", action="append", default=[], type=_clef, metavar="VOICE=CLEF",
        help='another clef of a voice, as in "altus=G2"; may be given again',
    )  # fmt: skip
    sheet.add_argument("--to", type=Path, default=Path(), metavar="FOLDER", help="where the two sheets go")
    sheet.add_argument("--language", choices=languages(), help="of its texts; without, that of the course")
    sheet.set_defaults(run=_homework)

    write = calls.add_parser("write", help="write a source in MusicXML or MEI as text that can be edited")
    write.add_argument("source", type=Path, metavar="FILE", help="a verset source of any format")
    write.add_argument("--to", type=Path, metavar="FILE", help="a new file; without, the terminal")
    write.set_defaults(run=lambda a: commands.write(a.source, a.to))

    zones = calls.add_parser("zones", help="a page to mark bars on a picture of a source, by touch")
    zones.add_argument("--to", type=Path, default=Path("zones.html"), metavar="FILE", help="a new file")
    zones.add_argument("--language", choices=languages(), default="en", help="of the page")
    zones.set_defaults(run=lambda a: commands.zones(a.to, a.language))

    pitches = calls.add_parser("pitches", help="list the pitches that suit a verset, the easiest first")
    pitches.add_argument("source", type=Path, metavar="FILE", help="a verset source")
    pitches.set_defaults(run=lambda a: commands.pitches(a.source))


def _course_calls(calls: _Calls[argparse.ArgumentParser]) -> None:
    """Calls on a whole course."""
    new = calls.add_parser("new", help="start a course in a new or empty folder")
    new.add_argument("folder", type=Path, metavar="FOLDER")
    new.add_argument("--language", choices=languages(), default=ENGLISH, help="of the course")
    new.set_defaults(run=lambda a: commands.new(a.folder, a.language))

    _add_invent(calls)
    _add_service(calls)

    warm = calls.add_parser("warm", help="make a share of a course's versets ahead, on this machine")
    warm.add_argument(
        "course", nargs="?", type=Path, default=Path("mkdocs.yml"), metavar="COURSE", help="its mkdocs.yml"
    )
    warm.add_argument("--shard", type=_shard, default=(1, 1), metavar="I/N", help="which share, of how many")
    warm.set_defaults(run=_warm)

    mark = calls.add_parser("mark", help="judge the files of work that students sent")
    mark.add_argument(
        "works", nargs="+", type=Path, metavar="WORK", help="a file that a page wrote, or a folder of them"
    )
    mark.add_argument(
        "--course", type=Path, default=Path("mkdocs.yml"), metavar="COURSE", help="its mkdocs.yml"
    )
    mark.add_argument("--table", type=Path, metavar="FILE", help="write the same as CSV, for a spreadsheet")
    mark.set_defaults(run=_mark)

    release = calls.add_parser("release", help="build a course and pack its whole edition in one archive")
    release.add_argument(
        "course", nargs="?", type=Path, default=Path("mkdocs.yml"), metavar="COURSE", help="its mkdocs.yml"
    )
    release.add_argument(
        "--to", type=Path, default=Path("release"), metavar="FOLDER", help="where the archive goes"
    )
    release.add_argument(
        "--since", type=Path, metavar="ARCHIVE", help="the last release, for the list of changes"
    )
    release.set_defaults(run=_release)


def _add_invent(calls: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The call that writes a new verset."""
    new = calls.add_parser("invent", help="write a new verset from a tone, voices, a length and a seed")
    new.add_argument("--tone", type=int, required=True, metavar="N", help="1 to 8")
    new.add_argument(
        "--voices", default=" ".join(VOICES), metavar="VOICES",
        help='in the order of their entries, the lowest last, as in "cantus tenor"',
    )  # fmt: skip
    new.add_argument("--bars", type=int, default=14, metavar="N", help="about how long it is")
    new.add_argument("--character", default=CHARACTERS[0], metavar="WORD", help=", ".join(CHARACTERS))
    new.add_argument("--metre", default="", metavar="METRE", help="without, the first of the character")
    new.add_argument("--answers", default=ANSWERS[0], metavar="WORD", help=", ".join(ANSWERS))
    new.add_argument("--theme", default="", metavar="NOTES", help='as in "D5/2 A4/4. B4/8 C5/4 B4/4 A4/2"')
    new.add_argument("--cadences", default="", metavar="LETTERS", help='closes inside, as in "F A"')
    new.add_argument("--close", default="", metavar="KIND", help=", ".join(CLOSES[1:]))
    new.add_argument("--seed", type=int, default=0, metavar="N", help="another number, another verset")
    new.add_argument("--to", type=Path, metavar="FILE", help="a new file; without, the terminal")
    new.add_argument("--language", choices=languages(), help="of its words; without, that of the course")
    new.set_defaults(run=_invent)


def _add_service(calls: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The call that suggests a service."""
    service = calls.add_parser("service", help="suggest who plays what in a Magnificat or a Mass")
    service.add_argument("of", choices=tuple(PARTS), metavar="WHAT", help=" or ".join(PARTS))
    service.add_argument(
        "--tone", action="append", required=True, metavar="[PART] N",
        help='1 to 8, or of one part, as in "gloria 4"; may be given again',
    )  # fmt: skip
    service.add_argument("--reciting", default="", metavar="LETTER", help="on which the choir recites")
    service.add_argument("--first", choices=FIRST, default=FIRST[0], help="who has the first verse")
    service.add_argument("--minutes", type=float, default=0.0, metavar="N", help="of a sung verse")
    service.add_argument(
        "--course", type=Path, default=Path("mkdocs.yml"), metavar="COURSE", help="its mkdocs.yml"
    )
    service.add_argument("--to", type=Path, metavar="FILE", help="a new file; without, the terminal")
    service.set_defaults(run=_service)


def _service(asked: argparse.Namespace) -> int:
    from builder.cli.servicing import suggest_service

    return suggest_service(
        asked.of, asked.tone, asked.reciting, asked.first, asked.minutes, asked.course, asked.to
    )


def _invent(asked: argparse.Namespace) -> int:
    from builder.cli.inventing import invent_source

    order = Order(
        asked.tone,
        tuple(asked.voices.split()),
        asked.bars,
        asked.character,
        asked.metre,
        asked.answers,
        asked.theme,
        tuple(asked.cadences.split()),
        asked.close,
        asked.seed,
    )
    return invent_source(order, asked.to, asked.language or "")


def _interval(text: str) -> str:
    """An interval in words, checked."""
    try:
        read_interval(text)
    except ValueError as problem:
        raise argparse.ArgumentTypeError(str(problem)) from None
    return text


def _shard(text: str) -> tuple[int, int]:
    from builder.cli.warming import read_shard

    try:
        return read_shard(text)
    except ValueError as problem:
        raise argparse.ArgumentTypeError(str(problem)) from None


def _blank(text: str) -> Blank:
    try:
        return Blank.parse(text)
    except ValueError:
        problem = f"{text!r} is no blank: a voice and bars, such as altus, altus 5 or tenor 3-6"
        raise argparse.ArgumentTypeError(problem) from None


def _clef(text: str) -> tuple[str, Clef]:
    voice, _, clef = text.partition("=")
    if voice not in VOICES:
        raise argparse.ArgumentTypeError(f"{text!r}: a voice and its clef, such as altus=G2")
    try:
        return voice, Clef.parse(clef)
    except ValueError as problem:
        raise argparse.ArgumentTypeError(str(problem)) from None


def _homework(asked: argparse.Namespace) -> int:
    return commands.homework_sheets(
        asked.source, asked.to, asked.blank, Version(asked.of), dict(asked.clef), asked.language or ""
    )


def _warm(asked: argparse.Namespace) -> int:
    from builder.cli.warming import warm_course

    return warm_course(asked.course, asked.shard)


def _mark(asked: argparse.Namespace) -> int:
    from builder.cli.marking import mark

    return mark(asked.works, asked.course, asked.table)


def _release(asked: argparse.Namespace) -> int:
    # The site generator takes its time to load: only those wait who ask for it.
    from builder.cli.releasing import release_course

    return release_course(asked.course, asked.to, asked.since)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; 0 when all is well, 1 when something is wrong in the music or its source,
    2 when the call itself is.

    >>> main(["check", "no-such-file.md"])
    no-such-file.md:1:1: found no file that can be read (No such file or directory); expected a verset source
    1
    """
    asked = parser().parse_args(arguments)
    try:
        code: int = asked.run(asked)
    except OSError as error:
        tell(f"verset-builder: {of_the_system(error)}", file=sys.stderr)
        return 2
    except Exception as error:
        log = log_of([traceback.format_exc()])
        about = getattr(asked, "source", None)
        speaks = getattr(asked, "language", "") or (language_of(about) if about else ENGLISH)
        why = told(unforeseen(error), speaks)
        tell(f"verset-builder: {about or asked.call}: {why}\n{asked_for(log, speaks)}", file=sys.stderr)
        return 2
    return code
