"""What a source is told, in Italian and German: for each English phrase one with the same places.

The English stands in the code, beside the check that says it; the file of another language has the same
phrase in its section `source`. What stands in a place is told in turn: notes and quoted text stay as
they are.
"""

from __future__ import annotations

import re
from functools import cache

from builder.language.texts import texts

_QUOTED = re.compile(r'([^\s":]+: )?".*"', re.DOTALL)
_SIGNS = re.compile(r"\S+(, \S+)*|\{[^{}]*\}|[0-9]+ [0-9]+/[0-9]+")
VOICES = ("voice", "other")
PLACE = re.compile(r"\{(a|b|c|n|voice|other|found|expected|bar|beat)\}")


def told(text: str, language: str) -> str:
    """An English phrase in a language; as it is in English, and where no catalogue has it.

    >>> told("a bar of 3 1/2 quarters", "it"), told("cantus or altus (did you mean altus?)", "de")
    ('una battuta di 3 1/2 quarti', 'cantus oder altus (gemeint: altus?)')
    >>> told("something else", "it"), told('"two or three"', "de")
    ('something else', '"two or three"')
    """
    if _QUOTED.fullmatch(text):
        return text
    for pattern, phrase in _phrases(language):
        if match := pattern.fullmatch(text):
            return _filled(phrase, match, language)
    return text


def _filled(phrase: str, match: re.Match[str], language: str) -> str:
    """A phrase with its places filled in. A voice has a name in the language where it is spoken of, and its
    own where it is to be written."""
    voices = {
        place: texts("source", language).voice(match[place]) for place in match.groupdict() if place in VOICES
    }
    return PLACE.sub(lambda place: voices.get(place[1]) or told(match[place[1]], language), phrase)


def knows(text: str, language: str) -> bool:
    """Whether a catalogue has a phrase and all that stands in its places, or there is nothing to be told in
    another way: quoted text, notes, and words that are written so in every language.

    >>> knows("an empty bar", "de"), knows("something else", "de"), knows('"H4"', "de")
    (True, False, True)
    >>> knows("no metre, but something else", "de")
    False
    """
    if _QUOTED.fullmatch(text):
        return True
    for pattern, _ in _phrases(language):
        if match := pattern.fullmatch(text):
            places = (place for place in match.groupdict() if place not in VOICES)
            return all(knows(match[place], language) for place in places)
    return bool(_SIGNS.fullmatch(text))


@cache
def _phrases(language: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    """Patterns of English phrases and the same in a language, those that say most first."""
    catalogue = texts("source", language).texts
    order = sorted(catalogue, key=lambda english: (-len(PLACE.sub("", english)), english))
    return tuple((_pattern(english), catalogue[english]) for english in order)


def _pattern(english: str) -> re.Pattern[str]:
    """What an English phrase is known by. A row of words is one only where no word of it has a space."""
    if english in ("{a} or {b}", "{a} and {b}"):
        return re.compile(rf"(?P<a>\S+(?:, \S+)*)( {english.split()[1]} )(?P<b>\S+)")
    parts = PLACE.split(english)
    text = "".join(f"(?P<{part}>.+)" if n % 2 else re.escape(part) for n, part in enumerate(parts))
    return re.compile(text, re.DOTALL)
