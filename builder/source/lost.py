"""What a MusicXML or MEI file has that a verset source has no words for."""

from __future__ import annotations

from collections.abc import Iterator

from builder.source.verset import Loss
from builder.source.xmltree import Element

KINDS = {
    **dict.fromkeys(
        (
            *("trill-mark", "turn", "delayed-turn", "inverted-turn", "mordent", "inverted-mordent", "shake"),
            *("schleifer", "wavy-line", "tremolo", "trill", "ornam", "bTrem", "fTrem"),
        ),
        "ornament",
    ),
    "fermata": "fermata",
    **dict.fromkeys(("lyric", "syl", "verse"), "lyrics"),
    **dict.fromkeys(("repeat", "ending", "segno", "coda"), "repeat"),
    **dict.fromkeys(("articulations", "artic"), "articulation"),
    "slur": "slur",
    **dict.fromkeys(("dynamics", "wedge", "dynam", "hairpin"), "dynamics"),
    **dict.fromkeys(("fingering", "fing"), "fingering"),
}
"""Elements of MusicXML 4.0 and MEI 5.1, by what a musician calls them."""

_ATTRIBUTES = {"fermata": "fermata", "artic": "articulation", "ornam": "ornament"}
_REPEATS = ("rptstart", "rptend", "rptboth")


def losses(root: Element) -> tuple[Loss, ...]:
    """What of a file is not kept, in the order of the table above."""
    found: dict[str, list[int]] = {}
    for number, measure in enumerate(root.within("measure"), 1):
        for kind in _kinds(measure):
            bars = found.setdefault(kind, [])
            if number not in bars:
                bars.append(number)
    order = dict.fromkeys(KINDS.values())
    return tuple(Loss(kind, tuple(found[kind])) for kind in order if kind in found)


def _kinds(element: Element) -> Iterator[str]:
    if element.tag in KINDS:
        yield KINDS[element.tag]
    for name, kind in _ATTRIBUTES.items():
        if element.get(name):
            yield kind
    if element.tag == "measure" and {element.get("left"), element.get("right")} & set(_REPEATS):
        yield "repeat"
    for child in element.children:
        yield from _kinds(child)
