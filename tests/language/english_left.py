"""Finds English on pages and prints of another language: words that the file of English texts has and the
file of the language has not."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import yaml

import builder.language

TEXTS = Path(builder.language.__file__).parent / "texts"
SAME = frozenset(
    # formats and names of programs; the parts of a score, whose Latin names print has from the source
    [
        "for",
        "material",
        "mkdocs",
        "verset",
        "builder",
        "musicxml",
        "midi",
        "mei",
        "flac",
        "pdf",
        "json",
        "bassus",
    ]
)
"""Words that may stand on a page of any language."""


def texts(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict):
        for each in tree.values():
            yield from texts(each)
    elif tree is not None:
        yield str(tree)


def words(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]{3,}", text.lower()))


@cache
def english_only(language: str) -> frozenset[str]:
    """Words of the English file that no text of the language's file has."""
    english = yaml.safe_load((TEXTS / "en.yaml").read_text("utf-8"))
    own = yaml.safe_load((TEXTS / f"{language}.yaml").read_text("utf-8"))
    plain = re.compile(r"\{[^{}]*\}|<[^>]*>|`[^`]*`")
    theirs = {w for text in texts(english) for w in words(plain.sub(" ", text))}
    ours = {w for text in texts(own) for w in words(plain.sub(" ", text))}
    return frozenset(theirs - ours - SAME)


def english_left(text: str, language: str) -> list[str]:
    """The sentences of a text in which two words and a third of all are English, or the only one is."""
    found, english = [], english_only(language)
    for piece in re.split(r"[\n¶]+|(?<=[.;:!?]) ", re.sub(r"\{[^{}]*\}", "", text)):
        if "/" in piece and " " not in piece.strip():
            continue  # the name by which a source or a table calls something
        all_words = re.findall(r"[^\W\d_]{3,}", piece.lower())
        left = [w for w in all_words if w in english]
        if (len(left) >= 2 and 3 * len(left) >= len(all_words)) or (left and len(all_words) == 1):
            found.append(" ".join(piece.split()))
    return found


def said(page: str) -> str:
    """What a page says: its text, its labels, and the texts that its script is given."""
    data = re.findall(r'<script type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL)
    page = page.replace("Tuning and Temperament", "")  # the title of a book
    page = re.sub(r"<(script|style|pre|code)\b.*?</\1>", " ¶ ", page, flags=re.DOTALL)
    labels = re.findall(r'(?:aria-label|title|alt|placeholder)="([^"]*)"', page)
    given = [t for each in data for t in texts_of(json.loads(each))]
    shown = re.sub(r"</?(?:em|strong|i|b|a|span|small|abbr)\b[^>]*>", "", page)
    return html.unescape(" ¶ ".join([re.sub(r"<[^>]+>", " ¶ ", shown), *labels, *given]))


def texts_of(data: Any) -> Iterator[str]:
    """The sentences in data: texts with a space in them."""
    if isinstance(data, dict):
        for each in data.values():
            yield from texts_of(each)
    elif isinstance(data, list):
        for each in data:
            yield from texts_of(each)
    elif isinstance(data, str) and " " in data:
        yield data
