"""The call `release`: one command from a course to the archive of its edition."""

from __future__ import annotations

import sys
from pathlib import Path

from builder.cli.telling import tell
from builder.edition.book.book import Book
from builder.edition.release.release import About, faults, release, short_name
from builder.plugin.site import Site, SiteError, build_for_release, course_file, read_site
from builder.source.provenance import Provenance

_NEEDED = (
    "A release takes from book: under the plugin verset: version (such as 1.0.0), licence (an SPDX "
    "identifier such as CC-BY-4.0), licence_file (its whole text), and name (short, for file names)."
)


def release_course(config_file: Path, folder: Path, previous: Path | None) -> int:
    """Build a course's site strictly, its book and sheets, and pack them all; 1 when something hinders
    it. Every reason is told, and nothing is half-written."""
    try:
        config_file = course_file(config_file)
        site, options = read_site(config_file)
        front = options.book
        about, problems = _about(site, front, options.defaults.provenance)
        problems += faults(about, previous)
        if not site.opens_from_disk:
            problems.append("use_directory_urls is on: a site that opens from a disk needs it off")
        if problems:
            return _refuse(config_file, problems)
        course = build_for_release(config_file)
        done = release(about, site.folder, course.released, folder, previous=previous)
    except (SiteError, ValueError) as problem:
        tell(problem, file=sys.stderr)
        return 1
    tell(done.path)
    tell(f"sha256 {done.sha256}")
    return 0


def _about(site: Site, front: Book, said: Provenance) -> tuple[About, list[str]]:
    """What the edition says of itself, and what it ought to say and does not."""
    text, problems = "", []
    if front.licence_file:
        path = site.root / front.licence_file
        try:
            text = path.read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            problems.append(f"licence_file {front.licence_file!r} cannot be read as text")
            text = "?"
    about = About(
        name=front.name or short_name(front.title),
        title=front.title,
        version=front.version,
        authors=front.authors,
        licence=front.licence,
        licence_text=text,
        abstract=site.description,
        lang=front.lang,
        publisher=front.publisher,
        said=said,
    )
    return about, problems


def _refuse(config_file: Path, problems: list[str]) -> int:
    for problem in problems:
        tell(f"{config_file}: {problem}", file=sys.stderr)
    tell(_NEEDED, file=sys.stderr)
    return 1
