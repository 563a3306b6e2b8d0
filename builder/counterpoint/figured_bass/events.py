"""The given line cut into events: one sonority each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from builder.analysis import Analysis
from builder.analysis.findings import Cadence
from builder.counterpoint.figured_bass.beats import Beats
from builder.counterpoint.figured_bass.further import alone, carries, goes_on, relieved, tied
from builder.counterpoint.figured_bass.in_force import Doubt, Force, doubts, in_force
from builder.counterpoint.figured_bass.segments import Slot, passes, slots
from builder.counterpoint.figured_bass.sonority import (
    Role,
    Variant,
    consonant,
    entering,
    leading_letter,
    read_figure,
    sounds,
    with_major_third,
)
from builder.music import QUARTER_COMMA, VOICES, Figure, FigureSign, Pitch, Signature, Tuning, Version
from builder.source import Verset
from builder.source.verset import GivenNote

QUARTER = Fraction(1)


@dataclass(frozen=True, slots=True)
class Event:
    """A stretch over which one sonority is to be set: when, over which note of the given line, in which
    voices, and in which ways (variants) its figure may be sounded.

    `hold`: the sonority before is held while the given line passes. `struck`: the given note begins here.
    `joined`: something sounds just before. `weight`: metrical weight (3 first beat … 0 between beats,
    -1 … further down). `pins`: voices set by hand, highest first, None for a pinned rest.
    """

    onset: Fraction
    duration: Fraction
    bass: Pitch
    voice: str
    upper: tuple[str, ...]
    variants: tuple[Variant, ...]
    figure: Figure | None
    supplied: str
    hold: bool = False
    struck: bool = True
    joined: bool = True
    weight: int = 3
    opening: bool = False
    closing: bool = False
    cadence: bool = False
    pins: tuple[tuple[str, Pitch | None], ...] = ()
    still: bool = False
    """The given note goes on under the same figure: the voices above move only as a suspension falls."""
    doubts: tuple[Doubt, ...] = ()

    @property
    def end(self) -> Fraction:
        return self.onset + self.duration


def _raised(cadences: Sequence[Cadence], slot: Slot, bass: Pitch) -> int | None:
    """The leading letter of the cadence that is under way, when the bass stands on its fifth degree
    or goes by step into the close."""
    for cadence in cadences:
        if cadence.start <= slot.onset < cadence.onset:
            final = Pitch.parse(f"{cadence.degree}4")
            fifth = (bass.diatonic - final.diatonic) % 7 == 4
            if fifth or slot.given.note.end == cadence.onset:
                return leading_letter(cadence.degree)
    return None


def _supplied(
    bass: Pitch, after: Pitch | None, closing: bool, final: bool, force: Force, signature: Signature
) -> tuple[FigureSign, ...]:
    """What an unfigured note means: a sixth on a note whose fifth is diminished and on mi or a sharpened note
    that rises a semitone; else third and fifth."""
    if closing:
        return ()
    if force.over(bass, 5, signature).midi - bass.midi == 6 and not final:
        return (FigureSign(6),)
    rises = after is not None and after.midi - bass.midi == 1 and after.diatonic - bass.diatonic == 1
    sharpened = bass.alter > signature.alter(bass.step)
    mi = force.over(bass, 2, signature).midi - bass.midi == 1
    if rises and (sharpened or (mi and not final)):
        return (FigureSign(6),)
    return (FigureSign(6),) if sharpened else ()


def events(verset: Verset, analysis: Analysis, *, tuning: Tuning = QUARTER_COMMA) -> tuple[Event, ...]:
    """Every sonority that the given line asks for, in time: one over each of its notes, and one over each of
    the figures of a note.

    >>> from builder.analysis import analyse
    >>> from builder.source import EXAMPLE, parse
    >>> verset = parse(EXAMPLE)
    >>> [(str(e.bass), str(e.figure)) for e in events(verset, analyse(verset)) if e.figure]
    [('F4', '6'), ('E4', '7'), ('E4', '#6')]
    """
    return tuple(_Cutter(verset, analysis, tuning).run())


class _Cutter:
    """Walks the given line once; holds what the steps share."""

    def __init__(self, verset: Verset, analysis: Analysis, tuning: Tuning) -> None:
        self.verset, self.analysis = verset, analysis
        self.tuning, self.beats = tuning, Beats(verset)
        self.sounding = [g for g in verset.given if g.note.pitch is not None]
        self.figured = bool(verset.figures)
        self.pins = [n for p in verset.pins if p.version == Version.PLAIN for n in p.notes]
        self.place = {id(g): n for n, g in enumerate(self.sounding)}
        self.pitches = [g.note.pitch for g in self.sounding if g.note.pitch is not None]
        self.force = in_force(verset, self.beats, {c.onset for c in analysis.cadences if c.kind != "evaded"})
        kinds = ("semplice", "composta", "doppia")
        self.cadences = [c for c in analysis.cadences if c.kind in kinds]
        self.entered = dict.fromkeys(verset.from_start, -1)
        """At which of the sounding notes each voice first has the line (-1: it sounds from the start)."""
        for n, g in enumerate(self.sounding):
            self.entered.setdefault(g.voice, n)

    def above(self, slot: Slot) -> tuple[str, ...]:
        """The voices above the given note that have entered (as `Verset.above`, without its search)."""
        higher = VOICES[: VOICES.index(slot.given.voice)]
        n = self.place[id(slot.given)]
        return tuple([v for v in higher if self.entered.get(v, n) < n])

    def run(self) -> Iterator[Event]:
        times = tuple(sorted({t for n in self.pins for t in (n.onset, n.end)}))
        before: Event | None = None
        cut = slots(self.verset, times)
        for i, slot in enumerate(cut):
            after = cut[i + 1] if i + 1 < len(cut) else None
            event = self._event(slot, before, after)
            before = event
            yield event

    def _event(self, slot: Slot, before: Event | None, after: Slot | None) -> Event:
        n = self.place[id(slot.given)]
        bass = slot.given.note.pitch
        assert bass is not None
        upper = self.above(slot)
        joined = before is not None and before.end == slot.onset
        closing = n == len(self.sounding) - 1
        prior = self.sounding[n - 1] if n else None
        later = self.sounding[n + 1] if n + 1 < len(self.sounding) else None
        hold = joined and before is not None and before.upper == upper and before.voice == slot.given.voice
        if slot.figure is None:
            hold = hold and slot.part == 0 and passes(self.beats, slot, prior, later)
            hold = hold and before is not None and not self._needs_own(slot, before, after)
        else:
            hold = hold and slot.figure.dash
        raised = self._raised(slot, bass)
        variants = self._variants(slot, bass, later, before, after, closing, raised)
        pins = self._pins(slot, upper)
        sounding = tuple(v for v in upper if (v, None) not in pins)
        return Event(
            slot.onset,
            slot.duration,
            bass,
            slot.given.voice,
            sounding,
            variants,
            slot.figure,
            "source" if slot.figure or slot.under else "editor",
            hold=hold and not self._begun(slot, upper),
            struck=slot.part == 0
            and not (prior is not None and prior.note.tied and prior.note.pitch == bass),
            joined=joined,
            weight=self.beats.weight(slot.onset),
            opening=before is None or not joined or before.upper != upper,
            closing=closing,
            cadence=raised is not None,
            pins=tuple(p for p in pins if p[1] is not None),
            still=slot.part > 0 and (slot.figure is None or slot.figure.onset < slot.onset),
            doubts=tuple(doubts(bass, slot.figure, variants[0], self.force[n], self.verset.signature)),
        )

    def _pins(self, slot: Slot, upper: tuple[str, ...]) -> tuple[tuple[str, Pitch | None], ...]:
        found = []
        for pin in self.verset.pins:
            if pin.version != Version.PLAIN or pin.voice not in upper:
                continue
            for note in pin.notes:
                if note.onset <= slot.onset < note.end:
                    found.append((pin.voice, note.pitch))
        return tuple(found)

    def _begun(self, slot: Slot, upper: tuple[str, ...]) -> bool:
        """Whether a pinned note begins or ends here."""
        plain = (p for p in self.verset.pins if p.version == Version.PLAIN and p.voice in upper)
        return any(slot.onset in (n.onset, n.end) for p in plain for n in p.notes)

    def _raised(self, slot: Slot, bass: Pitch) -> int | None:
        """The leading letter, where the tuning has the note or the source signs it."""
        raised = _raised(self.cadences, slot, bass)
        if raised is None:
            return None
        figure = slot.figure or slot.under
        if figure and any(s.sign and (bass.diatonic + s.number - 1) % 7 == raised for s in figure.signs):
            return raised
        above = self.verset.signature.pitch(35 + raised + 1)
        note = next(
            (Pitch(35 + raised, a) for a in (1, 0, -1) if above.midi - Pitch(35 + raised, a).midi == 1), None
        )
        return raised if note is not None and self.tuning.has(note) else None

    def _variants(
        self,
        slot: Slot,
        bass: Pitch,
        later: GivenNote | None,
        before: Event | None,
        after: Slot | None,
        closing: bool,
        raised: int | None,
    ) -> tuple[Variant, ...]:
        signature = self.verset.signature
        near = self._near(slot.given)
        same_note = after is not None and after.given is slot.given
        if slot.figure is not None:
            signs = slot.figure.signs
            next_signs = after.figure.signs if same_note and after and after.figure else ()
            resolves = any(s.number == 6 for s in next_signs)
            variant = read_figure(bass, signs, signature, near, raised=raised, resolves=resolves)
            if closing and not any(s.number == 3 and s.sign for s in signs):
                variant = with_major_third(variant, bass)
            if before is not None and before.end == slot.onset:
                variant = tied(bass, variant, signs, before.bass, before.variants)
            more: list[Variant] = []
            if before is not None and not closing:
                more += relieved(variant, signs, before.variants[0])
            if len(self.above(slot)) == 1:
                more += alone(variant)
            if {s.number for s in signs} == {3}:
                more += carries(bass, variant, self._held_next(after))
            return (*self._bound(slot, variant, before), *more)
        if slot.under is not None:
            return self._still(slot, bass, near, raised, before, after)
        final = self.analysis.final == bass.letter
        force = self.force[self.place[id(slot.given)]]
        plain = _supplied(bass, later.note.pitch if later else None, closing, final, force, signature)
        variant = read_figure(bass, plain, signature, near, raised=raised)
        if closing:
            return (with_major_third(variant, bass),)
        found = [variant, *self._sixth(slot, variant, after)]
        found += carries(bass, variant, self._carried(slot, after))
        found += self._fourth_by_step(slot, before, after)
        if before is not None and before.end == slot.onset and before.voice == slot.given.voice:
            on = goes_on(bass, before.bass, before.variants[0]) if before.figure and slot.part == 0 else None
            # Over the octave of the note before nothing is new; over another tone it may be.
            found = (
                [*found, on] if on and on.price else [on, replace(variant, price="supplied")] if on else found
            )
        other = () if plain else (FigureSign(6),)
        moving = slot.part > 0
        if (
            raised is None
            and (moving or not self.figured)
            and not (other == () and _bad_fifth(bass, signature))
        ):
            found.append(replace(read_figure(bass, other, signature, near), price="supplied"))
        strong = after is not None and self.beats.weight(slot.onset) > self.beats.weight(after.onset)
        if not self.figured and slot.split and slot.part == 0 and same_note and strong:
            found += self._offered(bass, near, raised)
        return tuple(found)

    def _still(
        self,
        slot: Slot,
        bass: Pitch,
        near: tuple[tuple[int, int], ...],
        raised: int | None,
        before: Event | None,
        after: Slot | None,
    ) -> tuple[Variant, ...]:
        """The later part of a note under one figure: the sonority goes on."""
        assert slot.under is not None
        variant = read_figure(bass, slot.under.signs, self.verset.signature, near, raised=raised)
        upper = len(self.above(slot))
        numbers = {s.number for s in slot.under.signs}
        third = numbers == {3}
        # Beside a sixth the third may rise to the fourth: 6/3, 6/4.
        free = third or (numbers == {6} and upper > 1)
        fourth = [*self._fourth_by_step(slot, before, after)] if free else []
        if any(m.role is not Role.FREE for m in variant.members):
            return variant, *(alone(variant) if upper == 1 else ()), *fourth
        carried = [*carries(bass, variant, self._carried(slot, after))] if third else []
        if upper == 1:
            variant = replace(variant, needed=0, written=())
        return variant, *carried, *fourth

    def _offered(self, bass: Pitch, near: tuple[tuple[int, int], ...], raised: int | None) -> list[Variant]:
        """Suspensions that a long unfigured note may carry on its first part."""
        offers = []
        for numbers, resolves in (((7,), True), ((4,), False), ((9,), False)):
            signs = tuple(FigureSign(n) for n in numbers)
            variant = read_figure(bass, signs, self.verset.signature, near, resolves=resolves)
            offers.append(replace(variant, price="suspension"))
        return offers

    def _near(self, given: GivenNote) -> tuple[tuple[int, int], ...]:
        """The accidentals in force over a given note."""
        return self.force[self.place[id(given)]].alters

    def _held_next(self, after: Slot | None) -> tuple[Pitch, ...]:
        """The tones that the next figure suspends, which have to sound now (as pitch classes)."""
        if after is None or after.figure is None or not self.above(after):
            return ()
        return self._suspended(after.given, after.figure)

    def _suspended(self, given: GivenNote, figure: Figure) -> tuple[Pitch, ...]:
        """The tones that a figure over a note suspends."""
        bass = given.note.pitch
        assert bass is not None
        variant = read_figure(bass, figure.signs, self.verset.signature, self._near(given))
        bound = [m for m in variant.members if m.role is Role.SUSPENDED]
        return tuple(Pitch(bass.diatonic + m.offset, m.alter) for m in bound)

    def _carried(self, slot: Slot, after: Slot | None) -> tuple[Pitch, ...]:
        """The tones that the next figure suspends; a ninth is held in the earlier parts of a note too."""
        return tuple(dict.fromkeys((*self._held_next(after), *self._ninths(slot))))

    def _ninths(self, slot: Slot) -> Iterator[Pitch]:
        """The ninths over a note that the figure of the next note suspends further."""
        place, bass = self.place[id(slot.given)] + 1, slot.given.note.pitch
        assert bass is not None
        given = self.sounding[place] if place < len(self.sounding) else None
        if given is not None and given.figures and self.above(replace(slot, given=given)):
            suspended = self._suspended(given, given.figures[0])
            yield from (tone for tone in suspended if (tone.diatonic - bass.diatonic) % 7 == 1)

    def _needs_own(self, slot: Slot, before: Event, after: Slot | None) -> bool:
        """A passing note has a sonority of its own when only over it the next suspension can be prepared."""
        bass = slot.given.note.pitch
        assert bass is not None
        return slot.duration >= QUARTER and any(
            consonant(bass, tone) and not consonant(before.bass, tone) for tone in self._held_next(after)
        )

    def _sixth(self, slot: Slot, variant: Variant, after: Slot | None) -> Iterator[Variant]:
        """The sixth that an unfigured note takes because it is set by hand, or prepares the suspension to
        come."""
        bass = slot.given.note.pitch
        assert bass is not None
        held = self._held_next(after)
        if not held and after is not None and after.figure is None and after.given is not slot.given:
            held = tuple(self._ninths(after))
        held += tuple(pitch for _, pitch in self._pins(slot, self.above(slot)) if pitch is not None)
        if not held:
            return
        sixth = read_figure(bass, (FigureSign(6),), self.verset.signature, self._near(slot.given))
        if sixth.members != variant.members and sounds(bass, sixth.members[:1], held):
            yield replace(sixth, price="supplied")

    def _fourth_by_step(self, slot: Slot, before: Event | None, after: Slot | None) -> Iterator[Variant]:
        """The third and fourth of a double cadence (3 4 4 3): where the next note repeats this one with a
        fourth to be suspended, that fourth comes by step on the weaker part before it."""
        bass = slot.given.note.pitch
        if after is None or after.given is slot.given or after.given.note.pitch != bass or before is None:
            return
        assert bass is not None
        goes_on = before.end == slot.onset and before.bass == bass
        weaker = self.beats.weight(slot.onset) < self.beats.weight(after.onset)
        fourth = any(t.diatonic % 7 == (bass.diatonic + 3) % 7 for t in self._held_next(after))
        if goes_on and weaker and fourth:
            signs = FigureSign(6), FigureSign(4)
            variant = read_figure(bass, signs, self.verset.signature, self._near(slot.given))
            yield replace(entering(variant, Role.STEPWISE), price="supplied")

    def _bound(self, slot: Slot, variant: Variant, before: Event | None) -> tuple[Variant, ...]:
        """How the dissonant members may enter: prepared on a strong part; by step where the sonority is
        weaker than the one before over the same bass; the fourth of a double cadence by step."""
        bound = [m for m in variant.members if m.role is Role.SUSPENDED]
        if not bound or before is None:
            return (variant,)
        doppia = any(c.kind == "doppia" and c.start <= slot.onset < c.onset for c in self.analysis.cadences)
        fourth = {4, 6} <= {m.number for m in variant.members}
        weak = self.beats.weight(slot.onset) < before.weight and before.end == slot.onset
        if (doppia and fourth) or (weak and before.bass == slot.given.note.pitch):
            return (entering(variant, Role.STEPWISE),)
        if weak:
            return variant, replace(entering(variant, Role.STEPWISE), price="supplied")
        return (variant,)


def _bad_fifth(bass: Pitch, signature: Signature) -> bool:
    pitch = signature.pitch(bass.diatonic + 4)
    return bool((pitch.midi - bass.midi) % 12 != 7)
