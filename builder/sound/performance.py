"""A performance: what each voice sounds, in seconds and hertz, with articulation.

The organ has no swell: what a player shapes is when a key is let go. Good notes (on strong parts of the
bar) are set off by a silence before them; bad notes lie closer to what precedes (the doctrine of good
and bad notes as in G. Diruta, *Il Transilvano*, 1593, from memory; the numbers are our own).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from builder.counterpoint import Phrase
from builder.music import TUNINGS, Note, Part, Pitch, Score, Tuning, Version, metrical_weight, read_tuning
from builder.sound.keyboard import played_key
from builder.sound.tempo import TempoMap
from builder.sound.warnings import keyboard_warnings, tuning_warnings


@dataclass(frozen=True, slots=True)
class Articulation:
    """Silence before the next note of the same voice, as a share of the note and at most so long.

    `strong`, `beat`, `weak`: shares before a note on the first or middle beat, on another beat, and
    between beats; `longest_strong` …: the most, in seconds. `repeated`: the least silence, in
    seconds, before the same key. `slurred`: before the resolution of a syncopation that falls by step.
    """

    strong: float = 0.2
    beat: float = 0.12
    weak: float = 0.07
    longest_strong: float = 0.11
    longest_beat: float = 0.07
    longest_weak: float = 0.035
    repeated: float = 0.06
    slurred: float = 0.012


NON_LEGATO = Articulation()
LEGATO = Articulation(*(0.0,) * 8)
"""Every key held for its full written length."""


@dataclass(frozen=True, slots=True)
class Sounded:
    """One sounding note: voice, spelled pitch, hertz, start and end in seconds, and the ids of the
    written pieces that are tied into it, each with its own start in seconds."""

    voice: str
    pitch: Pitch
    hertz: float
    start: float
    end: float
    pieces: tuple[tuple[str, float], ...]
    onset: Fraction
    duration: Fraction


@dataclass(frozen=True, slots=True)
class Performance:
    """A score as it is played. `notes` run in order of start, then from the highest voice; `bars` and
    `beats` are seconds; `warnings` tell of notes the tuning or the
    keyboard lacks and of intervals across the wolf."""

    title: str
    version: Version
    voices: tuple[str, ...]
    notes: tuple[Sounded, ...]
    end: float
    bars: tuple[tuple[int, float], ...]
    beats: tuple[float, ...]
    tuning: Tuning
    a4: float
    warnings: tuple[Phrase, ...] = ()


def perform(
    score: Score,
    tempo: TempoMap,
    tuning: Tuning | str = TUNINGS["quarter-comma"],
    *,
    a4: float = 440.0,
    articulation: Articulation = NON_LEGATO,
    short_octave: bool = False,
) -> Performance:
    """Play a notated score (`music.notated`) in a tuning, with A above middle C at `a4` hertz. With a
    short octave the keys it lacks sound an octave higher, and the warnings say so.

    `ValueError` for an unknown tuning or a pitch outside 392–520 Hz.

    >>> from builder.music import Bar, Metre, Signature, Version
    >>> d, a = Pitch.parse("D4"), Pitch.parse("A4")
    >>> notes = Note(Fraction(0), Fraction(2), d), Note(Fraction(2), Fraction(2), a)
    >>> bars = (Bar(1, Fraction(0), Fraction(4)),)
    >>> score = Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, (Part("cantus", notes),))
    >>> played = perform(score, TempoMap(((Fraction(0), 500_000),)))
    >>> [(round(n.hertz, 2), n.start, round(n.end, 3)) for n in played.notes]
    [(294.25, 0.0, 0.89), (440.0, 1.0, 2.0)]
    """
    if isinstance(tuning, str):
        tuning = read_tuning(tuning)
    notes = [
        replace(note, pitch=pitch, hertz=tuning.frequency(pitch, a4))
        for part in score.parts
        for note in _voice(part, score, tempo, articulation)
        for pitch in (played_key(note.pitch, short_octave),)
    ]
    order = {part.voice: n for n, part in enumerate(score.parts)}
    return Performance(
        title=score.title,
        version=score.version,
        voices=tuple(order),
        notes=tuple(sorted(notes, key=lambda n: (n.start, order[n.voice]))),
        end=tempo.seconds(score.end),
        bars=tempo.bars(score.bars),
        beats=tempo.beats(score.bars, score.metre),
        tuning=tuning,
        a4=a4,
        warnings=tuning_warnings(score, tuning) + keyboard_warnings(score, short_octave),
    )


def _voice(part: Part, score: Score, tempo: TempoMap, articulation: Articulation) -> list[Sounded]:
    """The notes of a voice in time, not yet tuned."""
    groups = _tied(part)
    found = []
    for n, group in enumerate(groups):
        first, last = group[0], group[-1]
        following = groups[n + 1][0] if n + 1 < len(groups) else None
        start, end = tempo.seconds(first.onset), tempo.seconds(last.end)
        gap = _gap(first, last, following, score, end - start, articulation)
        assert first.pitch is not None
        found.append(
            Sounded(
                part.voice,
                first.pitch,
                0.0,
                start,
                end - gap,
                tuple((piece.id, tempo.seconds(piece.onset)) for piece in group if piece.id),
                first.onset,
                last.end - first.onset,
            )
        )
    return found


def _tied(part: Part) -> list[list[Note]]:
    """The notes of a part in groups that sound as one."""
    groups: list[list[Note]] = []
    joins = False
    for note in part.notes:
        if note.pitch is None:
            joins = False
            continue
        if joins and groups[-1][-1].pitch == note.pitch and groups[-1][-1].end == note.onset:
            groups[-1].append(note)
        else:
            groups.append([note])
        joins = note.tied
    return groups


def _gap(
    first: Note, last: Note, following: Note | None, score: Score, length: float, articulation: Articulation
) -> float:
    """Seconds of silence that a note leaves before what follows it."""
    if last.end >= score.end:
        return 0.0
    if following is None or following.onset > last.end:
        return min(articulation.beat * length, articulation.longest_beat)
    gap = _before(following.onset, score, length, articulation)
    if _resolves(first, last, following, score):
        gap = min(gap, articulation.slurred)
    if following.pitch == last.pitch:
        gap = max(gap, min(articulation.repeated, 0.4 * length))
    return gap


def _before(onset: Fraction, score: Score, length: float, articulation: Articulation) -> float:
    weight = metrical_weight(score.bars, score.metre, onset)
    if weight >= 2:
        return min(articulation.strong * length, articulation.longest_strong)
    if weight == 1:
        return min(articulation.beat * length, articulation.longest_beat)
    return min(articulation.weak * length, articulation.longest_weak)


def _resolves(first: Note, last: Note, following: Note, score: Score) -> bool:
    """A note held over a stronger beat than its own that falls by step: a suspension as the hand
    feels it, whatever stands below."""
    if first.pitch is None or following.pitch is None:
        return False
    if first.pitch.diatonic - following.pitch.diatonic != 1:
        return False
    beat = score.metre.beat
    own = metrical_weight(score.bars, score.metre, first.onset)
    later = first.onset - first.onset % beat + beat
    while later < last.end:
        if metrical_weight(score.bars, score.metre, later) > own:
            return True
        later += beat
    return False
