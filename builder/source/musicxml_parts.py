"""Reads MusicXML scores of several parts, staves or voices into strands of notes.

Source: MusicXML 4.0, W3C Music Notation Community Group. What is read: every part and voice, chords as
voices, `backup` and `forward`, figured bass of any part, pick-ups, bars that repeats divide, transposing
parts at their sounding pitch, clefs with an octave sign. Grace notes, cue notes and parts without pitch are
left out and told.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from builder.music import Clef, Signature
from builder.source.encoded import SINGLE, Encoded, Stack, signature_of
from builder.source.errors import shorten
from builder.source.lines import CLEFS
from builder.source.musicxml_symbols import (
    begins_late,
    metre_of,
    number,
    pitch_of,
    stack_of,
    supplied,
    tempo_of,
    tied,
)
from builder.source.strands import (
    Sound,
    Strand,
    Whole,
    align,
    same_metre,
    transposed,
    untangled,
    unwritable,
    writable,
)
from builder.source.xmltree import Element

ZERO = Fraction(0)
_LEFT_OUT = ("grace", "cue", "unpitched")


@dataclass(slots=True)
class _Part:
    """A part while it is read. `now` is the place in the bar; `staves` the clefs of each stave."""

    whole: Whole
    name: str
    divisions: Fraction = Fraction(1)
    now: Fraction = ZERO
    reached: Fraction = ZERO
    figured: Fraction = ZERO
    before: Fraction = ZERO
    bar: int = 0
    upbeat: bool = False
    """Whether the bar is a first one that begins later than at its bar line."""
    steps: int = 0
    semitones: int = 0
    sounds: dict[tuple[str, str], list[Sound]] = field(default_factory=dict)
    clefs: dict[str, list[tuple[int, Fraction, Clef]]] = field(default_factory=dict)
    stacks: list[tuple[int, Stack]] = field(default_factory=list)
    lengths: list[Fraction] = field(default_factory=list)
    """Of its own bars."""

    def wrong(self, at: Element, found: str, expected: str) -> None:
        offset = self.before if at.tag == "note" else self.now
        self.whole.said.wrong(at, found, expected, self.bar + 1, None if self.upbeat else offset)


def is_whole(root: Element) -> bool:
    """Whether a document has more than one line of notes at sounding pitch: several parts, staves or voices,
    chords, a transposing part, a clef with an octave sign."""
    if len(root.all("part")) > 1:
        return True
    found = (next(root.within(tag), None) for tag in ("backup", "chord", "transpose", "clef-octave-change"))
    staves = (number(s.text()) for a in root.within("attributes") for s in a.all("staves"))
    return any(found) or any((n or 1) > 1 for n in staves)


def whole_of(root: Element, said: Encoded) -> Whole:
    """The strands of a document; what is wrong is noted."""
    whole = Whole(said)
    parts = []
    names = {p.get("id"): p.text("part-name") for p in root.within("score-part")}
    for at in root.all("part"):
        part = _Part(whole, names.get(at.get("id"), ""))
        for n, measure in enumerate(at.all("measure")):
            part.bar = n
            _measure(measure, part)
        parts.append((_strands(part), part.lengths))
    align(whole, parts)
    return whole


def _measure(measure: Element, part: _Part) -> None:
    part.lengths.append(ZERO)
    part.upbeat = not part.bar and begins_late(measure)
    part.now = part.reached = part.figured = part.before = ZERO
    readers = {"attributes": _attributes, "note": _note, "figured-bass": _figured, "direction": _direction}
    for child in measure.children:
        if child.tag in readers:
            readers[child.tag](child, part)
        elif child.tag in ("backup", "forward"):
            _jump(child, part)
    part.lengths[-1] = part.reached
    whole = part.whole
    if part.bar == len(whole.lengths):
        whole.lengths.append(ZERO)
        whole.bars.append(measure)
    whole.lengths[part.bar] = max(whole.lengths[part.bar], part.reached)


def _jump(at: Element, part: _Part) -> None:
    """Go back to where another voice begins, or on over a silence."""
    ticks = number(at.text("duration"))
    if ticks is None or ticks <= 0:
        part.wrong(at, f"<{at.tag}> without a duration", "a duration above nought")
        return
    part.now += (ticks if at.tag == "forward" else -ticks) / part.divisions
    if part.now < 0:
        part.now = ZERO
        part.wrong(at, "<backup> to before its bar", "at most what the bar has so far")
    part.figured = part.now
    part.reached = max(part.reached, part.now)


def _attributes(at: Element, part: _Part) -> None:
    if at.first("divisions"):
        found = number(at.text("divisions"))
        if found is None or found <= 0:
            part.wrong(at, f"divisions of {shorten(at.text('divisions'))}", "how many parts a quarter has")
        else:
            part.divisions = found
    for time in at.all("time"):
        _time(time, part)
    for shift in at.all("transpose"):
        steps, semitones = (number(shift.text(tag)) or ZERO for tag in ("diatonic", "chromatic"))
        octaves = int(number(shift.text("octave-change")) or 0)
        by = int(steps) + 7 * octaves, int(semitones) + 12 * octaves
        if part.bar and by != (part.steps, part.semitones):
            part.wrong(shift, "a change of transposition", "one transposition for a part")
        part.steps, part.semitones = by
    for key in at.all("key"):
        _key(key, part)
    for clef in at.all("clef"):
        read = _clef(clef)
        if read is not None:
            staff = clef.get("number") or "1"
            part.clefs.setdefault(staff, []).append((part.bar, part.now, read))


def _key(key: Element, part: _Part) -> None:
    """The signature of the score: that of a part at its sounding pitch which comes last, the lowest."""
    fifths = number(key.text("fifths"))
    said = part.whole.said
    if fifths is None or fifths.denominator != 1 or abs(fifths) > 7:
        part.wrong(key, "a signature that is not in fifths", "up to seven sharps or flats")
        return
    if part.semitones % 12:
        return
    new = signature_of(int(fifths))
    before = said.signature or (Signature() if part.bar else None)
    if before is not None and before != new:
        part.whole.lose("signature", part.bar)
    if not part.bar:
        said.signature = new


def _time(time: Element, part: _Part) -> None:
    metre = metre_of(time, part.wrong)
    said = part.whole.said
    if metre and same_metre(said, metre, time, part.bar + 1) and said.metre != metre:
        part.whole.lose("metre", part.bar)


def _clef(clef: Element) -> Clef | None:
    """A clef; one with an octave sign as the clef that holds the same notes, where there is one."""
    name = f"{clef.text('sign').upper()}{clef.text('line')}"
    octave = number(clef.text("clef-octave-change")) or 0
    if octave:
        name = {("G2", -1): "C4", ("F4", 1): "C3"}.get((name, int(octave)), "")
    return Clef.parse(name) if name in CLEFS else None


def _direction(at: Element, part: _Part) -> None:
    part.whole.said.tempo = part.whole.said.tempo or tempo_of(at)


def _note(at: Element, part: _Part) -> None:
    if any(at.first(tag) for tag in _LEFT_OUT):
        part.whole.lose("grace" if at.first("grace") else "cue", part.bar)
        if at.first("grace"):
            return
    ticks = number(at.text("duration"))
    onset = part.before if at.first("chord") else part.now
    if ticks is None or ticks <= 0:
        part.before = onset
        part.wrong(at, "a note without a duration", "a duration above nought")
        return
    length = ticks / part.divisions
    if not at.first("chord"):
        part.before, part.now = part.now, part.now + length
        part.reached, part.figured = max(part.reached, part.now), max(part.figured, part.now)
    if at.first("rest") or any(at.first(tag) for tag in _LEFT_OUT):
        return
    if not (writable(length) and (not onset or writable(onset))):
        part.wrong(at, unwritable(length, onset), SINGLE)
        return
    written = pitch_of(at, part.wrong)
    if written is not None:
        key = at.text("voice") or "1", at.text("staff") or "1"
        sound = Sound(at, part.bar, onset, length, written, tied(at), supplied(at))
        part.sounds.setdefault(key, []).append(sound)


def _figured(at: Element, part: _Part) -> None:
    offset = max(part.now, part.figured)
    ticks = number(at.text("duration"))
    signs, dash = stack_of(at, part.wrong)
    part.figured = offset + (ticks / part.divisions if ticks and ticks > 0 else ZERO)
    if signs or dash:
        part.stacks.append((part.bar, Stack(at, offset, signs, dash)))


def _strands(part: _Part) -> list[Strand]:
    """The strands of a part, its figures over the lowest of them."""
    found: list[Strand] = []
    for staff, sounds in _layers(part):
        for notes in untangled(sounds):
            found.append(Strand(part.name, notes, part.clefs.get(staff, [])))
    if found and part.stacks:
        min(found, key=lambda s: s.mean).stacks = part.stacks
    transposed(found, part.steps, part.semitones, part.whole)
    return found


def _layers(part: _Part) -> list[tuple[str, list[Sound]]]:
    """The notes of each voice, with the stave on which it begins. A voice whose notes overlap between two
    staves is two voices under one name."""
    voices: dict[str, list[tuple[str, Sound]]] = {}
    for (voice, staff), sounds in part.sounds.items():
        voices.setdefault(voice, []).extend((staff, s) for s in sounds)
    layers = []
    for notes in voices.values():
        notes.sort(key=lambda item: (item[1].bar, item[1].offset))
        crossing = any(
            a[0] != b[0] and a[1].bar == b[1].bar and a[1].offset + a[1].length > b[1].offset
            for a, b in pairwise(notes)
        )
        staves = dict.fromkeys(staff for staff, _ in notes)
        if crossing:
            layers += [(staff, [s for st, s in notes if st == staff]) for staff in staves]
        else:
            layers.append((notes[0][0], [s for _, s in notes]))
    return layers
