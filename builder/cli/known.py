"""The versets of a course, for calls that look at them all."""

from __future__ import annotations

import sys
from pathlib import Path

from builder.cli.telling import tell
from builder.pages.trouble import told_together
from builder.plugin.site import SiteError, course_file, versets
from builder.source import Verset


def known_versets(config_file: Path) -> tuple[dict[str, Verset], str] | None:
    """The versets of a course by name, and its language; those that cannot be read are told. Nothing, and
    told why, when its `mkdocs.yml` is wrong.

    >>> known_versets(Path("no-such-folder/mkdocs.yml")) is None
    True
    """
    try:
        found, language, failures = versets(course_file(config_file))
    except SiteError as problem:
        tell(problem, file=sys.stderr)
        return None
    for line in told_together(failures, language=language):
        tell(line, file=sys.stderr)
    return found, language
