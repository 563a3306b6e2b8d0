"""Reads what the front matter says of composer, witnesses, editors and publication, each value with its
own check."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import yaml

from builder.music import VOICES
from builder.source import identifiers
from builder.source.errors import Faults, SourceErrors, listing, nearest, shorten
from builder.source.items import Item
from builder.source.lines import CLEFS
from builder.source.page import lines_of
from builder.source.printing import BARRING, FIGURES, PAPERS, SCORES, STAVES, VALUES, WORDS, Printing
from builder.source.printing import CLEFS as CHOSEN_CLEFS
from builder.source.provenance import (
    ROLES,
    Composer,
    Editor,
    Facsimile,
    Provenance,
    Publication,
    Witness,
    Zone,
)

PICTURES = (".png", ".jpg", ".jpeg")
"""Endings of pictures that page, print and encoding can show."""
WITNESS_KEYS = (
    *("siglum", "library", "shelfmark", "folio", "date", "description", "link", "copy-text", "pictures"),
)
PRINT_KEYS = ("paper", "stave", "clefs", "values", "figures", "score", "barring", "words", "parts")
PUBLISHED_KEYS = ("publisher", "place", "date", "series", "isbn", "ismn", "doi")
_EXPECTED = {
    "composer": "anonymous, a name, or {name: …, attributed: true}",
    "witnesses": "a list of witnesses, each {siglum: …} and what is known of it",
    "editors": "a list of names, each alone or {name: …, role: …, orcid: …}",
    "published": f"keys with values: {listing(PUBLISHED_KEYS)}",
    "print": f"keys with values: {listing(PRINT_KEYS)}",
    "stave": f"the height of a stave in millimetres, {STAVES[0]:g} to {STAVES[1]:g}",
    "pictures": "a list of pictures, each {file: …, licence: …}, with zones: … where bars are marked",
    "zones": "a list of zones, each {bars: 1-4, box: [left, top, width, height]}",
    "box": "left, top, width and height in pixels, such as [40, 120, 900, 210]",
    "bars": "the bars of a zone, such as 1-4, or one bar",
    "link": "a web address that begins with https:// or http://",
    "file": f"the name of a picture beside the source ({listing(PICTURES)}), in no folder above it",
    "siglum": "a siglum of letters and digits, such as A or Bc2, that names no voice and no clef",
    "orcid": f"sixteen digits in fours, such as {identifiers.SHOWN_ORCID}",
    "isbn": "ten or thirteen digits, such as 978-0-306-40615-7",
    "ismn": "979-0 and nine digits, such as 979-0-2600-0043-8",
    "doi": f"a name such as {identifiers.SHOWN_DOI}",
}
SIGLUM = re.compile(r"[A-Za-z0-9][A-Za-z0-9._*'-]{0,15}")
Keys = Mapping[str, Item]


_FIELDS = {"print": "printing"}


def read_key(key: str, item: Item, said: dict[str, Any]) -> None:
    """Read one of `KEYS` into the fields of a `Provenance`."""
    value = KEYS[key](item)
    if value:
        said[_FIELDS.get(key, key)] = value


def said_of(values: Keys) -> Provenance:
    """All of it from a map of keys that are known."""
    said: dict[str, Any] = {}
    for key, item in values.items():
        read_key(key, item, said)
    return Provenance(**said)


def of_course(asked: Mapping[str, Any], text: str, path: str) -> Provenance:
    """What a course says for all its versets: `asked`, the keys under `edition`, which stand in the options
    of the plugin in `text`. `SourceErrors` with all that is wrong, at its line and column where `text` has it
    so (an option may come from elsewhere).

    >>> of_course({"place": "here"}, "plugins: [{verset: {edition: {place: here}}}]", "mkdocs.yml").place
    'here'
    """
    node = _under(yaml.compose(text, Loader=yaml.SafeLoader), "plugins", "verset", "edition")
    faults = Faults(path, ["", *lines_of(text)])
    if node is None:
        text = yaml.safe_dump(dict(asked), allow_unicode=True)
        node, faults = yaml.compose(text, Loader=yaml.SafeLoader), Faults(path, ["", *lines_of(text)])
    assert node is not None
    values = Item(node, faults, "edition").known(tuple(KEYS), (), f"keys with values: {listing(KEYS)}")
    said = said_of(values or {})
    try:
        faults.stop()
    except SourceErrors as wrong:
        # an item of front matter stands a line below where YAML counts it
        raise SourceErrors(tuple(replace(e, line=e.line - 1) for e in wrong.errors)) from None
    return said


def _under(node: yaml.Node | None, *path: str) -> yaml.Node | None:
    """The value at a path of keys; a list is looked through for the key that comes next."""
    for key in path:
        maps = node.value if isinstance(node, yaml.SequenceNode) else [node]
        pairs = [pair for each in maps if isinstance(each, yaml.MappingNode) for pair in each.value]
        node = next((value for name, value in pairs if name.value == key), None)
    return node


def _words(keys: Keys, key: str) -> str:
    return (keys[key].words() or "") if key in keys else ""


def _composer(item: Item) -> Composer | None:
    if item.is_map:
        keys = item.known(("name", "attributed"), ("name",), _EXPECTED["composer"])
        if keys is None:
            return None
        name, attributed = _words(keys, "name"), "attributed" in keys and keys["attributed"].yes()
    else:
        name, attributed = item.words(_EXPECTED["composer"]) or "", False
        if not name:
            return None
    return Composer("" if name == "anonymous" else name, attributed)


def _editors(item: Item) -> tuple[Editor, ...]:
    entries = item.items(_EXPECTED["editors"]) if item.is_list else [item]
    return tuple(editor for entry in entries if (editor := _editor(entry)))


def _editor(entry: Item) -> Editor | None:
    if not entry.is_map:
        name = entry.words(_EXPECTED["editors"])
        return Editor(name) if name else None
    keys = entry.known(("name", "role", "orcid"), ("name",), "an entry with name")
    if keys is None:
        return None
    role = _words(keys, "role") or ROLES[0]
    if role not in ROLES:
        keys["role"].wrong(listing(ROLES) + nearest(role, ROLES), f"the role {shorten(role)}")
    return Editor(_words(keys, "name"), role, _number(keys, "orcid", "ORCID", identifiers.orcid))


def _number(keys: Keys, key: str, kind: str, read: Callable[[str], str | None]) -> str:
    """A number with its check digit; empty when it is wrong (and told)."""
    text = _words(keys, key)
    if not text:
        return ""
    try:
        if number := read(text):
            return number
        keys[key].wrong(_EXPECTED[key], f"the {kind} {shorten(text)}")
    except ValueError as ending:
        keys[key].wrong(f"the check digit {ending} at its end", f"the {kind} {shorten(text)}")
    return ""


def _published(item: Item) -> Publication | None:
    keys = item.known(PUBLISHED_KEYS, (), _EXPECTED["published"])
    if keys is None:
        return None
    return Publication(
        **{key: _words(keys, key) for key in ("publisher", "place", "date", "series")},
        isbn=_number(keys, "isbn", "ISBN", identifiers.isbn),
        ismn=_number(keys, "ismn", "ISMN", identifiers.ismn),
        doi=_number(keys, "doi", "DOI", identifiers.doi),
    )


def _printing(item: Item) -> Printing | None:
    keys = item.known(PRINT_KEYS, (), _EXPECTED["print"])
    if keys is None:
        return None
    named = {"paper": PAPERS, "clefs": CHOSEN_CLEFS, "values": VALUES, "figures": FIGURES}
    named |= {"score": SCORES, "barring": BARRING, "words": WORDS}
    return Printing(
        **{key: _one_of(keys, key, known) for key, known in named.items()},
        stave=_stave(keys["stave"]) if "stave" in keys else 0.0,
        parts="parts" in keys and keys["parts"].yes(),
    )


def _one_of(keys: Keys, key: str, known: tuple[str, ...]) -> str:
    """One of some words; empty where it is none of them (and told)."""
    text = _words(keys, key)
    if text and text not in known:
        keys[key].wrong(listing(known) + nearest(text, known))
        return ""
    return text


def _stave(item: Item) -> float:
    value = item.value()
    low, high = STAVES
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        item.wrong(_EXPECTED["stave"])
        return 0.0
    return float(value)


def _witnesses(item: Item) -> tuple[Witness, ...]:
    found: list[Witness] = []
    for entry in item.items(_EXPECTED["witnesses"]):
        keys = entry.known(WITNESS_KEYS, ("siglum",), "an entry with siglum")
        if keys is None:
            continue
        witness = _witness(entry, keys)
        if witness.siglum and witness.siglum in (w.siglum for w in found):
            keys["siglum"].wrong("a siglum of its own", f"the siglum {shorten(witness.siglum)} a second time")
        if witness.copy_text and any(w.copy_text for w in found):
            keys["copy-text"].wrong("one witness as the copy-text", "a second copy-text")
        found.append(witness)
    return tuple(found)


def _witness(entry: Item, keys: Keys) -> Witness:
    siglum = _words(keys, "siglum")
    if siglum and (not SIGLUM.fullmatch(siglum) or siglum in (*VOICES, *CLEFS)):
        keys["siglum"].wrong(_EXPECTED["siglum"], f"the siglum {shorten(siglum)}")
    link = _words(keys, "link")
    if link and not re.fullmatch(r"https?://[^\s<>\"]+", link):
        keys["link"].wrong(_EXPECTED["link"], f"the link {shorten(link)}")
    return Witness(
        siglum=siglum,
        **{key: _words(keys, key) for key in ("library", "shelfmark", "folio", "date", "description")},
        link=link,
        copy_text="copy-text" in keys and keys["copy-text"].yes(),
        pictures=_pictures(keys["pictures"]) if "pictures" in keys else (),
        span=entry.span,
    )


def _pictures(item: Item) -> tuple[Facsimile, ...]:
    found = []
    for entry in item.items(_EXPECTED["pictures"]):
        keys = entry.known(("file", "licence", "credit", "zones"), ("file", "licence"), _EXPECTED["pictures"])
        if keys is None:
            continue
        file = _words(keys, "file")
        inside = not re.search(r"[\\:?#%]|^/|(^|/)\.{0,2}(/|$)", file)
        if file and not (inside and file.lower().endswith(PICTURES)):
            keys["file"].wrong(_EXPECTED["file"], f"the picture {shorten(file)}")
        zones = _zones(keys["zones"]) if "zones" in keys else ()
        at = keys["file"].span if "file" in keys else entry.span
        found.append(Facsimile(file, _words(keys, "licence"), _words(keys, "credit"), zones, at))
    return tuple(found)


def _zones(item: Item) -> tuple[Zone, ...]:
    found = []
    for entry in item.items(_EXPECTED["zones"]):
        keys = entry.known(("bars", "box"), ("bars", "box"), _EXPECTED["zones"])
        if keys is None or len(keys) < 2:
            continue
        bars = re.fullmatch(r"([1-9][0-9]{0,4})(?:[-–]([1-9][0-9]{0,4}))?", _words(keys, "bars"))
        box = _box(keys["box"])
        if not bars or int(bars[2] or bars[1]) < int(bars[1]):
            keys["bars"].wrong(_EXPECTED["bars"])
        elif box:
            found.append(Zone(int(bars[1]), int(bars[2] or bars[1]), box, keys["bars"].span))
    return tuple(found)


def _box(item: Item) -> tuple[int, int, int, int] | None:
    sides = [side.whole(0, 100_000, _EXPECTED["box"]) for side in item.items(_EXPECTED["box"])]
    if None in sides or (not sides and not item.is_list):
        return None
    left, top, width, height = [n or 0 for n in sides] if len(sides) == 4 else (0, 0, 0, 0)
    if not (width and height):
        item.wrong(_EXPECTED["box"])
        return None
    return left, top, width, height


KEYS: dict[str, Callable[[Item], Any]] = {
    "composer": _composer,
    "place": lambda item: item.words("the place as text"),
    "date": lambda item: item.words("the date as text"),
    "witnesses": _witnesses,
    "relation": lambda item: item.words("how the witnesses hang together, as text"),
    "method": lambda item: item.words("how the editor went about, as text"),
    "editors": _editors,
    "published": _published,
    "print": _printing,
}
"""The keys of sources and edition under `verset`, in the order in which they are written."""
