"""Pictures of witnesses in an MEI file: a surface for each page, a zone for each place of some bars.

Source: MEI Guidelines 5.1, module facsimile. Addresses are those of the source: beside it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from builder.edition.exchange.mei_header import source_id
from builder.engraving.tree import element
from builder.source import Verset
from builder.source.provenance import Facsimile, Witness


def add_facsimile(root: ET.Element, verset: Verset) -> None:
    """Put the pictures before the music, and at each measure the zones in which it is seen."""
    music = root.find("music")
    pictures = verset.provenance.facsimiles
    if music is None or not pictures:
        return
    seen: dict[int, list[str]] = {}
    surfaces = [_surface(n, *each, seen) for n, each in enumerate(pictures, 1)]
    music.insert(0, element("facsimile", *surfaces))
    for measure in root.iter("measure"):
        if ids := seen.get(int(measure.get("n", "0"))):
            measure.set("facs", " ".join(f"#{id}" for id in ids))


def _surface(n: int, witness: Witness, picture: Facsimile, seen: dict[int, list[str]]) -> ET.Element:
    zones = []
    for m, zone in enumerate(picture.zones, 1):
        id = f"zone-{n}-{m}"
        left, top, width, height = zone.box
        corners = {"ulx": left, "uly": top, "lrx": left + width, "lry": top + height}
        label = f"{zone.first}-{zone.last}" if zone.last > zone.first else str(zone.first)
        zones.append(element("zone", id=id, n=label, type="bars", **{k: str(v) for k, v in corners.items()}))
        for bar in range(zone.first, zone.last + 1):
            seen.setdefault(bar, []).append(id)
    terms = [("credit", picture.credit), ("licence", picture.licence)]
    told = element("figDesc", *(element("seg", text=text, type=kind) for kind, text in terms if text))
    shown = element("graphic", target=picture.file)
    return element("surface", told, shown, *zones, id=f"surface-{n}", corresp=f"#{source_id(witness.siglum)}")
