"""Reads MEI scores of several staves, layers or chords into strands of notes.

Source: MEI Guidelines 5.1, CMN; attributes of MEI 4 where their names differ. What is read: every stave and
layer, chords as voices, figures of any stave, pick-ups, bars that repeats divide, transposing staves at their
sounding pitch, clefs with an octave sign. Grace and cue notes are left out and told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from builder.music import Clef, Signature
from builder.music.time import dotted
from builder.source.encoded import SINGLE, Encoded, Stack, usable_tempo
from builder.source.errors import named
from builder.source.lines import CLEFS
from builder.source.mei_symbols import (
    BESIDE,
    DURATIONS,
    InForce,
    bars_of,
    figures_of,
    items,
    key_of,
    metre_of,
    pitch_of,
    tempo_of,
    unread,
)
from builder.source.strands import (
    Sound,
    Strand,
    Whole,
    same_metre,
    transposed,
    untangled,
    unwritable,
    writable,
)
from builder.source.xmltree import Element

ZERO = Fraction(0)
_SECTIONS = ("section", "ending", "supplied", "expansion")
_WHOLE_BARS = ("mRest", "mSpace", "multiRest")


@dataclass(slots=True)
class _Stave:
    """A stave while it is read; sounds by layer."""

    name: str = ""
    signature: Signature | None = None
    """As it is written, and in force for its notes."""
    steps: int = 0
    semitones: int = 0
    clefs: list[tuple[int, Fraction, Clef]] = field(default_factory=list)
    sounds: dict[str, list[Sound]] = field(default_factory=dict)
    force: dict[str, InForce] = field(default_factory=dict)
    stacks: list[tuple[int, Stack]] = field(default_factory=list)


@dataclass(slots=True)
class _State:
    whole: Whole
    ties: set[str]
    staves: dict[str, _Stave] = field(default_factory=dict)
    bar: int = 0
    now: Fraction | None = None
    """The place in the bar, where a layer is read and the first bar has no pick-up."""
    places: dict[str, Fraction] = field(default_factory=dict)
    """Where each note of the bar stands, by its id."""

    def wrong(self, at: Element, found: str, expected: str) -> None:
        self.whole.said.wrong(at, found, expected, self.bar + 1, self.now)

    def stave(self, n: str) -> _Stave:
        return self.staves.setdefault(n or "1", _Stave())


def is_whole(score: Element) -> bool:
    """Whether a score has more than one line of notes at sounding pitch."""
    if len({s.get("n") for s in score.within("staffDef")}) > 1:
        return True
    several = any(
        sum(layer.get("type") != BESIDE for layer in staff.all("layer")) > 1
        for staff in score.within("staff")
    )
    shifted = any(s.get("trans.semi") not in ("", "0") or s.get("clef.dis") for s in score.within("staffDef"))
    return several or shifted or next(score.within("chord"), None) is not None


def whole_of(score: Element, said: Encoded) -> Whole:
    """The strands of a score; what is wrong is noted."""
    whole = Whole(said)
    ties = {tie.get("startid").lstrip("#") for tie in score.within("tie")}
    state = _State(whole, ties)
    for element in _flow(score):
        if element.tag == "measure":
            _measure(element, state)
            state.bar = len(whole.lengths)
        else:
            _definition(element, state)
    for stave in state.staves.values():
        whole.strands += _strands(stave, whole)
    return whole


def _flow(score: Element) -> Iterator[Element]:
    for child in score.children:
        if child.tag in ("scoreDef", "staffDef", "measure"):
            yield child
        elif child.tag in _SECTIONS:
            yield from _flow(child)


def _definition(at: Element, state: _State) -> None:
    staves = [at] if at.tag == "staffDef" else list(at.within("staffDef"))
    for place in (at, *(s for s in staves if s is not at)):
        _metre(place, state)
        if key := key_of(place, state.wrong):
            ours = staves if place is at else [place]
            for own in (state.stave(s.get("n")) for s in ours):
                own.signature = key[0]
            if not _whole(place.get("trans.semi")) % 12:
                _signature(key[0], state)
        if place.get("midi.bpm") and state.whole.said.tempo is None:
            state.whole.said.tempo = usable_tempo(Fraction(1), place.get("midi.bpm"))
    for place in staves:
        stave = state.stave(place.get("n"))
        stave.name = place.text("label") or place.get("label") or stave.name
        if place.get("trans.semi"):
            stave.steps, stave.semitones = (_whole(place.get(f"trans.{k}")) for k in ("diat", "semi"))
        for clef in (place, *place.all("clef")):
            _clef(clef, "" if clef.tag == "clef" else "clef.", ZERO, stave, state)


def _whole(text: str) -> int:
    return int(text) if re.fullmatch(r"-?[0-9]{1,2}", text) else 0


def _metre(at: Element, state: _State) -> None:
    found = metre_of(at, state.wrong)
    if not found:
        return
    said = state.whole.said
    if same_metre(said, found[0], found[1], state.bar + 1) and said.metre != found[0]:
        state.whole.lose("metre", state.bar)


def _signature(found: Signature, state: _State) -> None:
    """The signature of the score; that of the lowest stave where they differ, and told."""
    before = state.whole.said.signature_so_far(first=not state.bar)
    if before not in (None, found):
        state.whole.lose("signature", state.bar)
    if not state.bar:
        state.whole.said.signature = found


def _signature_within(at: Element, stave: _Stave, force: InForce, state: _State) -> None:
    """A signature that stands among the notes."""
    if found := key_of(at, state.wrong):
        stave.signature = force.signature = found[0]
        if not stave.semitones % 12:
            _signature(found[0], state)


def _clef(at: Element, prefix: str, now: Fraction, stave: _Stave, state: _State) -> None:
    name = f"{at.get(f'{prefix}shape')}{at.get(f'{prefix}line')}"
    if at.get(f"{prefix}dis"):
        name = {("G2", "below"): "C4", ("F4", "above"): "C3"}.get((name, at.get(f"{prefix}dis.place")), "")
    if name in CLEFS:
        stave.clefs.append((state.bar, now, Clef.parse(name)))


def _measure(measure: Element, state: _State) -> None:
    whole, length = state.whole, ZERO
    state.places = {}
    upbeat = not state.bar and measure.get("metcon") == "false"
    for staff in measure.all("staff"):
        stave = state.stave(staff.get("n"))
        signs: dict[int, int] = {}
        for n, layer in enumerate(staff.all("layer")):
            force = stave.force.setdefault(layer.get("n") or str(n), InForce())
            force.signs, force.signature = signs, stave.signature
            name = layer.get("n") or str(n)
            state.now = None if upbeat else ZERO
            length = max(length, _layer(layer, stave, stave.sounds.setdefault(name, []), force, state))
    state.now = None
    metre = whole.said.metre
    rest = metre.bar if metre else ZERO
    count = 1 if length else max((bars_of(r.get("num")) for r in measure.within("multiRest")), default=1)
    whole.lengths += [length or rest] * count
    whole.bars += [measure] * count
    for harm in measure.all("harm"):
        _figures(harm, state)
    for mark in measure.all("tupletSpan"):
        state.wrong(mark, "a tuplet", SINGLE)
    for mark in measure.all("tempo"):
        whole.said.tempo = whole.said.tempo or tempo_of(mark)


def _layer(layer: Element, stave: _Stave, sounds: list[Sound], force: InForce, state: _State) -> Fraction:
    """Read one layer of a bar; how long it is. What rests for a whole bar has no length of its own."""
    now = ZERO
    for item in items(layer):
        if state.now is not None:
            state.now = now
        if item.tag == "clef":
            _clef(item, "", now, stave, state)
        elif item.tag == "keySig":
            _signature_within(item, stave, force, state)
        elif item.tag in ("note", "chord", "rest", "space") and not item.get("grace"):
            length = _length(item, state)
            if item.tag in ("note", "chord") and length:
                _sounds(item, now, length, sounds, force, state)
            state.places[item.get("id")] = now
            now += length
            if item.tag in ("rest", "space"):
                force.held = None
        elif item.get("grace") or item.tag == "graceGrp":
            state.whole.lose("grace", state.bar)
        elif item.tag not in _WHOLE_BARS and (found := unread(item)):
            state.wrong(item, found, "single notes and rests, in values with at most two dots")
    return now


def _length(at: Element, state: _State) -> Fraction:
    value, dots = DURATIONS.get(at.get("dur")), at.get("dots") or str(len(at.all("dot")))
    if value is None or dots not in ("0", "1", "2"):
        written = f"{named(at.get('dur'))} with {named(dots)} dots" if at.get("dur") else "none"
        state.wrong(at, f"the value {written}", "breve, 1, 2, 4 … with at most two dots")
        return ZERO
    return dotted(value, int(dots))


def _sounds(
    item: Element, now: Fraction, length: Fraction, sounds: list[Sound], force: InForce, state: _State
) -> None:
    notes = [item] if item.tag == "note" else list(item.within("note"))
    if not (writable(length) and (not now or writable(now))):
        state.wrong(item, unwritable(length, now), SINGLE)
        return
    for note in notes:
        read = pitch_of(note, force, state.wrong)
        if read is None:
            continue
        marks = note.get("tie") or item.get("tie")
        tied = note.get("id") in state.ties or any(mark in marks for mark in "im")
        sounds.append(Sound(note, state.bar, now, length, read[0], tied, read[1]))
        state.places[note.get("id")] = now
        force.held = read if tied and len(notes) == 1 else None


def _figures(harm: Element, state: _State) -> None:
    stack = figures_of(harm, state.whole.said.metre, state.places.get, state.wrong)
    if stack:
        stave = state.stave(harm.get("staff") or max(state.staves, key=lambda n: (len(n), n)))
        stave.stacks.append((state.bar, stack))


def _strands(stave: _Stave, whole: Whole) -> list[Strand]:
    """The strands of a stave, its figures over the lowest of them."""
    found = [
        Strand(stave.name, notes, stave.clefs)
        for sounds in stave.sounds.values()
        for notes in untangled(sounds)
    ]
    if found and stave.stacks:
        min(found, key=lambda s: s.mean).stacks = sorted(stave.stacks, key=lambda s: (s[0], s[1].offset))
    transposed(found, stave.steps, stave.semitones, whole)
    return found
