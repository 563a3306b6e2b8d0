"""The keyboard score: two staves, a voice a layer."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from builder.engraving import tree
from builder.engraving.accidentals import Sign, signs
from builder.engraving.figures import figures
from builder.engraving.hands import hands
from builder.engraving.sheet import Sheet, entry_name, sheet, tie_elements
from builder.engraving.tree import element
from builder.engraving.writing import Stretch, Voice, empty, filled, layer
from builder.music import Bar, Clef, Part, Score

UPPER, LOWER = Clef("G", 2), Clef("F", 4)


def keyboard_mei(
    score: Score,
    *,
    figured: bool = False,
    slashed: bool = False,
    names: bool = False,
    full: frozenset[str] | None = None,
) -> str:
    """A notated score on two staves as MEI. `figured` sets the figures under the lower stave;
    `names` the name of each voice above its first note; `full` are the ids of notes at full size where the
    others are small.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> keyboard_mei(score).count("<staffDef ")
    2
    """
    return tree.text(keyboard_document(score, figured=figured, slashed=slashed, names=names, full=full))


def keyboard_document(
    score: Score,
    *,
    figured: bool = False,
    slashed: bool = False,
    names: bool = False,
    full: frozenset[str] | None = None,
) -> ET.Element:
    """The same as a tree of elements.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> [part.tag for part in keyboard_document(score)]
    ['meiHead', 'music']
    """
    of = sheet(score)
    share = hands(score)
    voices = [part.voice for part in score.parts]
    staves = [
        [voices[: share[bar.number]] for bar in score.bars],
        [voices[share[bar.number] :] for bar in score.bars],
    ]
    written = [signs_of_staves(of, on) for on in staves]
    measures = []
    for n, bar in enumerate(score.bars):
        parts = [_staff(of, str(s + 1), staves[s][n], n, written[s], full) for s in range(2)]
        parts += tie_elements(of, bar)
        parts += figures(score, bar, staff=2, place="below", slashed=slashed) if figured else ()
        parts += _names(of, staves, n) if names else ()
        measures.append(tree.measure(score, bar, parts))
    group = element(
        "staffGrp",
        element("staffDef", n="1", lines="5", **tree.clef(UPPER)),
        element("staffDef", n="2", lines="5", **tree.clef(LOWER)),
        symbol="brace",
        bar_thru="true",
    )
    return tree.document(score, tree.score_definition(score.metre, score.signature, group), measures)


def signs_of_staves(of: Sheet, staves: Sequence[Sequence[str]]) -> Mapping[str, Sign]:
    """The accidentals of one stave by note id. `staves` names the voices that stand on it, bar by bar.

    The flat of bar 1 is cancelled in bar 2, by way of precaution:

    >>> from builder.engraving.sheet import sheet
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE.replace("B4/8 |", "Bb4/8 |")).score())
    >>> found = signs_of_staves(sheet(score), [("cantus",), ("cantus",), ("altus",), ("altus",)])
    >>> {id: sign.alter for id, sign in found.items()}
    {'given-cantus-1-3': -1, 'given-cantus-2-2': 0}
    """
    rows = [[note for v in voices for note in of.bars[v][n]] for n, voices in enumerate(staves)]
    return signs(rows, of.score.signature, of.continued)


def _staff(
    of: Sheet,
    number: str,
    voices: Sequence[str],
    n: int,
    written: Mapping[str, Sign],
    full: frozenset[str] | None,
) -> ET.Element:
    """A stave in one bar. Two voices take their stems up and down; one alone is free."""
    bar = of.score.bars[n]
    here = [v for v in voices if of.bars[v][n]]
    if not here:
        return element("staff", element("layer", *empty(bar, of.score.metre), n="1"), n=number)
    seen = _seen(of, here, n)
    layers = [
        layer(Voice(of.bars[v][n], seen[v], stems, full), k + 1, bar, of.score.metre, written)
        for k, (v, stems) in enumerate(zip(here, _stems(len(here))))
    ]
    return element("staff", *layers, n=number)


def _stems(voices: int) -> tuple[str, ...]:
    return ("",) if voices == 1 else ("up",) * (voices - 1) + ("down",)


def _seen(of: Sheet, voices: Sequence[str], n: int) -> dict[str, tuple[Stretch, ...]]:
    """Where silences are written: those of a voice in the midst of its course; and where the whole
    stave is silent, once. A voice that has not entered, or has done, leaves blank."""
    bar = of.score.bars[n]
    silences = {v: [(i.onset, i.end) for i in filled(of.bars[v][n], bar) if i.pitch is None] for v in voices}
    seen = {v: [s for s in silences[v] if _within(of.score.part(v), *s)] for v in voices}
    for stretch in _all_silent([silences[v] for v in voices]):
        written = any(_inside(stretch, one) for v in voices for one in seen[v])
        if not written:
            seen[voices[0]].append(stretch)
    return {v: tuple(found) for v, found in seen.items()}


def _within(part: Part, start: Fraction, end: Fraction) -> bool:
    """Whether a silence lies between the first and the last note of a voice."""
    sounding = [note for note in part.notes if note.pitch]
    return sounding[0].onset < start and sounding[-1].onset >= end


def _all_silent(silences: Sequence[Sequence[Stretch]]) -> list[Stretch]:
    """Where all of several voices are silent."""
    common: list[Stretch] = list(silences[0])
    for others in silences[1:]:
        common = [(max(a, c), min(b, d)) for a, b in common for c, d in others if max(a, c) < min(b, d)]
    return common


def _inside(stretch: Stretch, other: Stretch) -> bool:
    return other[0] <= stretch[0] and stretch[1] <= other[1]


def _names(of: Sheet, staves: Sequence[Sequence[Sequence[str]]], n: int) -> Iterator[ET.Element]:
    """The names of the voices that enter in a bar."""
    bar: Bar = of.score.bars[n]
    for staff, voices in enumerate(staves, 1):
        for voice in voices[n]:
            first = next((note for note in of.score.part(voice).notes if note.pitch), None)
            if first and bar.onset <= first.onset < bar.end:
                yield entry_name(of.score, bar, first, voice, staff)
