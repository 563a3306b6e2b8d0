"""What the findings say: one table of format strings for each language, a file each.

Another language is another file with the same keys and places in braces, named in `LANGUAGES`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from builder.analysis.wording.de import GERMAN
from builder.analysis.wording.en import ENGLISH
from builder.analysis.wording.it import ITALIAN
from builder.music import Place

Say = Callable[..., str]
"""Fills the format string of a key: `say("cadence.degree", degree="D")`."""

LANGUAGES: Mapping[str, Mapping[str, str]] = MappingProxyType({"en": ENGLISH, "it": ITALIAN, "de": GERMAN})


def wording(language: str = "en") -> Say:
    """What fills the format strings of a language; `KeyError` when there is no such table.

    >>> wording()("tone.last.final", letter="D"), wording("it")("tone.last.final", letter="D")
    ('the last note, D, is the final', "l'ultima nota, D, è la finale")
    """
    if language not in LANGUAGES:
        raise KeyError(f"no words for findings in {language!r}; there are: {', '.join(LANGUAGES)}")
    table = LANGUAGES[language]

    def say(key: str, **values: object) -> str:
        return table[key].format(**values)

    return say


_SIGNS = (("##", "double-sharp"), ("bb", "double-flat"), ("#", "sharp"), ("b", "flat"))


def letter(say: Say, name: str) -> str:
    """A letter as the language tells it; an octave number is kept.

    >>> letter(wording(), "Bb"), letter(wording(), "F#4"), letter(wording("de"), "Bb")
    ('B flat', 'F sharp 4', 'Bb')
    """
    for sign, word in _SIGNS:
        if name[1:].startswith(sign):
            return say(f"letter.{word}", letter=name[0], octave=name[1 + len(sign) :]).rstrip()
    return name


def listing(say: Say, words: Sequence[str], joint: str = "and") -> str:
    """Words in a row; `joint` is `and` or `or`.

    >>> listing(wording(), ["D", "A", "F"]), listing(wording("de"), ["D", "A"], "or")
    ('D, A and F', 'D oder A')
    """
    if len(words) < 2:
        return "".join(words)
    return say(f"list.{joint}", others=", ".join(words[:-1]), last=words[-1])


def where(say: Say, place: Place) -> str:
    """Bar and beat in words.

    >>> from fractions import Fraction
    >>> where(wording(), Place(3, Fraction(5, 2)))
    'bar 3, beat 2 1/2'
    """
    whole, rest = divmod(place.beat, 1)
    return say("place", bar=place.bar, beat=f"{whole} {rest}" if rest else f"{whole}")


def distance(say: Say, steps: int) -> str:
    """How far a number of staff steps reaches, in words.

    >>> distance(wording(), -10), distance(wording(), 7), distance(wording(), 14)
    ('an octave and a fourth', 'an octave', '2 octaves')
    """
    octaves, rest = divmod(abs(steps), 7)
    if not rest:
        return say("interval.0") if octaves == 1 else say("interval.octaves", count=octaves)
    name = say(f"interval.{rest}")
    if not octaves:
        return name
    if octaves == 1:
        return say("interval.octave-and", interval=name)
    return say("interval.octaves-and", count=octaves, interval=name)
