"""The words of the printed edition: one catalogue, a file for each language (`words/*.yaml`), the same
keys in all. Letters, voices and places are told as the analysis tells them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from builder.analysis.wording import LANGUAGES, Say, letter, listing, where, wording
from builder.music import Place


@dataclass(frozen=True, slots=True)
class Words:
    """The texts of one language. A key is a path with points.

    >>> en = words("en")
    >>> en("label.index"), en.letter("Bb"), en.move("a tone lower")
    ('Index', 'B flat', 'a tone lower')
    >>> words("it").move("a minor third higher")
    'una terza minore sopra'
    """

    language: str
    texts: Mapping[str, str]
    say: Say

    def __call__(self, key: str, **values: object) -> str:
        """The text of a key, its places filled in; `KeyError` when there is none."""
        return self.texts[key].format(**values)

    def section(self, name: str) -> dict[str, str]:
        """All texts below a key."""
        stem = f"{name}."
        return {key[len(stem) :]: text for key, text in self.texts.items() if key.startswith(stem)}

    def letter(self, name: str) -> str:
        return letter(self.say, name)

    def voice(self, name: str) -> str:
        return self.say(f"voice.{name}")

    def version(self, name: str) -> str:
        """What a version is called, with its level where it is not the one asked for.

        >>> words("en").version("plain"), words("en").version("diminished-3")
        ('Plain', 'Diminished, full diminution')
        """
        base, _, level = name.partition("-")
        return self(f"version.{base}") + (self(f"level.{level}") if level else "")

    def listing(self, names: Sequence[str]) -> str:
        return listing(self.say, names)

    def where(self, place: Place) -> str:
        return where(self.say, place)

    def move(self, interval: str) -> str:
        """An interval as sources write it (`a tone lower`) in this language."""
        _, _, name = interval.partition(" ")
        name, _, way = name.rpartition(" ")
        return self(f"move.{way}", interval=self(f"interval.{name}"))


@cache
def words(language: str = "en") -> Words:
    """The texts of a language, named by a BCP 47 tag; `ValueError` when it has none."""
    plain = language.partition("-")[0]
    if plain not in LANGUAGES:
        raise ValueError(f"no printed edition in {language!r}; there are: {', '.join(LANGUAGES)}")
    text = files("builder.language").joinpath("words", f"{plain}.yaml").read_text("utf-8")
    return Words(plain, dict(_flat(yaml.safe_load(text))), wording(plain))


def performance_notes(language: str) -> str:
    """Our own notes on performance, as Markdown."""
    name = f"performance.{words(language).language}.md"
    return files("builder.language").joinpath("words", name).read_text("utf-8")


def _flat(tree: Mapping[Any, Any], stem: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{stem}{key}.")
        else:
            yield f"{stem}{key}", str(value)
