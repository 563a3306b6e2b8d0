"""Scores to engrave, read from sources."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from builder.engraving.tree import XML_ID
from builder.music import Part, Score, Version, notated
from builder.source import Verset, parse, read

CONTENT = Path(__file__).parents[2] / "content" / "versets"
_HEAD = "---\ntitle: A verset\nverset: {metre: C, signature: none}\n---\n\n"

FOUR = """
cantus C1 | D5/2 A4/4. B4/8
altus  C3 | A4/2 D4/4. E4/8
tenor  C4 | D4/2 A3/4. B3/8
bassus F4 | A3/2 D3/4. E3/8 | D3/1
"""
FOUR_ABOVE = """
cantus 2 | F4/2~ F4/4. G4/8 | A4/4 B4/8 C5/8 D5/2 | C#5/4 R/4 D5/2 | F(#)4/1
altus 3 | E4/1 | E4/2 F4/2 | D4/1
tenor 4 | C4/1 | A3/1
"""


def verset_of(given: str, plain: str = "", head: str = _HEAD) -> Verset:
    pinned = f"```plain\n{plain.strip()}\n```\n" if plain else ""
    return parse(f"{head}```given\n{given.strip()}\n```\n\n{pinned}", "verset.md")


def pinned_score(verset: Verset) -> Score:
    """The given line and the pinned notes, in voices."""
    score = verset.score()
    notes = {part.voice: list(part.notes) for part in score.parts}
    for pin in verset.pins:
        notes[pin.voice] += [n for n in pin.notes if n.pitch]
    parts = tuple(Part(v, tuple(sorted(found, key=lambda n: n.onset))) for v, found in notes.items())
    return notated(replace(score, version=Version.PLAIN, parts=parts))


@pytest.fixture(scope="session")
def make() -> Callable[..., Verset]:
    return verset_of


@pytest.fixture(scope="session")
def voices() -> Callable[[Verset], Score]:
    return pinned_score


@pytest.fixture(scope="session")
def first() -> Verset:
    return read(CONTENT / "first.md")


@pytest.fixture(scope="session")
def four() -> Score:
    """Four voices that enter one after another, a bar each."""
    return pinned_score(verset_of(FOUR, FOUR_ABOVE))


@pytest.fixture(scope="session")
def opened() -> Callable[[str], ET.Element]:
    return lambda text: ET.fromstring(text.replace(' xmlns="http://www.music-encoding.org/ns/mei"', "", 1))


@pytest.fixture(scope="session")
def ids() -> Callable[[ET.Element], list[str]]:
    return lambda root: [note.attrib[XML_ID] for note in root.iter("note")]
