"""The keyboard score: two staves, a voice a layer."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial

from builder.engraving import tree
from builder.engraving.accidentals import Sign, signs
from builder.engraving.figures import figures
from builder.engraving.hands import crossings, hands
from builder.engraving.rests import Neighbour, Room
from builder.engraving.sheet import Sheet, entry_name, sheet, tie_elements
from builder.engraving.tree import element
from builder.engraving.writing import Crossing, Stretch, Voice, empty, filled, layer, stretches
from builder.music import Bar, Clef, Note, Part, Pitch, Score

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
    staves, crossed = on_staves(score)
    written = signs_of_staves(of, staves, crossed)
    full = full and full | _on_one_head(of, staves, crossed, full)
    measures = []
    for n, bar in enumerate(score.bars):
        parts = [_staff(of, s, staves, n, written, full, crossed) for s in range(2)]
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


Staves = Sequence[Sequence[Sequence[str]]]
"""The voices on the upper stave bar by bar, and those on the lower."""


def on_staves(score: Score) -> tuple[Staves, Mapping[str, str]]:
    """The voices of each stave, and the notes that cross to the other one as of `crossings`.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> (upper, lower), crossed = on_staves(notated(parse(EXAMPLE).score()))
    >>> upper[0], lower[0], crossed
    (['cantus', 'altus'], [], {})
    """
    share = hands(score)
    voices = [part.voice for part in score.parts]
    upper = [voices[: share[bar.number]] for bar in score.bars]
    lower = [voices[share[bar.number] :] for bar in score.bars]
    return (upper, lower), crossings(score, share)


def signs_of_staves(of: Sheet, staves: Staves, crossed: Mapping[str, str]) -> Mapping[str, Sign]:
    """The accidentals of both staves by note id. `staves` and `crossed` as of `on_staves`.

    The flat of bar 1 is cancelled in bar 2, by way of precaution:

    >>> from builder.engraving.sheet import sheet
    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE.replace("B4/8 |", "Bb4/8 |")).score())
    >>> found = signs_of_staves(sheet(score), *on_staves(score))
    >>> {id: sign.alter for id, sign in found.items()}
    {'given-cantus-1-3': -1, 'given-cantus-2-2': 0}
    """
    found: dict[str, Sign] = {}
    for own, other in (staves, staves[::-1]):
        rows = []
        for n in range(len(of.score.bars)):
            here = [note for v in own[n] for note in of.bars[v][n] if note.id not in crossed]
            come = [note for v in other[n] for note in of.bars[v][n] if note.id in crossed]
            rows.append(here + come)
        found |= signs(rows, of.score.signature, of.continued)
    return found


def _on_one_head(
    of: Sheet, staves: Staves, crossed: Mapping[str, str], full: frozenset[str]
) -> frozenset[str]:
    """The notes in unison with one at full size on the same stave, as long as it: two voices that share a
    head cannot be of two sizes."""
    heads: dict[tuple[int, Fraction, Fraction, Pitch | None], set[str]] = {}
    for s in (0, 1):
        for n in range(len(of.score.bars)):
            for note in (note for v in staves[s][n] for note in of.bars[v][n]):
                stave = 1 - s if note.id in crossed else s
                heads.setdefault((stave, note.onset, note.duration, note.pitch), set()).add(note.id)
    return frozenset(id for ids in heads.values() if ids & full for id in ids)


def _staff(
    of: Sheet,
    s: int,
    staves: Staves,
    n: int,
    written: Mapping[str, Sign],
    full: frozenset[str] | None,
    crossed: Mapping[str, str],
) -> ET.Element:
    """The upper stave (0) or the lower (1) in one bar. Two voices take their stems up and down; one alone is
    free; of three the one in the middle has no beam beside a beam or a rest of the highest. A note that
    crosses has its stem towards its own stave."""
    bar, number = of.score.bars[n], str(s + 1)
    ways = stems(of, staves, crossed, s, n)
    if not ways:
        return element("staff", element("layer", *empty(bar, of.score.metre), n="1"), n=number)
    seen = _seen(of, list(ways), n)
    over = partial(Crossing, str(2 - s), OWN_WAY[s])
    crossing = {note.id: over(crossed[note.id]) for v in ways for note in of.bars[v][n] if note.id in crossed}
    own = {v: _neighbours(of.bars[v][n], s, stem) for v, stem in ways.items()}
    near = {v: [note for id, note in notes.items() if id not in crossed] for v, notes in own.items()}
    come = [_neighbours(of.bars[v][n], s, OWN_WAY[1 - s]) for v in staves[1 - s][n]]
    there = [note for notes in come for id, note in notes.items() if id in crossed]
    layers, beamed = [], tuple[Stretch, ...]()
    for k, (v, stem) in enumerate(ways.items()):
        apart = beamed if stem == "up" else ()
        others = [note for other in ways if other != v for note in near[other]]
        silent = [stretch for other in ways if other != v for stretch in seen[other]]
        room = Room(near[v], others + there, silent, stem == "up") if stem else None
        voice = Voice(of.bars[v][n], seen[v], stem, full, crossing, apart, room)
        layers.append(layer(voice, k + 1, bar, of.score.metre, written))
        beamed += (*stretches(voice.notes, bar, of.score.metre), *seen[v])
    return element("staff", *layers, n=number)


def _neighbours(notes: Sequence[Note], s: int, stem: str) -> dict[str, Neighbour]:
    """The notes of a voice in a bar, by their ids, as rests meet them on stave `s`."""
    found = {}
    for note in notes:
        if note.pitch:
            way = stem if note.duration < 4 else ""
            step = note.pitch.diatonic - _LOWEST_LINE[s]
            found[note.id] = Neighbour(note.onset, note.end, step, way)
    return found


_LOWEST_LINE = (30, 18)
"""The diatonic numbers of the lowest lines of both staves: E4, G2."""

OWN_WAY = ("up", "down")
"""The stem towards the outside of the upper stave and of the lower: of a voice that shares its stave with a
note that crosses to it, and of a note that crosses, towards the stave that it comes from."""


def stems(of: Sheet, staves: Staves, crossed: Mapping[str, str], s: int, n: int) -> dict[str, str]:
    """The voices that sound on the upper stave (0) or the lower (1) in bar `n` (from 0), the highest first,
    each with its stems: up and down where there are several or another one crosses to the stave, else free.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> score = notated(parse(EXAMPLE).score())
    >>> stems(sheet(score), *on_staves(score), 0, 2)
    {'altus': ''}
    """
    here = [v for v in staves[s][n] if of.bars[v][n]]
    if len(here) != 1:
        return {v: "down" if v == here[-1] else "up" for v in here}
    comes = any(note.id in crossed for v in staves[1 - s][n] for note in of.bars[v][n])
    return {here[0]: OWN_WAY[s] if comes else ""}


def _seen(of: Sheet, voices: Sequence[str], n: int) -> dict[str, tuple[Stretch, ...]]:
    """Where silences are written: those of a voice in the midst of its course; and where the whole
    stave is silent, once. A voice that has not entered, or has done, leaves blank, and so does one between
    two others, where a rest would stand on their notes."""
    bar = of.score.bars[n]
    silences = {v: [(i.onset, i.end) for i in filled(of.bars[v][n], bar) if i.pitch is None] for v in voices}
    seen = {v: [s for s in silences[v] if _within(of.score.part(v), *s)] for v in voices}
    seen |= {v: [] for v in voices[1:-1]}
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


def _names(of: Sheet, staves: Staves, n: int) -> Iterator[ET.Element]:
    """The names of the voices that enter in a bar."""
    bar: Bar = of.score.bars[n]
    for staff, voices in enumerate(staves, 1):
        for voice in voices[n]:
            first = next((note for note in of.score.part(voice).notes if note.pitch), None)
            if first and bar.onset <= first.onset < bar.end:
                yield entry_name(of.score, bar, first, voice, staff)
