"""What a MusicXML or MEI file has that a verset source has no words for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from builder.source.encoded import voice_named
from builder.source.verset import Loss, Verset
from builder.source.xmltree import Element

KINDS = {
    **dict.fromkeys(
        (
            *("trill-mark", "turn", "delayed-turn", "inverted-turn", "mordent", "inverted-mordent", "shake"),
            *("schleifer", "wavy-line", "tremolo", "trill", "ornam", "bTrem", "fTrem"),
            *("arpeggiate", "glissando", "slide", "arpeg", "gliss"),
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
    "oStaff": "ossia",
    "harmony": "chord-symbol",
}
"""Elements of MusicXML 4.0 and MEI 5.1, by what a musician calls them."""

_ATTRIBUTES = {
    **{"fermata": "fermata", "artic": "articulation", "ornam": "ornament"},
    **dict.fromkeys(("dacapo", "dalsegno", "tocoda", "fine"), "repeat"),
}
_REPEATS = ("rptstart", "rptend", "rptboth")


def losses(
    parts: Iterable[Element], numbers: Sequence[int] = (), kept: Sequence[str] = ()
) -> tuple[Loss, ...]:
    """What of a file's parts is not kept, in the order of the table above. `numbers`: of our bars, where they
    are not those of the file; `kept`: kinds that the file carries in another form."""
    found: dict[str, set[int]] = {}
    for part in parts:
        for n, measure in enumerate(part.within("measure")):
            for kind in _kinds(measure):
                found.setdefault(kind, set()).add(numbers[n] if n < len(numbers) else n + 1)
    for kind in kept:
        found.pop(kind, None)
    order = dict.fromkeys([*KINDS.values(), "words"])
    return tuple(Loss(kind, tuple(sorted(found[kind]))) for kind in order if kind in found)


def kept_by(verset: Verset) -> tuple[str, ...]:
    """What a verset keeps of these kinds."""
    return tuple(kind for kind, kept in (("fingering", verset.fingers), ("ossia", verset.ossias)) if kept)


def _kinds(element: Element) -> Iterator[str]:
    if element.tag in KINDS:
        yield KINDS[element.tag]
    elif element.tag == "harm" and next(element.within("fb"), None) is None:
        yield "chord-symbol"
    elif _says_more(element):
        yield "words"
    for name, kind in _ATTRIBUTES.items():
        if element.get(name):
            yield kind
    if element.tag == "measure" and {element.get("left"), element.get("right")} & set(_REPEATS):
        yield "repeat"
    for child in element.children:
        yield from _kinds(child)


def _says_more(element: Element) -> bool:
    """Whether words stand at the music that are neither the name of a voice nor a tempo in numbers."""
    if element.tag not in ("words", "rehearsal", "dir", "reh", "tempo") or element.get("mm"):
        return False
    text = element.text().strip()
    return bool(text) and not voice_named(text)
