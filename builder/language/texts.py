"""What is said to a reader: a file for each language (`texts/*.yaml`), the same keys in all.

A file has a section for each room that speaks (`analysis`, `rules`, `findings`, `choice`, `tunings`, `plan`,
`source`, `report`, `edition`, `page`), one of what is said of published sources (`cited`, by its English),
and one that all may use (`common`: letters, voices, intervals, places). Another language is another file. A
place in braces may say how its value is read:

- `{x}`: a pitch as the language writes it; a figure as print shows it; a phrase in its words
- `{x:voice}`, `{x:voices}`: a voice, and several, by name
- `{x:note}`, `{x:sung}`: a voice and its pitch, and several
- `{x:line}`, `{x:row}`: pitches one after another, and beside one another
- `{x:tones}`: letters, each with its number above the bass
- `{x:written}`: a note, with octave or without, by its name in sources, as the language writes it
- `{x:low}`: a text in small letters
- `{x:written_row}`: several, beside one another
- `{x:distance}`: a number of staff steps, as an interval
- `{x:interval}`, `{x:size}`: two pitches, as the interval between them and as its sign (`P5`)
- `{x:place}`: a bar and beat
- `{x:as}`: a key, as what it says
- `{x:each}`, `{x:clauses}`: several phrases, and several as clauses of one sentence
- `{x:figure}`: a figure of the tables of diminution, by name
- `{x:tuning}`: words that ask for a tuning, as its name
- in findings also `{x:rule}`: a rule's id, as its title; `{x:rules}`, `{x:titles}`: several, in small letters
  or as they stand
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Any, NamedTuple, NewType

import yaml

from builder.music import Figure, FigureSign, Interval, Pitch, Place

Language = NewType("Language", str)
"""A language that has a file of texts, by its code: `en`."""

ENGLISH = Language("en")

_log = logging.getLogger(__name__)
_BY_ITS_ENGLISH = ("source", "cited")
"""Sections in which a text is known by its English, and is said so where a language has none."""
_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NOTE = re.compile(r"([A-G](?:##?|bb?)?)([0-9])?")


@cache
def languages() -> tuple[Language, ...]:
    """The languages that have a file of texts, English first.

    >>> languages()
    ('en', 'de', 'it')
    """
    names = {f.name[:-5] for f in _folder().iterdir() if f.name.endswith(".yaml")}
    return (ENGLISH, *map(Language, sorted(names - {ENGLISH})))


def known_language(tag: str) -> Language:
    """The language that a BCP 47 tag asks for; `ValueError` when it has no file of texts.

    >>> known_language("de-AT")
    'de'
    """
    plain = Language(tag.partition("-")[0])
    if plain not in languages():
        raise ValueError(f"no texts in {tag!r}; there are: {', '.join(languages())}")
    return plain


class Phrase(NamedTuple):
    """Something to be said: its key among the texts, and its values by name."""

    key: str
    values: tuple[tuple[str, Any], ...] = ()

    @classmethod
    def of(cls, key: str, **values: Any) -> Phrase:
        """A phrase with its values; whether they fit the key shows when it is said.

        >>> Phrase.of("goes-to", note=("tenor", Pitch.parse("C#4")), after=Pitch.parse("A3")).key
        'goes-to'
        """
        return cls(key, tuple(values.items()))


class Texts(Formatter):
    """The texts of one section in one language. A key is a path with points.

    >>> en = Texts("page", ENGLISH)
    >>> en("voices.altus"), en("bars.span", first=3, last=6)
    ('altus', 'bars 3 to 6')
    """

    def __init__(self, section: str, language: Language) -> None:
        self.language = language
        self.texts: Mapping[str, str] = _section(language, section)
        self._common = _section(language, "common")

    def __call__(self, key: str, **values: object) -> str:
        """The text of a key, its places filled in; `KeyError` when there is none."""
        return self.vformat(self.texts[key] if key in self.texts else self._common[key], (), values)

    def section(self, name: str) -> dict[str, str]:
        """All texts below a key, their places still open; where the section has none, those for all."""
        stem = f"{name}."
        found = [
            {key[len(stem) :]: text for key, text in every.items() if key.startswith(stem)}
            for every in (self.texts, self._common)
        ]
        return found[0] or found[1]

    def said(self, phrase: Phrase) -> str:
        """A phrase in words; `KeyError` when it has no text, or lacks a value."""
        return self.vformat(self.texts[phrase.key], (), dict(phrase.values))

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec:
            return str(getattr(self, f"as_{format_spec}")(value))
        if isinstance(value, Pitch):
            return self.written(value)
        if isinstance(value, Figure | FigureSign):
            return value.shown
        return self.said(value) if isinstance(value, Phrase) else str(value)

    def written(self, note: Pitch | str) -> str:
        """A note by its name in sources as the language writes it everywhere: a pitch with its octave, a
        letter without. What is no note stays as it is.

        >>> [Texts("common", known_language(tag)).written("Bb4") for tag in ("en", "de", "it")]
        ['B♭4', 'b′', 'si♭4']
        >>> [Texts("common", Language("de")).written(name) for name in ("B", "B2", "B3", "F#5")]
        ['H', 'H', 'h', 'fis″']
        """
        found = _NOTE.fullmatch(str(note))
        if found is None:
            return str(note)
        letter, octave = found.groups()
        name = self._common[f"names.{letter}"]
        return self(f"octave.{octave}", note=name) if octave else name

    def as_low(self, text: str) -> str:
        return text.lower()

    def cited(self, source: str) -> str:
        """A published source as the language cites it: titles stay, what is said of them is translated.

        >>> Texts("page", Language("it")).cited("L. Penna, Albori (1672), book III (from memory)")
        'L. Penna, Albori (1672), libro III (a memoria)'
        """
        said = _section(self.language, "cited")
        if source in said:
            return said[source]
        for english in sorted(said, key=len, reverse=True):
            source = re.sub(rf"\b{re.escape(english)}\b", said[english], source)
        return source

    def voice(self, name: str) -> str:
        """A voice's name; scores from outside name some of their own."""
        return self._common.get(f"voice.{name}", name)

    def listing(self, words: Sequence[str], joint: str = "and") -> str:
        """Words in a row; `joint` is `and` or `or`.

        >>> Texts("common", ENGLISH).listing(["D", "A", "F"])
        'D, A and F'
        >>> Texts("common", Language("de")).listing(["D", "A"], "or")
        'D oder A'
        """
        if len(words) < 2:
            return "".join(words)
        return self(f"list.{joint}", others=", ".join(words[:-1]), last=words[-1])

    def where(self, place: Place) -> str:
        """Bar and beat in words.

        >>> from fractions import Fraction
        >>> Texts("common", ENGLISH).where(Place(3, Fraction(5, 2)))
        'bar 3, beat 2 1/2'
        """
        whole, rest = divmod(place.beat, 1)
        return self("place", bar=place.bar, beat=f"{whole} {rest}" if rest else f"{whole}")

    def distance(self, steps: int) -> str:
        """How far a number of staff steps reaches, in words.

        >>> en = Texts("common", ENGLISH)
        >>> en.distance(-10), en.distance(7), en.distance(14)
        ('an octave and a fourth', 'an octave', 'two octaves')
        """
        octaves, rest = divmod(abs(steps), 7)
        if octaves > 1:
            wide = self("interval.octaves", count=self(f"count.{octaves}") if octaves < 5 else octaves)
        else:
            wide = self("interval.0")
        if not rest:
            return wide
        name = self(f"interval.{rest}")
        return self("interval.beyond", octaves=wide, interval=name) if octaves else name

    as_voice = voice
    as_written = written
    as_place = where
    as_distance = distance

    def as_voices(self, names: Sequence[str]) -> str:
        return self.listing([self.voice(name) for name in names])

    def as_note(self, sung: tuple[str, Pitch]) -> str:
        return f"{self.voice(sung[0])} {self.written(sung[1])}"

    def as_sung(self, notes: Sequence[tuple[str, Pitch]]) -> str:
        return self.listing([self.as_note(note) for note in notes])

    def as_clauses(self, phrases: Sequence[Phrase]) -> str:
        return self.listing([self.said(phrase) for phrase in phrases])

    def as_line(self, pitches: Sequence[Pitch]) -> str:
        return "–".join(map(self.written, pitches))

    def as_row(self, pitches: Sequence[Pitch]) -> str:
        return ", ".join(map(self.written, pitches))

    def as_written_row(self, names: Sequence[Pitch | str]) -> str:
        return " ".join(map(self.written, names))

    def as_tones(self, tones: Sequence[tuple[str, int]]) -> str:
        return ", ".join(f"{self.written(letter)} ({number})" for letter, number in tones)

    def as_interval(self, ends: tuple[Pitch, Pitch]) -> str:
        """An interval beyond the octave as within it."""
        found = Interval.between(*sorted(ends, key=lambda p: p.midi))
        number = found.number if found.number <= 8 else (found.number - 2) % 7 + 2
        quality = found.quality[0] if found.quality[0] in "Ad" else ""
        return self.texts[f"{quality}{number}"]

    def as_size(self, ends: tuple[Pitch, Pitch]) -> str:
        return Interval.between(*ends).name

    def as_as(self, key: str) -> str:
        return self.texts[key]

    def as_figure(self, name: str) -> str:
        """A figure of the tables of diminution; one that a course has made up by the name it gave it."""
        return _section(self.language, "page").get(f"try.figure.{name}", name)

    def as_tuning(self, name: str) -> str:
        """A tuning and what the tuner changed of it; a course names some of its own.

        >>> Texts("page", Language("de")).as_tuning("my own, split D#")
        'my own, geteilte Tasten Dis'
        """
        say = texts("tunings", self.language)
        base, *changes = (part.strip() for part in name.split(","))
        title = say.texts.get(f"{base}.title", say.texts.get(base, base))
        return ", ".join([title, *(_change(change, say) for change in changes)])

    def as_each(self, phrases: Sequence[Phrase]) -> str:
        return "; ".join(map(self.said, phrases))


class EditionTexts(Texts):
    """The words of the printed edition.

    >>> en = edition_texts("en")
    >>> en("label.index"), en.written("Bb"), en.move("a tone lower")
    ('Index', 'B♭', 'a tone lower')
    >>> edition_texts("it").move("a minor third higher")
    'una terza minore sopra'
    """

    def version(self, name: str) -> str:
        """What a version is called, with its level where it is not the one asked for.

        >>> edition_texts("en").version("plain"), edition_texts("en").version("diminished-3")
        ('Plain', 'Diminished, full diminution')
        """
        base, _, level = name.partition("-")
        return self(f"version.{base}") + (self(f"level.{level}") if level else "")

    def move(self, interval: str) -> str:
        """An interval as sources write it (`a tone lower`) in this language."""
        _, _, name = interval.partition(" ")
        name, _, way = name.rpartition(" ")
        return self(f"move.{way}", interval=self(f"interval.{name}"))


def opened(text: str) -> str:
    """Text as it opens a line.

    >>> opened("bar 4, beat 3"), opened("")
    ('Bar 4, beat 3', '')
    """
    return text[:1].upper() + text[1:]


@cache
def texts(section: str, language: str = ENGLISH) -> Texts:
    """The texts of a section of a language's file; `ValueError` when there is no such language.

    >>> [texts("analysis", language)("tone.last.final", letter="D") for language in ("en", "it")]
    ['the last note, D, is the final', 'l’ultima nota, D, è la finale']
    """
    return Texts(section, known_language(language))


def page_texts(language: str = ENGLISH) -> Texts:
    """The texts of the reader's page.

    >>> page_texts("it")("voices.altus")
    'alto'
    """
    return texts("page", language)


@cache
def edition_texts(language: str = ENGLISH) -> EditionTexts:
    """The words of the printed edition; `ValueError` when there is no such language.

    >>> edition_texts("de")("label.index")
    'Register'
    """
    return EditionTexts("edition", known_language(language))


def _change(text: str, say: Texts) -> str:
    word, *keys = text.split()
    if word == "split":
        return say("split", keys=say.as_written_row(keys))
    return say("instead-of", new=say.written(word), old=say.written(keys[-1]))


def _folder() -> Any:
    return files("builder.language") / "texts"


@cache
def _file(language: Language) -> Mapping[str, Any]:
    text = (_folder() / f"{language}.yaml").read_text("utf-8")
    found: Mapping[str, Any] = yaml.load(text, _Loader)
    return found


@cache
def _section(language: Language, name: str) -> Mapping[str, str]:
    """The texts of a section by key; where a language lacks some, the English stands in, with a warning."""
    own = dict(_flat(_file(language).get(name, {})))
    if language == ENGLISH or name in _BY_ITS_ENGLISH:
        return own
    english = _section(ENGLISH, name)
    lacking = [key for key in english if key not in own]
    if not lacking:
        return own
    told = ", ".join(lacking[:5]) + (" …" if len(lacking) > 5 else "")
    message = "%s.yaml, section %s: %d texts are lacking and said in English: %s"
    _log.warning(message, language, name, len(lacking), told)
    return {**{key: own.get(key, text) for key, text in english.items()}, **own}


def _flat(tree: Mapping[Any, Any], stem: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{stem}{key}.")
        else:
            yield f"{stem}{key}", str(value)
