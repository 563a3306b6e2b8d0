"""Walks the YAML of the front matter node by node, so that every error has its line and column.

Knows YAML, and nothing of versets.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import yaml

from builder.source.errors import UNPRINTED, Faults, listing, named, nearest, quoted, shorten
from builder.source.limits import DEEPEST, MOST_FRONT, MOST_VALUES
from builder.source.span import Span

_PLAIN = tuple(f"tag:yaml.org,2002:{kind}" for kind in ("str", "int", "float", "bool", "null"))
_NUMBERS = tuple(f"tag:yaml.org,2002:{kind}" for kind in ("int", "float"))
_DATE = "tag:yaml.org,2002:timestamp"
FIRST = 2  # the line of the file on which the YAML begins


@dataclass(frozen=True, slots=True)
class Item:
    """One value of the front matter, with where it stands."""

    node: yaml.Node
    faults: Faults
    name: str = ""

    @property
    def line(self) -> int:
        return int(self.node.start_mark.line) + FIRST

    @property
    def column(self) -> int:
        return int(self.node.start_mark.column) + 1

    @property
    def span(self) -> Span:
        return Span(self.line, self.column)

    def wrong(self, expected: str, found: str = "") -> None:
        self.faults.add(self.line, self.column, found or self.shown(), expected)

    def shown(self) -> str:
        name = f"{named(self.name)}: " if self.name else ""
        if isinstance(self.node, yaml.MappingNode):
            return f"{name}keys with values"
        if isinstance(self.node, yaml.SequenceNode):
            return f"{name}a list"
        return f"{name}{shorten(str(self.node.value)) if self.node.value else 'nothing'}"

    def value(self) -> object:
        """A plain value: text, a number, true or false, or nothing; the node itself otherwise."""
        if not isinstance(self.node, yaml.ScalarNode) or self.node.tag not in _PLAIN:
            return self.node
        try:
            return yaml.constructor.SafeConstructor().construct_object(self.node)  # type: ignore[no-untyped-call]
        except (yaml.YAMLError, ValueError, LookupError, OverflowError):
            return self.node

    def plain(self, *, dates: bool = False) -> Any:
        """The value with all that is inside it as texts, numbers, lists and maps; what is none of these, and
        a number that is not finite, is an error and left out. `dates`: a date is let through."""
        if isinstance(self.node, yaml.SequenceNode):
            return [Item(node, self.faults, self.name).plain(dates=dates) for node in self.node.value]
        if isinstance(self.node, yaml.MappingNode):
            keys = self.keys("") or {}
            return {name: item.plain(dates=dates) for name, item in keys.items()}
        value = self._date() if dates and self.node.tag == _DATE else self.value()
        if isinstance(value, float) and not math.isfinite(value):
            self.wrong("a number that is finite, or quotes around it")
        elif self.node.tag == _DATE and value is self.node:
            self.wrong(
                "text; put it in quotes", f"{named(self.name)}: the date {shorten(str(self.node.value))}"
            )
        elif isinstance(value, yaml.Node):
            self.wrong("text; put it in quotes")
        elif isinstance(value, str) and UNPRINTED.search("".join(value.split())):
            self.wrong("plain text", f"{named(self.name)}: a character that cannot be printed")
        else:
            return value
        return None

    def _date(self) -> object:
        try:
            return yaml.constructor.SafeConstructor().construct_object(self.node)  # type: ignore[no-untyped-call]
        except ValueError:
            return self.node

    def text(self, expected: str = "text") -> str | None:
        """A text in one line; `None` (and one error) when it is none, or cannot be printed."""
        value = self.value()
        if isinstance(value, str) and value.strip():
            line = " ".join(value.split())
            if UNPRINTED.search(line):
                self.wrong("plain text", f"{named(self.name)}: a character that cannot be printed")
                return None
            return line
        plain = isinstance(self.node, yaml.ScalarNode) and bool(self.node.value)
        self.wrong(f"{expected}; put it in quotes" if plain else expected)
        return None

    @property
    def is_map(self) -> bool:
        return isinstance(self.node, yaml.MappingNode)

    @property
    def is_list(self) -> bool:
        return isinstance(self.node, yaml.SequenceNode)

    def words(self, expected: str = "text") -> str | None:
        """A text in one line; a number, or a date, as it is written."""
        written = isinstance(self.node, yaml.ScalarNode) and self.node.value.strip()
        if written and self.node.tag in (*_NUMBERS, _DATE):
            return str(self.node.value).strip()
        return self.text(expected)

    def number(self, low: float, high: float, expected: str) -> float | None:
        value = self.value()
        if isinstance(value, (int, float)) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.wrong(expected)
        return None

    def whole(self, low: int, high: int, expected: str) -> int | None:
        value = self.value()
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.wrong(expected)
        return None

    def yes(self) -> bool:
        value = self.value()
        if isinstance(value, bool):
            return value
        self.wrong("true or false")
        return False

    def items(self, expected: str) -> Iterator[Item]:
        if isinstance(self.node, yaml.SequenceNode):
            for node in self.node.value:
                yield Item(node, self.faults)
        else:
            self.wrong(expected)

    def keys(self, expected: str) -> dict[str, Item] | None:
        """The keys of a mapping; a key that stands twice is an error."""
        if not isinstance(self.node, yaml.MappingNode):
            self.wrong(expected)
            return None
        found: dict[str, Item] = {}
        for key, value in self.node.value:
            name = key.value if isinstance(key, yaml.ScalarNode) else ""
            if name and name in found:
                Item(key, self.faults).wrong("each key once", f"the key {shorten(name)} a second time")
            else:
                found[name] = Item(value, self.faults, name)
        return found

    def known(
        self, allowed: tuple[str, ...], needed: tuple[str, ...], expected: str
    ) -> dict[str, Item] | None:
        """The keys of a mapping that has only known ones, and those it needs."""
        found = self.keys(expected)
        if found is None or not isinstance(self.node, yaml.MappingNode):
            return None
        meant = set()
        for key, _ in self.node.value:
            name = key.value if isinstance(key, yaml.ScalarNode) else ""
            if name not in allowed:
                hint = nearest(name, allowed) if name else ""
                meant |= {k for k in allowed if hint == nearest(k, (k,))}
                what = f"the key {shorten(name)}" if name else "a key that is not a word"
                Item(key, self.faults).wrong(listing(allowed) + hint, what)
        for key in needed:
            # a needed key that is there but misspelt has been told as such
            if key not in found and key not in meant:
                self.wrong(expected, f"no {key} {self._whose()}")
        return {k: v for k, v in found.items() if k in allowed}

    def _whose(self) -> str:
        return f"under {named(self.name)}" if self.name else "in this entry"


class _Loader(yaml.SafeLoader):
    """Composes a document of values alone: what stands for other values, names a type, or is too much, is
    refused where it stands, before anything is made of it."""

    depth = count = 0

    def compose_node(self, parent: Any, index: Any) -> Any:
        event = self.peek_event()  # type: ignore[no-untyped-call]
        refusal = self._refusal(event)
        if refusal:
            raise yaml.composer.ComposerError(None, None, refusal, event.start_mark)
        self.depth += 1
        self.count += 1
        node = super().compose_node(parent, index)  # type: ignore[no-untyped-call]
        self.depth -= 1
        return node

    def _refusal(self, event: Any) -> str:
        if isinstance(event, yaml.AliasEvent):
            return f"the alias *{event.anchor}"
        if event.anchor:
            return f"the anchor &{event.anchor}"
        if event.tag:
            return f"the tag {event.tag}"
        if self.depth >= DEEPEST:
            return "front matter nested too deeply"
        return "too many values" if self.count >= MOST_VALUES else ""


@lru_cache(maxsize=512)
def composed(text: str) -> yaml.Node | None:
    """The tree of a text in YAML; `YAMLError` for what is none, or more than front matter may have. A file is
    asked about several times over, and not in turn with others: answers are remembered."""
    if len(text) > MOST_FRONT:
        raise yaml.composer.ComposerError(None, None, f"front matter of {len(text)} characters")
    loader = _Loader(text)
    try:
        node: yaml.Node | None = loader.get_single_node()
        return node
    finally:
        loader.dispose()  # type: ignore[no-untyped-call]


_SLIPS = (
    ("the alias", "", "the value itself, written out"),
    ("the anchor", "", "the value alone, in quotes when it begins with &"),
    ("the tag", "", "the value alone, in quotes when it begins with !"),
    ("nested too deeply", "", "keys and values as on the format page"),
    ("too many values", "", f"up to {MOST_VALUES}"),
    ("front matter of", "", f"up to {MOST_FRONT}; longer texts stand under it"),
    (
        "mapping values are not allowed",
        "a second colon in one value",
        "one key in a line, colons in quotes",
    ),
    (
        "cannot start any token",
        "a character that begins nothing",
        "text in quotes, and spaces instead of tabs",
    ),
    ("end of stream", "a quote or bracket that is never closed", "the closing one"),
    (
        "expected ','",
        "a bracket that is never closed, or no comma",
        "entries divided by commas, then the bracket",
    ),
    ("could not find expected ':'", "a line without a colon", "key: value"),
    ("expected <block end>", "a line that does not stand under the others", "keys of one kind at one indent"),
    ("special characters are not allowed", "a character that cannot be printed", "plain text"),
)
"""What the YAML reader says, and the same for a musician: found (empty: as it is) and expected."""


def compose(text: str, faults: Faults) -> Item | None:
    """The front matter as an `Item`, which knows line and column of each key and value. None, and one error
    among `faults`, when it is not YAML.

    >>> compose("title: Two voices", Faults("a.md")).node.value[0][1].value
    'Two voices'
    >>> faults = Faults("a.md")
    >>> compose("title: [Two", faults)
    >>> [(error.line, error.column, error.found) for error in faults.errors]
    [(2, 8, 'a bracket that is never closed, or no comma')]
    """
    try:
        node = composed(text)
    except yaml.YAMLError as error:
        problem = getattr(error, "problem", None) or getattr(error, "reason", None) or "not YAML"
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        if "end of stream" in problem or "expected ','" in problem:
            # what is never closed is told where it was opened
            mark = getattr(error, "context_mark", None) or mark
        line, column = (mark.line, mark.column + 1) if mark else _place_of(text, error)
        line = min(line, max(text.count("\n"), 0))
        unforeseen = (f"what YAML does not allow ({quoted(problem)})", "key: value, as YAML")
        found, expected = next(((f or problem, e) for part, f, e in _SLIPS if part in problem), unforeseen)
        found, expected = _indented(text.split("\n"), line, problem) or (found, expected)
        faults.add(line + FIRST, column, found, expected)
        return None
    if node is None:
        faults.add(1, 1, "empty front matter", "title and verset")
        return None
    return Item(node, faults)


def _indented(lines: Sequence[str], at: int, problem: str) -> tuple[str, str] | None:
    """What is wrong with how a line is set in, where that is the slip."""
    if lines[at].lstrip(" ").startswith("\t"):
        return "a tab before the key", "spaces to indent it"
    before = next((line for line in reversed(lines[:at]) if line.strip()), "")
    deeper = _margin(lines[at]) > _margin(before)
    if "mapping values" in problem and deeper and re.fullmatch(r"[^:]*:(\s.*)?", lines[at]):
        return "a key set in deeper than the key above it", "keys of one kind at one indent"
    return None


def _margin(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _place_of(text: str, error: yaml.YAMLError) -> tuple[int, int]:
    """Line from 0 and column from 1 of an error that names only a position in the text."""
    at = getattr(error, "position", 0) or 0
    return text.count("\n", 0, at), at - text.rfind("\n", 0, at)
