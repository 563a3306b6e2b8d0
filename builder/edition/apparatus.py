"""The critical report in words: sources described, how the editor went about, readings by bar, voice and
witness. Page and print tell the same."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import takewhile

from builder.language.texts import EditionTexts, opened
from builder.music import Note, Pitch
from builder.music.time import written
from builder.source.provenance import Composer, Editor, Provenance, Witness
from builder.source.variants import kinds
from builder.source.verset import GivenNote, Variant, Verset

_NAMED = {
    "breve": "breve",
    "1": "whole",
    "2": "half",
    "4": "quarter",
    "8": "eighth",
    "16": "sixteenth",
}


@dataclass(frozen=True, slots=True)
class Told:
    """One reading in words. `number` is its sign at the music; `start` in quarter notes."""

    number: int
    start: Fraction
    text: str
    emendation: bool


def composer(said: Composer, w: EditionTexts) -> str:
    """Who wrote the music, as a title page says it."""
    name = said.name or w("provenance.anonymous")
    return w("provenance.attributed", name=name) if said.attributed and said.name else name


def origin(said: Provenance, w: EditionTexts) -> list[str]:
    """Composer, place and date of the music, in a line; nothing where nothing is said.

    >>> from builder.language.texts import edition_texts
    >>> origin(Provenance(Composer("Rossi", attributed=True), "Siena", "about 1640"), edition_texts())
    ['attributed to Rossi · Siena, about 1640']
    >>> origin(Provenance(), edition_texts())
    []
    """
    told = [composer(said.composer, w)] if said.composer else []
    when = ", ".join(text for text in (said.place, said.date) if text)
    return [" · ".join([*told, *([when] if when else [])])] if told or when else []


def people(editors: Sequence[Editor], w: EditionTexts) -> list[str]:
    """Who answers for the edition, each with role and ORCID.

    >>> from builder.language.texts import edition_texts
    >>> people([Editor("Anna Teacher", orcid="0000-0002-1825-0097")], edition_texts())
    ['Editor: Anna Teacher (https://orcid.org/0000-0002-1825-0097)']
    """
    told = []
    for editor in editors:
        orcid = f" ({editor.orcid_url})" if editor.orcid else ""
        told.append(
            w("provenance.person", role=w(f"provenance.role.{editor.role}"), name=editor.name) + orcid
        )
    return told


def published(said: Provenance) -> list[str]:
    """Publisher, place, date and series in a line, then the numbers.

    >>> from builder.source.provenance import Publication
    >>> published(Provenance(published=Publication("Press", "Siena", "2026", isbn="978-3-16-148410-0")))
    ['Press, Siena, 2026', 'ISBN 978-3-16-148410-0']
    """
    own = said.published
    where = ", ".join(text for text in (own.publisher, own.place, own.date) if text)
    lines = [text for text in (where, own.series) if text]
    return [*lines, *(f"{kind} {number}" for kind, number in own.numbers)]


def witnesses(said: Provenance, w: EditionTexts) -> list[str]:
    """Every witness described, then how they hang together.

    >>> from builder.language.texts import edition_texts
    >>> kept = Witness("A", "City Library", "Ms. 7", "f. 3r", copy_text=True), Witness("B", date="1660")
    >>> witnesses(Provenance(witnesses=kept, relation="B was copied from A."), edition_texts())
    ['A: City Library, Ms. 7, f. 3r, copy-text.', 'B: 1660.', 'B was copied from A.']
    """
    told = [_witness(witness, said, w) for witness in said.witnesses]
    return [*told, *([said.relation] if said.relation else [])]


def _witness(witness: Witness, said: Provenance, w: EditionTexts) -> str:
    parts = [witness.kept, witness.date]
    if witness is said.copy_text and len(said.witnesses) > 1:
        parts.append(w("provenance.copy-text"))
    head = ", ".join(part for part in parts if part)
    told = [f"{witness.siglum}: {head}" if head else witness.siglum]
    told += [text for text in (witness.description, witness.link) if text]
    told += [w("provenance.picture", terms=picture.terms) for picture in witness.pictures]
    return " ".join(_closed(text) for text in told)


def _closed(text: str) -> str:
    return text if text.endswith((".", "!", "?")) or "://" in text else f"{text}."


def readings(verset: Verset, w: EditionTexts) -> Iterator[Told]:
    """What the witnesses have in the place of the given line, by bar and voice, in the order of the line.

    >>> from builder.language.texts import edition_texts
    >>> from builder.source import EXAMPLE, parse
    >>> text = EXAMPLE.replace("none\\n", "none\\n  witnesses: [{siglum: A}, {siglum: B}]\\n")
    >>> verset = parse(text + '\\n```readings\\ncantus 2:2 B | Bb4/4 "a later hand"\\n```\\n')
    >>> [told.text for told in readings(verset, edition_texts())]
    ['Bar 2, beat 2, cantus: B4 ] B: B♭4. Variant: accidental. A later hand.']
    """
    for n, variant in enumerate(verset.variants, 1):
        said = verset.provenance
        emended = said.copy_text is not None and said.copy_text.siglum in variant.sigla
        differs = kinds(verset, variant)
        timed = "value" in differs
        text = w(
            "provenance.reading",
            place=opened(w.where(verset.place(variant.start))),
            voice=w.voice(variant.voice),
            lemma=_notes(verset.lemma(variant), w, timed=timed, figured="figure" in differs),
            sigla=", ".join(variant.sigla),
            reading=_reading(variant, w, differs),
        )
        kind = w("provenance.emendation" if emended else "provenance.variant")
        named = ", ".join(w(f"provenance.kind.{each}") for each in differs)
        told = f"{text} {kind}: {named}." if named else f"{text} {kind}."
        remark = f" {_closed(opened(variant.remark))}" if variant.remark else ""
        yield Told(n, variant.start, told + remark, emended)


def _reading(variant: Variant, w: EditionTexts, differs: Sequence[str]) -> str:
    if not variant.notes:
        return w("provenance.nothing")
    clef = w("provenance.clef", clef=variant.notes[0].clef.name) + ", " if "clef" in differs else ""
    return clef + _notes(variant.notes, w, timed="value" in differs, figured="figure" in differs)


def _notes(row: Sequence[GivenNote], w: EditionTexts, *, timed: bool, figured: bool) -> str:
    """Notes by name, with their values and figures where these differ."""
    return " ".join(_note(g, w, timed=timed, figured=figured) for g in row)


def _note(given: GivenNote, w: EditionTexts, *, timed: bool, figured: bool) -> str:
    note = given.note
    name = w("provenance.rest") if note.pitch is None else pitch_name(note, w)
    told = [value_name(note.duration, w)] if timed else []
    if figured:
        stacks = [f.shown for f in given.figures]
        told.append(
            w("provenance.figures", figures=" ".join(stacks)) if stacks else w("provenance.unfigured")
        )
    return f"{name} ({', '.join(told)})" if told else name


def pitch_name(note: Note, w: EditionTexts) -> str:
    """A pitch as the language writes it, in brackets what the editor added to its
    natural.

    >>> from builder.language.texts import edition_texts
    >>> from builder.music import Pitch
    >>> note = Note(Fraction(0), Fraction(1), Pitch.parse("F#4"), editorial=True)
    >>> [pitch_name(note, edition_texts(tag)) for tag in ("en", "it", "de")]
    ['F[♯]4', 'fa[♯]4', 'f[is]′']
    """
    assert note.pitch is not None
    told = w.written(note.pitch)
    if not note.editorial:
        return told
    natural = w.written(Pitch(note.pitch.diatonic))
    head = _alike(told, natural)
    tail = _alike(reversed(told[head:]), reversed(natural[head:]))
    return f"{told[:head]}[{told[head : len(told) - tail] or '♮'}]{told[len(told) - tail :]}"


def _alike(one: Iterable[str], other: Iterable[str]) -> int:
    """How many characters two texts begin with alike."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other)))


def value_name(length: Fraction, w: EditionTexts) -> str:
    """A value in words, dots included; in quarters where it has no name."""
    value, dots = written(length) or ("", 0)
    if value not in _NAMED or dots > 1:
        return f"{length}/4"
    name = w(f"provenance.value.{_NAMED[value]}")
    return w("provenance.dotted", value=name) if dots else name
