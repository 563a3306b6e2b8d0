"""The same notes and times in MIDI, audio and page."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import pytest
from course import course_setting

from builder.edition.exchange.midi import midi

CONTENT = Path(__file__).resolve().parents[3] / "content" / "versets"
TICK = 0.002
"""Seconds: a tick of the file, rounded up."""


@pytest.mark.parametrize("name", ["first", "sixth"])
def test_midi_strikes_and_releases_every_key_when_the_page_does(name: str) -> None:
    setting = course_setting(name)
    for version, score in setting.scores.items():
        played = setting.performance(version)
        file = mido.MidiFile(file=io.BytesIO(midi(score, setting.tempo, played=played)))
        now, sounding, found = 0.0, {}, []
        for message in file:
            now += message.time
            if message.type == "note_on" and message.velocity:
                sounding[message.channel, message.note] = now
            elif message.type in ("note_off", "note_on"):
                found.append((sounding.pop((message.channel, message.note)), now, message.note))
        wanted = sorted((n.start, n.end, n.pitch.midi) for n in played.notes)
        assert len(found) == len(wanted)
        for (start, end, key), (s, e, k) in zip(sorted(found), wanted, strict=True):
            assert key == k
            assert start == pytest.approx(s, abs=TICK) and end == pytest.approx(e, abs=TICK)
