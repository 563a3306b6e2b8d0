"""Reads the front matter: title and settings of a verset, each value with its own check.

The YAML is walked node by node, so that every error has its line and column.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import yaml

from builder.music import VOICES, Metre, Signature
from builder.source.errors import Faults, listing, nearest, shorten
from builder.source.verset import Licence, Reading, Settings, Span

BEATS = {
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
}
"""Names of values in a tempo, in quarter notes; each may be dotted."""
SLOWEST, FASTEST = 10, 400
PITCHES = (350, 600)
"""A4 in hertz: old organs stand between about 415 and 500 (from memory); wider is a slip."""
_PLAIN = tuple(f"tag:yaml.org,2002:{kind}" for kind in ("str", "int", "float", "bool", "null"))
FIRST = 2  # the line of the file on which the YAML begins


@dataclass(slots=True)
class Front:
    """What the front matter says; None where it is missing or wrong."""

    title: str = ""
    metre: Metre | None = None
    signature: Signature | None = None
    tone: int | None = None
    tempo: tuple[Fraction, Fraction] | None = None
    settings: dict[str, Any] = field(default_factory=dict)
    licences: tuple[Licence, ...] = ()
    readings: tuple[Reading, ...] = ()

    def asked(self) -> Settings:
        return Settings(**self.settings)


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
        name = f"{self.name}: " if self.name else ""
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
        except (yaml.YAMLError, ValueError, LookupError):
            return self.node

    def text(self, expected: str = "text") -> str | None:
        value = self.value()
        if isinstance(value, str) and value.strip():
            return value
        plain = isinstance(self.node, yaml.ScalarNode) and bool(self.node.value)
        self.wrong(f"{expected}; put it in quotes" if plain else expected)
        return None

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
        return f"under {self.name}" if self.name else "in this entry"


def compose(text: str, faults: Faults) -> Item | None:
    """The front matter as items; None (and one error) when it is not YAML."""
    try:
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except RecursionError:
        faults.add(FIRST, 1, "front matter nested too deeply", "keys and values as on the format page")
        return None
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        line, column = (mark.line, mark.column + 1) if mark else _place_of(text, error)
        line = min(line, max(text.count("\n"), 0))
        problem = getattr(error, "problem", None) or getattr(error, "reason", None) or "not YAML"
        faults.add(
            line + FIRST, column, f"front matter that cannot be read ({problem})", "key: value, as YAML"
        )
        return None
    if node is None:
        faults.add(1, 1, "empty front matter", "title and verset")
        return None
    return Item(node, faults)


def _place_of(text: str, error: yaml.YAMLError) -> tuple[int, int]:
    """Line from 0 and column from 1 of an error that names only a position in the text."""
    at = getattr(error, "position", 0) or 0
    return text.count("\n", 0, at), at - text.rfind("\n", 0, at)


def read_front(text: str, faults: Faults) -> Front | None:
    """Title and settings; None when the front matter cannot be read at all."""
    root = compose(text, faults)
    top = root.keys("title and verset, as key: value") if root else None
    if root is None or top is None:
        return None
    front = Front()
    if "title" in top:
        front.title = top["title"].text("the title as text") or ""
    else:
        root.wrong("title: and the name of the verset", "no title" + nearest("title", top))
    if "verset" not in top:
        root.wrong("verset: with metre and signature under it", "no key verset" + nearest("verset", top))
        return front
    settings = top["verset"].known(tuple(KEYS), ("metre", "signature"), _EXPECTED["verset"])
    if settings is None:
        return front
    for key, item in settings.items():
        KEYS[key](item, front)
    return front


_EXPECTED = {
    "verset": "metre: C and signature: none, or what the music has, indented under verset",
    "metre": "C, C| or a fraction such as 3/2 or 6/4",
    "signature": "none, or its accidentals in order, such as Bb or F# C#",
    "tone": "a tone from 1 to 8",
    "beat": f"a value and beats a minute, such as half = 52 ({SLOWEST} to {FASTEST}; "
    f"{listing(BEATS)}, dotted or not)",
    "pitch": f"A4 in hertz, {PITCHES[0]} to {PITCHES[1]}",
    "level": "a density from 1 to 3",
    "seed": "a whole number from 0",
    "costs": "names of costs, each with its weight from 0",
    "allow": "a list of licences, each {rule: …, bar: …, because: …}",
    "readings": "a list of readings, each {bar: …, voice: …, source: …, adopted: …}",
}


def _metre(item: Item, front: Front) -> None:
    text = item.text(_EXPECTED["metre"])
    if text is not None:
        try:
            front.metre = Metre.parse(text.strip())
        except ValueError:
            item.wrong(_EXPECTED["metre"], f"the metre {shorten(text)}")


def _signature(item: Item, front: Front) -> None:
    text = item.text(_EXPECTED["signature"])
    if text is not None:
        try:
            front.signature = Signature.parse(" ".join(text.split()))
        except ValueError:
            item.wrong(_EXPECTED["signature"] + _ascii(text), f"the signature {shorten(text)}")


def _ascii(text: str) -> str:
    return " (write # for a sharp, b for a flat)" if set(text) & set("♯♭♮") else ""


def _tone(item: Item, front: Front) -> None:
    front.tone = item.whole(1, 8, _EXPECTED["tone"])


def read_tempo(text: str) -> tuple[Fraction, Fraction]:
    """A tempo as (beat in quarter notes, beats a minute); `ValueError` when it is none.

    >>> read_tempo("dotted half = 40")
    (Fraction(3, 1), Fraction(40, 1))
    """
    match = re.fullmatch(r"(dotted )?([a-z]+) ?= ?([0-9]{1,4}(?:\.[0-9]{1,6})?)", " ".join(text.split()))
    if not match or match[2] not in BEATS or not SLOWEST <= Fraction(match[3]) <= FASTEST:
        raise ValueError(text)
    return BEATS[match[2]] * (Fraction(3, 2) if match[1] else 1), Fraction(match[3])


def _beat(item: Item, front: Front) -> None:
    text = item.text(_EXPECTED["beat"])
    if text is not None:
        try:
            front.tempo = read_tempo(text)
        except ValueError:
            item.wrong(_EXPECTED["beat"], f"the tempo {shorten(text)}")


def _setting(name: str, read: Callable[[Item], object]) -> Callable[[Item, Front], None]:
    def store(item: Item, front: Front) -> None:
        value = read(item)
        if value is not None:
            front.settings[name] = value

    return store


def _costs(item: Item) -> Mapping[str, float] | None:
    keys = item.keys(_EXPECTED["costs"])
    if keys is None:
        return None
    costs = {}
    for name, value in keys.items():
        weight = value.number(0, 1e9, "a weight, a number from 0")
        if weight is not None and name:
            costs[name] = float(weight)
    return costs


def _entries(
    item: Item, needed: tuple[str, ...], optional: tuple[str, ...], expected: str
) -> Iterator[tuple[Item, dict[str, Item]]]:
    """The entries of a list that have the keys they need."""
    for entry in item.items(expected):
        keys = entry.known((*needed, *optional), needed, f"an entry with {listing(needed, 'and')}")
        if keys is not None:
            yield entry, keys


def _text_of(keys: dict[str, Item], key: str) -> str:
    return (keys[key].text() or "") if key in keys else ""


def _bar_of(keys: dict[str, Item]) -> int:
    """The bar an entry names; 0 when it is wrong (and told)."""
    return (keys["bar"].whole(1, 100_000, "the number of a bar, from 1") or 0) if "bar" in keys else 0


def _voice(item: Item) -> str:
    text = item.text(listing(VOICES))
    if text is None or text in VOICES:
        return text or ""
    item.wrong(listing(VOICES) + nearest(text, VOICES), f"the voice {shorten(text)}")
    return ""


def _allow(item: Item, front: Front) -> None:
    found = []
    for entry, keys in _entries(item, ("rule", "bar", "because"), ("voices",), _EXPECTED["allow"]):
        bar, rule, because = _bar_of(keys), _text_of(keys, "rule"), _text_of(keys, "because")
        voices: tuple[str, ...] = ()
        if "voices" in keys:
            one = isinstance(keys["voices"].node, yaml.ScalarNode)
            items = [keys["voices"]] if one else keys["voices"].items(f"a list of {listing(VOICES)}")
            voices = tuple(v for v in map(_voice, items) if v)
        found.append(Licence(rule, bar, because, voices, _span_of(entry, keys)))
    front.licences = tuple(found)


def _span_of(entry: Item, keys: dict[str, Item]) -> Span:
    """Where the bar of an entry stands: an error about it points there."""
    return keys["bar"].span if "bar" in keys else entry.span


def _readings(item: Item, front: Front) -> None:
    found = []
    for entry, keys in _entries(item, ("bar", "source", "adopted"), ("voice",), _EXPECTED["readings"]):
        voice = _voice(keys["voice"]) if "voice" in keys else ""
        source, adopted = _text_of(keys, "source"), _text_of(keys, "adopted")
        found.append(Reading(_bar_of(keys), source, adopted, voice, _span_of(entry, keys)))
    front.readings = tuple(found)


KEYS: dict[str, Callable[[Item, Front], None]] = {
    "metre": _metre,
    "signature": _signature,
    "tone": _tone,
    "beat": _beat,
    "tuning": _setting("tuning", lambda i: i.text("the name of a tuning")),
    "pitch": _setting("pitch", lambda i: i.number(*PITCHES, _EXPECTED["pitch"])),
    "registration": _setting("registration", lambda i: i.text("the names of stops")),
    "level": _setting("level", lambda i: i.whole(1, 3, _EXPECTED["level"])),
    "seed": _setting("seed", lambda i: i.whole(0, 2**31, _EXPECTED["seed"])),
    "costs": _setting("costs", _costs),
    "allow": _allow,
    "readings": _readings,
}
"""The keys under `verset`, in the order in which they are written."""
