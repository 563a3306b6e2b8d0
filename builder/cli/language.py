"""In which language the command line speaks of a source."""

from __future__ import annotations

from pathlib import Path

from builder.cli.options import course_options
from builder.language.texts import ENGLISH, languages
from builder.source import SourceErrors, page_front
from builder.source.files import decode


def language_of(source: Path) -> str:
    """The language that a source asks for in its front matter, else that of the course in whose folder it
    lies, else English; what cannot be read asks for none."""
    for asked in (_of_its_own(source), course_options(source).get("language")):
        if isinstance(asked, str) and asked in languages():
            return asked
    return ENGLISH


def _of_its_own(source: Path) -> object:
    if source.suffix.lower() != ".md":
        return None
    try:
        return page_front(decode(source.read_bytes(), str(source)), str(source)).get("language")
    except (OSError, SourceErrors):
        return None
