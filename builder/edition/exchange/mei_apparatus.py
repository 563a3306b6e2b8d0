"""The apparatus of an MEI file: what witnesses have, and critical notes in words.

Source: MEI Guidelines 5.1, module critapp. An `app` stands beside the staves and points to the notes of its
lemma; the notes of a reading stand in its `rdg`. It does not enclose the notes of the lemma, because many
readers pass over `app` in a layer, and those notes would be lost to them.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction

from builder.edition.exchange.mei_header import EDITOR, sources
from builder.engraving.tree import SIGNS, beats, duration, element, pitch
from builder.music import Figure, Note, Score, Signature
from builder.music.figure import DASH
from builder.source import Reading, Verset
from builder.source.variants import kinds
from builder.source.verset import GivenNote, Variant


def add_apparatus(root: ET.Element, verset: Verset, score: Score) -> None:
    """Put every reading into the measure in which it begins."""
    measures = {measure.get("n"): measure for measure in root.iter("measure")}
    for n, variant in enumerate(verset.variants, 1):
        bar = str(verset.place(variant.start).bar)
        if bar in measures:
            measures[bar].append(_variant(n, variant, verset, score))
    for n, reading in enumerate(verset.readings, 1):
        if str(reading.bar) in measures:
            measures[str(reading.bar)].append(_in_words(n, reading, verset, score))


def _variant(n: int, variant: Variant, verset: Verset, score: Score) -> ET.Element:
    """A reading with its notes. An emendation is one that the copy-text does not have."""
    said = verset.provenance
    emended = said.copy_text is not None and said.copy_text.siglum in variant.sigla
    others = tuple(siglum for siglum in said.sigla if siglum not in variant.sigla)
    here = " ".join(f"#{note.id}" for note in _lemma_notes(variant, score))
    differs = kinds(verset, variant)
    from_to = _from_to(variant, verset)
    lemma = element("lem", element("annot", plist=here, **from_to), source=sources(others))
    if emended:
        lemma.set("resp", EDITOR)
    notes = list(_notes(n, variant, verset))
    remark = element("annot", element("p", text=variant.remark)) if variant.remark else None
    reading = element("rdg", *notes, remark, source=sources(variant.sigla))
    if not variant.notes:
        reading.set("cause", "missing")
    kind = " ".join(("emendation" if emended else "variant", *differs))
    return element("app", lemma, reading, id=f"app-{n}", type=kind)


def _from_to(variant: Variant, verset: Verset) -> dict[str, str]:
    """From when to when a reading is meant, as time stamps: a lemma may be a rest, or a note that is held."""
    first, last = (verset.place(time).bar - 1 for time in (variant.start, variant.end - Fraction(1, 64)))
    until = beats(verset.metre, verset.bars[last], variant.end)
    bars = f"{last - first}m+" if last > first else "0m+"
    return {
        "tstamp": beats(verset.metre, verset.bars[first], variant.start),
        "tstamp2": f"{bars}{until}",
    }


def _lemma_notes(variant: Variant, score: Score) -> list[Note]:
    part = next((p for p in score.parts if p.voice == variant.voice), None)
    return [n for n in part.notes if n.id and variant.start <= n.onset < variant.end] if part else []


def _notes(n: int, variant: Variant, verset: Verset) -> Iterator[ET.Element]:
    """Clef, where it is another than the line's; notes and rests; their figures, at the notes."""
    if variant.notes and variant.notes[0].clef != verset.lemma(variant)[0].clef:
        clef = variant.notes[0].clef
        yield element("clef", shape=clef.letter, line=str(clef.line))
    for m, given in enumerate(variant.notes, 1):
        yield _note(f"app-{n}-{m}", given, verset.signature)
    for m, given in enumerate(variant.notes, 1):
        for figure in given.figures:
            yield _figure(f"app-{n}-{m}", figure, given)


def _note(id: str, given: GivenNote, signature: Signature) -> ET.Element:
    note = given.note
    if note.pitch is None:
        return element("rest", id=id, **duration(note.duration))
    alter = note.pitch.alter
    made = element(
        "note", id=id, **pitch(note.pitch), **duration(note.duration), tie="i" if note.tied else ""
    )
    if note.editorial:
        made.append(element("accid", accid=SIGNS[alter], func="edit"))
    elif alter != signature.alter(note.pitch.step):
        made.set("accid", SIGNS[alter])
    elif alter:
        made.set("accid.ges", SIGNS[alter])
    return made


def _figure(id: str, figure: Figure, given: GivenNote) -> ET.Element:
    rows = [sign.shown for sign in figure.signs] or [DASH]
    return element(
        "harm",
        element("fb", *(element("f", text=row) for row in rows)),
        startid=f"#{id}",
        # where in its note a stack begins, in quarters
        n=str(figure.onset - given.note.onset) if figure.onset > given.note.onset else "",
    )


def _in_words(n: int, reading: Reading, verset: Verset, score: Score) -> ET.Element:
    """A critical note in words: what is adopted and what the source has, both pointing to the notes of its
    voice in its bar."""
    here = " ".join(
        f"#{note.id}"
        for part in score.parts
        for note in part.notes
        if reading.voice in ("", part.voice) and note.pitch and note.id.split("-")[-2] == str(reading.bar)
    )

    def told(text: str) -> ET.Element:
        return element("annot", element("p", text=text), plist=here)

    witness = verset.provenance.copy_text
    return element(
        "app",
        element("lem", told(reading.adopted), resp=EDITOR),
        element("rdg", told(reading.source), source=sources((witness.siglum,)) if witness else ""),
        type="reading",
        label=reading.voice,
        n=str(n),
    )
