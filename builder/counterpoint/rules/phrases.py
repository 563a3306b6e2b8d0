"""The rules, what the check has to say, and what a piece asks of tuning, keyboard and pitch, in the
languages of a course.

A finding carries phrases, and a warning is one: a key and its values, put in words when somebody asks. What a
key says stands in `wording/`, the same keys and values in every language. A place in braces may say how its
value is read:

- `{x}`: a pitch, a figure or a number as sources write it; a phrase in its words
- `{x:voice}`, `{x:voices}`: a voice, and several, by name
- `{x:note}`: a voice and its pitch
- `{x:line}`, `{x:row}`: pitches one after another, and beside one another
- `{x:tones}`: letters, each with its number above the bass
- `{x:letter}`: a letter with its sign, as it is said
- `{x:interval}`, `{x:size}`: two pitches, as the interval between them and as its sign (`P5`)
- `{x:rule}`: a rule's id, as its title; `{x:rules}`, `{x:titles}`: several, in small letters or as they stand
- `{x:tuning}`: words that ask for a tuning, as its name
- `{x:place}`: a bar and beat
- `{x:as}`: a key, as what it says
- `{x:each}`: several phrases
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Any, NamedTuple

import yaml

from builder.analysis.wording import LANGUAGES, letter, listing, where, wording
from builder.counterpoint.rules.rule import Rule
from builder.counterpoint.rules.rulebook import RULES
from builder.music import Interval, Pitch


class Phrase(NamedTuple):
    """Something to be said: its key in the wording, and its values by name."""

    key: str
    values: tuple[tuple[str, Any], ...] = ()

    @classmethod
    def of(cls, key: str, **values: Any) -> Phrase:
        """A phrase with its values; whether they fit the key shows when it is said.

        >>> Phrase.of("goes-to", note=("tenor", Pitch.parse("C#4")), after=Pitch.parse("A3")).key
        'goes-to'
        """
        return cls(key, tuple(values.items()))


def said(phrase: Phrase | str, language: str = "en") -> str:
    """A phrase in words. A text stays as it is; a language without a catalogue speaks English. `KeyError`
    when the phrase has no wording, or lacks a value.

    >>> tritone = Pitch.parse("F3"), Pitch.parse("B4")
    >>> phrase = Phrase.of("unprepared", tones=(("B", 4),), before=tritone[0], interval=tritone)
    >>> said(phrase)
    'B (4) cannot be held from F3, where it is an augmented fourth'
    >>> said(phrase, "it")
    'B (4) non si può tenere da F3, dove è una quarta aumentata'
    """
    return phrase if isinstance(phrase, str) else _speaker(language).said(phrase)


def worded(rule: str, language: str = "en") -> Rule:
    """A rule as a language tells it: English as the registry has it, else from `wording/`.

    `rule`: its id. A language without a catalogue tells the rule in English.

    >>> worded("wolf", "de").title
    'Intervall über den Wolf'
    >>> worded("wolf").title
    'Interval across the wolf'
    """
    known = RULES[rule]
    text = _texts(_known(language)).get("rules", {}).get(rule)
    return replace(known, **text) if text else known


@cache
def languages() -> tuple[str, ...]:
    """Languages that have a catalogue.

    >>> languages()
    ('de', 'en', 'it')
    """
    folder = files("builder.counterpoint.rules") / "wording"
    return tuple(sorted(f.name[:-5] for f in folder.iterdir() if f.name.endswith(".yaml")))


def _known(language: str) -> str:
    return language if language in languages() else "en"


@cache
def _texts(language: str) -> dict[str, dict[str, Any]]:
    source = files("builder.counterpoint.rules") / "wording" / f"{language}.yaml"
    texts: dict[str, dict[str, Any]] = yaml.safe_load(source.read_text("utf-8"))
    return texts


class _Speaker(Formatter):
    """Says phrases in one language."""

    def __init__(self, language: str) -> None:
        self.language = language
        self.texts: Mapping[str, str] = _texts(language)["findings"]
        self.say = wording(language)

    def said(self, phrase: Phrase) -> str:
        return self.vformat(self.texts[phrase.key], (), dict(phrase.values))

    def format_field(self, value: Any, format_spec: str) -> str:
        if format_spec:
            return _READ[format_spec](self, value)
        return self.said(value) if isinstance(value, Phrase) else str(value)

    def voice(self, name: str) -> str:
        """A voice's name; scores from outside name some of their own."""
        return LANGUAGES[self.language].get(f"voice.{name}", name)

    def voices(self, names: Sequence[str]) -> str:
        return listing(self.say, [self.voice(name) for name in names])

    def note(self, sung: tuple[str, Pitch]) -> str:
        return f"{self.voice(sung[0])} {sung[1]}"

    def interval(self, ends: tuple[Pitch, Pitch]) -> str:
        """An interval beyond the octave as within it."""
        found = Interval.between(*sorted(ends, key=lambda p: p.midi))
        number = found.number if found.number <= 8 else (found.number - 2) % 7 + 2
        quality = found.quality[0] if found.quality[0] in "Ad" else ""
        return self.texts[f"{quality}{number}"]

    def title(self, rule: str) -> str:
        return worded(rule, self.language).title

    def tuning(self, name: str) -> str:
        """A tuning and what the tuner changed of it; a course names some of its own."""
        base, *changes = (part.strip() for part in name.split(","))
        return ", ".join([self.texts.get(base, base), *map(self.change, changes)])

    def change(self, text: str) -> str:
        word, *keys = text.split()
        if word == "split":
            return self.said(Phrase.of("split", keys=" ".join(keys)))
        return self.said(Phrase.of("instead-of", new=word, old=keys[-1]))


_READ: Mapping[str, Callable[[_Speaker, Any], str]] = {
    "voice": _Speaker.voice,
    "voices": _Speaker.voices,
    "note": _Speaker.note,
    "line": lambda _, pitches: "–".join(map(str, pitches)),
    "row": lambda _, pitches: ", ".join(map(str, pitches)),
    "tones": lambda _, tones: ", ".join(f"{letter} ({number})" for letter, number in tones),
    "letter": lambda speaker, name: letter(speaker.say, name),
    "interval": _Speaker.interval,
    "size": lambda _, ends: Interval.between(*ends).name,
    "rule": _Speaker.title,
    "rules": lambda speaker, rules: ", ".join(speaker.title(r).lower() for r in rules),
    "titles": lambda speaker, rules: ", ".join(map(speaker.title, rules)),
    "tuning": _Speaker.tuning,
    "place": lambda speaker, place: where(speaker.say, place),
    "as": lambda speaker, key: speaker.texts[key],
    "each": lambda speaker, phrases: "; ".join(map(speaker.said, phrases)),
}


@cache
def _speaker(language: str) -> _Speaker:
    return _Speaker(_known(language))
