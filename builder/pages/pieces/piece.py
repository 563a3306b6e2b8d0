"""What a generated piece is, and how its music is drawn and heard."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from builder.engraving import flow, open_mei, page_svg
from builder.language.markup import address
from builder.language.texts import Texts, page_texts
from builder.music import Clef, Score, Version
from builder.pages.lesson import LessonPage, relative
from builder.pages.player import music, player
from builder.setting.setting import Defaults, with_defaults
from builder.sound import TempoMap, play_data
from builder.source import Settings, Verset

WIDTHS: Mapping[str, tuple[float, float]] = {"narrow": (340, 34), "wide": (700, 36)}
MODERN = {"cantus": "G2", "altus": "G2", "tenor": "F4", "bassus": "F4"}


@dataclass(frozen=True, slots=True)
class Asked:
    """What a course chooses, the page (its uri) that asks for the piece, and the number it gives with it."""

    defaults: Defaults
    language: str
    uri: str
    number: int = 0

    @property
    def words(self) -> Texts:
        return page_texts(self.language)

    def sub(self, name: str) -> str:
        """The uri of a page below the one that asks."""
        return f"{self.uri.removesuffix('.md')}/{name}.md"

    def link(self, uri: str) -> str:
        """The way from the page that asks to another."""
        return address(relative(uri, self.uri))


@dataclass(frozen=True, slots=True)
class Piece:
    """Markdown for the page that asks, the HTML of its slots, and further pages below it."""

    markdown: str
    slots: Mapping[str, str] = field(default_factory=dict)
    pages: tuple[LessonPage, ...] = ()


_NAMES = re.compile(r"<(label|labelAbbr)>[^<]*</\1>")


def open_score(score: Score) -> str:
    """MEI in open score and modern clefs; a single part goes without its name."""
    mei = open_mei(score, {p.voice: Clef.parse(MODERN[p.voice]) for p in score.parts})
    return _NAMES.sub("", mei) if len(score.parts) == 1 else mei


def with_shared_signs(pictures: Mapping[str, str]) -> dict[str, str]:
    """The same pictures with the signs of all defined once, in the first."""
    defs, bodies = page_svg(pictures.values())
    found = dict(zip(pictures, bodies, strict=True))
    for first in list(found)[:1]:
        found[first] = defs + found[first]
    return found


def heard(
    versions: Mapping[Version, Score], label: str, asked: Asked, *, tuning: str = "", quarter: int = 700_000
) -> str:
    """Music outside any verset, drawn and playable: notated scores by version, with the same bars.
    `quarter`: length of a quarter note in microseconds."""
    first = next(iter(versions.values()))
    engraved = {
        version: flow(open_score(score), label=label, widths=WIDTHS) for version, score in versions.items()
    }
    settings = Settings(tuning=tuning, registration="principale")
    frame = Verset("", "", label, first.metre, first.signature, first.bars, (), settings=settings)
    tempo = TempoMap(((Fraction(0), quarter),))
    play = play_data(with_defaults(frame, asked.defaults), versions, tempo, recorded=asked.defaults.pipes)
    return drawn_and_played(engraved, play, label, asked, first=list(versions)[-1])


def drawn_and_played(
    engraved: Mapping[Version, Mapping[str, Sequence[str]]],
    play: Mapping[str, Any],
    label: str,
    asked: Asked,
    *,
    first: Version,
    later: Collection[Version] = (),
) -> str:
    """Engraved systems by version and width with the player that plays them. `first` sounds first; those of
    `later` wait, where there is a script, until they are asked for."""
    w = asked.words
    defs, bodies = page_svg(svg for block in engraved.values() for row in block.values() for svg in row)
    left = iter(bodies)
    html: list[str] = []
    for version, block in engraved.items():
        row = {width: [next(left) for _ in svgs] for width, svgs in block.items()}
        named = f"{label}, {w(f'versions.{version}')}"
        html.append(music("" if html else defs, row, version, named, w, later=version in later))
    return "".join(html) + player(play, list(engraved), {}, 0.0, play["end"], w, first=first)
