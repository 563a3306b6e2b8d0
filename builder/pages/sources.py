"""What a page tells of sources: witnesses, readings with ways to the music and back, the original bars."""

from __future__ import annotations

import posixpath
from collections.abc import Iterator
from fractions import Fraction
from html import escape
from typing import Any

from builder.edition.apparatus import Told, origin, people, published, readings, witnesses
from builder.engraving.given import SIGN
from builder.language.markup import Marked, address
from builder.language.texts import Texts, edition_texts
from builder.pages.lesson import ROOT
from builder.setting.setting import Setting
from builder.source.provenance import Facsimile, Witness, Zone


def told_sources(setting: Setting, words: Texts) -> dict[str, Any]:
    """Origin, people, publication, witnesses and method of a verset, as an overview has them."""
    said, w = setting.verset.provenance, edition_texts(words.language)
    return {
        "origin": origin(said, w),
        "people": people(said.editors, w),
        "published": published(said),
        "witnesses": witnesses(said, w),
        "method": said.method,
        "sources_title": w("critical.sources"),
        "method_title": w("critical.method"),
    }


def told_readings(setting: Setting, start: Fraction, end: Fraction, words: Texts) -> list[dict[str, Any]]:
    """The readings that begin in a stretch: text, the mark that numbers at the music lead to, and the ways
    back to the music, one for each width at which it is drawn."""
    all_told = list(readings(setting.original or setting.verset, edition_texts(words.language)))
    first = {told.start: told.number for told in reversed(all_told)}
    found = (told for told in all_told if start <= told.start < end)
    return [{"lead": Marked(_lead(told, first[told.start])), "text": told.text} for told in found]


def _lead(told: Told, sign: int) -> str:
    ways = "".join(
        f'<a class="verset-to-{width}" href="#{SIGN}-{width}-{sign}">{told.number}</a>'
        for width in ("wide", "narrow")
    )
    return f'<span class="verset-reading" id="reading-{told.number}">{ways}</span>'


def facsimiles(setting: Setting, uri: str, start: Fraction, end: Fraction, words: Texts) -> str:
    """The bars of a stretch as witnesses have them: each zone that shows one of them, cut out of its picture.
    `uri`: the page of the source, beside which pictures lie."""
    shown = "".join(
        _zone(witness, picture, zone, uri, words) for witness, picture, zone in _zones(setting, start, end)
    )
    return f'<div class="verset-facsimiles">{shown}</div>' if shown else ""


def _zones(setting: Setting, start: Fraction, end: Fraction) -> Iterator[tuple[Witness, Facsimile, Zone]]:
    bars = [bar.number for bar in setting.verset.bars if bar.onset < end and bar.end > start]
    for witness, picture in setting.verset.provenance.facsimiles:
        for zone in picture.zones:
            if zone.first <= bars[-1] and zone.last >= bars[0]:
                yield witness, picture, zone


def _zone(witness: Witness, picture: Facsimile, zone: Zone, uri: str, words: Texts) -> str:
    w = edition_texts(words.language)
    bars = words("bars.span", first=zone.first, last=zone.last) if zone.last > zone.first else ""
    bars = bars or words("bars.one", bar=zone.first)
    place = ", ".join(text for text in (f"{witness.siglum} {witness.folio}".strip(), bars) if text)
    terms = w("provenance.picture", terms=picture.terms)
    where = ROOT + address(posixpath.join(posixpath.dirname(uri), picture.file))
    box = " ".join(map(str, zone.box))
    return (
        f'<figure class="verset-facsimile"><svg viewBox="{box}" role="img" aria-label="{escape(place)}">'
        f'<image href="{escape(where)}"/></svg>'
        f"<figcaption>{escape(place)} · <small>{escape(terms)}</small></figcaption></figure>"
    )
