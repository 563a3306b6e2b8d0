"""The versets of the course, each taken through the house once in a process: setting one takes seconds."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from builder.setting.setting import Setting, set_verset
from builder.source import read

VERSETS = tuple(sorted((Path(__file__).parents[1] / "content" / "versets").glob("*.md")))


@cache
def course_setting(name: str) -> Setting:
    """A verset of the course by the name of its file, as its source asks for it."""
    return set_verset(read(next(path for path in VERSETS if path.stem == name)))
