"""The eight tones as used at the organ, and how they are weighed against the music.

The table is from memory of the general literature (north Italy, 17th century); sources differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.analysis.findings import Cadence, Entry, Evidence, ToneReading
from builder.analysis.wording import Say, distance, letter, listing
from builder.music import Interval, Pitch, Signature


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone: its final, where its versets close, its signature, the letters on which entries
    begin, and its usual cadences, the chief one first."""

    number: int
    final: str
    close: str
    signature: str
    entries: tuple[str, ...]
    cadences: tuple[str, ...]


TONES = (
    Tone(1, "D", "D", "none", ("D", "A"), ("D", "A", "F")),
    Tone(2, "G", "G", "Bb", ("G", "D"), ("G", "D", "Bb")),
    Tone(3, "A", "E", "none", ("A", "E"), ("A", "E", "C")),
    Tone(4, "E", "E", "none", ("E", "B"), ("E", "A", "G")),
    Tone(5, "C", "C", "none", ("C", "G"), ("C", "G", "E")),
    Tone(6, "F", "F", "Bb", ("F", "C"), ("F", "C", "A")),
    Tone(7, "D", "D", "Bb", ("D", "A"), ("D", "A", "F")),
    Tone(8, "G", "G", "none", ("G", "D"), ("G", "C", "D")),
)

NEAR = 2.0
"""A tone within this weight of the likeliest is a second choice worth naming."""

CONTRADICTED = 3.0
"""A tone named by the source this far below the likeliest is contradicted by the music."""

LAST, HALF_LAST, SIGN, FOREIGN_SIGN, ENTRIES, CADENCES, MI, MOVED = 4.0, 0.5, 3.0, -1.5, 2.0, 2.5, 1.0, -2.0
"""Weights (our own judgement, no source): last note, last note on the fifth, signature, each
accidental too many or too few, entries, cadences, the close on mi, each fifth of transposition."""

_FIFTH = Interval(4, 7)
_FOURTH = Interval(3, 5)


@dataclass(frozen=True, slots=True)
class Heard:
    """What the music offers for weighing: last note, signature, entries and cadences."""

    last: str
    signature: Signature
    entries: tuple[str, ...]
    cadences: tuple[Cadence, ...]


def weigh(heard: Heard, say: Say) -> tuple[ToneReading, ...]:
    """All eight tones, the likeliest first, each at the transposition that suits it best."""
    readings = []
    for tone in TONES:
        moved = [_reading(heard, tone, fifths, say) for fifths in (0, 1, -1, 2, -2, 3, -3)]
        readings.append(max(moved, key=lambda r: r.weight))
    return tuple(sorted(readings, key=lambda r: (-r.weight, r.tone)))


def near(readings: Sequence[ToneReading]) -> tuple[ToneReading, ...]:
    """The likeliest reading and those that come near it."""
    return tuple(r for r in readings if r.weight > readings[0].weight - NEAR)


def contradicted(tone: int, readings: Sequence[ToneReading]) -> bool:
    """Whether the music speaks against a tone that the source names."""
    weight = next(r.weight for r in readings if r.tone == tone)
    return weight < readings[0].weight - CONTRADICTED


def material(last: str, signature: Signature, entries: Sequence[Entry], found: Sequence[Cadence]) -> Heard:
    """What the music offers, gathered from the findings."""
    return Heard(last, signature, tuple(e.pitch.letter for e in entries), tuple(found))


def rests_on_fifth(last: str, readings: Sequence[ToneReading]) -> str:
    """The final of the likeliest tone when the last note is the fifth above it and not a close of
    the tone; else empty. A verset that ends so ends with a half cadence."""
    tone = TONES[readings[0].tone - 1]
    return tone.final if moved(tone.final, 1) == last and tone.close != last else ""


def in_table(last: str, signature: Signature) -> bool:
    """Whether some tone of the table has this signature and this letter as its final or close."""
    return any(last in (t.final, t.close) and str(signature) == t.signature for t in TONES)


def moved(name: str, fifths: int) -> str:
    """A letter moved by fifths, upwards when positive.

    >>> moved("D", -1), moved("F", 1), moved("Bb", 2)
    ('G', 'C', 'C')
    """
    pitch = Pitch.parse(f"{name}4")
    for _ in range(abs(fifths)):
        pitch = pitch.up(_FIFTH if fifths > 0 else _FOURTH)
    return pitch.letter


def _reading(heard: Heard, tone: Tone, fifths: int, say: Say) -> ToneReading:
    wanted = Signature.parse(tone.signature).fifths + fifths
    evidence = []
    if fifths:
        evidence.append(_moved(tone, fifths, say))
    evidence += [
        _last(heard, tone, fifths, say),
        _signature(heard, tone, wanted, say),
        _entries(heard, tone, fifths, say),
        _cadences(heard, tone, fifths, say),
    ]
    if any(c.kind == "mi" for c in heard.cadences[-1:]) and heard.last == moved(tone.close, fifths):
        weight = {4: MI, 3: MI / 2}.get(tone.number, 0.0)
        if weight:
            evidence.append(Evidence(say("tone.mi"), weight))
    kept = tuple(e for e in evidence if e.weight or e.text)
    return ToneReading(tone.number, round(sum(e.weight for e in kept), 3), kept)


def _moved(tone: Tone, fifths: int, say: Say) -> Evidence:
    """A transposition named by its smallest interval: two fifths up are a tone."""
    steps = (4 * fifths) % 7
    up = steps <= 3 or fifths == 1
    interval = distance(say, steps if up else 7 - steps)
    text = say(
        "tone.transposed",
        tone=say(f"tone.{tone.number}"),
        interval=interval,
        way=say("tone.higher" if up else "tone.lower"),
    )
    return Evidence(text, MOVED * abs(fifths))


def _last(heard: Heard, tone: Tone, fifths: int, say: Say) -> Evidence:
    final, close = moved(tone.final, fifths), moved(tone.close, fifths)
    name = letter(say, heard.last)
    if heard.last == close:
        key = "tone.last.final" if close == final else "tone.last.close"
        return Evidence(say(key, letter=name), LAST)
    if heard.last == final:
        return Evidence(say("tone.last.final", letter=name), LAST - 0.5)
    if heard.last == moved(final, 1):
        return Evidence(say("tone.last.half", letter=name), HALF_LAST)
    return Evidence(say("tone.last.no", letter=name, final=letter(say, final)), -LAST / 2)


def _signature(heard: Heard, tone: Tone, wanted: int, say: Say) -> Evidence:
    off = abs(heard.signature.fifths - wanted)
    here = _spoken(say, heard.signature)
    if not off:
        return Evidence(say("tone.signature", signature=here), SIGN)
    signs = ("Bb", "Eb", "Ab", "Db", "Gb") if wanted < 0 else ("F#", "C#", "G#", "D#", "A#")
    text = say("tone.signature.no", signature=here, wanted=_spoken(say, Signature(signs[: abs(wanted)])))
    return Evidence(text, FOREIGN_SIGN * off)


def _spoken(say: Say, signature: Signature) -> str:
    return listing(say, [letter(say, a) for a in signature.accidentals]) or say("none")


def _entries(heard: Heard, tone: Tone, fifths: int, say: Say) -> Evidence:
    letters = [moved(name, fifths) for name in tone.entries]
    told = listing(say, [letter(say, name) for name in letters])
    count = sum(e in letters for e in heard.entries)
    if not heard.entries or not count:
        either = listing(say, [letter(say, name) for name in letters], "or")
        return Evidence(say("tone.entries.no", letters=either), 0.0)
    share = count / len(heard.entries)
    return Evidence(say("tone.entries", count=count, all=len(heard.entries), letters=told), ENTRIES * share)


def _cadences(heard: Heard, tone: Tone, fifths: int, say: Say) -> Evidence:
    """Cadences on the tone's degrees, the chief degree counting most, evaded ones half."""
    letters = [moved(name, fifths) for name in tone.cadences]
    told = listing(say, [letter(say, name) for name in letters])
    values = dict(zip(letters, (1.0, 0.8, 0.7)))
    weights = [0.5 if c.kind in ("evaded", "half") else 1.0 for c in heard.cadences]
    count = sum(c.degree in values for c in heard.cadences)
    if not count:
        return Evidence(say("tone.cadences.no", letters=told), 0.0)
    got = sum(w * values.get(c.degree, 0.0) for w, c in zip(weights, heard.cadences))
    text = say("tone.cadences", count=count, all=len(heard.cadences), letters=told)
    return Evidence(text, round(CADENCES * got / sum(weights), 3))
