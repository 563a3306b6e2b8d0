"""A verset at another pitch, for the choir: signature, clefs and figures follow, and what does not
suit is said.

A figure keeps its meaning, not its sign: a sharp over A that asks for C sharp becomes, a tone lower,
a natural over G that asks for B.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

from builder.analysis import analyse
from builder.counterpoint import Finding, Phrase
from builder.counterpoint.figured_bass.accidentals import meant
from builder.counterpoint.figured_bass.beats import Beats
from builder.counterpoint.figured_bass.in_force import in_force
from builder.counterpoint.rules.rule import NOTE, WARNING
from builder.music import QUARTER_COMMA, Clef, FigureSign, Interval, Note, Pitch, Signature, Tuning
from builder.music.figure import SIGN_OF
from builder.music.tuner import missing
from builder.sound.warnings import advice
from builder.source.verset import GivenNote, Variant, Verset

CLEF_SETS: tuple[Mapping[str, str], ...] = (
    MappingProxyType({"cantus": "C1", "altus": "C3", "tenor": "C4", "bassus": "F4"}),
    MappingProxyType({"cantus": "G2", "altus": "C2", "tenor": "C3", "bassus": "F3"}),
)
"""The natural clefs and the high clefs (common practice)."""

_SIZES = {
    "semitone": (1, 1),
    "tone": (1, 2),
    "minor third": (2, 3),
    "major third": (2, 4),
    "fourth": (3, 5),
    "fifth": (4, 7),
    "minor sixth": (5, 8),
    "major sixth": (5, 9),
    "minor seventh": (6, 10),
    "major seventh": (6, 11),
    "octave": (7, 12),
}
SUITABLE = tuple(_SIZES)[:6]
"""Intervals by which a verset is commonly moved, either way."""
_NEAR_SIGNATURE = 2


def read_interval(text: str) -> Interval:
    """An interval in words: `a tone lower`, `a minor third higher`, `none`.

    >>> read_interval("a fourth lower")
    Interval(steps=-3, semitones=-5)
    >>> read_interval("a third lower")
    Traceback (most recent call last):
    ...
    ValueError: 'a third lower' is not an interval such as 'a tone lower' or 'a minor third higher'
    """
    if text.strip() == "none":
        return Interval(0, 0)
    match = re.fullmatch(r"an? ([a-z ]+) (higher|lower)", text.strip())
    if not match or match[1] not in _SIZES:
        raise ValueError(f"{text!r} is not an interval such as 'a tone lower' or 'a minor third higher'")
    steps, semitones = _SIZES[match[1]]
    return Interval(steps, semitones) if match[2] == "higher" else Interval(-steps, -semitones)


def spoken_interval(interval: Interval) -> str:
    """The words for an interval.

    >>> spoken_interval(Interval(-1, -2))
    'a tone lower'
    """
    size = (abs(interval.steps), abs(interval.semitones))
    if size == (0, 0):
        return "none"
    name = next((n for n, s in _SIZES.items() if s == size), interval.name)
    article = "an" if name[0] == "o" else "a"
    return f"{article} {name} {'lower' if interval.steps < 0 else 'higher'}"


def transpose(verset: Verset, interval: Interval) -> Verset:
    """The verset at another pitch. Clefs stay where the line still lies on their staves, else the
    natural or the high clefs are taken, whichever fit better. Words are left as they
    are.

    `ValueError` when a signature would need more than seven accidentals, or a note or a figure a sign
    that does not exist.

    >>> from builder.source import EXAMPLE, parse
    >>> lower = transpose(parse(EXAMPLE), read_interval("a tone lower"))
    >>> str(lower.given[0].note.pitch), str(lower.signature)
    ('C5', 'Bb Eb')
    """
    if interval == Interval(0, 0):
        return verset
    signature = _signature(verset.signature, interval)
    moved = tuple(_line(verset, interval, signature))
    pins = tuple(replace(pin, notes=tuple(_note(n, interval) for n in pin.notes)) for pin in verset.pins)
    given = _clefs(moved)
    clefs = {g.note.onset: g.clef for g in given}
    variants = tuple(_variant(v, verset, interval, signature, clefs) for v in verset.variants)
    ossias = tuple(replace(o, notes=tuple(_note(n, interval) for n in o.notes)) for o in verset.ossias)
    # fingers are those of the keys at the written pitch
    return replace(
        verset, signature=signature, given=given, pins=pins, variants=variants, ossias=ossias, fingers=()
    )


def moved(verset: Verset) -> Verset:
    """The verset at the pitch that its setting `move` asks for. Its tone is judged at its written
    pitch, where the finals of the tones are known. `ValueError` as of `read_interval` and `transpose`."""
    unmoved = as_first_set(replace(verset, settings=replace(verset.settings, move="")))
    known = replace(unmoved, tone=verset.tone or analyse(verset).tone)
    interval = read_interval(verset.settings.move or "none")
    if interval == Interval(0, 0):
        return known
    there = transpose(known, interval)
    said = "" if verset.settings.moved else verset.settings.move
    return replace(there, unmoved=unmoved, settings=replace(there.settings, moved=said))


def as_first_set(verset: Verset) -> Verset:
    """The verset with what it was moved from, where it says that it stands at another pitch already."""
    if not verset.settings.moved:
        return verset
    interval = read_interval(verset.settings.moved)
    plain = replace(verset, settings=replace(verset.settings, moved=""))
    return replace(verset, unmoved=transpose(plain, Interval(-interval.steps, -interval.semitones)))


def check_pitch(verset: Verset, *, tuning: Tuning = QUARTER_COMMA) -> tuple[Finding, ...]:
    """What a pitch makes hard: notes outside their stave, notes that the tuning lacks, a signature
    that this music hardly uses. Wolves between voices are the concern of the realisation's check.

    >>> from builder.source import EXAMPLE, parse
    >>> there = transpose(parse(EXAMPLE), read_interval("a semitone higher"))
    >>> [finding.rule for finding in check_pitch(there)][:1]
    ['far-signature']
    """
    return tuple(sorted((*_off_stave(verset), *_untuned(verset, tuning), *_far(verset)), key=_when))


@dataclass(frozen=True, slots=True)
class Suit:
    """A pitch to which a verset may be moved: the interval, the verset there, and what is hard."""

    interval: Interval
    verset: Verset
    findings: tuple[Finding, ...]


def suits(verset: Verset, *, tuning: Tuning = QUARTER_COMMA) -> tuple[Suit, ...]:
    """The usual transpositions, the easiest first; then the nearest; a tie goes downwards.

    >>> from builder.source import EXAMPLE, parse
    >>> suits(parse(EXAMPLE))[0].interval
    Interval(steps=-1, semitones=-2)
    """
    found = []
    for name in SUITABLE:
        for direction in ("lower", "higher"):
            interval = read_interval(f"a {name} {direction}")
            try:
                moved = transpose(verset, interval)
            except ValueError:
                continue
            found.append(Suit(interval, moved, check_pitch(moved, tuning=tuning)))
    return tuple(sorted(found, key=lambda s: (_hardness(s.findings), abs(s.interval.semitones))))


def _hardness(findings: tuple[Finding, ...]) -> tuple[int, int]:
    return sum(f.severity == "error" for f in findings), len(findings)


def _when(finding: Finding) -> tuple[object, str]:
    return finding.onset, finding.rule


def _signature(signature: Signature, interval: Interval) -> Signature:
    fifths = signature.fifths + interval.fifths
    if abs(fifths) > 7:
        raise ValueError(f"{spoken_interval(interval)}: the signature would have {abs(fifths)} accidentals")
    return Signature.of_fifths(fifths)


def _note(note: Note, interval: Interval) -> Note:
    return note if note.pitch is None else replace(note, pitch=_pitch(note.pitch, interval))


def _pitch(pitch: Pitch, interval: Interval) -> Pitch:
    moved = pitch.up(interval)
    if abs(moved.alter) > 1:
        raise ValueError(f"{spoken_interval(interval)}: {pitch.letter} would need a double accidental")
    return moved


def _line(verset: Verset, interval: Interval, signature: Signature) -> Iterator[GivenNote]:
    """The given line with its figures at another pitch."""
    closes = {c.onset for c in analyse(verset).cadences} if verset.figures else set()
    force = iter(in_force(verset, Beats(verset), closes))
    for given in verset.given:
        note = _note(given.note, interval)
        if given.note.pitch is None:
            yield replace(given, note=note)
            continue
        near = dict(next(force).alters)
        old = _Sense(given.note.pitch, verset.signature, near)
        moved = (_pitch(Pitch(35 + step, alter), interval) for step, alter in near.items())
        new = _Sense(_pitch(given.note.pitch, interval), signature, {p.step: p.alter for p in moved})
        figures = tuple(
            replace(f, signs=tuple(_sign(s, interval, old, new) for s in f.signs)) for f in given.figures
        )
        yield replace(given, note=note, figures=figures)


def _variant(
    variant: Variant,
    verset: Verset,
    interval: Interval,
    signature: Signature,
    clefs: Mapping[Fraction, Clef],
) -> Variant:
    """What witnesses have, at another pitch; in the clef that the line takes there, unless theirs was
    another. A sign that has none at the new pitch stays as it is: the witnesses may be wrong."""
    own = verset.lemma(variant)[0].clef
    notes = []
    for g in variant.notes:
        clef = clefs[variant.start] if g.clef == own else g.clef
        pitch = g.note.pitch
        if pitch is None:
            notes.append(replace(g, clef=clef))
            continue
        higher = pitch.up(interval)
        old, new = _Sense(pitch, verset.signature, {}), _Sense(higher, signature, {})
        figures = tuple(
            replace(f, signs=tuple(_sign_if_any(s, interval, old, new) for s in f.signs)) for f in g.figures
        )
        notes.append(replace(g, note=replace(g.note, pitch=higher), clef=clef, figures=figures))
    return replace(variant, notes=tuple(notes))


def _sign_if_any(sign: FigureSign, interval: Interval, old: _Sense, new: _Sense) -> FigureSign:
    try:
        return _sign(sign, interval, old, new)
    except ValueError:
        return sign


class _Sense(NamedTuple):
    """What a sign means depends on the note under it, the signature and the accidentals in force."""

    bass: Pitch
    signature: Signature
    nearby: Mapping[int, int]

    def pitch(self, number: int, sign: str) -> Pitch:
        alter = meant(self.bass, number, sign, self.signature, self.nearby)
        return Pitch(self.bass.diatonic + number - 1, alter)


def _sign(sign: FigureSign, interval: Interval, old: _Sense, new: _Sense) -> FigureSign:
    """The sign that means the same note at the new pitch; unsigned numbers follow the signature."""
    if not sign.sign:
        return sign
    due = _pitch(old.pitch(sign.number, sign.sign), interval)
    own = SIGN_OF[due.alter]  # what a reader of today expects: a natural for a natural
    signs = (own, sign.sign, *"#bn")
    found = next((s for s in signs if new.pitch(sign.number, s).alter == due.alter), None)
    if found is None:
        raise ValueError(f"{spoken_interval(interval)}: no figure asks for {due.letter}")
    return replace(sign, sign=found)


def _clefs(given: tuple[GivenNote, ...]) -> tuple[GivenNote, ...]:
    """Own clefs, natural clefs or high clefs: those out of whose staves the line goes least."""
    choices = [given, *(tuple(_in_set(g, s) for g in given) for s in CLEF_SETS)]
    return min(choices, key=lambda c: sum(_outside(g) for g in c))


def _in_set(given: GivenNote, clefs: Mapping[str, str]) -> GivenNote:
    return replace(given, clef=Clef.parse(clefs[given.voice]))


def _outside(given: GivenNote) -> int:
    """Steps by which a note leaves its stave and the ledger line beyond it."""
    pitch = given.note.pitch
    if pitch is None:
        return 0
    low = given.clef.bottom.diatonic - 2
    return max(0, low - pitch.diatonic, pitch.diatonic - (low + 12))


def _off_stave(verset: Verset) -> Iterator[Finding]:
    for given in verset.given:
        steps = _outside(given)
        if steps and given.note.pitch:
            yield Finding(
                "written-compass",
                WARNING,
                given.note.onset,
                verset.place(given.note.onset),
                (given.voice,),
                Phrase.of(
                    "off-stave" if steps > 1 else "off-stave-by-one",
                    pitch=given.note.pitch,
                    steps=steps,
                    voice=given.voice,
                    clef=given.clef,
                ),
                (Phrase("nearer-pitch"),),
            )


def _untuned(verset: Verset, tuning: Tuning) -> Iterator[Finding]:
    lacking = {m.letter: m for m in missing(_asked(verset), tuning)}
    for given in verset.given:
        for pitch in _asked_at(given, verset.signature):
            if pitch.letter in lacking:
                lack = lacking[pitch.letter]
                yield Finding(
                    "untuned-note",
                    WARNING,
                    given.note.onset,
                    verset.place(given.note.onset),
                    (given.voice,),
                    Phrase.of("untuned", letter=lack.letter, instead=lack.instead),
                    (advice(lack),),
                )


def _asked(verset: Verset) -> Iterator[Pitch]:
    for given in verset.given:
        yield from _asked_at(given, verset.signature)


def _asked_at(given: GivenNote, signature: Signature) -> Iterator[Pitch]:
    """The note and the notes that signed figures ask for."""
    bass = given.note.pitch
    if bass is None:
        return
    yield bass
    for figure in given.figures:
        for sign in figure.signs:
            if sign.sign:
                yield _Sense(bass, signature, {}).pitch(sign.number, sign.sign)


def _far(verset: Verset) -> Iterator[Finding]:
    count = abs(verset.signature.fifths)
    if count > _NEAR_SIGNATURE:
        yield Finding(
            "far-signature",
            NOTE,
            verset.bars[0].onset,
            verset.place(verset.bars[0].onset),
            (),
            Phrase.of("far-signature", count=count, most=_NEAR_SIGNATURE),
            (Phrase("nearer-pitch"),),
        )
