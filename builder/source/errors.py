"""Errors of a source, told to the musician."""

from __future__ import annotations

from dataclasses import dataclass

from builder.music import Place


@dataclass(frozen=True, slots=True)
class SourceError:
    """One thing wrong in a source: where, what was found, what was expected, and the line."""

    path: str
    line: int
    column: int
    found: str
    expected: str
    text: str = ""
    place: Place | None = None

    def __str__(self) -> str:
        where = f"{self.path}:{self.line}:{self.column}: "
        bar = f"{self.place}: " if self.place else ""
        shown = f"\n    {self.text}\n    {' ' * (self.column - 1)}^" if self.text else ""
        return f"{where}{bar}found {self.found}; expected {self.expected}{shown}"


class SourceErrors(ValueError):
    """All errors of one file; its text lists every one."""

    def __init__(self, errors: tuple[SourceError, ...]) -> None:
        self.errors = errors
        super().__init__("\n".join(map(str, errors)))
