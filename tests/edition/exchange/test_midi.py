"""Standard MIDI files, byte by byte where it matters, and the tuning they carry.

Sources: Standard MIDI Files 1.0 (layout of chunks, from memory) and mido as reference reader; quarter-comma
cents after J. M. Barbour, *Tuning and Temperament* (1951).
"""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest

from builder.edition.exchange.midi import CHURCH_ORGAN, midi
from builder.music import Score, notated
from builder.sound.tempo import TempoMap
from builder.source import parse, read

FIRST = read(Path(__file__).parents[3] / "content" / "versets" / "first.md")
QUARTER_COMMA = {  # cents from C, published
    0: 0.0,
    1: 76.05,
    2: 193.16,
    3: 310.26,
    4: 386.31,
    5: 503.42,
    6: 579.47,
    7: 696.58,
    8: 772.63,
    9: 889.74,
    10: 1006.84,
    11: 1082.89,
}


def score() -> Score:
    return notated(FIRST.score())


def chromatic() -> Score:
    """Every note of the usual keyboard, C4 to B4."""
    given = "C4/4 C#4/4 D4/4 Eb4/4 | E4/4 F4/4 F#4/4 G4/4 | G#4/4 A4/4 Bb4/4 B4/4"
    head = "---\ntitle: All\nverset: {metre: C, signature: none}\n---\n\n"
    return notated(parse(f"{head}```given\ncantus C1 | {given}\n```\n", "all.md").score())


def opened(data: bytes) -> Any:
    return mido.MidiFile(file=io.BytesIO(data))


def test_the_header_chunk_says_format_tracks_and_unit() -> None:
    data = midi(score(), FIRST.tempo)
    assert data[:4] == b"MThd"
    assert data[4:8] == (6).to_bytes(4, "big")
    assert data[8:14] == bytes([0, 1, 0, 5, 480 >> 8, 480 & 255])


def test_every_track_chunk_has_its_length_and_ends_with_an_end_of_track() -> None:
    data, at, tracks = midi(score(), FIRST.tempo), 14, 0
    while at < len(data):
        assert data[at : at + 4] == b"MTrk"
        at += 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        assert data[at - 3 : at] == b"\xff\x2f\x00"
        tracks += 1
    assert (at, tracks) == (len(data), 5)


def test_each_voice_has_its_named_track_and_channel_with_an_organ() -> None:
    read_back = opened(midi(score(), FIRST.tempo))
    assert [t.name for t in read_back.tracks] == [score().title, "Cantus", "Altus", "Tenor", "Bassus"]
    programmes = [(m.channel, m.program) for t in read_back.tracks for m in t if m.type == "program_change"]
    assert programmes == [(n, CHURCH_ORGAN) for n in range(4)]


def test_the_conductor_has_metre_signature_and_tempo() -> None:
    head = "---\ntitle: T\nverset: {metre: 3/2, signature: Bb}\n---\n\n"
    of = parse(f"{head}```given\ncantus C1 | D5/1.\n```\n", "t.md")
    track = opened(midi(notated(of.score()), (Fraction(2), Fraction(60)), rights="CC0")).tracks[0]
    told = {m.type: m for m in track}
    assert (told["time_signature"].numerator, told["time_signature"].denominator) == (3, 2)
    assert told["key_signature"].key == "F"
    assert told["set_tempo"].tempo == 500_000
    assert told["copyright"].text == "CC0"


def test_a_tempo_map_is_written_step_by_step() -> None:
    steps = TempoMap(((Fraction(0), 500_000), (Fraction(4), 600_000)))
    track = opened(midi(score(), steps)).tracks[0]
    assert [(m.time, m.tempo) for m in track if m.type == "set_tempo"] == [(0, 500_000), (1920, 600_000)]


def test_a_key_struck_again_is_let_go_first() -> None:
    head = "---\ntitle: T\nverset: {metre: C, signature: none}\n---\n\n"
    of = parse(f"{head}```given\ncantus C1 | D5/2 D5/2\n```\n", "t.md")
    track = opened(midi(notated(of.score()), of.tempo)).tracks[1]
    assert [m.type for m in track if "note" in m.type] == ["note_on", "note_off", "note_on", "note_off"]


def bent(data: bytes) -> list[float]:
    """Height of each struck note in cents above C4 of equal temperament, from the bend before it."""
    found, bend = [], 0
    for message in opened(data).tracks[1]:
        if message.type == "pitchwheel":
            bend = message.pitch
        elif message.type == "note_on":
            found.append(100 * (message.note - 60) + bend / 8192 * 200)
    return found


def retuned(data: bytes) -> list[float]:
    """The same from single note tuning changes: key, then semitone and 14 bits of its parts."""
    tuning: dict[int, float] = {}
    for message in opened(data).tracks[0]:
        if message.type == "sysex":
            assert message.data[:6] == (0x7F, 0x7F, 0x08, 0x02, 0x00, 0x01)
            key, semitone, high, low = message.data[6:10]
            tuning[key] = 100 * (semitone + (high << 7 | low) / 16384) - 6000
    return [tuning[m.note] for m in opened(data).tracks[1] if m.type == "note_on"]


@pytest.mark.parametrize(("carrier", "heard"), [("bend", bent), ("mts", retuned)])
def test_the_file_carries_quarter_comma_meantone_to_a_tenth_of_a_cent(carrier: str, heard: Any) -> None:
    cents = heard(midi(chromatic(), FIRST.tempo, tuning="quarter-comma", carrier=carrier))
    above_a = [c - 900 for c in cents]  # A at 440 hertz is common to both
    assert above_a == pytest.approx([QUARTER_COMMA[n] - QUARTER_COMMA[9] for n in range(12)], abs=0.1)


@pytest.mark.parametrize(("carrier", "heard"), [("bend", bent), ("mts", retuned)])
def test_another_pitch_of_a_is_carried_too(carrier: str, heard: Any) -> None:
    cents = heard(midi(chromatic(), FIRST.tempo, tuning="quarter-comma", a4=466.16, carrier=carrier))
    assert cents[9] == pytest.approx(1000, abs=0.1)  # a semitone above A 440


def test_without_a_tuning_nothing_is_bent() -> None:
    data = midi(chromatic(), FIRST.tempo)
    assert {m.type for t in opened(data).tracks for m in t} & {
        "pitchwheel",
        "sysex",
        "control_change",
    } == set()


def test_an_unknown_tuning_or_carrier_is_refused() -> None:
    with pytest.raises(ValueError):
        midi(score(), FIRST.tempo, tuning="well-tempered-by-ear")
    with pytest.raises(ValueError, match="bend or mts"):
        midi(score(), FIRST.tempo, tuning="quarter-comma", carrier="magic")
