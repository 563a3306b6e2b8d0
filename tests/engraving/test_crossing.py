"""A note of an inner voice crosses to the other stave instead of standing on ledger lines, where the other
hand reaches it and both staves stay legible (common practice, no source; the bounds are ours)."""

from __future__ import annotations

import re
import sys
import xml.etree.ElementTree as ET
from fractions import Fraction as F
from pathlib import Path

import pytest

from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.engraving.engrave import svg
from builder.engraving.keyboard import keyboard_mei
from builder.engraving.tree import NAMESPACE, XML_ID
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))
from geometry import astray, collisions, named_boxes, rests

VOICES = ("cantus", "altus", "tenor", "bassus")


def scored(**rows: str) -> Score:
    """A score of one bar of C: `D5/2 R/4. C5/8`, value by its denominator."""
    parts = []
    for voice in VOICES:
        now, notes = F(0), []
        for word in rows.get(voice, "").split():
            pitch, value = word.split("/")
            length = F(4, int(value.rstrip("."))) * (F(3, 2) if value.endswith(".") else 1)
            if pitch != "R":
                notes.append(Note(now, length, Pitch.parse(pitch)))
            now += length
        if notes:
            parts.append(Part(voice, tuple(notes)))
    bars = (Bar(1, F(0), F(4)),)
    return notated(Score("One bar", Version.PLAIN, Metre.parse("C"), Signature(), bars, tuple(parts)))


def crossed(score: Score) -> dict[str, str]:
    """The notes that stand on another stave than their voice: their pitch, and the stave."""
    root = ET.fromstring(keyboard_mei(score).replace(f' xmlns="{NAMESPACE}"', "", 1))
    pitches = {note.id: str(note.pitch) for part in score.parts for note in part.notes}
    return {
        pitches[note.get(XML_ID, "")]: note.get("staff", "")
        for note in root.iter("note")
        if note.get("staff")
    }


CROSSES = {"cantus": "D5/2 B4/2", "altus": "A4/2 G4/2", "tenor": "F4/2 D4/2", "bassus": "D3/2 G2/2"}


def test_the_tenor_goes_to_the_right_hand_and_shares_the_stem_of_the_altus() -> None:
    score = scored(**CROSSES)
    assert crossed(score) == {"F4": "1"}
    (drawn,) = svg(keyboard_mei(score), width=500)
    notes = re.findall(r'<g class="note" data-id="\w+-(altus|tenor)-1-1">(.*?)</g></g>', drawn)
    heads = [named_boxes(body) for _, body in notes]
    (_, altus), (_, tenor) = (next(iter(row)) for row in heads)
    assert altus[0] == tenor[0], "the heads stand one above the other"
    assert not list(collisions(drawn)) and not list(astray(drawn))


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"altus": "A4/1"}, "the altus has another value"),
        ({"altus": "G4/2 G4/2"}, "a second would not stand under one stem"),
        ({"cantus": "A4/2 B4/2"}, "cantus and altus share a note, which has two stems already"),
        ({"cantus": "G5/2 B4/2"}, "the right hand does not reach it"),
        ({"tenor": "D4/2 D4/2"}, "one ledger line is no burden"),
        ({"tenor": "F4/1"}, "the value goes on beyond that of the altus"),
    ],
)
def test_it_stays_where(change: dict[str, str], why: str) -> None:
    assert crossed(scored(**CROSSES | change)) == {}, why


def test_the_altus_goes_to_the_left_hand_over_a_bass_alone() -> None:
    """Three voices: the left hand has one note, which takes its stem down while the altus stands above it."""
    score = scored(cantus="A4/2 F4/2", altus="F4/2 A3/2", bassus="F3/1")
    assert crossed(score) == {"A3": "2"}
    text = keyboard_mei(score)
    assert re.search(r'pname="a" oct="3" dur="2" stem.dir="up"[^>]*staff="2"', text)


def test_a_beam_crosses_whole_or_not_at_all() -> None:
    upper = {"cantus": "C5/2 B4/2", "altus": "A4/8 A4/8 A4/4 G4/2"}
    together = CROSSES | upper | {"tenor": "C4/8 E4/8 D4/4 D4/2"}
    assert crossed(scored(**together)) == {"C4": "1", "E4": "1"}
    assert crossed(scored(**together | {"tenor": "B3/8 E4/8 D4/4 D4/2"})) == {}


def test_the_accidental_is_that_of_the_stave_on_which_the_note_stands() -> None:
    """The cantus has sharpened its F on the stave to which the tenor's F comes."""
    rows = {
        "cantus": "F#4/4 D5/4 B4/2",
        "altus": "C4/4 A4/4 G4/2",
        "tenor": "A3/4 F4/4 D4/2",
        "bassus": "D3/2 G2/2",
    }
    text = keyboard_mei(scored(**rows))
    assert re.search(r'pname="f" oct="4"[^>]*staff="1"[^>]*><accid accid="n"', text)


def test_musicxml_says_the_same() -> None:
    root = ET.fromstring(keyboard_musicxml(scored(**CROSSES)))
    of = {
        f"{n.findtext('pitch/step')}{n.findtext('pitch/octave')}": (n.findtext("voice"), n.findtext("staff"))
        for n in root.iter("note")
    }
    assert of["F4"] == ("3", "1") and of["D4"] == ("3", "2") and of["A4"] == ("2", "1")


THREE = {
    "cantus": "C#5/4 D5/4. B4/8 C#5/8 B4/8",
    "altus": "R/4 A4/4. G4/8 A4/8 G4/8",
    "tenor": "F4/4 F4/4 E4/2",
    "bassus": "A2/1",
}


def test_of_three_on_a_stave_the_middle_one_has_no_rests_and_no_beams_beside_the_highest() -> None:
    """They would stand on the notes, and cross the beams, of the others (common practice, no source)."""
    mei = keyboard_mei(scored(**THREE))
    upper = mei[mei.index('<staff n="1"') : mei.index('<staff n="2"')]
    assert upper.count("<layer") == 3 and "<rest" not in upper and upper.count("<beam>") == 1
    (drawn,) = svg(mei, width=500)
    assert not [*collisions(drawn), *astray(drawn)]


def test_rests_of_the_highest_of_three_stand_above_the_stems_of_the_middle_one() -> None:
    mei = keyboard_mei(scored(**THREE | {"cantus": "C#5/4 R/4 B4/2", "altus": "A4/2 A4/2"}))
    assert steps(mei) == ["6"]
    struck = keyboard_mei(scored(**THREE | {"cantus": "C#5/4 R/4 B4/2", "altus": "A4/4 A4/4 A4/2"}))
    assert steps(struck) == ["14"]
    beamed = keyboard_mei(scored(**THREE | {"cantus": "C#5/4 R/4 B4/2", "altus": "A4/8 A4/8 A4/8 A4/8 A4/2"}))
    assert steps(beamed) == ["14"]
    for each in (mei, struck, beamed):
        (drawn,) = svg(each, width=500)
        assert not [*collisions(drawn), *astray(drawn)]


def steps(mei: str) -> list[str]:
    return re.findall(r'<rest [^>]*loc="(-?\d+)"', mei)


@pytest.mark.parametrize(
    ("voices", "expected"),
    [
        ({"cantus": "E5/2 R/4 E5/4", "altus": "A4/4 B4/4 C5/4 D5/4"}, ["10"]),
        ({"cantus": "D5/4 R/2 F5/4", "altus": "F4/1"}, ["6", "6"]),
        ({"cantus": "D5/4 R/4 D5/2", "altus": "F4/4 E4/4 F4/2"}, ["6"]),
        ({"cantus": "E5/4 E5/4 E5/2", "altus": "F4/4 R/4 F4/2"}, ["2"]),
        ({"cantus": "D5/4 A4/4 A4/2", "altus": "F4/4 R/4 F4/2"}, ["-2"]),
        ({"cantus": "D5/4 R/4 D5/2", "altus": "F4/4 R/4 F4/2"}, ["8", "0"]),
    ],
)
def test_rests_of_two_on_a_stave_stand_by_their_own_voice(
    voices: dict[str, str], expected: list[str]
) -> None:
    """Clear of what is struck with them, not of what comes after; apart where both rest (common practice)."""
    mei = keyboard_mei(scored(**voices, bassus="D3/1"))
    assert steps(mei) == expected
    (drawn,) = svg(mei, width=500)
    assert not [*collisions(drawn), *astray(drawn)]
    assert all(near > 0.4 for near, _ in rests(drawn))


def test_a_small_note_in_unison_with_one_at_full_size_is_as_large() -> None:
    """The head is one for both. What is longer or higher stays small."""
    score = scored(cantus="A4/2 C5/2", altus="A4/2 G4/2", bassus="D3/1")
    full = frozenset(note.id for voice in ("altus", "bassus") for note in score.part(voice).notes)
    small = re.findall(r'pname="(\w)"[^>]*cue="true"', keyboard_mei(score, full=full))
    assert small == ["c"]
