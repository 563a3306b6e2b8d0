"""Recordings of one's own playing: what the page is given, what it shows, and when they are read anew."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from builder.language.texts import page_texts
from builder.music import Version
from builder.pages.build import Making, build_lesson
from builder.pages.player import player
from builder.pages.playing import digests, play_data, recordings_of
from builder.setting.reading import read_verset
from builder.setting.setting import Defaults, set_verset
from builder.sound import render
from builder.source import EXAMPLE, SourceErrors


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A source with a recording that begins two seconds late, and with an improvisation."""
    entries = "{file: take.wav, of: given, by: Anna}", "{file: take.wav, of: improvisation, title: Mine}"
    said = "".join(f"    - {entry}\n" for entry in entries)
    (tmp_path / "a.md").write_text(EXAMPLE.replace("verset:\n", f"verset:\n  playing:\n{said}", 1), "utf-8")
    (tmp_path / "plain.md").write_text(EXAMPLE, "utf-8")
    setting = set_verset(read_verset(tmp_path / "plain.md"))
    sound = render(setting.performance(Version.GIVEN), room=None)
    late = np.concatenate([np.zeros((88_200, 2), np.float32), sound])
    soundfile.write(tmp_path / "take.wav", late, 44_100)
    return tmp_path


def test_the_page_is_given_when_each_moment_sounds_and_which_notes_to_follow(folder: Path) -> None:
    setting, w = set_verset(read_verset(folder / "a.md")), page_texts("en")
    taken, improvised = recordings_of(setting, folder, "versets/a.md")
    data = play_data(taken, "playing-1", w)
    assert (data["of"], data["away"], data["name"]) == ("given", [], "Given line, played (Anna)")
    assert data["source"] == "verset-root:versets/take.wav"
    assert all(abs(second - moment - 2) < 0.06 for moment, second in data["points"])
    assert play_data(improvised, "playing-2", w)["away"] is True
    html = player({"versions": {"given": []}, "end": 9.0}, [Version.GIVEN], {}, 3.0, 5.0, w, playing=[data])
    found = re.search(
        r'<audio[^>]* data-playing="playing-1" src="verset-root:versets/take.wav#t=(.*?),(.*?)"', html
    )
    assert found and 4.9 < float(found[1]) < 6 and 6 < float(found[2]) < 7.2
    (told,) = re.findall(r'<script type="application/json" class="verset-play">(.*?)</script>', html)
    assert json.loads(told)["playing"][0]["points"] == data["points"]


def test_the_overview_tells_how_sure_each_bar_is(folder: Path, tmp_path: Path) -> None:
    work = tmp_path / "work"
    work.mkdir()
    making = Making("versets/a.md", Defaults(), audio=False, pdf=False)
    lesson, _ = build_lesson(folder / "a.md", making, work)
    overview = lesson.pages[0].markdown
    assert "### Given line, played (Anna)" in overview and "### Mine" in overview
    rows = re.findall(r"<tr><td>(\d+)</td><td>([\d.]+) s</td><td>(\d+)%</td></tr>", overview)
    assert [int(bar) for bar, _, _ in rows[:2]] == [1, 2] and abs(float(rows[0][1]) - 2) < 0.1
    assert all(int(sure) > 60 for _, _, sure in rows[: len(rows) // 2])


def test_a_missing_recording_is_told_with_its_place(folder: Path) -> None:
    (folder / "take.wav").unlink()
    with pytest.raises(SourceErrors) as refused:
        read_verset(folder / "a.md")
    assert [(error.line, error.found) for error in refused.value.errors] == [
        (5, 'no file "take.wav"'),
        (6, 'no file "take.wav"'),
    ]


def test_another_recording_under_the_same_name_makes_the_lesson_anew(folder: Path) -> None:
    text = (folder / "a.md").read_text("utf-8")
    before = digests(text, folder)
    (folder / "other.wav").write_bytes(b"of nobody")
    assert digests(text, folder) == before != ()
    (folder / "take.wav").write_bytes(b"another")
    assert digests(text, folder) != before
