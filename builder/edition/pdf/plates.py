"""Plates: the first place of each witness's pictures that is marked, or its whole page, for print."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import dataclass

from builder.language.texts import EditionTexts
from builder.source.pictures import beside, kind, size
from builder.source.verset import Verset

WIDEST = 120.0
TALLEST = 90.0
"""Millimetres that a plate may take."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture as SVG, complete in itself, with its width and height in millimetres and its words."""

    svg: str
    width: float
    height: float
    caption: str


def plates(verset: Verset, w: EditionTexts) -> Iterator[Plate]:
    """A plate for each witness that has pictures; none where a file cannot be read (it is told elsewhere)."""
    for witness in verset.provenance.witnesses:
        for picture in witness.pictures[:1]:
            try:
                data = beside(verset.path, picture.file).read_bytes()
            except OSError:
                continue
            if (whole := size(data)) is None:
                continue
            zone = picture.zones[0] if picture.zones else None
            left, top, width, height = zone.box if zone else (0, 0, *whole)
            scale = min(WIDEST / width, TALLEST / height)
            image = f"data:{kind(data)};base64,{base64.b64encode(data).decode()}"
            svg = (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" '
                f'width="{width * scale:g}mm" height="{height * scale:g}mm">'
                f'<image href="{image}" width="{whole[0]}" height="{whole[1]}"/></svg>'
            )
            bars = ""
            if zone:
                many = zone.last > zone.first
                bars = w("alt.bars" if many else "alt.bar", first=zone.first, last=zone.last, bar=zone.first)
            place = ", ".join(text for text in (f"{witness.siglum} {witness.folio}".strip(), bars) if text)
            terms = w("provenance.picture", terms=picture.terms)
            yield Plate(svg, width * scale, height * scale, f"{place}. {terms}")
