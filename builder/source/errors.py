"""Errors of a source, told to the musician."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from builder.music import Place
from builder.source.wording import knows, told

WIDTH = 100
"""How much of a long line an error shows."""
MOST_ERRORS = 200
"""More than these are counted, not told."""
UNPRINTED = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufff9-\ufffb\ufffe\uffff]")
"""Characters that steer a terminal or turn the order of a line, and those that are none."""


def visible(text: str) -> str:
    """A text that may go to a terminal: what would steer it is shown as a sign of its own.

    >>> visible("a\\x1b[31mb\\x9b"), visible("two\\nlines")
    ('a␛[31mb�', 'two␊lines')
    """
    return UNPRINTED.sub(lambda m: chr(0x2400 + ord(m[0])) if m[0] < " " else "\ufffd", text)


def harmless_lines(text: str) -> str:
    """The same for a text of several lines, which stay lines.

    >>> harmless_lines("a" + chr(27) + "b\\nc")
    'a␛b\\nc'
    """
    return re.sub(r"[^\n\t]+", lambda part: visible(part[0]), text)


@dataclass(frozen=True, slots=True)
class SourceError:
    """One thing wrong in a source: where, what was found, what was expected, and the line.

    Line and column count from 1. `place` is the bar and beat; where only the bar can be told,
    `bar` has it.

    >>> print(SourceError("a.md", 3, 4, 'the pitch "H4"', "a letter from A to G", "R/2 H4/2"))
    a.md:3:4: found the pitch "H4"; expected a letter from A to G
        R/2 H4/2
           ^
    """

    path: str
    line: int
    column: int
    found: str
    expected: str
    text: str = ""
    place: Place | None = None
    bar: int | None = None

    def __post_init__(self) -> None:
        for name in ("path", "found", "expected"):
            object.__setattr__(self, name, visible(getattr(self, name)))
        # a tab stays, so that the mark stands under its symbol
        object.__setattr__(self, "text", "\t".join(map(visible, self.text.split("\t"))))

    def __str__(self) -> str:
        return self.told()

    def told(self, language: str = "en") -> str:
        """The error in a language: in English where one half of it has no phrase there."""
        if not all(knows(half, language) for half in (self.found, self.expected)):
            language = "en"
        where = f"{self.path}:{self.line}:{self.column}: "
        if self.place or self.bar:
            where += f"{told(str(self.place or f'bar {self.bar}'), language)}: "
        found, expected = told(self.found, language), told(self.expected, language)
        frame = told("found {found}; expected {expected}", language)
        return f"{where}{frame.replace('{found}', found).replace('{expected}', expected)}{self._shown()}"

    def _shown(self) -> str:
        """The line and a mark under the column; a long line is cut around it."""
        if not self.text.strip():
            return ""
        column = self.column - 1
        start = max(0, column - WIDTH // 2) if len(self.text) > WIDTH else 0
        line = self.text[start : start + WIDTH]
        before, after = "…" if start else "", "…" if start + WIDTH < len(self.text) else ""
        # a tab stays a tab, so that the mark stands under its symbol
        pad = "".join("\t" if c == "\t" else " " for c in before + self.text[start:column])
        return f"\n    {before}{line}{after}\n    {pad}^"


class SourceErrors(ValueError):
    """All errors of one file; its text lists every one."""

    def __init__(self, errors: tuple[SourceError, ...]) -> None:
        self.errors = errors
        super().__init__("\n".join(map(str, errors)))

    def told(self, language: str = "en") -> str:
        """Every error in a language."""
        return "\n".join(error.told(language) for error in self.errors)


@dataclass(slots=True)
class Faults:
    """Gathers the errors of one file while it is read, so that all are told together."""

    path: str
    lines: Sequence[str] = ()
    errors: list[SourceError] = field(default_factory=list)
    more: int = 0

    def add(
        self,
        line: int,
        column: int,
        found: str,
        expected: str,
        place: Place | None = None,
        bar: int | None = None,
    ) -> None:
        """Note one error; the line it stands in is looked up."""
        if len(self.errors) >= MOST_ERRORS:
            self.more += 1
            return
        text = self.lines[line - 1] if 0 < line <= len(self.lines) else ""
        self.errors.append(SourceError(self.path, line, column, found, expected, text, place, bar))

    def stop(self) -> None:
        """Raise all errors in the order of the file; nothing when there are none."""
        if not self.errors:
            return
        errors = sorted(self.errors, key=lambda e: (e.line, e.column))
        if self.more:
            found = f"{self.more} more errors"
            errors.append(SourceError(self.path, errors[-1].line, 1, found, "the first ones mended"))
        raise SourceErrors(tuple(errors))


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint for a misspelt word, or nothing.

    >>> nearest("metr", ["metre", "tone"]), nearest("x", ["metre"])
    (' (did you mean metre?)', '')
    """
    close = get_close_matches(word.lower(), list(known), 1, 0.6)
    return f" (did you mean {close[0]}?)" if close else ""


def listing(words: Iterable[str], last: str = "or") -> str:
    """
    >>> listing(["cantus", "altus", "tenor"])
    'cantus, altus or tenor'
    """
    *first, end = words
    return f"{', '.join(first)} {last} {end}" if first else end


def shorten(text: str, most: int = 40) -> str:
    """Found text in quotes, cut when it is long.

    >>> shorten("D5/4"), shorten("one two three", 8)
    ('"D5/4"', '"one two…"')
    """
    return f'"{text}"' if len(text) <= most else f'"{text[: most - 1]}…"'


def named(text: str) -> str:
    """Found text as it is where it is one word, else in quotes.

    >>> named("H5"), named("H 5"), named("")
    ('H5', '"H 5"', '""')
    """
    return text if re.fullmatch(r"[^\s\"]{1,40}", text) else shorten(text)


def quoted(text: object) -> str:
    """What another program says, as a quotation: in its own words in every language.

    >>> print(quoted('not "well" formed'))
    "not 'well' formed"
    """
    return '"{}"'.format(str(text).replace('"', "'"))
