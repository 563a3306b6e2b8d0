"""A place in a source file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A place in a source file; line and column from 1."""

    line: int
    column: int


NOWHERE = Span(0, 0)
