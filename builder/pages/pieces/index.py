"""The list of a course's versets."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping

from builder.pages.lesson import Lesson
from builder.pages.words import words


def index(lessons: Mapping[str, Lesson], uri: str, language: str) -> str:
    """A table of the course's versets, for the page at `uri`."""
    w = words(language)
    columns = ("Verset", "Tone", "Voices", "Cadence", "Length")
    lines = ["| " + " | ".join(w(f"pages.index{c}") for c in columns) + " |", "|---" * len(columns) + "|"]
    for lesson in lessons.values():
        link = posixpath.relpath(lesson.uri, posixpath.dirname(uri) or ".")
        facts = " | ".join(lesson.summary[key] for key in ("tone", "voices", "cadence", "length"))
        lines.append(f"| [{lesson.title}]({link}) | {facts} |")
    return "\n".join(lines)
