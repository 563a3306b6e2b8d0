"""The music of a page and the player that plays it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from builder.edition.setting import Setting
from builder.engraving import flow, given_mei, keyboard_mei, page_svg
from builder.pages.facts import bars as told_bars
from builder.pages.lesson import ROOT
from builder.pages.player import music, player
from builder.pages.words import Words

WIDTHS: Mapping[str, tuple[float, float]] = {"narrow": (340, 38), "wide": (690, 42)}
"""Widths in pixels, and scales in percent, at which a page carries its music."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a page shows of a verset: from `start` to `end` in quarter notes, in these versions."""

    start: Fraction
    end: Fraction
    versions: tuple[str, ...]


def practice(
    setting: Setting,
    stretch: Stretch,
    play: Mapping[str, Any],
    audio: Mapping[str, Sequence[str]],
    words: Words,
) -> str:
    """HTML of a page's music, in each version, and of its player. `audio`: the site's recordings of
    each version, as uris from the root of the site."""
    labels, engraved = [], []
    for version in stretch.versions:
        score = setting.scores[version].excerpt(stretch.start, stretch.end)
        label = words(
            "pages.pieceLabel",
            title=setting.verset.title,
            version=words(f"versions.{version}"),
            bars=told_bars(score.bars[0].number, score.bars[-1].number, words),
        )
        mei = given_mei(setting.verset, score) if version == "given" else keyboard_mei(score, figured=True)
        labels.append(label)
        engraved.append(flow(mei, label=label, widths=WIDTHS))
    defs, blocks = _shared(engraved)
    pieces = [
        music(defs if n == 0 else "", block, version, label, words)
        for n, (version, label, block) in enumerate(zip(stretch.versions, labels, blocks, strict=True))
    ]
    tempo = setting.tempo
    links = {v: [ROOT + uri for uri in audio[v]] for v in stretch.versions if v in audio}
    controls = player(
        play,
        stretch.versions,
        links,
        tempo.seconds(stretch.start),
        tempo.seconds(stretch.end),
        words,
        first="plain" if "plain" in stretch.versions else stretch.versions[0],
    )
    return "".join(pieces) + controls


def _shared(
    engraved: Sequence[Mapping[str, Sequence[str]]],
) -> tuple[str, list[dict[str, tuple[str, ...]]]]:
    """The signs of all a page's music, once, and the pictures without them."""
    defs, bodies = page_svg(svg for block in engraved for row in block.values() for svg in row)
    left = iter(bodies)
    return defs, [{w: tuple(next(left) for _ in row) for w, row in block.items()} for block in engraved]
