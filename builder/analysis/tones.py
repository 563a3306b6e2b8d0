"""Weighs the eight tones against the music, each with its evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from builder.analysis.compass import Compass, compasses, judged
from builder.analysis.findings import Cadence, Entry, Evidence, ToneReading
from builder.analysis.line import Sung
from builder.analysis.tone_table import TONES, Form, Tone, moved
from builder.language.texts import Texts
from builder.music import Signature
from builder.source import Verset

NEAR = 2.0
"""A tone within this weight of the likeliest is a second choice worth naming."""

CONTRADICTED = 3.0
"""A tone named by the source this far below the likeliest is contradicted by the music."""

LAST, RESTS, HALF, ELSEWHERE = 4.0, 2.5, 1.5, 0.5
SIGN, FOREIGN_SIGN = 3.0, -1.5
COMPASS, RECITING, ENTRIES, CADENCES, MI = 1.5, 1.0, 2.0, 2.5, 1.0
MOVED, FORM = -2.0, -1.0
"""Weights (our own judgement, no source).

A last note that a cadence closes (`LAST`), on which the line merely comes to rest (`RESTS`); one on the
fifth above the final, as a half cadence has it (`HALF`; by the cadence of mi `RESTS`), or closed by a cadence
though this tone closes elsewhere (`ELSEWHERE`); the signature, and each accidental too many or too few;
compass (half of it where the voice spans less than an octave), reciting note, entries, cadences, the close
on mi; each fifth of transposition; a form that fewer sources have."""

CLOSES = ("semplice", "composta", "doppia")
"""Cadences that close on a final in any tone; the cadence of mi closes the third and fourth."""

DISPUTED = (3, 5, 7)
"""Tones that the sources set in different places."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What the music offers for weighing: the last note's letter and the kind of cadence that closes on
    it (empty: none), the signature, the letters of the entries, the cadences, the compass of each voice,
    how long each letter sounds, in quarter notes, and by how many fifths the verset was moved for the choir,
    which speaks against no tone."""

    last: str
    closing: str
    signature: Signature
    entries: tuple[str, ...] = ()
    cadences: tuple[Cadence, ...] = ()
    compasses: Mapping[str, Compass] = field(default_factory=dict)
    sounding: Mapping[str, Fraction] = field(default_factory=dict)
    home: int = 0


def material(
    verset: Verset, notes: Sequence[Sung], entries: Sequence[Entry], found: Sequence[Cadence]
) -> Heard:
    """What the music offers, gathered from the line (one note at least) and the findings."""
    last = notes[-1]
    sounding: dict[str, Fraction] = {}
    for note in notes:
        sounding[note.pitch.letter] = sounding.get(note.pitch.letter, Fraction(0)) + note.duration
    return Heard(
        last.pitch.letter,
        next((c.kind for c in found if c.onset == last.onset and c.kind not in ("half", "evaded")), ""),
        verset.signature,
        tuple(e.pitch.letter for e in entries),
        tuple(found),
        compasses(notes),
        sounding,
        verset.moved_by.fifths,
    )


def weigh(heard: Heard, say: Texts) -> tuple[ToneReading, ...]:
    """All eight tones, the likeliest first, each in the form and at the transposition that suits best."""
    readings = []
    for tone in TONES:
        placed = [
            _Reading(heard, tone, form, heard.home + fifths, say).told()
            for form in tone.forms
            for fifths in (0, 1, -1, 2, -2, 3, -3)
            if form is tone.forms[0]
            or (not fifths and moved(heard.last, -heard.home) in (form.final, form.close))
        ]
        readings.append(max(placed, key=lambda r: r.weight))
    return tuple(sorted(readings, key=lambda r: (-r.weight, r.tone)))


def chosen(tone: int, readings: Sequence[ToneReading], heard: Heard, say: Texts) -> ToneReading:
    """The reading of a tone that is told of a verset. One that the music contradicts is held against the
    music where the tone stands in the table, so that it claims nothing by a far transposition."""
    found = next(r for r in readings if r.tone == tone)
    known = TONES[tone - 1]
    return (
        _Reading(heard, known, known.forms[0], heard.home, say).told()
        if contradicted(tone, readings)
        else found
    )


def near(readings: Sequence[ToneReading]) -> tuple[ToneReading, ...]:
    """The likeliest reading and those that come near it."""
    return tuple(r for r in readings if r.weight > readings[0].weight - NEAR)


def contradicted(tone: int, readings: Sequence[ToneReading]) -> bool:
    """Whether the music speaks against a tone that the source names."""
    weight = next(r.weight for r in readings if r.tone == tone)
    return weight < readings[0].weight - CONTRADICTED


def rests_on_fifth(last: str, readings: Sequence[ToneReading]) -> str:
    """The final of the likeliest tone when the last note is the fifth above it and not a close of
    the tone; else empty. A verset that ends so ends with a half cadence."""
    likely = readings[0]
    close = moved(TONES[likely.tone - 1].forms[0].close, likely.fifths)
    return likely.final if moved(likely.final, 1) == last and close != last else ""


def in_table(verset: Verset, last: str) -> bool:
    """Whether some form of a tone has the signature as written, and the last letter as final or close."""
    written = moved(last, -verset.moved_by.fifths)
    signature = str((verset.unmoved or verset).signature)
    return any(
        written in (form.final, form.close) and signature == form.signature
        for tone in TONES
        for form in tone.forms
    )


@dataclass(frozen=True, slots=True)
class _Reading:
    """One tone, in one form, moved by fifths, held against the music."""

    heard: Heard
    tone: Tone
    form: Form
    fifths: int
    say: Texts

    @property
    def final(self) -> str:
        return moved(self.form.final, self.fifths)

    @property
    def close(self) -> str:
        return moved(self.form.close, self.fifths)

    def told(self) -> ToneReading:
        found = (
            self._place(),
            self._last(),
            self._signature(),
            self._compass(),
            self._reciting(),
            self._entries(),
            self._cadences(),
            self._mi(),
            self._sources(),
        )
        evidence = tuple(e for e in found if e)
        weight = round(sum(e.weight for e in evidence), 3)
        return ToneReading(self.tone.number, weight, evidence, self.final, self.fifths)

    def letter(self, name: str) -> str:
        return self.say.written(name)

    def letters(self, names: Sequence[str], joint: str = "and") -> str:
        return self.say.listing([self.letter(name) for name in names], joint)

    def _place(self) -> Evidence | None:
        """A transposition, named by its smallest interval (two fifths up are a tone), or a form that
        fewer sources have."""
        weight = MOVED * abs(self.fifths - self.heard.home)
        weight += 0.0 if self.form is self.tone.forms[0] else FORM
        if self.fifths:
            steps = (4 * self.fifths) % 7
            up = steps <= 3 or self.fifths == 1
            text = self.say(
                "tone.transposed",
                interval=self.say.distance(steps if up else 7 - steps),
                way=self.say("tone.higher" if up else "tone.lower"),
                final=self.letter(self.final),
                original=self.letter(self.form.final),
            )
            return Evidence(text, weight, remark=True)
        if self.heard.home and weight:
            return Evidence(self.say("tone.transposed.written"), weight, remark=True)
        if self.form is not self.tone.forms[0]:
            text = self.say("tone.form", final=self.letter(self.final), signature=self._spoken(self._wanted))
            return Evidence(text, weight, remark=True)
        return None

    def _last(self) -> Evidence:
        last, name = self.heard.last, self.letter(self.heard.last)
        if last == self.close:
            key = "tone.last.final" if self.close == self.final else "tone.last.close"
            return Evidence(self.say(key, letter=name), self._closed())
        if last == self.final:
            return Evidence(self.say("tone.last.final", letter=name), self._closed() - 0.5)
        if last == moved(self.final, 1):
            closing = self.heard.closing
            weight = ELSEWHERE if closing in CLOSES else RESTS if closing == "mi" else HALF
            return Evidence(self.say("tone.last.half", letter=name), weight)
        return Evidence(self.say("tone.last.no", letter=name, final=self.letter(self.final)), -LAST / 2)

    def _closed(self) -> float:
        """What a last note weighs that is where this tone closes."""
        kinds = (*CLOSES, "mi") if self.tone.number in (3, 4) else CLOSES
        return LAST if self.heard.closing in kinds else RESTS

    @property
    def _wanted(self) -> Signature:
        return Signature.of_fifths(Signature.parse(self.form.signature).fifths + self.fifths)

    def _signature(self) -> Evidence:
        wanted, here = self._wanted, self.heard.signature
        off = abs(here.fifths - wanted.fifths)
        if not off:
            return Evidence(self.say("tone.signature", signature=self._spoken(here)), SIGN)
        text = self.say("tone.signature.no", signature=self._spoken(here), wanted=self._spoken(wanted))
        return Evidence(text, FOREIGN_SIGN * off)

    def _spoken(self, signature: Signature) -> str:
        return self.letters(signature.accidentals) or self.say("none")

    def _compass(self) -> Evidence | None:
        kind, compass = judged(self.heard.compasses, self.final)
        if compass is None:
            return None
        own = self.say(f"tone.kind.{self.tone.kind}")
        told = {
            "voice": self.say(f"voice.{compass.voice}"),
            "low": self.say.written(compass.low),
            "high": self.say.written(compass.high),
        }
        if not kind:
            return Evidence(self.say("tone.compass.either", own=own, **told), 0.0)
        shown = self.say(f"tone.kind.{kind}")
        weight = COMPASS if compass.span >= 7 else COMPASS / 2
        if kind == self.tone.kind:
            return Evidence(self.say("tone.compass", shown=shown, **told), weight)
        return Evidence(self.say("tone.compass.no", shown=shown, own=own, **told), -weight)

    def _reciting(self) -> Evidence | None:
        """The reciting note weighs by how much of the line it has, against the letter that has most of
        it beside the final."""
        note = moved(self.form.reciting, self.fifths)
        sounding = self.heard.sounding
        whole = sum(sounding.values())
        if not whole:
            return None
        most = max((t for name, t in sounding.items() if name != self.final), default=whole)
        has = sounding.get(note, Fraction(0))
        text = self.say("tone.reciting", letter=self.letter(note), share=round(100 * has / whole))
        return Evidence(text, round(float(RECITING * has / most), 3), remark=True)

    def _entries(self) -> Evidence:
        letters = [moved(name, self.fifths) for name in self.form.entries]
        begun = self.heard.entries
        count = sum(e in letters for e in begun)
        if not count:
            return Evidence(self.say("tone.entries.no", letters=self.letters(letters, "or")), 0.0)
        text = self.say("tone.entries", count=count, all=len(begun), letters=self.letters(letters))
        return Evidence(text, ENTRIES * count / len(begun))

    def _cadences(self) -> Evidence:
        """Cadences on the tone's degrees, the chief degree counting most, evaded ones half. A half cadence
        rests on the fifth of the tone and claims no degree of its own."""
        letters = [moved(name, self.fifths) for name in self.form.cadences]
        told = self.letters(letters)
        values = dict(zip(letters, (1.0, 0.8, 0.7)))
        fifth = moved(self.final, 1)
        got = weights = 0.0
        count = 0
        for cadence in self.heard.cadences:
            weight = 0.5 if cadence.kind in ("evaded", "half") else 1.0
            own = cadence.degree == fifth if cadence.kind == "half" else cadence.degree in values
            got += weight * (values.get(cadence.degree, 0.8)) if own else 0.0
            weights += weight
            count += own
        if not count:
            return Evidence(self.say("tone.cadences.no", letters=told), 0.0)
        text = self.say("tone.cadences", count=count, all=len(self.heard.cadences), letters=told)
        return Evidence(text, round(CADENCES * got / weights, 3))

    def _mi(self) -> Evidence | None:
        weight = {4: MI, 3: MI / 2}.get(self.tone.number)
        if weight is None or self.heard.closing != "mi" or self.heard.last != self.close:
            return None
        return Evidence(self.say("tone.mi"), weight)

    def _sources(self) -> Evidence | None:
        """What the sources do with a tone that they set in different places."""
        number = self.tone.number
        lone_f = self.final == "F" and not self.heard.signature.accidentals
        if number not in DISPUTED and not (number == 6 and lone_f):
            return None
        return Evidence(self.say(f"tone.sources.{number}"), 0.0, remark=True)
