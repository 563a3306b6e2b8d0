"""The files that drills are opened from: what all share, and the piece of a page that asks for them."""

from __future__ import annotations

import json
import re
from dataclasses import replace

from builder.language.texts import page_texts
from builder.music import read_tuning
from builder.pages.drills.course import CourseMusic
from builder.pages.drills.data import common_data, drill_data, drill_file, drill_uri, opening
from builder.pages.drills.names import clefs, hexachord_table
from builder.setting.setting import Defaults
from builder.sound import Registration, keyboard_frequencies, rank_data

WORDS = page_texts("it")


def test_the_file_of_a_drill_has_its_tasks_and_no_spaces() -> None:
    music = CourseMusic(tones=(1,))
    data = drill_data("clefs", music, 1, WORDS)
    assert json.loads(data) == [*clefs(music, 1, WORDS)]
    assert ", " not in data and '": ' not in data
    assert drill_uri("figures") == "assets/verset/drill-figures.js"
    assert drill_file("figures", "[1]") == '(window.versetDrills??={})["figures"]=[1];\n'


def test_what_all_drills_share_is_in_the_language_tuning_and_pipes_of_the_course() -> None:
    text = common_data(CourseMusic(), WORDS)
    data = json.loads(text)
    assert {*data} == {"words", "play", "exercise", "hexachords", "patterns"}
    assert data["words"]["voiceNames"] == WORDS.section("voices")
    assert data["words"]["names"] == WORDS.section("names") and data["words"]["try"] == WORDS.section("try")
    assert data["words"]["keyboardLabel"] == WORDS("reader.keyboardLabel")
    assert data["words"]["begin"] == WORDS("drills.begin") and data["hexachords"] == hexachord_table()
    pure = Defaults()
    keys = keyboard_frequencies(read_tuning(pure.tuning), pure.pitch)
    assert data["play"]["keys"] == json.loads(json.dumps(keys)) and 0 < data["play"]["level"] < 1
    principale = rank_data(Registration.parse("principale"), pure.pitch, keys[0], keys[-1])
    assert data["play"]["ranks"] == json.loads(json.dumps(principale))
    assert {*data["exercise"]["pairs"]} == {"1", "0", "-1", "-2"}
    assert "è" in text or "à" in text  # letters as they are, not escaped


def test_a_course_s_own_tuning_pitch_and_registration_are_heard() -> None:
    own = replace(
        Defaults(), tuning="ours", tunings=(("ours", "pythagorean"),), pitch=415.0, registration="flauto"
    )
    play = json.loads(common_data(CourseMusic(own), WORDS))["play"]
    keys = keyboard_frequencies(read_tuning("pythagorean"), 415.0)
    assert play["keys"] == json.loads(json.dumps(keys))
    assert play["ranks"] == json.loads(
        json.dumps(rank_data(Registration.parse("flauto"), 415.0, keys[0], keys[-1]))
    )


def test_the_piece_of_a_page_loads_nothing_until_a_reader_begins() -> None:
    html = opening({"lines": 2, "clefs": 4}, WORDS)
    found = re.search(r'<script type="application/json" class="verset-drill-wish">(.*?)</script>', html)
    assert found and "<" not in found[1]
    data = json.loads(found[1])
    assert data["steps"] == {"lines": 2, "clefs": 4}
    assert data["names"] == {name: WORDS(f"drills.name.{name}") for name in ("lines", "clefs")}
    assert [uri.rpartition("/")[2] for uri in data["scripts"]][-2:] == ["drills.js", "drill-common.js"]
    assert data["files"]["clefs"].endswith("assets/verset/drill-clefs.js") and {*data["files"]} == {
        "lines", "clefs",
    }  # fmt: skip
    assert {*data["words"]} == {"title", "lead", "begin", "loading", "failed"}
    assert data["words"]["begin"] == WORDS("drills.begin")
    assert html.startswith('<section class="verset-drills" lang="it" ') and html.count("<li>") == 2
    assert html.index(WORDS("drills.name.lines")) < html.index(WORDS("drills.name.clefs"))
    assert "<noscript><p>" in html and html.count("src=") == 0
