"""Which characters the printed edition has glyphs for, and what stands for those that it has not.

Latin, Greek and Cyrillic are in the typesetter's own fonts; all other scripts come from fonts that are
installed beside this package, so that every machine prints the same.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

STAND_IN = "\ufffd"
"""Printed for a character that no font has: U+FFFD, which Unicode has for that."""

_WIDE, _EAST = "manimgx_fonts", "manimgx_fonts_cjk"
"""Packages of fonts (SIL Open Font License): scripts and signs; Chinese, Japanese and Korean."""
_ENDINGS = (".ttf", ".otf", ".ttc")


def font_folders() -> list[str]:
    """The folders of the fonts that the typesetter is given beside its own: one package for wide coverage,
    one for the scripts of East Asia, each where it is installed.

    >>> [Path(folder).name for folder in font_folders()]
    ['manimgx_fonts', 'manimgx_fonts_cjk']
    """
    return [str(folder) for package in (_WIDE, _EAST) for folder in _folders(package)]


def fonts() -> str:
    """The font packages with their versions: part of the key under which a print is kept, since another font
    gives another print.

    >>> [each.split()[0] for each in fonts().split(", ")]
    ['manimgx_fonts', 'manimgx_fonts_cjk']
    """
    return ", ".join(
        f"{package} {version(package)}" for package in (_WIDE, _EAST) if find_spec(package) is not None
    )


def missing(texts: Iterable[str]) -> tuple[str, ...]:
    """The characters of some texts that cannot be printed, each once, in their order.

    >>> missing(["Ave n° 1 — ½ ♭ ℣ ℟ ✠", "Ὕμνος, Гимн, מזמור, 讃歌"])
    ()
    >>> missing(["a\U0001d11eb", "c\\ue000\U0001d11e"])
    ('𝄞', '\\ue000')
    """
    return tuple(dict.fromkeys(c for text in texts for c in text if not _known(c)))


def printable(value: Any) -> Any:
    """Texts, lists and maps of them, with the stand-in for every character that cannot be printed.

    >>> printable({"title": ["a\U0001d11e", 1]})
    {'title': ['a�', 1]}
    """
    return changed(value, lambda text: "".join(c if _known(c) else STAND_IN for c in text))


def changed(value: Any, change: Any) -> Any:
    """A tree of mappings and rows with `change` made on every text in it; keys and other values stay as they
    are.

    >>> changed({"title": "ave", "heads": ["mi", 3]}, str.upper)
    {'title': 'AVE', 'heads': ['MI', 3]}
    """
    if isinstance(value, str):
        return change(value)
    if isinstance(value, Mapping):
        return {key: changed(each, change) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [changed(each, change) for each in value]
    return value


_FILES = ("file", "href", "text", "key", "lang")
"""What is no word for a reader: names of files, addresses, code."""


def typographic(value: Any) -> Any:
    """A tree of texts with the apostrophes and quotation marks of print in the place of straight ones, and
    primes after the letter of a note or a number of feet; code, addresses and names of files stay.

    >>> typographic({"title": "l'organo in 8' at a' = 440 Hz", "href": "a'b"})
    {'title': 'l’organo in 8′ at a′ = 440 Hz', 'href': "a'b"}
    >>> typographic(['of "Ave"', "the 'first' verse", "Saints' days"])
    ['of “Ave”', 'the ‘first’ verse', 'Saints’ days']
    """
    if isinstance(value, str):
        return _curled(value)
    if isinstance(value, Mapping):
        return {key: each if key in _FILES else typographic(each) for key, each in value.items()}
    return [typographic(each) for each in value] if isinstance(value, list | tuple) else value


def _curled(text: str) -> str:
    if "'" not in text and '"' not in text:
        return text
    text = re.sub(r"(?<![^\W\d_])([a-h]|\d)'(?!\w)", "\\1′", text)
    text = re.sub(r"(?<![\w.,;:!?…’”»)\]])'(?=\w[^']*'(?!\w))", "‘", text)
    text = re.sub(r'(?<![\w.,;:!?…’”»)\]])"(?=\S)', "“", text)
    return text.replace("'", "’").replace('"', "”")


def texts_in(value: Any) -> Iterator[str]:
    """Every text of a tree of texts.

    >>> list(texts_in({"title": "a", "lines": ["b", 1, ("c",)]}))
    ['a', 'b', 'c']
    """
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping | list | tuple):
        for each in value.values() if isinstance(value, Mapping) else value:
            yield from texts_in(each)


def named(character: str) -> str:
    """A character as a message shows it: itself where it can be seen, and its number.

    >>> named("𝄞"), named("\\ue000")
    ('𝄞 (U+1D11E)', 'U+E000')
    """
    number = f"U+{ord(character):04X}"
    seen = character.isprintable() and unicodedata.category(character) not in ("Mn", "Me", "Co")
    return f"{character} ({number})" if seen else number


@cache
def _known(character: str) -> bool:
    if " " <= character <= "~" or "\xa0" <= character <= "\u017f" or character in "\n\t":
        return True
    if unicodedata.category(character) in ("Cc", "Cs", "Co", "Cn"):
        return False
    # Marks of layout (joiners, marks of direction) have no glyph and want none.
    if unicodedata.category(character) == "Cf":
        return True
    code = ord(character)
    return code in _cover(_WIDE) or code in _cover(_EAST)


@cache
def _cover(package: str) -> frozenset[int]:
    """The code points of a package's fonts."""
    from fontTools.ttLib import TTCollection, TTFont

    found: set[int] = set()
    for folder in _folders(package):
        for path in sorted(p for p in folder.iterdir() if p.suffix in _ENDINGS):
            font = (
                TTCollection(path, lazy=True).fonts[0] if path.suffix == ".ttc" else TTFont(path, lazy=True)
            )
            found |= set(font.getBestCmap())
    return frozenset(found)


def _folders(package: str) -> list[Path]:
    spec = find_spec(package)
    return [Path(place) for place in (spec.submodule_search_locations or [])] if spec else []
