"""Any MusicXML score of two to five voices can be checked; anything else is told in words."""

import pytest

from builder.counterpoint import UnreadableScore, check_musicxml
from builder.counterpoint.check.musicxml import read_musicxml
from builder.music import Signature

music21 = pytest.importorskip("music21")


def write(path, *voices):
    score = music21.stream.Score()
    for voice in voices:
        part = music21.stream.Part()
        part.append(music21.meter.TimeSignature("4/4"))
        for name in voice.split():
            part.append(music21.note.Note(name, quarterLength=2))
        score.insert(0, part)
    score.write("musicxml", str(path))
    return path


def test_parallel_fifths_in_a_musicxml_file_are_found_with_their_place(tmp_path):
    path = write(tmp_path / "fifths.musicxml", "A4 B4 C5 D5", "D4 E4 A3 B3")
    found = check_musicxml(path)
    fifths = [f for f in found if f.rule == "parallel-fifths"]
    assert [str(f.place) for f in fifths] == ["bar 1, beat 3"]
    assert fifths[0].voices == ("cantus", "bassus")


def test_good_counterpoint_has_no_errors(tmp_path):
    path = write(
        tmp_path / "good.musicxml", "A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5", "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4"
    )
    assert [f for f in check_musicxml(path) if f.severity == "error"] == []


def test_five_voices_are_checked(tmp_path):
    path = write(tmp_path / "five.musicxml", "E5 F5", "C5 C5", "G4 A4", "E4 F4", "C3 F3")
    assert isinstance(check_musicxml(path), tuple)


@pytest.mark.parametrize(
    "voices, words", [(("A4 B4",), "1 voices"), (("A4",) * 6, "6 voices")], ids=["one voice", "six voices"]
)
def test_other_numbers_of_voices_are_refused_in_words(tmp_path, voices, words):
    with pytest.raises(UnreadableScore, match=words):
        check_musicxml(write(tmp_path / "score.musicxml", *voices))


def test_a_file_that_is_no_score_is_refused_in_words(tmp_path):
    path = tmp_path / "broken.musicxml"
    path.write_text("<score-partwise><part>", encoding="utf-8")
    with pytest.raises(UnreadableScore, match=r"broken\.musicxml"):
        check_musicxml(path)
    with pytest.raises(UnreadableScore, match="no such file"):
        check_musicxml(tmp_path / "missing.musicxml")


@pytest.mark.parametrize(
    ("sharps", "signature"), [(-2, "Bb Eb"), (0, "none"), (1, "F#"), (7, "F# C# G# D# A# E# B#")]
)
def test_the_signature_is_the_files(tmp_path, sharps, signature):
    path = tmp_path / "signature.musicxml"
    score = music21.converter.parse(write(path, "A4 B4", "D4 G3"))
    for part in score.parts:
        part.measure(1).insert(0, music21.key.KeySignature(sharps))
    score.write("musicxml", str(path))
    assert read_musicxml(path).signature == Signature.parse(signature)
