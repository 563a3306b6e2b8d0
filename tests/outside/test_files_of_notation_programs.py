"""What notation programs write, as music21's MusicXML and as the MEI that verovio makes of it: every file is
read with all its notes, or refused with a reason at its bar and beat."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from fractions import Fraction

import pytest

from builder.source import SourceErrors, Verset
from builder.source.mei import parse_mei
from builder.source.musicxml import parse_musicxml

music21 = pytest.importorskip("music21")
verovio = pytest.importorskip("verovio")

Change = Callable[[random.Random, "music21.stream.Measure"], str]
NAMES = ("C4", "D4", "E4", "F#4", "G4", "A4", "B-4", "C5")


def note(name: str, length: Fraction | float):
    return music21.note.Note(name, quarterLength=length)


def score(parts: int, seed: int) -> music21.stream.Score:
    """Parts of four bars in quarters and eighths, the lowest below the others."""
    chance, whole = random.Random(seed), music21.stream.Score()
    for n in range(parts):
        part = music21.stream.Part()
        for number in range(1, 5):
            bar = music21.stream.Measure(number=number)
            if number == 1:
                low = n == parts - 1 and n
                bar.append(music21.clef.BassClef() if low else music21.clef.SopranoClef())
                bar.append(music21.meter.TimeSignature("4/4"))
            for length in chance.choice([(1, 1, 2), (2, 1, 0.5, 0.5), (1.5, 0.5, 2), (4,)]):
                name = chance.choice(NAMES)
                bar.append(note(f"{name[:-1]}{int(name[-1]) - (2 if n and n == parts - 1 else 0)}", length))
            part.append(bar)
        whole.insert(0, part)
    return whole


def triplet(bar) -> str:
    last = bar.notes[-1]
    start, length = Fraction(last.offset), Fraction(last.quarterLength) / 3
    bar.remove(last)
    for n in range(3):
        bar.insert(start + n * length, note("E4", length))
    return f"bar {bar.number}, beat {int(start) + 1}"


def quarter_tone(bar) -> str:
    bar.notes[-1].pitch.accidental = music21.pitch.Accidental("half-sharp")
    return f"bar {bar.number}, beat {int(bar.notes[-1].offset) + 1}"


def metre(bar) -> str:
    bar.insert(0, music21.meter.TimeSignature("3/4"))
    return f"bar {bar.number}"


def grace(bar) -> str:
    bar.insert(bar.notes[-1].offset, note("D4", 0.5).getGrace())
    return "grace"


def words(bar) -> str:
    bar.insert(0, music21.expressions.TextExpression("dolce"))
    return "words"


def chord_symbol(bar) -> str:
    bar.insert(0, music21.harmony.ChordSymbol("G7"))
    return "chord-symbol"


def tremolo(bar) -> str:
    bar.notes[-1].expressions.append(music21.expressions.Tremolo())
    return "ornament"


def signature(bar) -> str:
    bar.insert(0, music21.key.KeySignature(2))
    return "signature"


REFUSED = (triplet, quarter_tone, metre)
TOLD = (grace, words, chord_symbol, tremolo, signature)
FORMATS = ("musicxml", "mei")


def as_read(stream: music21.stream.Score, form: str) -> Verset:
    xml = music21.musicxml.m21ToXml.GeneralObjectExporter(stream).parse()
    if form == "musicxml":
        return parse_musicxml(xml)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(xml.decode())
    return parse_mei(toolkit.getMEI().encode())


def heard(verset: Verset) -> set[tuple[Fraction, int]]:
    line = [g.note for g in verset.given]
    notes = (*line, *(n for p in verset.pins for n in p.notes))
    return {(n.onset, n.pitch.midi) for n in notes if n.pitch}


def struck(stream: music21.stream.Score, first: Fraction = Fraction(0)) -> set[tuple[Fraction, int]]:
    return {
        (Fraction(n.offset) + first, int(pitch.ps))
        for part in stream.parts
        for n in part.flatten().notes
        if not n.duration.isGrace and not isinstance(n, music21.harmony.ChordSymbol)
        for pitch in n.pitches
    }


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("seed", range(8))
def test_every_note_is_read_or_the_place_is_named(seed: int, form: str) -> None:
    """One to three parts, with one thing in one bar that a verset has no place for."""
    parts = 1 + seed % 3
    stream, change = score(parts, seed), (*REFUSED, *TOLD)[seed % 8]
    part = stream.parts[random.Random(seed).randrange(parts)]
    said = change(part.getElementsByClass("Measure")[1 + seed % 3])
    try:
        verset = as_read(stream, form)
    except SourceErrors as wrong:
        places = [str(e.place or f"bar {e.bar}") for e in wrong.errors]
        alone = parts == 1 and change in (grace, signature)
        assert change in REFUSED or alone, wrong
        assert alone or any(place.startswith(said) for place in places), places
        assert all(re.match("bar [1-4]", place) for place in places), places
    else:
        assert change in TOLD
        assert heard(verset) == struck(stream)
        # verovio leaves out a signature that one part alone has
        assert said in {loss.kind for loss in verset.lost} or (form == "mei" and change is signature)


def test_a_file_that_goes_back_before_its_bar_is_refused_and_one_with_other_divisions_is_read() -> None:
    pitch = "<pitch><step>{}</step><octave>{}</octave></pitch><duration>{}</duration><voice>{}</voice>"
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    head = f"<attributes><divisions>2</divisions>{time}</attributes>"
    top, low = (f"<note>{pitch.format(*n)}</note>" for n in (("C", 5, 8, 1), ("E", 4, 24, 2)))
    six = "<attributes><divisions>6</divisions></attributes>"

    def document(back: int) -> bytes:
        bar = f"{head}{top}<backup><duration>{back}</duration></backup>{six}{low}"
        return f"<score-partwise><part><measure>{bar}</measure></part></score-partwise>".encode()

    assert heard(parse_musicxml(document(8))) == {(0, 72), (0, 64)}
    with pytest.raises(SourceErrors, match="bar 1, beat 1: found <backup> to before its bar"):
        parse_musicxml(document(10))


def test_under_a_sign_of_an_octave_the_sounding_notes_are_read() -> None:
    stream = score(1, 3)
    bar = stream.parts[0].getElementsByClass("Measure")[1]
    notes = list(bar.notes)
    stream.parts[0].insert(0, music21.spanner.Ottava(notes, type="8va", transposing=False))
    assert heard(as_read(stream, "mei")) == heard(as_read(stream, "musicxml"))
