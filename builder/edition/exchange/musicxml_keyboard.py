"""MusicXML on two staves: one part for the organ, as two hands read it.

Source: MusicXML 4.0: `staves`, `staff`, `voice`, `backup`, `stem`. Voices are numbered from the highest; each
keeps its number where it changes stave. Figures stand under the lower stave.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from fractions import Fraction

from builder.edition.exchange.musicxml import divisions, frame, text_of
from builder.edition.exchange.musicxml_bars import Writer, add, attributes, bar_element, tempo_direction
from builder.engraving.accidentals import Sign
from builder.engraving.figures import figured_voice
from builder.engraving.keyboard import LOWER, OWN_WAY, UPPER, Staves, on_staves, signs_of_staves, stems
from builder.engraving.sheet import Sheet, sheet
from builder.music import Bar, Score
from builder.source.provenance import NOTHING_SAID, Provenance

PART = "keyboard"
_BEFORE_STAFF = ("beam", "notations", "lyric")
_EMPTY = {1: "5", 2: "6"}
"""The voice that has the rest of a stave on which nobody sings."""


def keyboard_musicxml(
    score: Score,
    *,
    rights: str = "",
    editors: Sequence[str] = (),
    edition: str = "",
    said: Provenance = NOTHING_SAID,
    tempo: tuple[Fraction, Fraction] | None = None,
    fingering: Mapping[str, str] | None = None,
) -> str:
    """A notated score as MusicXML on two staves, a voice for each voice. The keys as of `musicxml`;
    `ValueError` when the score is not notated."""
    of, (staves, crossed) = sheet(score), on_staves(score)
    root = frame(score, editors, said, rights, [(PART, "Organ")], edition=edition)
    part = add(root, "part", id=f"part-{PART}")
    unit = divisions(score)
    marks = signs_of_staves(of, staves, crossed)
    for n, bar in enumerate(score.bars):
        made = ET.SubElement(part, "measure", number=str(bar.number))
        if not n:
            attributes(made, Writer(score, unit, {}, of.continued, ()), (UPPER, LOWER))
            if tempo:
                tempo_direction(made, *tempo)
        _streams(made, of, n, staves, crossed, marks, unit)
        if bar is score.bars[-1] and score.closed:
            add(add(made, "barline", location="right"), "bar-style", "light-heavy")
    return text_of(root, fingering)


def _streams(
    made: ET.Element,
    of: Sheet,
    n: int,
    staves: Staves,
    crossed: Mapping[str, str],
    marks: Mapping[str, Sign],
    unit: int,
) -> None:
    """The voices of a bar one after another, with the way back to its beginning between them."""
    score, bar = of.score, of.score.bars[n]
    all_voices = [part.voice for part in score.parts]
    lowest = figured_voice(of, n)
    first = True
    for s in range(2):
        for voice, stem in (stems(of, staves, crossed, s, n) or {"": ""}).items():
            if not first:
                add(add(made, "backup"), "duration", str(int(bar.length * unit)))
            first = False
            if not voice:
                _rest(made, bar, s + 1, unit)
                continue
            figures = score.figures if voice == lowest else ()
            writer = Writer(score, unit, marks, of.continued, figures)
            for child in bar_element(writer, n, of.bars[voice][n], None):
                if child.tag == "barline":
                    continue
                if child.tag == "note":
                    over = child.get("id", "") in crossed
                    way = OWN_WAY[s] if over else stem
                    _placed(child, str(all_voices.index(voice) + 1), 2 - s if over else s + 1, way)
                made.append(child)


def _placed(note: ET.Element, voice: str, stave: int, stem: str) -> None:
    """Say of a note its voice, its stave and, where two share a stave, its stem."""
    own = note.find("voice")
    assert own is not None
    own.text = voice
    at = next((n for n, child in enumerate(note) if child.tag in _BEFORE_STAFF), len(note))
    staff = ET.Element("staff")
    staff.text = str(stave)
    note.insert(at, staff)
    kind = note.findtext("type")
    if stem and note.find("rest") is None and kind not in ("whole", "breve", "long"):
        up = ET.Element("stem")
        up.text = stem
        note.insert(at, up)


def _rest(made: ET.Element, bar: Bar, stave: int, unit: int) -> None:
    note = add(made, "note")
    add(note, "rest", measure="yes")
    add(note, "duration", str(int(bar.length * unit)))
    add(note, "voice", _EMPTY[stave])
    add(note, "staff", str(stave))
