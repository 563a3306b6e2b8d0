"""The interface texts: one catalogue, a file for each language, the same keys in all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import yaml

from builder.pages.assets import source_folder


@dataclass(frozen=True, slots=True)
class Words:
    """The texts of one language. A key is a path with points, `reader.go`.

    >>> en = words("en")
    >>> en("voices.altus")
    'altus'
    >>> en("bars.span", first=3, last=6)
    'bars 3 to 6'
    """

    language: str
    texts: Mapping[str, str]

    def __call__(self, key: str, **values: object) -> str:
        """The text of a key, its places filled in; `KeyError` when there is none."""
        return self.texts[key].format(**values)

    def section(self, name: str) -> dict[str, str]:
        """All texts below a key, their places still open."""
        stem = f"{name}."
        return {key[len(stem) :]: text for key, text in self.texts.items() if key.startswith(stem)}


@cache
def languages() -> tuple[str, ...]:
    """The languages that have a catalogue.

    >>> languages()
    ('de', 'en', 'it')
    """
    return tuple(sorted(path.stem for path in (source_folder() / "words").glob("*.yaml")))


@cache
def words(language: str = "en") -> Words:
    """The texts of a language; `ValueError` when it has no catalogue."""
    if language not in languages():
        raise ValueError(f"no interface texts in {language!r}; there are: {', '.join(languages())}")
    path = source_folder() / "words" / f"{language}.yaml"
    return Words(language, dict(_flat(yaml.safe_load(path.read_text("utf-8")))))


def _flat(tree: Mapping[Any, Any], stem: str = "") -> Iterator[tuple[str, str]]:
    for key, value in tree.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{stem}{key}.")
        else:
            yield f"{stem}{key}", str(value)
