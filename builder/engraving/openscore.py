"""Open score: a stave for each voice, in its original clef."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping

from builder.engraving import tree
from builder.engraving.accidentals import signs
from builder.engraving.figures import figures
from builder.engraving.sheet import sheet, tie_elements
from builder.engraving.tree import element
from builder.engraving.writing import Voice, layer
from builder.music import Clef, Score
from builder.source import Verset

NATURAL = {"cantus": Clef("C", 1), "altus": Clef("C", 3), "tenor": Clef("C", 4), "bassus": Clef("F", 4)}
"""The natural clefs (common practice)."""


def clefs_of(verset: Verset) -> dict[str, Clef]:
    """The clef in which each voice enters; the natural clef of one that never has the line.

    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> {voice: str(clef) for voice, clef in clefs_of(verset).items()}
    {'cantus': 'C1', 'altus': 'C3'}
    """
    found: dict[str, Clef] = {}
    for given in verset.given:
        found.setdefault(given.voice, given.clef)
    for voice in verset.from_start:
        found.setdefault(voice, NATURAL[voice])
    return found


def open_mei(
    score: Score,
    clefs: Mapping[str, Clef] | None = None,
    *,
    figured: bool = False,
    slashed: bool = False,
    full: frozenset[str] | None = None,
) -> str:
    """A notated score as MEI, one stave for each voice with its name; voices that `clefs` does not
    name take their natural clef. `figured` sets the figures under the lowest stave; `full` as of
    `keyboard_mei`.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> open_mei(score).count("<staffDef "), [part.voice for part in score.parts]
    (2, ['cantus', 'altus'])
    """
    return tree.text(open_document(score, clefs, figured=figured, slashed=slashed, full=full))


def open_document(
    score: Score,
    clefs: Mapping[str, Clef] | None = None,
    *,
    figured: bool = False,
    slashed: bool = False,
    full: frozenset[str] | None = None,
) -> ET.Element:
    """The same as a tree of elements.

    >>> from builder.music import notated
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> score = notated(verset.score())
    >>> [part.tag for part in open_document(score)]
    ['meiHead', 'music']
    """
    of = sheet(score)
    lowest = len(score.parts)
    written = [signs(of.bars[p.voice], score.signature, of.continued) for p in score.parts]
    measures = []
    for n, bar in enumerate(score.bars):
        parts = []
        for s, part in enumerate(score.parts):
            voice = layer(Voice(of.bars[part.voice][n], full=full), 1, bar, score.metre, written[s])
            parts.append(element("staff", voice, n=str(s + 1)))
        parts += tie_elements(of, bar)
        if figured:
            parts += figures(score, bar, staff=lowest, place="below", slashed=slashed)
        measures.append(tree.measure(score, bar, parts))
    group = element(
        "staffGrp",
        *(_staff(str(n + 1), p.voice, clefs or {}) for n, p in enumerate(score.parts)),
        symbol="bracket",
        bar_thru="true",
    )
    return tree.document(score, tree.score_definition(score.metre, score.signature, group), measures)


def _staff(n: str, voice: str, clefs: Mapping[str, Clef]) -> ET.Element:
    return element(
        "staffDef",
        element("label", text=voice.capitalize()),
        element("labelAbbr", text=f"{voice[0].upper()}."),
        n=n,
        lines="5",
        **tree.clef(clefs.get(voice, NATURAL[voice])),
    )
