"""MusicXML: open score, a part for each voice; or the given line alone.

Source: MusicXML 4.0, W3C Music Notation Community Group. Written directly, so that the same score
always gives the same bytes.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import lcm

from builder.edition.exchange.musicxml_bars import Writer, add, bar_element
from builder.edition.pdf.typeset import NO_DATE, release_date
from builder.engraving.accidentals import signs
from builder.engraving.aids import fingers
from builder.engraving.given import changes, line_and_beside
from builder.engraving.openscore import NATURAL
from builder.engraving.sheet import by_bar, sheet
from builder.music import Clef, Figure, Note, Score
from builder.source import Verset, carried_text
from builder.source.provenance import NOTHING_SAID, Provenance

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
GIVEN_PART = "Given line"


def musicxml(
    score: Score,
    *,
    title: str = "",
    composer: str = "",
    rights: str = "",
    editors: Sequence[str] = (),
    edition: str = "",
    said: Provenance = NOTHING_SAID,
    clefs: Mapping[str, Clef] | None = None,
    tempo: tuple[Fraction, Fraction] | None = None,
    fingering: Mapping[str, str] | None = None,
) -> str:
    """A notated score as MusicXML in open score, each part named after its voice, the figures as
    figured bass on the part that has the given line.

    `title` stands for the score's own when it is not empty; voices that `clefs` does not name take
    their natural clef; `editors` answer for the edition where what is
    `said` of the sources names nobody; `tempo` is (beat in quarter notes, beats a
    minute); `fingering` has fingers by the ids of notes. `ValueError` when the score is not notated.
    """
    of = sheet(score)
    figures = _figures_by_part(score)
    names = [(p.voice, p.voice.capitalize()) for p in score.parts]
    root = frame(score, editors, said, rights, names, title=title, composer=composer, edition=edition)
    for n, part in enumerate(score.parts):
        writer = Writer(
            score,
            divisions(score),
            signs(of.bars[part.voice], score.signature, of.continued),
            of.continued,
            figures[part.voice],
            tempo=tempo if n == 0 else None,
        )
        clef = (clefs or {}).get(part.voice, NATURAL[part.voice])
        _part(root, part.voice, writer, of.bars[part.voice], clef)
    return text_of(root, fingering)


def given_musicxml(
    verset: Verset,
    score: Score,
    *,
    title: str = "",
    composer: str = "",
    rights: str = "",
    editors: Sequence[str] = (),
    edition: str = "",
) -> str:
    """The given line of a notated `verset.score()` as MusicXML: one part, a clef for each voice as it
    enters with its name as words, and the figures. What stands beside the line goes with the source that the
    file carries."""
    of = sheet(score)
    line, _ = line_and_beside(verset, score)
    bars = by_bar(line, score.bars)
    changed = changes(verset, score)
    root = frame(
        score,
        editors,
        verset.provenance,
        rights,
        [("given", GIVEN_PART)],
        title=title,
        composer=composer,
        edition=edition,
        carried=carried_text(verset),
    )
    writer = Writer(
        score,
        divisions(score),
        signs(bars, score.signature, of.continued),
        of.continued,
        score.figures,
        tempo=verset.tempo,
        changes=changed,
    )
    _part(root, "given", writer, bars, changed[0].clef)
    return text_of(root, fingers(verset, score))


def _figures_by_part(score: Score) -> dict[str, tuple[Figure, ...]]:
    """The figures of each part: they belong to the lowest voice that sounds."""
    found: dict[str, list[Figure]] = {part.voice: [] for part in score.parts}
    for figure in score.figures:
        sounding = [part.voice for part in score.parts if part.at(figure.onset)]
        if sounding:
            found[sounding[-1]].append(figure)
    return {voice: tuple(figures) for voice, figures in found.items()}


def divisions(score: Score) -> int:
    """Parts of a quarter note in which every time of the score is whole."""
    times = [t for part in score.parts for note in part.notes for t in (note.onset, note.duration)]
    times += [t for figure in score.figures for t in (figure.onset, figure.duration)]
    return lcm(*(time.denominator for time in times), 1)


def _creators(composer: str, editors: Sequence[str], said: Provenance) -> list[tuple[str, str]]:
    """Who made it, each with a role; those of the verset before those of the course."""
    name = composer or (said.composer.name or "Anonymous" if said.composer else "")
    found = [("composer", name)] if name else []
    own = [(editor.role, editor.name) for editor in said.editors]
    return found + (own or [("editor", name) for name in editors])


def _add_sources(known: ET.Element, said: Provenance) -> None:
    """The witnesses in one line, and the numbers of the publication."""
    told = [f"{w.siglum}: {w.kept}" if w.kept else w.siglum for w in said.witnesses]
    if told:
        add(known, "source", "; ".join(told))
    for kind, number in said.published.numbers:
        add(known, "relation", number, type=kind)


def frame(
    score: Score,
    editors: Sequence[str],
    said: Provenance,
    rights: str,
    parts: Sequence[tuple[str, str]],
    *,
    title: str = "",
    composer: str = "",
    edition: str = "",
    carried: str = "",
) -> ET.Element:
    """The document up to its parts. `edition`: its version; `carried`: the source, for what MusicXML has no
    words for. The day of encoding is said where `SOURCE_DATE_EPOCH` gives one, and nowhere else."""
    root = ET.Element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", title or score.title)
    known = add(root, "identification")
    for kind, name in _creators(composer, editors, said):
        add(known, "creator", name, type=kind)
    if rights:
        add(known, "rights", rights)
    encoding = add(known, "encoding")
    if (day := release_date()) != NO_DATE:
        add(encoding, "encoding-date", day.date().isoformat())
    add(encoding, "software", "verset-builder")
    for what in ("accidental", "beam"):
        add(encoding, "supports", element=what, type="yes")
    _add_sources(known, said)
    if edition or carried:
        more = add(known, "miscellaneous")
        for name, text in (("edition", edition), ("verset", carried)):
            if text:
                add(more, "miscellaneous-field", text, name=name)
    names = add(root, "part-list")
    if len(parts) > 1:
        group = add(names, "part-group", type="start", number="1")
        add(group, "group-symbol", "bracket")
        add(group, "group-barline", "yes")
    for voice, name in parts:
        one = add(names, "score-part", id=f"part-{voice}")
        add(one, "part-name", name)
        if len(parts) > 1:
            add(one, "part-abbreviation", f"{name[0]}.")
        add(add(one, "score-instrument", id=f"organ-{voice}"), "instrument-name", "Organ")
        played = add(one, "midi-instrument", id=f"organ-{voice}")
        add(played, "midi-channel", str(1 + [v for v, _ in parts].index(voice)))
        add(played, "midi-program", "20")  # church organ in General MIDI, counted from 1
    if len(parts) > 1:
        add(names, "part-group", type="stop", number="1")
    return root


def _part(root: ET.Element, voice: str, writer: Writer, bars: Sequence[Sequence[Note]], clef: Clef) -> None:
    part = add(root, "part", id=f"part-{voice}")
    for n, notes in enumerate(bars):
        part.append(bar_element(writer, n, notes, clef if n == 0 else None))


def text_of(root: ET.Element, fingering: Mapping[str, str] | None = None) -> str:
    """The document as text, with fingers by the ids of notes."""
    for note in root.iter("note") if fingering else ():
        if finger := (fingering or {}).get(note.get("id", "")):
            notations = note.find("notations")
            at = add(note, "notations") if notations is None else notations
            first, *changed = finger.split("-")
            technical = add(at, "technical")
            add(technical, "fingering", first)
            for other in changed:
                add(technical, "fingering", other, substitution="yes")
    ET.indent(root, " ")
    head = f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n'
    return head + ET.tostring(root, encoding="unicode") + "\n"
