"""Reads the order of a service: which verses the choir sings and which the organ plays.

The order stands in the front matter of a page, under `service`:

    ---
    title: Evening canticle in the first tone
    service:
      sung: {tone: 1, begins: A, ends: D, minutes: 0.4}
      order:
        - choir: First verse of the canticle
        - {organ: first, for: Second verse, move: a tone lower}
    ---

Or it is suggested, from the versets of the course (`suggest.py`):

    service: {suggest: {of: magnificat, tone: 1, reciting: G, first: choir, minutes: 0.3}}

`sung` holds for every sung verse that says nothing else: its tone, the note on which the choir begins,
the note on which it ends, its length in minutes. `move` plays a verset at another pitch.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.music import Interval
from builder.setting.transpose import read_interval
from builder.source.errors import Faults, listing, shorten
from builder.source.items import Item, compose
from builder.source.page import front_matter, lines_of
from builder.source.span import Span

_SUNG = ("tone", "begins", "ends", "minutes")
PARTS = {"magnificat": ("magnificat",), "mass": ("kyrie", "gloria", "sanctus", "agnus")}
"""What an order may be suggested for, and its parts, each of which may have a tone of its own."""
FIRST = ("organ", "choir")
_LETTER = re.compile(r"[A-G][#b]?$")
STILL = Interval(0, 0)
NOWHERE = Span(0, 0)


@dataclass(frozen=True, slots=True)
class Sung:
    """A verse of the choir: its first words, tone, first and last note (letters, or empty), minutes."""

    text: str
    tone: int | None = None
    begins: str = ""
    ends: str = ""
    minutes: float = 0.0
    span: Span = NOWHERE
    part: str = ""


@dataclass(frozen=True, slots=True)
class Played:
    """A verset of the organ: its name, the verse it stands for, and how far it is moved."""

    verset: str
    instead: str = ""
    interval: Interval = STILL
    span: Span = NOWHERE
    part: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be suggested: for a `magnificat` or a `mass`, the tone of each part, the note on which the
    choir recites (a letter; empty: that of the tone), who has the first verse, minutes of a sung verse."""

    of: str
    tones: Mapping[str, int]
    reciting: str = ""
    first: str = FIRST[0]
    minutes: float = 0.0
    span: Span = NOWHERE

    @property
    def tone(self) -> int:
        """The tone of its first part."""
        return self.tones[PARTS[self.of][0]]


@dataclass(frozen=True, slots=True)
class Order:
    """A service in order, or what is wanted of one that is to be suggested. `name` is the file's stem;
    `intro` the Markdown under the front matter."""

    name: str
    path: str
    title: str
    items: tuple[Sung | Played, ...]
    intro: str = ""
    wanted: Wanted | None = None


def is_order(text: str) -> bool:
    """Whether a page's front matter has the key `service`.

    >>> is_order("---\\ntitle: A\\nservice: {order: []}\\n---\\n"), is_order("service: no")
    (True, False)
    """
    lines = lines_of(text)
    count = front_matter(lines)
    return count is not None and any(line.startswith("service:") for line in lines[1 : count - 1])


def read_order(path: Path) -> Order:
    """Read a service from a file. `SourceErrors` with all that is wrong in it; see `parse_order`.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "evening.md"
    ...     _ = path.write_text("---\\ntitle: Evening\\nservice: {order: [{organ: first}]}\\n---\\n")
    ...     order = read_order(path)
    >>> order.name, order.title, order.items[0].verset
    ('evening', 'Evening', 'first')
    """
    return parse_order(path.read_text(encoding="utf-8-sig"), str(path))


def parse_order(text: str, path: str) -> Order:
    """Read a service from its text. `SourceErrors` holds everything wrong in it.

    >>> order = parse_order("---\\ntitle: A\\nservice: {order: [{organ: first}]}\\n---\\n", "a.md")
    >>> order.items[0].verset
    'first'
    """
    lines = lines_of(text)
    faults = Faults(path, lines)
    count = front_matter(lines)
    if count is None:
        faults.add(1, 1, "no front matter", "a first line of ---, then title and service, then ---")
        faults.stop()
        count = 0
    root = compose("\n".join(lines[1 : count - 1]), faults)
    top = root.keys("title and service, as key: value") if root else None
    title = ""
    items: tuple[Sung | Played, ...] = ()
    wanted: Wanted | None = None
    if root and top is not None:
        for key in ("title", "service"):
            if key not in top:
                root.wrong(f"{key}: and what belongs to it", f"no {key}")
        title = (top["title"].text("the title as text") or "") if "title" in top else ""
        keys = _service(top["service"]) if "service" in top else {}
        items = tuple(_items(keys)) if "order" in keys else ()
        wanted = _wanted(keys["suggest"]) if "suggest" in keys else None
    faults.stop()
    return Order(Path(path).stem, path, title, items, "\n".join(lines[count:]).strip(), wanted)


def _service(service: Item) -> dict[str, Item]:
    """The keys of a service; nothing where they are wrong."""
    expected = "order: a list of what is sung and played, or suggest: what is to be suggested"
    keys = service.known(("sung", "order", "suggest"), (), expected) or {}
    if keys and ("order" in keys) == ("suggest" in keys):
        service.wrong(expected)
        return {}
    return keys


def _wanted(item: Item) -> Wanted | None:
    """What is to be suggested."""
    of = item.keys("of: magnificat or mass") or {}
    kind = of["of"].text("magnificat or mass") if "of" in of else ""
    if kind not in PARTS:
        of.get("of", item).wrong("of: magnificat or mass")
        return None
    parts = PARTS[kind] if len(PARTS[kind]) > 1 else ()
    keys = (
        item.known(("of", "tone", "reciting", "first", "minutes", *parts), (), "of: magnificat or mass") or {}
    )
    given = {key: keys[key].whole(1, 8, "a tone from 1 to 8") for key in ("tone", *parts) if key in keys}
    usual = given.get("tone")
    tones = {part: given.get(part, usual) for part in PARTS[kind]}
    known = {part: tone for part, tone in tones.items() if tone is not None}
    if len(known) < len(tones):
        item.wrong("tone: of what is sung, or a tone for each of its parts")
        return None
    first = keys["first"].text("organ or choir") if "first" in keys else FIRST[0]
    if first not in FIRST:
        keys["first"].wrong("organ or choir")
        return None
    minutes = keys["minutes"].number(0, 60, "minutes, up to 60") if "minutes" in keys else 0
    reciting = _letter(keys["reciting"]) if "reciting" in keys else ""
    return Wanted(kind, known, reciting, first, float(minutes or 0.0), item.span)


def _items(keys: Mapping[str, Item]) -> Iterator[Sung | Played]:
    usual = _sung(keys["sung"].known(_SUNG, (), listing(_SUNG)) or {}) if "sung" in keys else Sung("")
    for entry in keys["order"].items("a list of entries, each - choir: … or - organ: …"):
        found = entry.keys("choir: first words, or organ: the name of a verset")
        if found is None:
            continue
        if ("choir" in found) == ("organ" in found):
            entry.wrong("choir: first words, or organ: the name of a verset, one of them")
        elif "choir" in found:
            known = entry.known(("choir", *_SUNG, "part"), (), "choir") or {}
            yield _sung(known, usual, entry.span)
        else:
            known = entry.known(("organ", "for", "move", "part"), (), "organ") or {}
            yield _played(known, entry.span)


def _sung(keys: dict[str, Item], usual: Sung = Sung(""), span: Span = NOWHERE) -> Sung:
    text = keys["choir"].text("the first words") if "choir" in keys else ""
    tone = keys["tone"].whole(1, 8, "a tone from 1 to 8") if "tone" in keys else usual.tone
    minutes = keys["minutes"].number(0, 60, "minutes, up to 60") if "minutes" in keys else usual.minutes
    begins = _letter(keys["begins"]) if "begins" in keys else usual.begins
    ends = _letter(keys["ends"]) if "ends" in keys else usual.ends
    return Sung(text or "", tone, begins, ends, float(minutes or 0.0), span, _part(keys))


def _part(keys: dict[str, Item]) -> str:
    """The part of a service to which a verse belongs: between one and the next nothing need meet."""
    return (keys["part"].text("the name of a part, such as Kyrie") or "") if "part" in keys else ""


def _letter(item: Item) -> str:
    text = item.text("a note by its letter, such as A or Bb")
    if text is None or _LETTER.match(text):
        return text or ""
    item.wrong("a note by its letter, such as A or Bb", shorten(text))
    return ""


def _played(keys: dict[str, Item], span: Span) -> Played:
    name = keys["organ"].text("the name of a verset") if "organ" in keys else ""
    instead = keys["for"].text("the words it stands for") if "for" in keys else ""
    interval = STILL
    if "move" in keys:
        text = keys["move"].text("an interval such as a tone lower") or "none"
        try:
            interval = read_interval(text)
        except ValueError:
            keys["move"].wrong("none, or an interval such as a tone lower", shorten(text))
    return Played(name or "", instead or "", interval, span, _part(keys))
