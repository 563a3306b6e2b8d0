"""Our MusicXML, MEI and MIDI as other programs read them: music21, partitura, verovio and mido are the
reference readers. Every voice must come back with the same pitches, onsets and lengths."""

from __future__ import annotations

import base64
import io
import warnings
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest
from course import course_setting

from builder.edition.exchange.mei import mei
from builder.edition.exchange.midi import midi
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.engraving import keyboard_mei
from builder.music import Score
from builder.setting.setting import Setting
from builder.source import parse

SOURCES = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))
VERSIONS = ("given", "plain", "diminished")

FICTA = """---
title: "Signs & <figures>"
verset:
  metre: 3/2
  signature: Bb
  readings:
    - {bar: 2, voice: cantus, source: "B flat", adopted: "B natural"}
    - {bar: 3, source: "nothing", adopted: "F sharp"}
---

```given
cantus C1 | G4/2 D5/2 Eb5/2 | D5/4. C5/8 B(n)4/4 A4/4 G4/2 | F(#)4/2~ F#4/4 R/4 G4/2~ | G4/2 B4/4 Bb4/4 G4/2
tenor C4 | D4/1. | F(#)3/4{(6)} F3/4 G3/1{7:4 6/4:4 (#):4 -:4} | G3/breve.{n}
```
"""

Heard = list[tuple[Fraction, Fraction, int]]


def setting(path: Path) -> Setting:
    return course_setting(path.stem)


def heard(score: Score, voice: str) -> Heard:
    return [(n.onset, n.duration, n.pitch.midi) for n in score.part(voice).sounding() if n.pitch]


def line(score: Score) -> Heard:
    """All voices in one: the given line is in one part of a file."""
    return sorted(note for part in score.parts for note in heard(score, part.voice))


def scores() -> list[Any]:
    return [pytest.param(p, version, id=f"{p.stem}-{version}") for p in SOURCES for version in VERSIONS]


def quarters(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(960)


def by_music21(text: str, form: str) -> dict[str, Heard]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import converter

        parsed: Any = converter.parseData(text, format=form)
    found = {}
    for n, part in enumerate(parsed.parts):
        notes = part.flatten().stripTies().notes
        found[str(part.partName or n)] = [
            (quarters(x.offset), quarters(x.quarterLength), x.pitch.midi) for x in notes
        ]
    return found


def by_partitura(path: Path, load: Any) -> list[Heard]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = load(str(path))
    return [
        sorted(
            (quarters(float(x["onset_quarter"])), quarters(float(x["duration_quarter"])), int(x["pitch"]))
            for x in part.note_array()
        )
        for part in parsed.parts
    ]


def names(score: Score) -> list[str]:
    return [part.voice.capitalize() for part in score.parts]


@pytest.mark.parametrize(("path", "version"), scores())
def test_music21_reads_every_voice_of_our_musicxml(path: Path, version: str) -> None:
    score = setting(path).scores[version]
    found = by_music21(musicxml(score), "musicxml")
    assert found == {part.voice.capitalize(): heard(score, part.voice) for part in score.parts}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.stem)
def test_music21_reads_the_given_line_of_our_musicxml(path: Path) -> None:
    score = setting(path).scores["given"]
    assert by_music21(given_musicxml(setting(path).verset, score), "musicxml") == {"Given line": line(score)}


@pytest.mark.parametrize(("path", "version"), scores())
def test_music21_reads_every_voice_of_our_mei(path: Path, version: str) -> None:
    own = setting(path)
    score = own.scores[version]
    found = list(by_music21(mei(own.verset, score), "mei").values())
    expected = [line(score)] if version == "given" else [heard(score, p.voice) for p in score.parts]
    assert found == expected


@pytest.mark.parametrize(("path", "version"), scores())
def test_partitura_reads_our_mei_and_our_musicxml(path: Path, version: str, tmp_path: Path) -> None:
    import partitura

    own = setting(path)
    score = own.scores[version]
    (tmp_path / "a.mei").write_text(mei(own.verset, score), "utf-8")
    (tmp_path / "a.musicxml").write_text(musicxml(score), "utf-8")
    expected = [sorted(heard(score, p.voice)) for p in score.parts]
    assert by_partitura(tmp_path / "a.musicxml", partitura.load_musicxml) == expected
    one = [line(score)] if version == "given" else expected
    assert by_partitura(tmp_path / "a.mei", partitura.load_mei) == one


@pytest.mark.parametrize(("path", "version"), scores())
def test_partitura_reads_two_staves(path: Path, version: str, tmp_path: Path) -> None:
    import partitura

    score = setting(path).scores[version]
    (tmp_path / "a.musicxml").write_text(keyboard_musicxml(score), "utf-8")
    (found,) = by_partitura(tmp_path / "a.musicxml", partitura.load_musicxml)
    assert found == sorted(note for part in score.parts for note in heard(score, part.voice))


@pytest.mark.parametrize(("path", "version"), scores())
@pytest.mark.parametrize("form", ["mei", "keyboard", "keyboard-mei", "keyboard-musicxml", "musicxml"])
def test_verovio_hears_every_note_of_our_files_at_its_time(path: Path, version: str, form: str) -> None:
    own = setting(path)
    score = own.scores[version]
    if form == "musicxml":
        text = musicxml(score)
    elif form == "keyboard-musicxml":
        text = keyboard_musicxml(score, tempo=own.verset.tempo)
    elif form == "keyboard-mei":
        text = mei(own.verset, score, keyboard=True) if version != "given" else mei(own.verset, score)
    else:
        text = mei(own.verset, score) if form == "mei" else keyboard_mei(score)
    assert by_verovio(text) == sorted((onset, key) for onset, _, key in line(score))


def by_verovio(text: str) -> list[tuple[Fraction, int]]:
    """Onset and key of every note that is struck, from the MIDI that verovio makes."""
    import verovio

    toolkit = verovio.toolkit()
    assert toolkit.loadData(text)
    played = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
    found = []
    for track in played.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.append((Fraction(now, played.ticks_per_beat), message.note))
    return sorted(found)


def test_ficta_ties_and_a_signature_come_back_from_every_reader(tmp_path: Path) -> None:
    import partitura

    from builder.music import notated

    verset = parse(FICTA, "ficta.md")
    score = notated(verset.score())
    expected = line(score)
    assert [key for _, _, key in expected][:5] == [67, 74, 75, 74, 72]
    assert by_music21(mei(verset, score), "mei") == {"0": expected}
    assert by_music21(given_musicxml(verset, score), "musicxml") == {"Given line": expected}
    (tmp_path / "a.mei").write_text(mei(verset, score), "utf-8")
    (tmp_path / "a.musicxml").write_text(given_musicxml(verset, score), "utf-8")
    assert by_partitura(tmp_path / "a.mei", partitura.load_mei) == [expected]
    assert by_partitura(tmp_path / "a.musicxml", partitura.load_musicxml) == [expected]
    assert by_verovio(mei(verset, score)) == [(onset, key) for onset, _, key in expected]


@pytest.mark.parametrize(("path", "version"), scores())
def test_mido_reads_every_voice_of_our_midi(path: Path, version: str) -> None:
    own = setting(path)
    score = own.scores[version]
    read_back = mido.MidiFile(file=io.BytesIO(midi(score, own.tempo)))
    assert read_back.type == 1
    assert [track.name for track in read_back.tracks] == [score.title, *names(score)]
    for part, track in zip(score.parts, read_back.tracks[1:], strict=True):
        assert struck(track, read_back.ticks_per_beat) == heard(score, part.voice)
    assert read_back.length == pytest.approx(own.tempo.seconds(score.end), abs=0.01)


def struck(track: Any, unit: int) -> Heard:
    now, open_notes, found = 0, {}, []
    for message in track:
        now += message.time
        if message.type == "note_on":
            open_notes[message.note] = now
        elif message.type == "note_off":
            start = open_notes.pop(message.note)
            found.append((Fraction(start, unit), Fraction(now - start, unit), message.note))
    assert not open_notes
    return found
