"""What a page of a course asks for: `<!-- verset:drills clefs figures:2 -->`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from builder.source import SourceError, SourceErrors

STEPS: Mapping[str, int] = MappingProxyType(
    {
        "clefs": 4,
        "syllables": 3,
        "figures": 4,
        "bass": 3,
        "cadences": 5,
        "answers": 3,
        "diminution": 4,
        "entries": 3,
        "lines": 3,
    }
)
"""Every drill, and how many steps it has."""

DRILLS = re.compile(r"^<!-- verset:drills(?P<words>(?: [^\n]*?)?) -->$", re.MULTILINE)
"""The comment that asks for drills, in the Markdown of a page."""

_WORD = re.compile(r"(?P<name>[^:\s]+)(?::(?P<steps>\S*))?")

Wish = Mapping[str, int]
"""The drills of a page in its order, and how many steps each goes."""


def drills_asked(text: str, path: str = "<text>") -> tuple[Wish, ...]:
    """What each comment of a page asks for. One without words asks for every drill to its last step.
    `SourceErrors` tells every word that is none, with its line and column.

    >>> [dict(wish) for wish in drills_asked("<!-- verset:drills clefs figures:2 -->")]
    [{'clefs': 4, 'figures': 2}]
    >>> drills_asked("<!-- verset:drills clef -->", "a.md")
    Traceback (most recent call last):
    ...
    builder.source.errors.SourceErrors: a.md:1:20: found "clef"; expected one of the drills clefs, ...
    """
    wishes, errors = [], []
    for found in DRILLS.finditer(text):
        wish: dict[str, int] = {}
        for word in _WORD.finditer(text, found.start("words"), found.end("words")):
            problem = _read(word, wish)
            if problem:
                errors.append(_error(text, path, word.start(), word[0], problem))
        wishes.append(MappingProxyType(wish or dict(STEPS)))
    if errors:
        raise SourceErrors(tuple(errors))
    return tuple(wishes)


def _read(word: re.Match[str], wish: dict[str, int]) -> str:
    """Put a word into a wish, or say what was expected instead."""
    name, steps = word["name"], word["steps"]
    if name not in STEPS:
        *most, last = STEPS
        return f"one of the drills {', '.join(most)} or {last}"
    if name in wish:
        return "each drill once"
    if steps is not None and not (steps.isdecimal() and 1 <= int(steps) <= STEPS[name]):
        return f"a step from 1 to {STEPS[name]}"
    wish[name] = STEPS[name] if steps is None else int(steps)
    return ""


def _error(text: str, path: str, at: int, found: str, expected: str) -> SourceError:
    before = text[:at]
    line = before.count("\n") + 1
    column = at - (before.rfind("\n") + 1) + 1
    return SourceError(path, line, column, f'"{found}"', expected, text.splitlines()[line - 1])


def furthest(wishes: Iterable[Wish]) -> dict[str, int]:
    """How far each drill goes that some page asks for.

    >>> furthest([{"clefs": 1}, {"clefs": 3, "lines": 1}])
    {'clefs': 3, 'lines': 1}
    """
    found: dict[str, int] = {}
    for wish in wishes:
        for name, steps in wish.items():
            found[name] = max(steps, found.get(name, 0))
    return {name: found[name] for name in STEPS if name in found}
