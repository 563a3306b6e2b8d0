"""Registration: which ranks are drawn, read from words or advised from the piece and its place."""

from __future__ import annotations

import re
from dataclasses import dataclass

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
        words = [w.strip().lower() for w in re.split(r",|\b(?:and|e|ed|und)\b|\+", text.replace("\n", " "))]
        words = [" ".join(w.split()) for w in words if w.strip()]
        if not words:
            raise ValueError(f"registration {text!r} names no rank; {_known()}")
        drawn: set[str] = set()
        for word in words:
            if word != "ripieno" and word not in RANKS:
                raise ValueError(f"registration {text!r}: {word!r} is no rank of this organ; {_known()}")
            drawn.update(RIPIENO if word == "ripieno" else (word,))
        if "fiffaro" in drawn and "principale" not in drawn:
            raise ValueError(f"registration {text!r}: the fiffaro beats with the principale; draw both")
        return cls(tuple(name for name in RANKS if name in drawn))


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
