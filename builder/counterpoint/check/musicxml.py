"""Scores from outside: MusicXML files checked by the same rules."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from builder.counterpoint.check.check import check
from builder.counterpoint.check.finding import Finding
from builder.music import QUARTER_COMMA, Bar, Metre, Note, Part, Pitch, Score, Signature, Tuning, Version
from builder.source.errors import SourceErrors
from builder.source.files import document
from builder.source.limits import MOST_SCORE_NOTES

_NAMES = {
    2: ("cantus", "bassus"),
    3: ("cantus", "tenor", "bassus"),
    4: ("cantus", "altus", "tenor", "bassus"),
}


class UnreadableScore(ValueError):
    """A file that is no MusicXML score of two to five voices; the text says what is wrong."""


def check_musicxml(
    path: str | Path, *, keyboard: bool = False, tuning: Tuning = QUARTER_COMMA
) -> tuple[Finding, ...]:
    """Check a MusicXML file of two to five voices; `UnreadableScore` when it is not one.

    `keyboard` judges hands, compass and tuning as well.

    >>> from tempfile import TemporaryDirectory
    >>> from builder.counterpoint.rules.example import example
    >>> from builder.edition.exchange.musicxml import musicxml
    >>> from builder.music import notated
    >>> fifths = notated(example("cantus A4/1 B4/1\\nbassus D3/1 E3/1"))
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "fifths.musicxml"
    ...     _ = file.write_text(musicxml(fifths))
    ...     [finding.rule for finding in check_musicxml(file)]
    ['parallel-fifths']
    """
    return check(read_musicxml(path), keyboard=keyboard, tuning=tuning)


def read_musicxml(path: str | Path) -> Score:
    """A MusicXML file, plain or packed, as a score, one part for each voice, highest first as printed."""
    from music21 import converter

    if not Path(path).is_file():
        raise UnreadableScore(f"{path}: no such file")
    try:
        text = document(path)
    except SourceErrors as refused:
        raise UnreadableScore(str(refused)) from None
    if (count := text.count("<note")) > MOST_SCORE_NOTES:
        raise UnreadableScore(f"{path}: {count} notes; expected a score of up to {MOST_SCORE_NOTES}")
    try:
        stream = converter.parse(text, format="musicxml", forceSource=True)
    except Exception as error:
        raise UnreadableScore(f"{path}: not a MusicXML score ({error})") from error
    return from_music21(stream, title=Path(path).stem)


def from_music21(stream: Any, title: str = "") -> Score:
    """A music21 score as a score of ours: the highest note of each chord, one voice for each part."""
    found = [(p, part_notes(p)) for p in stream.parts]
    parts = [(p, notes) for p, notes in found if any(n.pitch for n in notes)]
    if not 2 <= len(parts) <= 5:
        raise UnreadableScore(
            f"{title or 'score'}: {len(parts)} voices found; expected two to five, one in each part"
        )
    names = _names(parts)
    bars, metre, signature = _frame(parts[0][0])
    return Score(
        title, Version.PLAIN, metre, signature, bars, tuple(Part(n, ns) for n, (_, ns) in zip(names, parts))
    )


def _names(parts: list[tuple[Any, tuple[Note, ...]]]) -> tuple[str, ...]:
    if len(parts) in _NAMES:
        return _NAMES[len(parts)]
    return tuple(f"voice {n + 1}" for n in range(len(parts)))


def part_notes(part: Any) -> tuple[Note, ...]:
    """The notes of one music21 part; of chords the highest note; grace notes left out."""
    found: list[Note] = []
    for element in part.flatten().notes:
        if element.duration.isGrace or not element.quarterLength or not hasattr(element, "pitches"):
            continue
        if not element.pitches:
            continue
        top = max(element.pitches, key=lambda p: p.ps)
        tied = element.tie is not None and element.tie.type in ("start", "continue")
        onset, length = Fraction(element.offset), Fraction(element.quarterLength)
        if found and onset < found[-1].end:
            continue
        found.append(Note(onset, length, _pitch(top), tied=tied))
    return tuple(found)


def _pitch(pitch: Any) -> Pitch:
    step = "CDEFGAB".index(pitch.step)
    alter = int(pitch.alter)
    return Pitch(7 * pitch.octave + step, alter)


def _frame(part: Any) -> tuple[tuple[Bar, ...], Metre, Signature]:
    measures = list(part.getElementsByClass("Measure"))
    time = next(iter(part.flatten().getElementsByClass("TimeSignature")), None)
    key = next(iter(part.flatten().getElementsByClass("KeySignature")), None)
    metre = _metre(time)
    bars = []
    for n, measure in enumerate(measures):
        onset = Fraction(measure.offset)
        end = (
            Fraction(measures[n + 1].offset)
            if n + 1 < len(measures)
            else onset + Fraction(measure.highestTime)
        )
        if end > onset:
            bars.append(Bar(measure.number, onset, end - onset))
    if not bars:
        bars = [Bar(1, Fraction(0), max(Fraction(part.highestTime), metre.bar))]
    return tuple(bars), metre, _signature(key.sharps if key is not None else 0)


def _metre(time: Any) -> Metre:
    if time is None:
        return Metre.parse("C")
    try:
        return Metre.parse(time.ratioString)
    except ValueError:
        return Metre.parse("C")


def _signature(sharps: int) -> Signature:
    names = (
        ("F#", "C#", "G#", "D#", "A#", "E#", "B#")
        if sharps > 0
        else ("Bb", "Eb", "Ab", "Db", "Gb", "Cb", "Fb")
    )
    return Signature(names[: abs(sharps)])
