"""What a piece asks of a tuning and a keyboard that they do not have, told with bar and beat and advice."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from functools import reduce

from builder.counterpoint import Phrase, said
from builder.music import Missing, Note, Score, Tuning, missing, place
from builder.music.keyboard import HIGHEST_KEY, LOWEST_KEY
from builder.sound.keyboard import played_key

Warned = tuple[Fraction, Phrase]
"""When there is something to say, in quarter notes, and what."""


def tuning_warnings(score: Score, tuning: Tuning) -> tuple[Phrase, ...]:
    """Notes without a key, and written consonances that howl, in order of time.

    >>> from builder.music import TUNINGS, Bar, Metre, Part, Pitch, Signature, Version
    >>> part = Part("altus", (Note(Fraction(0), Fraction(4), Pitch.parse("D#4")),))
    >>> bars = (Bar(1, Fraction(0), Fraction(4)),)
    >>> score = Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, (part,))
    >>> (warning,) = tuning_warnings(score, TUNINGS["quarter-comma"])
    >>> print(said(warning))
    bar 1, beat 1, altus: Quarter-comma meantone has no D♯; E♭ sounds, 41 cents too high; tune that key as \
D♯ (`quarter-comma, D# for Eb`), or split it (`quarter-comma, split D#`), or play the piece a tone lower
    >>> print(said(warning, "de"))
    Takt 1, Schlag 1, Altus: die Stimmung „mitteltönig (Viertelkomma)“ hat kein Dis; es klingt Es, 41 Cent \
zu hoch; stimme diese Taste als Dis (`quarter-comma, D# for Eb`), oder teile sie \
(`quarter-comma, split D#`), oder spiele das Stück einen Ton tiefer
    """
    sounding = [(part.voice, note) for part in score.parts for note in part.sounding()]
    sounding.sort(key=lambda s: s[1].onset)
    return _in_order(_lacking(score, tuning, sounding) + _howling(score, tuning, sounding))


def keyboard_warnings(score: Score, short_octave: bool = False) -> tuple[Phrase, ...]:
    """Notes that the keyboard (C2 to C6) has no key for, in order of time.

    >>> from builder.music import Bar, Metre, Part, Pitch, Signature, Version
    >>> part = Part("bassus", (Note(Fraction(0), Fraction(4), Pitch.parse("B1")),))
    >>> bars = (Bar(1, Fraction(0), Fraction(4)),)
    >>> score = Score("", Version.PLAIN, Metre.parse("C"), Signature(), bars, (part,))
    >>> print(said(keyboard_warnings(score)[0]).partition(";")[0])
    bar 1, beat 1, bassus: B1 lies off the keyboard (C2 to C6) and is silent
    """
    found: list[Warned] = []
    for part in score.parts:
        for note in part.sounding():
            if note.pitch is None:
                continue
            played = played_key(note.pitch, short_octave)
            if not LOWEST_KEY.midi <= note.pitch.midi <= HIGHEST_KEY.midi:
                found.append(_at(score, note, part.voice, what=Phrase.of("silent", pitch=note.pitch)))
            elif played != note.pitch:
                what = Phrase.of("octave-sounds", pitch=note.pitch, instead=played)
                found.append(_at(score, note, part.voice, what=what))
    return _in_order(found)


def advice(lack: Missing) -> Phrase:
    """What to do about a note that a tuning lacks.

    >>> from builder.music import TUNINGS, Pitch
    >>> (lack,) = missing([Pitch.parse("Ab4")], TUNINGS["quarter-comma"])
    >>> said(advice(lack), "it")
    'accorda quel tasto come la♭ (`quarter-comma, Ab for G#`), o spezzalo \
(`quarter-comma, split Ab`), o suona il pezzo un tono sopra'
    """
    ways: list[Phrase] = []
    for kind, asked in lack.remedies:
        if kind == "split":
            kind = "split-it" if ways else "split-key"  # whether the key has been named
        ways.append(Phrase.of(kind, letter=lack.letter, asked=asked))
    return reduce(lambda one, other: Phrase.of("or", one=one, other=other), ways or [Phrase("no-remedy")])


def _lacking(score: Score, tuning: Tuning, sounding: list[tuple[str, Note]]) -> list[Warned]:
    lacks = {m.letter: m for m in missing((n.pitch for _, n in sounding if n.pitch), tuning)}
    found = []
    for voice, note in sounding:
        lack = lacks.get(note.pitch.letter) if note.pitch else None
        if lack is None:
            continue
        way = "" if lack.off is None else "-high" if lack.off > 0 else "-low"
        what = Phrase.of(
            f"lacking{way}",
            tuning=tuning.name,
            letter=lack.letter,
            instead=lack.instead,
            cents=f"{abs(lack.off or 0):.0f}",
            advice=advice(lack),
        )
        found.append(_at(score, note, voice, what=what))
    return found


def _howling(score: Score, tuning: Tuning, sounding: list[tuple[str, Note]]) -> list[Warned]:
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
            error = tuning.error(low, high) or 0.0
            what = Phrase.of(
                f"howling-{'wide' if error > 0 else 'narrow'}",
                ends=(low, high),
                cents=f"{abs(error):.0f}",
                tuning=tuning.name,
            )
            found.append(_at(score, against, voice, other, what=what))
    return found


def _at(score: Score, note: Note, *voices: str, what: Phrase) -> Warned:
    where = place(score.bars, score.metre, note.onset)
    return note.onset, Phrase.of("at", place=where, voices=voices, what=what)


def _in_order(found: Iterable[Warned]) -> tuple[Phrase, ...]:
    """By time; what falls together, as English spells it."""
    return tuple(phrase for _, phrase in sorted(found, key=lambda w: (w[0], said(w[1]))))
