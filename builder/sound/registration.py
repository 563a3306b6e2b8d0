"""Registration: which ranks are drawn, read from words or advised from the piece and its place."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType

from builder.sound.ranks import RANKS, RIPIENO, Rank


@dataclass(frozen=True, slots=True)
class Registration:
    """The ranks drawn, in the order of the organ.

    >>> Registration.parse("principale and flauto").ranks[1].feet
    '4′'
    >>> len(Registration.parse("ripieno").ranks)
    7
    >>> Registration.parse("principale e flauto") == Registration.parse("Principale und Flauto")
    True
    """

    names: tuple[str, ...]

    @property
    def ranks(self) -> tuple[Rank, ...]:
        return tuple(RANKS[name] for name in self.names)

    @property
    def title(self) -> str:
        if self.names == RIPIENO:
            return "ripieno"
        return f"{', '.join(self.names[:-1])} and {self.names[-1]}" if len(self.names) > 1 else self.names[0]

    @classmethod
    def parse(cls, text: str) -> Registration:
        """Read names of ranks (or `ripieno`) joined by commas, `and`, `e`, `ed` or `und`; `ValueError` says
        which word is no rank and which there are."""
        read = Stops.read(text)
        for word in read.others:
            raise ValueError(f"registration {text!r}: {word!r} is no rank of this organ; {_known()}")
        if read.drawn is None:
            raise ValueError(f"registration {text!r} names no rank; {_known()}")
        return read.drawn


@dataclass(frozen=True, slots=True)
class Stops:
    """A registration in a teacher's words: the ranks that it names, and the words that name none here.

    >>> Stops.read("soft 8 foot alone")
    Stops(drawn=None, others=('soft 8 foot',))
    >>> Stops.read("Prinzipal 8' und Flöte 4'").drawn
    Registration(names=('principale', 'flauto'))
    """

    drawn: Registration | None
    others: tuple[str, ...]

    @classmethod
    def read(cls, text: str) -> Stops:
        """`ValueError` where the fiffaro is drawn without the principale it beats with."""
        drawn: set[str] = set()
        others: list[str] = []
        for word in re.split(r"[,;+]|\b(?:and|with|e|ed|con|und|mit)\b", " ".join(text.split())):
            plain = _ALONE.sub("", word.strip().lower()).strip()
            ranks = RIPIENO if plain == "ripieno" else _ranks(plain)
            drawn.update(ranks)
            if plain and not ranks:
                others.append(plain)
        if "fiffaro" in drawn and "principale" not in drawn:
            raise ValueError(f"registration {text!r}: the fiffaro beats with the principale; draw both")
        found = Registration(tuple(name for name in RANKS if name in drawn)) if drawn else None
        return cls(found, tuple(others))

    @property
    def misspelt(self) -> tuple[tuple[str, str], ...]:
        """Words that nearly name a rank, each with that name."""
        near = ((word, get_close_matches(word, [*RANKS, *_CALLED], 1, 0.8)) for word in self.others)
        return tuple((word, found[0]) for word, found in near if found)


_ALONE = re.compile(r"\b(?:alone|only|solo|sola|soli|allein|solus)$")
_FEET = re.compile(r"\s*(\d+|[⅓⅔½]|\d[⅓⅔½])\s*(?:['’′]|feet|foot|ft|piedi|fuss|fuß)?$")
_CALLED: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("principal", "prinzipal", "diapason"), "principale"),
        **dict.fromkeys(("octave", "oktave", "viii"), "ottava"),
        **dict.fromkeys(("fifteenth", "superoktave", "quintadecima xv", "xv"), "quintadecima"),
        **dict.fromkeys(("nineteenth", "decimanona xix", "xix"), "decimanona"),
        **dict.fromkeys(("twenty-second", "xxii"), "vigesimaseconda"),
        **dict.fromkeys(("twenty-sixth", "xxvi"), "vigesimasesta"),
        **dict.fromkeys(("twenty-ninth", "xxix"), "vigesimanona"),
        **dict.fromkeys(("flute", "flöte", "flauto in ottava", "flauto in viii"), "flauto"),
        **dict.fromkeys(("flauto in xii", "flute twelfth"), "flauto in duodecima"),
        **dict.fromkeys(("voce umana", "piffaro", "fifaro"), "fiffaro"),
    }
)
"""Other names of the ranks, in English, Italian and German (common practice, no source)."""


def _ranks(word: str) -> tuple[str, ...]:
    """The rank that a word names, with its feet or without; none where the feet are those of another."""
    bare = _FEET.sub("", word)
    name = bare if bare in RANKS else _CALLED.get(bare, "")
    feet = _FEET.search(word)
    right = name and (feet is None or feet[1] == RANKS[name].feet.rstrip("′"))
    return (name,) if right else ()


def _known() -> str:
    return f"there are ripieno, {', '.join(RANKS)}"


_BY_PLACE = {
    "elevation": ("principale and fiffaro", "at the elevation the slow beating of the fiffaro is usual"),
    "opening": ("ripieno", "an opening is usually given to the ripieno"),
    "introit": ("ripieno", "an opening is usually given to the ripieno"),
    "close": ("ripieno", "a close is usually given to the ripieno"),
    "amen": ("ripieno", "a close is usually given to the ripieno"),
    "communion": ("principale and flauto", "communion asks for a sweet and quiet sound"),
    "offertory": (
        "principale, ottava and quintadecima",
        "an offertory is long and wants clearness without weight",
    ),
}
_BY_CHARACTER = {
    "quiet": ("principale", "the principale alone is the organ's quiet voice"),
    "slow": ("principale", "slow harmony is clearest on the principale alone"),
    "sad": ("principale and fiffaro", "the beating of the fiffaro suits lament"),
    "sweet": ("principale and flauto", "the flauto in octave sweetens the principale"),
    "lively": ("principale, ottava and quintadecima", "quick notes want octaves that speak promptly"),
    "bright": ("principale, ottava, quintadecima and vigesimaseconda", "the high octave gives brightness"),
    "solemn": ("ripieno", "solemn music is given to the ripieno"),
}
_BY_TONE = {
    1: ("principale, ottava and flauto", "grave and pleasing"),
    2: ("principale and fiffaro", "mournful"),
    3: ("principale and flauto", "moving to tears"),
    4: ("principale and fiffaro", "lamenting"),
    5: ("ottava, quintadecima and flauto", "glad and modest"),
    6: ("principale, ottava and flauto", "devout and grave"),
    7: ("ottava, quintadecima and vigesimaseconda", "cheerful and sweet"),
    8: ("flauto and ottava", "pleasing"),
}
# After the table of tones and stops in G. Diruta, Il Transilvano, part two (1609), from memory; where it
# asks for a tremulant this organ draws the fiffaro. On four-foot foundations he plays an octave lower, so
# the principale is added here to keep the written pitch.


def advise_registration(
    tone: int | None = None, character: str = "", place: str = ""
) -> tuple[Registration, str]:
    """Advice and its reason: first from the place in the service (`elevation`, `opening` …), then from
    the character in words (`quiet`, `lively` …), then from the tone.

    >>> drawn, reason = advise_registration(4, place="elevation")
    >>> drawn.title, reason
    ('principale and fiffaro', 'at the elevation the slow beating of the fiffaro is usual')
    """
    for table, words in ((_BY_PLACE, place), (_BY_CHARACTER, character)):
        for word in re.findall(r"[a-z]+", words.lower()):
            if word in table:
                text, reason = table[word]
                return Registration.parse(text), reason
    if tone in _BY_TONE:
        text, mood = _BY_TONE[tone]
        drawn = Registration.parse(f"principale and {text}")
        return drawn, f"the tone is {mood}, and is given these ranks (after Diruta, 1609)"
    return Registration.parse("principale"), "the principale is the foundation and suits any verset"
