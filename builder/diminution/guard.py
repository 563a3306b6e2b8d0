"""Marks what a diminution must leave alone: entries of the theme, pinned notes, suspensions until
they have sounded, and the notes against which they sound."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from builder.analysis import Analysis
from builder.diminution.texture import SILENT, Stem, Texture

_AGREE = frozenset({(0, 0), (2, 3), (2, 4), (4, 7), (5, 8), (5, 9)})


def mark(texture: Texture, analysis: Analysis, pinned: Iterable[tuple[str, Fraction, Fraction]] = ()) -> None:
    """Set `earliest` and `zone` of every plain note; `pinned` are voice, start and end of stretches
    set by hand."""
    pins = tuple(pinned)
    for stems in texture.stems:
        for stem in stems:
            _zone(texture, stem, analysis)
            if stem.after is None or _kept(texture, stem, analysis, pins):
                stem.earliest = stem.end
    _suspensions(texture)
    _closings(texture, analysis)


def _closings(texture: Texture, analysis: Analysis) -> None:
    """The leading note of each cadence, above the bass, and the suspension before it: where the
    groppo belongs. It rises a semitone, in the cadence on mi a tone."""
    rise = {c.onset: 2 if c.kind == "mi" else 1 for c in analysis.cadences}
    for stems in texture.stems:
        for stem in stems:
            after = stem.after
            if after is None or after.diatonic - stem.pitch.diatonic != 1:
                continue
            if after.midi - stem.pitch.midi != rise.get(stem.note.end):
                continue
            if not any(SILENT < line.midi[stem.end - 1] < stem.pitch.midi for line in texture.lines):
                continue
            stem.closes = True
            if stem.index and stems[stem.index - 1].pitch.diatonic == stem.pitch.diatonic + 1:
                stems[stem.index - 1].closes = stem.before is not None


def _kept(
    texture: Texture, stem: Stem, analysis: Analysis, pins: tuple[tuple[str, Fraction, Fraction], ...]
) -> bool:
    name = texture.voices[stem.voice]
    begin, end = stem.note.onset, stem.note.end
    if any(e.voice == name and begin < e.end and end > e.onset for e in analysis.entries):
        return True
    # The note before a pinned stretch is kept too: a pattern aims at the next plain note, which the
    # hand may have left.
    return any(v == name and begin < stop and end >= start for v, start, stop in pins)


def _zone(texture: Texture, stem: Stem, analysis: Analysis) -> None:
    if any(c.start <= stem.note.onset < c.onset for c in analysis.cadences):
        stem.zone = "cadence"
    elif stem.opens:
        stem.zone = "opening"


def _suspensions(texture: Texture) -> None:
    """A voice held into a dissonance that another strikes waits until half of it has sounded; the
    voice that strikes waits until it is resolved."""
    for stems in texture.stems:
        for stem in stems:
            for tick, other in _struck(texture, stem):
                stem.suspended = True
                stem.earliest = max(stem.earliest, tick + (stem.end - tick + 1) // 2)
                agent = _stem_at(texture, other, tick)
                if agent is not None:
                    agent.earliest = max(agent.earliest, min(agent.end, stem.end))


def _struck(texture: Texture, stem: Stem) -> Iterable[tuple[int, int]]:
    """Where another voice strikes a dissonance against this held note, and which."""
    for n, line in enumerate(texture.lines):
        if n == stem.voice:
            continue
        for tick in range(stem.start + 1, stem.end):
            if line.start[tick] != tick or line.dia[tick] == SILENT:
                continue
            if (
                not _consonant(
                    stem.pitch.diatonic, stem.pitch.midi, line.dia[tick], line.midi[tick], texture, tick
                )
                and stem.after is not None
                and stem.pitch.diatonic - stem.after.diatonic == 1
            ):
                yield tick, n


def _consonant(dia: int, key: int, other: int, other_key: int, texture: Texture, tick: int) -> bool:
    steps, semitones = abs(dia - other) % 7, abs(key - other_key) % 12
    if (steps, semitones) in _AGREE:
        return True
    lower = min(key, other_key)
    fourth = (steps, semitones) in {(3, 5), (3, 6), (4, 6)}
    return fourth and any(SILENT < line.midi[tick] < lower for line in texture.lines)


def _stem_at(texture: Texture, voice: int, tick: int) -> Stem | None:
    for stem in texture.stems[voice]:
        if stem.start <= tick < stem.end:
            return stem
    return None
