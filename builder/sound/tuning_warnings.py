"""What a piece asks of a tuning that the tuning does not have, told with bar and beat and advice."""

from __future__ import annotations

from fractions import Fraction

from builder.music import Interval, Note, Score, Tuning, missing, place


def tuning_warnings(score: Score, tuning: Tuning) -> tuple[str, ...]:
    """Notes without a key, and written consonances that howl, in order of time.

    >>> from builder.music import TUNINGS, Bar, Metre, Part, Pitch, Signature
    >>> part = Part("altus", (Note(Fraction(0), Fraction(4), Pitch.parse("D#4")),))
    >>> bars = (Bar(1, Fraction(0), Fraction(4)),)
    >>> score = Score("", "plain", Metre.parse("C"), Signature(), bars, (part,))
    >>> print(*tuning_warnings(score, TUNINGS["quarter-comma"]))
    bar 1, beat 1, altus: Quarter-comma meantone has no D#; Eb sounds, 41 cents too high; tune that key as \
D sharp (quarter-comma, D# for Eb), or split it (quarter-comma, split D#), or play the piece a tone lower
    """
    sounding = [(part.voice, note) for part in score.parts for note in part.sounding()]
    sounding.sort(key=lambda s: s[1].onset)
    found = _lacking(score, tuning, sounding) + _howling(score, tuning, sounding)
    return tuple(text for _, text in sorted(found))


def _lacking(score: Score, tuning: Tuning, sounding: list[tuple[str, Note]]) -> list[tuple[Fraction, str]]:
    lacks = {m.letter: m for m in missing((n.pitch for _, n in sounding if n.pitch), tuning)}
    found = []
    for voice, note in sounding:
        lack = lacks.get(note.pitch.letter) if note.pitch else None
        if lack is None:
            continue
        off = ""
        if lack.off is not None:
            off = f", {abs(lack.off):.0f} cents too {'high' if lack.off > 0 else 'low'}"
        where = place(score.bars, score.metre, note.onset)
        text = f"{where}, {voice}: {tuning.title} has no {lack.letter}; {lack.instead} sounds{off}"
        found.append((note.onset, f"{text}; {lack.advice}"))
    return found


def _howling(score: Score, tuning: Tuning, sounding: list[tuple[str, Note]]) -> list[tuple[Fraction, str]]:
    found = []
    for n, (voice, note) in enumerate(sounding):
        for other, against in sounding[n + 1 :]:
            if against.onset >= note.end:
                break
            if note.pitch is None or against.pitch is None:
                continue
            low, high = sorted((note.pitch, against.pitch))
            if not (tuning.has(low) and tuning.has(high)) or not tuning.wolf(low, high, spelled=True):
                continue
            where = place(score.bars, score.metre, against.onset)
            name = Interval.between(low, high).name
            text = f"{where}, {voice} and {other}: {low}–{high} ({name})"
            error = tuning.error(low, high) or 0.0
            off = f"is {abs(error):.0f} cents too {'wide' if error > 0 else 'narrow'} in {tuning.title}"
            found.append(
                (against.onset, f"{text} {off}; choose another tuning or another place for the wolf")
            )
    return found
