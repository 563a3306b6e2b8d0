"""Standard MIDI files: format 1, a conductor's track and a named track for each voice.

Source: Standard MIDI Files 1.0 and MIDI Tuning Standard (MIDI Manufacturers Association); message
layouts from memory, read back in the tests through a reference reader.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from builder.music import Metre, Note, Part, Pitch, Score, Tuning, read_tuning
from builder.sound.performance import Performance
from builder.sound.tempo import TempoMap

CHURCH_ORGAN = 19
"""General MIDI programme, counted from 0."""
VELOCITY = 80
BEND_RANGE = 2
"""Semitones either way, as RPN 0 sets it before the first note."""
_UNIT = 480


@dataclass(frozen=True, slots=True)
class Event:
    """A message at a tick. Among those of one tick lower `order` comes first: settings, note offs,
    retunings, note ons."""

    tick: int
    order: int
    data: bytes


SLOWEST = 0xFFFFFF
"""Microseconds of a quarter note: more than three bytes cannot be told (Standard MIDI Files 1.0)."""


def midi(
    score: Score,
    tempo: TempoMap | tuple[Fraction, Fraction],
    *,
    tuning: Tuning | str | None = None,
    a4: float = 440.0,
    carrier: str = "bend",
    rights: str = "",
    played: Performance | None = None,
) -> bytes:
    """A notated score as a MIDI file; `tempo` is a tempo map or (beat in quarter notes, beats a minute).

    Without `tuning` the keys are written and nothing is said of how they are tuned. With it the file
    carries the tuning: `carrier` is `bend` (a channel bend before each note; any player follows it)
    or `mts` (single notes retuned after the MIDI Tuning Standard). With `played`, keys are released as
    in that performance (in the same tempo map), else at the written end. `ValueError` for an unknown
    tuning or carrier.
    """
    if carrier not in ("bend", "mts"):
        raise ValueError(f"{carrier!r} carries no tuning: choose bend or mts")
    tuned = read_tuning(tuning) if isinstance(tuning, str) else tuning
    unit = math.lcm(_UNIT, *(n.onset.denominator for p in score.parts for n in p.notes))
    conductor = list(_conductor(score, tempo, unit, rights))
    tracks = []
    for channel, part in enumerate(score.parts):
        keys = [_key(n, tuned, a4) for n in part.sounding()]
        bends = keys if tuned and carrier == "bend" else None
        tracks.append(_voice(part, channel, unit, bends, keys, _releases(part, tempo, played)))
    if tuned and carrier == "mts":
        conductor += _retunings(score, unit, tuned, a4)
    chunks = [_track(events) for events in (conductor, *tracks)]
    header = b"MThd" + _long(6) + _short(1) + _short(len(chunks)) + _short(unit)
    return header + b"".join(chunks)


@dataclass(frozen=True, slots=True)
class Key:
    """The key that is struck for a note and by how many cents it differs from equal temperament at
    440 hertz."""

    number: int
    cents: float


def _key(note: Note, tuning: Tuning | None, a4: float) -> Key:
    assert note.pitch is not None
    return tuned_key(note.pitch, tuning, a4) if tuning else Key(note.pitch.midi, 0.0)


def tuned_key(pitch: Pitch, tuning: Tuning, a4: float = 440.0) -> Key:
    """The nearest key of equal temperament at 440 hertz, and what is left in cents.

    >>> key = tuned_key(Pitch.parse("E4"), read_tuning("quarter-comma"))
    >>> key.number, round(key.cents, 2)
    (64, -3.42)
    """
    height = 69 + 12 * math.log2(tuning.frequency(pitch, a4) / 440.0)
    number = round(height)
    return Key(number, 100 * (height - number))


def _conductor(
    score: Score, tempo: TempoMap | tuple[Fraction, Fraction], unit: int, rights: str
) -> Iterator[Event]:
    yield Event(0, 0, _meta(3, score.title.encode()))
    if rights:
        yield Event(0, 0, _meta(2, rights.encode()))
    yield Event(0, 0, _meta(0x58, _metre(score.metre)))
    yield Event(0, 0, _meta(0x59, bytes([score.signature.fifths % 256, 0])))
    for onset, length in _steps(tempo):
        yield Event(int(onset * unit), 0, _meta(0x51, min(length, SLOWEST).to_bytes(3, "big")))
    yield Event(int(score.end * unit), 9, b"")


def _steps(tempo: TempoMap | tuple[Fraction, Fraction]) -> Sequence[tuple[Fraction, int]]:
    if isinstance(tempo, TempoMap):
        return tempo.steps
    beat, rate = tempo
    return ((Fraction(0), round(60_000_000 / (beat * rate))),)


def _metre(metre: Metre) -> bytes:
    """Count, unit as a power of two, MIDI clocks a beat (24 a quarter note), 32nds a quarter note."""
    return bytes([metre.count, metre.unit.bit_length() - 1, int(24 * metre.beat), 8])


def _voice(
    part: Part,
    channel: int,
    unit: int,
    bends: Sequence[Key] | None,
    keys: Sequence[Key],
    releases: Mapping[Fraction, float],
) -> Iterator[Event]:
    yield Event(0, 0, _meta(3, part.voice.capitalize().encode()))
    yield Event(0, 0, bytes([0xC0 | channel, CHURCH_ORGAN]))
    if bends is not None:
        for control, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0), (101, 127), (100, 127)):
            yield Event(0, 0, bytes([0xB0 | channel, control, value]))
    for note, key in zip(part.sounding(), keys, strict=True):
        on = int(note.onset * unit)
        off = max(on + 1, round(releases.get(note.onset, note.end) * unit))
        if bends is not None:
            yield Event(on, 2, bytes([0xE0 | channel, *_bend(key.cents)]))
        yield Event(on, 3, bytes([0x90 | channel, key.number, VELOCITY]))
        yield Event(off, 1, bytes([0x80 | channel, key.number, 64]))


def _releases(
    part: Part, tempo: TempoMap | tuple[Fraction, Fraction], played: Performance | None
) -> Mapping[Fraction, float]:
    """Where each note of a voice is let go, in quarter notes by its onset."""
    if played is None or not isinstance(tempo, TempoMap):
        return {}
    return {n.onset: tempo.quarters(n.end) for n in played.notes if n.voice == part.voice}


def _bend(cents: float) -> bytes:
    """Low and high seven bits; 8192 is no bend."""
    value = max(0, min(16383, 8192 + round(8192 * cents / (100 * BEND_RANGE))))
    return bytes([value & 0x7F, value >> 7])


def _retunings(score: Score, unit: int, tuning: Tuning, a4: float) -> Iterator[Event]:
    """Real-time single note tuning changes: each key before it is first struck, and again where one
    key serves two spellings."""
    now: dict[int, float] = {}
    notes = sorted((n for p in score.parts for n in p.sounding()), key=lambda n: n.onset)
    for note in notes:
        key = _key(note, tuning, a4)
        if now.get(key.number) != key.cents:
            now[key.number] = key.cents
            data = bytes([0x7F, 0x7F, 0x08, 0x02, 0x00, 0x01, key.number, *_frequency(key), 0xF7])
            yield Event(int(note.onset * unit), 2, b"\xf0" + _variable(len(data)) + data)


def _frequency(key: Key) -> bytes:
    """MIDI Tuning Standard: the semitone below, then the rest in 16384ths of a semitone."""
    height = round((key.number + key.cents / 100) * 16384)
    semitone, rest = divmod(height, 16384)
    return bytes([semitone, rest >> 7, rest & 0x7F])


def _track(events: Iterable[Event]) -> bytes:
    """A chunk: each event after the time since the last, then the end of the track."""
    data = bytearray()
    now = 0
    for event in sorted(events, key=lambda e: (e.tick, e.order)):
        if event.data:
            data += _variable(event.tick - now) + event.data
            now = event.tick
        elif event.order == 9:
            data += _variable(event.tick - now) + _meta(0x2F, b"")
            return b"MTrk" + _long(len(data)) + bytes(data)
    data += b"\0" + _meta(0x2F, b"")
    return b"MTrk" + _long(len(data)) + bytes(data)


def _meta(kind: int, data: bytes) -> bytes:
    return bytes([0xFF, kind]) + _variable(len(data)) + data


def _variable(number: int) -> bytes:
    """A number in groups of seven bits, all but the last marked.

    >>> _variable(0x40).hex(), _variable(0x2000).hex(), _variable(0x0FFFFFFF).hex()
    ('40', 'c000', 'ffffff7f')
    """
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(0x80 | number & 0x7F)
    return bytes(reversed(groups))


def _long(number: int) -> bytes:
    return number.to_bytes(4, "big")


def _short(number: int) -> bytes:
    return number.to_bytes(2, "big")
