"""Reads tables of patterns: YAML files, ours and a course's own.

A file holds one or more documents, each with `interval` (`second up`, `unison`, `any` …) and
`patterns`. A pattern has `id`, `figure`, `notes` (staff steps from the plain note, with values),
`character`, `source`, and may have `also` (other values to which the same shape is stretched or
squeezed), `where` (opening, middle, cadence) and `density` (1 to 3).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from importlib import resources
from pathlib import Path

import yaml

from builder.diminution.pattern import DIVIDED, INTERVALS, WHERE, Pattern, density_of, read_notes
from builder.source.errors import SourceError, SourceErrors

_NEEDED = ("id", "figure", "notes", "character", "source")
_ALLOWED = (*_NEEDED, "also", "where", "density")
_VALUE_NAMES = {length: name for name, length in DIVIDED.items()}
_SHORTEST = Fraction(1, 8)


@dataclass
class _Reading:
    """One file being read: its lines, the errors so far, and the ids already taken."""

    path: str
    lines: Sequence[str]
    errors: list[SourceError] = field(default_factory=list)
    ids: dict[str, str] = field(default_factory=dict)

    def wrong(self, node: yaml.Node, found: str, expected: str) -> None:
        mark = node.start_mark
        text = self.lines[mark.line] if mark.line < len(self.lines) else ""
        self.errors.append(SourceError(self.path, mark.line + 1, mark.column + 1, found, expected, text))


def load_tables(paths: Iterable[str | Path], *, taken: Iterable[str] = ()) -> tuple[Pattern, ...]:
    """The patterns of a course's own tables. `taken` are ids they may not use again.

    Raises `SourceErrors` with every error of every file: file, line, column, what was found and
    what was expected.

    >>> thirds = resources.files("builder.diminution") / "tables" / "third.yaml"
    >>> found = load_tables([str(thirds)])
    >>> found == tuple(pattern for pattern in patterns() if pattern in found) != ()
    True
    """
    found: list[Pattern] = []
    errors: list[SourceError] = []
    ids = {i.split("/")[0]: "the tables of the house" for i in taken}
    for path in paths:
        name = str(path)
        try:
            text = Path(path).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as problem:
            errors.append(
                SourceError(name, 1, 1, f"a file that cannot be read ({problem})", "a table of patterns")
            )
            continue
        found += _read(text, name, ids, errors)
    if errors:
        raise SourceErrors(tuple(errors))
    return tuple(found)


_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@cache
def patterns() -> tuple[Pattern, ...]:
    """All patterns of the house, in the order of the tables.

    >>> len(patterns()) > 250
    True
    """
    found: list[Pattern] = []
    errors: list[SourceError] = []
    ids: dict[str, str] = {}
    folder = resources.files("builder.diminution") / "tables"
    for name in ("any", "unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave"):
        path = folder / f"{name}.yaml"
        found += _read(path.read_text(encoding="utf-8"), path.name, ids, errors)
    if errors:
        raise SourceErrors(tuple(errors))
    return tuple(found)


def _read(text: str, path: str, ids: dict[str, str], errors: list[SourceError]) -> list[Pattern]:
    reading = _Reading(path, text.splitlines(), errors, ids)
    try:
        documents = list(yaml.compose_all(text, Loader=_LOADER))
    except yaml.YAMLError as problem:
        mark = getattr(problem, "problem_mark", None)
        line, column = (mark.line, mark.column) if mark else (0, 0)
        shown = reading.lines[line] if line < len(reading.lines) else ""
        why = getattr(problem, "problem", None) or str(problem)
        errors.append(SourceError(path, line + 1, column + 1, why, "a table written in YAML", shown))
        return []
    return [p for document in documents if document is not None for p in _document(document, reading)]


def _pairs(
    node: yaml.Node, reading: _Reading, allowed: Sequence[str], needed: Sequence[str]
) -> dict[str, yaml.Node]:
    """The entries of a mapping by key, with an error for each unknown, doubled or missing one."""
    if not isinstance(node, yaml.MappingNode):
        reading.wrong(node, "no mapping", f"keys and values: {', '.join(needed)}")
        return {}
    pairs: dict[str, yaml.Node] = {}
    for key, value in node.value:
        name = str(key.value)
        if name not in allowed:
            reading.wrong(key, f"the key {name!r}", f"one of {', '.join(allowed)}")
        elif name in pairs:
            reading.wrong(key, f"{name!r} a second time", "each key once")
        else:
            pairs[name] = value
    for name in needed:
        if name not in pairs:
            reading.wrong(node, f"no {name!r}", f"{name!r} in each entry")
    return pairs


def _document(node: yaml.Node, reading: _Reading) -> Iterator[Pattern]:
    pairs = _pairs(node, reading, ("interval", "patterns"), ("interval", "patterns"))
    if "interval" not in pairs or "patterns" not in pairs:
        return
    name = str(pairs["interval"].value)
    if name not in INTERVALS:
        reading.wrong(
            pairs["interval"], f"the interval {name!r}", "unison, second up, third down … octave, or any"
        )
        return
    if not isinstance(pairs["patterns"], yaml.SequenceNode):
        reading.wrong(pairs["patterns"], "no list", "a list of patterns, each on a line that begins with -")
        return
    for entry in pairs["patterns"].value:
        yield from _entry(entry, INTERVALS[name], reading)


def _entry(node: yaml.Node, interval: int | None, reading: _Reading) -> list[Pattern]:
    before = len(reading.errors)
    pairs = _pairs(node, reading, _ALLOWED, _NEEDED)
    words = {k: _word(pairs[k], k, reading) for k in _NEEDED if k in pairs}
    name = words.get("id", "")
    if name and name in reading.ids:
        reading.wrong(
            pairs["id"], f"the id {name!r} again", f"an id of its own (taken in {reading.ids[name]})"
        )
    elif name:
        reading.ids[name] = reading.path
    where = _list(pairs.get("where"), WHERE, "where", reading) or WHERE
    also = _list(pairs.get("also"), tuple(DIVIDED), "also", reading)
    density = _density(pairs.get("density"), reading)
    shape = _shape(pairs.get("notes"), words.get("notes", ""), interval, reading)
    if len(reading.errors) > before or shape is None:
        return []
    steps, lengths = shape
    value = sum(lengths, Fraction(0))
    made = []
    for length in (value, *(DIVIDED[a] for a in also if DIVIDED[a] != value)):
        scaled = tuple(n * length / value for n in lengths)
        if min(scaled) < _SHORTEST:
            reading.wrong(
                pairs["also"],
                f"a {_VALUE_NAMES[length]} in notes shorter than a 32nd",
                "a longer value to divide",
            )
            return []
        full = f"{name}/{_VALUE_NAMES[length].replace(' ', '-')}"
        level = density or density_of(scaled, length)
        made.append(
            Pattern(
                full,
                words["figure"],
                interval,
                length,
                steps,
                scaled,
                words["character"],
                level,
                where,
                words["source"],
            )
        )
    return made


def _word(node: yaml.Node, key: str, reading: _Reading) -> str:
    if isinstance(node, yaml.ScalarNode) and str(node.value).strip():
        return str(node.value).strip()
    reading.wrong(node, f"no word for {key!r}", "a word or a line of text")
    return ""


def _list(node: yaml.Node | None, allowed: tuple[str, ...], key: str, reading: _Reading) -> tuple[str, ...]:
    if node is None:
        return ()
    items = node.value if isinstance(node, yaml.SequenceNode) else [node]
    names = []
    for item in items:
        if isinstance(item, yaml.ScalarNode) and item.value in allowed:
            names.append(str(item.value))
        else:
            reading.wrong(item, f"{item.value!r} under {key!r}", f"some of {', '.join(allowed)}")
    return tuple(names)


def _density(node: yaml.Node | None, reading: _Reading) -> int:
    if node is None:
        return 0
    if isinstance(node, yaml.ScalarNode) and node.value in ("1", "2", "3"):
        return int(node.value)
    reading.wrong(node, f"the density {node.value!r}", "1, 2 or 3")
    return 0


def _shape(
    node: yaml.Node | None, text: str, interval: int | None, reading: _Reading
) -> tuple[tuple[int, ...], tuple[Fraction, ...]] | None:
    """Steps and lengths, checked: at least two notes, the plain note among them, no note struck
    again, a length that is a value to divide."""
    if node is None or not text:
        return None
    try:
        steps, lengths = read_notes(text)
    except ValueError as problem:
        reading.wrong(node, str(problem), "notes such as 0/4 1/8 0")
        return None
    total = sum(lengths, Fraction(0))
    if total not in _VALUE_NAMES:
        reading.wrong(node, f"notes that last {total} quarter notes", f"a {', a '.join(DIVIDED)} in all")
    elif len(steps) < 2 or 0 not in steps:
        reading.wrong(
            node, "no division of the plain note", "two notes or more, the plain note (0) among them"
        )
    elif any(a == b for a, b in itertools.pairwise(steps)):
        reading.wrong(node, "a note struck again", "each note different from the one before")
    elif interval is None and steps[-1] != 0:
        reading.wrong(node, "a pattern for any interval that ends off the plain note", "0 as its last note")
    elif interval is not None and steps[-1] == interval and lengths[-1] > Fraction(1, 2):
        reading.wrong(node, "the next plain note too early", "an anticipation of an eighth at most")
    elif any(abs(s) > 9 for s in steps):
        reading.wrong(node, "a note more than a tenth away", "steps from -9 to 9")
    else:
        return steps, lengths
    return None
