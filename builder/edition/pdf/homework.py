"""Homework: a version in open score with voices, or bars of them, left blank; and its answers."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from dataclasses import replace

from builder.edition.imprint import UNSIGNED, Imprint
from builder.edition.pdf.paper import chosen_paper
from builder.edition.pdf.student import sheet_to_write_in
from builder.engraving.openscore import clefs_of, open_mei
from builder.language.texts import edition_texts
from builder.music import Clef, Part, Score, Version
from builder.setting.setting import Setting
from builder.source import Blank

_MEI = "http://www.music-encoding.org/ns/mei"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_ROOM = 1.3
"""How much wider bars are set than in print, to write in."""


def homework(
    setting: Setting,
    blanks: Sequence[Blank],
    *,
    version: Version = Version.PLAIN,
    clefs: Mapping[str, Clef] | None = None,
    paper_name: str = "",
    imprint: Imprint = UNSIGNED,
) -> tuple[bytes, bytes]:
    """Typeset a version with blanks for a student to fill in, and the same with its notes, as answers. The
    given line stays: bars in which a voice has it are never blank. `clefs` of some voices stand in the place
    of those in which they enter. `ValueError` where nothing would be blank.

    >>> from builder.setting.setting import set_verset
    >>> from builder.source import EXAMPLE, parse
    >>> setting = set_verset(parse(EXAMPLE))
    >>> task, answers = homework(setting, [Blank.parse("cantus 3-4")])
    >>> task[:5], len(task) < len(answers)
    (b'%PDF-', True)
    >>> homework(setting, [Blank.parse("cantus 1-2")])
    Traceback (most recent call last):
    ValueError: nothing would be blank: the voices named have the given line there, or do not sound
    """
    score = setting.scores[version]
    left = {
        (part.voice, bar.number)
        for part in score.parts
        for bar in score.bars
        if any(blank.covers(part.voice, bar.number) for blank in blanks)
        and any(n.pitch and n.onset < bar.end and n.end > bar.onset for n in part.notes)
        and not has_line(setting, part.voice, bar.number)
    }
    if not left:
        raise ValueError(
            "nothing would be blank: the voices named have the given line there, or do not sound"
        )
    mei = open_mei(score, {**clefs_of(setting.verset), **(clefs or {})}, figured=True)
    voices = [part.voice for part in score.parts]
    page = chosen_paper(paper_name, setting.verset.provenance.printing)
    w = edition_texts(imprint.lang)

    def sheet(music: str, shown: Score, kind: str) -> bytes:
        heads = w(f"label.{kind}"), w.version(version)
        return sheet_to_write_in(setting, music, shown, page, kind, imprint, *heads, room=_ROOM)

    task = sheet(with_blanks(mei, voices, left), without(score, left), "homework")
    return task, sheet(mei, score, "answers")


def without(score: Score, blank: set[tuple[str, int]]) -> Score:
    """The score without the notes of some bars of some voices, so that what is left blank is not told."""
    gone = {(voice, bar.onset, bar.end) for bar in score.bars for voice, n in blank if n == bar.number}
    return replace(
        score,
        parts=tuple(
            Part(
                p.voice,
                tuple(
                    n
                    for n in p.notes
                    if not any(p.voice == voice and start <= n.onset < end for voice, start, end in gone)
                ),
            )
            for p in score.parts
        ),
    )


def has_line(setting: Setting, voice: str, bar: int) -> bool:
    """Whether a voice has a note of the given line in a bar."""
    there = next(each for each in setting.verset.bars if each.number == bar)
    return any(
        g.voice == voice and g.note.pitch and g.note.onset < there.end and g.note.end > there.onset
        for g in setting.verset.given
    )


def with_blanks(mei: str, voices: list[str], blank: set[tuple[str, int]]) -> str:
    """An open score without what some voices have in some bars; their staves stay, empty."""
    ET.register_namespace("", _MEI)
    root = ET.fromstring(mei)
    gone: set[str] = set()
    for measure in root.iter(f"{{{_MEI}}}measure"):
        for staff in measure.findall(f"{{{_MEI}}}staff"):
            if (voices[int(staff.get("n", "1")) - 1], int(measure.get("n", "0"))) not in blank:
                continue
            gone |= {identity for each in staff.iter() if (identity := each.get(_ID))}
            for layer in staff.findall(f"{{{_MEI}}}layer"):
                layer.clear()
                layer.set("n", "1")
                ET.SubElement(layer, f"{{{_MEI}}}mSpace")
    for measure in root.iter(f"{{{_MEI}}}measure"):
        for event in list(measure):
            ends = {event.get(key, "#").removeprefix("#") for key in ("startid", "endid")}
            if ends & gone:
                measure.remove(event)
    return ET.tostring(root, encoding="unicode")
