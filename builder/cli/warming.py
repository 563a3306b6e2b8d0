"""The call `warm`: a share of a course's work done ahead, on whatever machine."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from builder.cli.telling import tell
from builder.pages.trouble import told_together
from builder.plugin.site import SiteError, course_file, warm
from builder.source.wording import told


def read_shard(text: str) -> tuple[int, int]:
    """Which share, and of how many; `ValueError` for anything else.

    >>> read_shard("2/4")
    (2, 4)
    """
    found = re.fullmatch(r"(\d{1,4})/(\d{1,4})", text)
    if not found or not 1 <= int(found[1]) <= int(found[2]):
        raise ValueError(f"{text!r} is no share: such as 2/4, the second of four")
    return int(found[1]), int(found[2])


def warm_course(config_file: Path, shard: tuple[int, int]) -> int:
    """Fill a share of a course's store; 1 when something in it fails, told all together."""
    try:
        count, language, failures = warm(course_file(config_file), shard)
    except SiteError as problem:
        tell(problem, file=sys.stderr)
        return 1
    for line in told_together(failures, language=language):
        tell(line, file=sys.stderr)
    tell(told(f"{count - len(failures)} of {count} versets are ready", language))
    return int(bool(failures))
