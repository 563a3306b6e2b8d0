"""What the page is given, and a tuning drawn in numbers."""

import json
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.music import TUNINGS, VOICES, notated
from builder.sound import describe, instrument, perform, play_data, tempo_map
from builder.source import read

CONTENT = Path(__file__).parents[2] / "content" / "versets"


@pytest.mark.parametrize("path", sorted(CONTENT.glob("*.md")), ids=lambda p: p.stem)
def test_the_page_has_the_same_notes_and_times_as_the_rendered_sound(path: Path) -> None:
    verset = read(path)
    score, tempo = notated(verset.score()), tempo_map(verset, analyse(verset))
    data = json.loads(json.dumps(play_data(verset, {"given": score}, tempo)))
    own = instrument(verset)
    played = perform(score, tempo, own.tuning, a4=own.a4)
    assert data["v"] == 1 and list(data["versions"]) == ["given"]
    assert data["voices"] == [v for v in VOICES if v in verset.voices]
    assert len(data["versions"]["given"]) == len(played.notes)
    for (start, end, hertz, voice, pieces), note in zip(data["versions"]["given"], played.notes):
        assert start == pytest.approx(note.start, abs=0.0005) and end == pytest.approx(note.end, abs=0.0005)
        assert hertz == pytest.approx(note.hertz, abs=0.0005)
        assert data["voices"][voice] == note.voice
        assert [p[0] for p in pieces] == [p[0] for p in note.pieces]
    assert [n for n, _ in data["bars"]] == [b.number for b in verset.bars]
    assert data["end"] == pytest.approx(played.end, abs=0.0005)
    assert {r["name"] for r in data["ranks"]} == set(own.registration.names)
    assert 0 < data["level"] <= 0.5  # starts quiet
    assert len(json.dumps(data)) < 30_000


def test_all_versions_of_a_verset_share_their_bars() -> None:
    verset = read(CONTENT / "first.md")
    score = notated(verset.score())
    data = play_data(verset, {"given": score, "plain": score})
    assert data["versions"]["given"] == data["versions"]["plain"]
    assert data["bars"][0] == [1, 0.0]


def test_the_source_decides_before_the_usual_and_the_caller_before_the_source() -> None:
    verset = read(CONTENT / "fourth.md")
    assert instrument(verset).registration.names == ("principale", "fiffaro")
    assert instrument(verset, registration="ripieno").registration.title == "ripieno"
    assert instrument(verset, tuning="equal", a4=466).tuning is TUNINGS["equal"]
    assert instrument(verset).tuning is TUNINGS["quarter-comma"] and instrument(verset).a4 == 440.0
    with pytest.raises(ValueError, match="392"):
        instrument(verset, a4=600)


@pytest.mark.parametrize("name", list(TUNINGS))
def test_a_tuning_is_drawn_against_pure_intervals(name: str) -> None:
    data = json.loads(json.dumps(describe(name)))
    assert len(data["notes"]) == len(data["fifths"]) == len(data["major_thirds"]) == 12
    around = sum(f["off"] for f in data["fifths"])
    # twelve fifths and seven octaves: what the fifths lack together is the Pythagorean comma
    assert around == pytest.approx(-23.46, abs=0.1)
    for kind, ratio in (("fifths", 3 / 2), ("major_thirds", 5 / 4), ("minor_thirds", 6 / 5)):
        for interval in data[kind]:
            low, high = interval["hertz"]
            assert (abs(high / low - ratio) < 1e-4) == (abs(interval["off"]) < 0.13)


def test_split_keys_are_drawn_too() -> None:
    data = describe("quarter-comma, split D# Ab")
    assert data["split"] == [["D#", "Eb"], ["G#", "Ab"]]
    assert len(data["notes"]) == 14
    assert sum(f["wolf"] for f in data["fifths"]) == 1
