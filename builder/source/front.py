"""Reads the front matter: title and settings of a verset, each value with its own check."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from fractions import Fraction
from typing import Any

import yaml

from builder.music import VOICES, Metre, Signature
from builder.music.temperament import HIGHEST_A4, LOWEST_A4
from builder.source import bibliography
from builder.source.blanks import Blank
from builder.source.errors import Faults, listing, nearest, shorten
from builder.source.items import Item, compose
from builder.source.page import front_matter, lines_of
from builder.source.playing import Playing, read_playing
from builder.source.provenance import Provenance
from builder.source.span import Span
from builder.source.verset import Licence, Reading, Settings

BEATS = {
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
}
"""Names of values in a tempo, in quarter notes; each may be dotted."""
SLOWEST, FASTEST = 10, 400
PITCHES = (LOWEST_A4, HIGHEST_A4)
"""A4 in hertz."""


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
    playing: tuple[Playing, ...] = ()
    from_start: tuple[str, ...] = ()
    voices_at: Span | None = None
    said: dict[str, Any] = field(default_factory=dict)
    """Of sources and edition: the fields of `Provenance`."""

    @property
    def provenance(self) -> Provenance:
        return Provenance(**self.said)

    def asked(self) -> Settings:
        return Settings(**self.settings)


def read_front(text: str, faults: Faults) -> Front | None:
    """Title and settings; None when the front matter cannot be read at all."""
    root = compose(text, faults)
    top = root.keys("title and verset, as key: value") if root else None
    if root is None or top is None:
        return None
    front = Front()
    for key, item in top.items():
        if key in KEYS and key not in _ELSEWHERE:
            item.wrong(f"{key} indented under verset", f"the key {shorten(key)} beside verset")
        elif key not in ("title", "verset"):
            item.plain()
    if "title" in top:
        front.title = top["title"].text("the title as text") or ""
    else:
        root.wrong("title: and the name of the verset", _lacking("title", top))
    if "verset" not in top:
        root.wrong("verset: with metre and signature under it", _lacking("verset", top))
        return front
    settings = top["verset"].known(tuple(KEYS), ("metre", "signature"), _EXPECTED["verset"])
    if settings is None:
        return front
    for key, item in settings.items():
        KEYS[key](item, front)
    return front


def page_front(text: str, path: str, *, dates: bool = False) -> dict[str, Any]:
    """The front matter of any page as texts, numbers, lists and maps; empty when it has none. `SourceErrors`
    with all that is wrong with it. `dates`: a date is let through.

    >>> page_front("---\\ntitle: A page\\ntags: [one, two]\\n---\\nWords.", "a.md")
    {'title': 'A page', 'tags': ['one', 'two']}
    """
    lines = lines_of(text)
    count = front_matter(lines)
    if count is None or not any(line.strip() for line in lines[1 : count - 1]):
        return {}
    faults = Faults(path, lines)
    root = compose("\n".join(lines[1 : count - 1]), faults)
    found = root.plain(dates=dates) if root else {}
    faults.stop()
    return found if isinstance(found, dict) else {}


_ELSEWHERE = ("date", "place")
"""Keys that a site generator may want beside `verset` too."""


def _lacking(key: str, found: dict[str, Item]) -> str:
    close = get_close_matches(key, [k for k in found if k not in ("title", "verset")], 1, 0.7)
    return f"no {key}, but {shorten(close[0])}" if close else f"no {key}"


DENSITIES = 0.5, 1.5
"""Fewest and most small notes, as shares of the usual number."""
_EXPECTED = {
    "verset": "metre: C and signature: none, or what the music has, indented under verset",
    "metre": "C, C| or a fraction such as 3/2 or 6/4",
    "signature": "none, or its accidentals in order, such as Bb or F# C#",
    "tone": "a tone from 1 to 8",
    "beat": f"a value and beats a minute, such as half = 52 ({SLOWEST} to {FASTEST}, and "
    f"{SLOWEST} quarters at least; {listing(BEATS)}, dotted or not)",
    "pitch": f"A4 in hertz, {LOWEST_A4:g} to {HIGHEST_A4:g}",
    "level": "a level from 1 to 3",
    "density": f"a share of the usual small notes, {DENSITIES[0]:g} to {DENSITIES[1]:g}",
    "seed": "a whole number from 0",
    "move": "an interval in words, such as a tone lower",
    "costs": "names of costs, each with its weight from 0",
    "allow": "a list of licences, each {rule: …, because: …}, with bar: … where not all bars are meant",
    "exercise": "a list of what a student puts in, each a voice and bars, such as [altus, tenor 3-6]",
    "voices": "the voices that sound from the start, such as [cantus, altus, tenor]",
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
    if not match or match[2] not in BEATS:
        raise ValueError(text)
    value, rate = BEATS[match[2]] * (Fraction(3, 2) if match[1] else 1), Fraction(match[3])
    if not playable(value, rate):
        raise ValueError(text)
    return value, rate


def playable(beat: Fraction, rate: Fraction) -> bool:
    """Whether a tempo is within reason: neither its beats nor its quarters are too slow.

    >>> playable(Fraction(2), Fraction(10)), playable(Fraction(1, 2), Fraction(10))
    (True, False)
    """
    return SLOWEST <= rate <= FASTEST and beat * rate >= SLOWEST


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


def _pitch(item: Item) -> float | None:
    hertz = item.number(*PITCHES, _EXPECTED["pitch"])
    return None if hertz is None else float(hertz)


def _move(item: Item) -> str | None:
    text = item.text(_EXPECTED["move"])
    return "" if text == "none" else text


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


def _exercise(item: Item) -> tuple[Blank, ...]:
    """What a student puts in: a list of voices with bars."""
    found = []
    for entry in item.items(_EXPECTED["exercise"]):
        text = entry.text(_EXPECTED["exercise"])
        try:
            found += [replace(Blank.parse(text), span=entry.span)] if text is not None else []
        except ValueError:
            entry.wrong(_EXPECTED["exercise"], shorten(text or ""))
    return tuple(found)


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


def _some_voices(item: Item, expected: str) -> tuple[str, ...]:
    """One voice, or a list of them."""
    one = isinstance(item.node, yaml.ScalarNode)
    found: list[str] = []
    for each in [item] if one else item.items(expected):
        voice = _voice(each)
        if voice in found:
            each.wrong("each voice once", f"{voice} a second time")
        elif voice:
            found.append(voice)
    return tuple(found)


def _voices(item: Item, front: Front) -> None:
    named = {*_some_voices(item, _EXPECTED["voices"])}
    front.from_start = tuple(v for v in VOICES if v in named)
    front.voices_at = item.span


def _allow(item: Item, front: Front) -> None:
    found = []
    for entry, keys in _entries(item, ("rule", "because"), ("bar", "voices"), _EXPECTED["allow"]):
        bar, rule, because = _bar_of(keys), _text_of(keys, "rule"), _text_of(keys, "because")
        voices = _some_voices(keys["voices"], f"a list of {listing(VOICES)}") if "voices" in keys else ()
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


def _playing(item: Item, front: Front) -> None:
    front.playing = read_playing(item)


def _said(key: str) -> Callable[[Item, Front], None]:
    """Of sources and edition."""
    return lambda item, front: bibliography.read_key(key, item, front.said)


KEYS: dict[str, Callable[[Item, Front], None]] = {
    "metre": _metre,
    "signature": _signature,
    "tone": _tone,
    "beat": _beat,
    "tuning": _setting("tuning", lambda i: i.text("the name of a tuning")),
    "pitch": _setting("pitch", _pitch),
    "registration": _setting("registration", lambda i: i.text("the names of stops")),
    "level": _setting("level", lambda i: i.whole(1, 3, _EXPECTED["level"])),
    "density": _setting("density", lambda i: i.number(*DENSITIES, _EXPECTED["density"])),
    "seed": _setting("seed", lambda i: i.whole(0, 2**31, _EXPECTED["seed"])),
    "move": _setting("move", _move),
    "moved": _setting("moved", _move),
    "costs": _setting("costs", _costs),
    "exercise": _setting("exercise", _exercise),
    "unfinished": _setting("unfinished", lambda i: i.yes()),
    "allow": _allow,
    "voices": _voices,
    "readings": _readings,
    "playing": _playing,
    **{key: _said(key) for key in bibliography.KEYS},
}
"""The keys under `verset`, in the order in which they are written."""
