"""What a teacher may write under `verset` in `mkdocs.yml`."""

from __future__ import annotations

import json
import re
from itertools import pairwise

import pytest
from mkdocs.exceptions import Abort, PluginError


def play(course, page: str = "tenor") -> dict:
    html = (course.site / "versets" / "duo" / f"{page}.html").read_text("utf-8")
    return json.loads(re.search(r'class="verset-play">(.*?)</script>', html, re.DOTALL)[1])["play"]


def configure(course, line: str) -> None:
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("audio: false", f"audio: false, {line}"))


def test_with_breathing_off_every_bar_takes_the_same_time(course) -> None:
    configure(course, "breathing: false")
    course.build()
    starts = [start for _, start in play(course)["bars"]]
    lengths = {round(b - a, 3) for a, b in pairwise(starts)}
    assert lengths == {round(4 * 60 / 104, 3)}


def test_the_themes_own_words_and_the_warnings_follow_the_language_of_the_course(course, caplog) -> None:
    configure(course, "language: de")
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text("utf-8").replace("A duo", "讃") + "\n## Soprano\n\nWords.\n", "utf-8")
    with caplog.at_level("INFO", "mkdocs"):
        course.build()
    assert f"{path}: die Blindenschrift hat kein Zeichen für 讃 (U+8B83)" in caplog.text
    assert caplog.text.count("Blindenschrift") == 1  # once, with its file
    assert re.search(r"duo\.md: Zeile \d+: die Worte unter „soprano“ stehen auf keiner Seite", caplog.text)
    html = (course.site / "versets/duo/tenor.html").read_text("utf-8")
    assert '<html lang="de"' in html and "Zurück" in html


def test_a_language_that_the_teacher_gave_the_theme_stays(course) -> None:
    configure(course, "language: de")
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("font: false", "font: false, language: fr"))
    course.build()
    assert '<html lang="fr"' in (course.site / "versets/duo/tenor.html").read_text("utf-8")


def test_a_course_that_names_a_font_is_not_given_that_of_the_printed_book(course) -> None:
    page = course.root / "site/versets/duo/tenor.html"
    course.build()
    assert 'href="../../assets/verset/fonts.css"' in page.read_text("utf-8")
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("font: false", "font: {text: Own, code: Own}"))
    course.build()
    assert "fonts.css" not in page.read_text("utf-8")


def test_with_breathing_on_the_cadence_broadens(course) -> None:
    course.build()
    data = play(course)
    starts = [start for _, start in data["bars"]]
    assert data["end"] - starts[-1] > starts[1] - starts[0]


def test_with_articulation_off_notes_are_held_to_their_end(course) -> None:
    configure(course, "articulation: false, breathing: false")
    course.build()
    first, second = play(course)["versions"]["given"][:2]
    assert first[1] == pytest.approx(second[0], abs=1e-3)


def test_the_course_names_its_own_tuning(course) -> None:
    configure(course, "tuning: ours, tunings: {ours: '0 76 193 310 386 503 579 697 773 890 1007 1083'}")
    course.write("diminutions.md", "# Diminutions\n\n<!-- verset:patterns -->\n")  # sounds in it too
    course.build(strict=True)
    hertz = {round(note[2], 2) for note in play(course)["versions"]["given"]}
    assert round(440 * 2 ** ((193 - 890) / 1200) / 2, 2) in hertz  # D3, a fifth and an octave below A4


@pytest.mark.parametrize(
    ("line", "word"),
    [("tuning: nowhere", "nowhere"), ("registration: kazoo", "kazoo"), ("breathing: {entri: 1}", "entri")],
)
def test_what_does_not_exist_is_said_in_words(course, caplog, line: str, word: str) -> None:
    configure(course, line)
    with pytest.raises((PluginError, Abort)):
        course.build()
    assert word in caplog.text and "Traceback" not in caplog.text


def test_a_page_may_speak_another_language_than_the_course(course) -> None:
    path = course.root / "content/versets/duo.md"
    path.write_text(path.read_text().replace("title: A duo", "title: Un duo\nlanguage: it"))
    course.build()
    assert "risposta tonale" in (course.site / "versets/duo.html").read_text("utf-8")


OURS = """interval: second down
patterns:
  - {id: our-sigh, figure: accento, notes: 0/4. 1/8, character: sighing, source: "our own"}
"""


def test_a_course_brings_its_own_patterns_and_they_stand_on_the_page_of_patterns(course) -> None:
    (course.root / "ours.yaml").write_text(OURS)
    configure(course, "tables: [ours.yaml]")
    course.write("diminutions.md", "# Diminutions\n\n<!-- verset:patterns -->\n")
    course.build(strict=True)
    assert "our-sigh" in (course.site / "diminutions" / "second-down.html").read_text("utf-8")


def test_a_bad_table_is_told_with_file_and_line(course, caplog) -> None:
    (course.root / "ours.yaml").write_text(OURS.replace("0/4", "0/5"))
    configure(course, "tables: [ours.yaml]")
    with pytest.raises((PluginError, Abort)):
        course.build()
    assert "ours.yaml:" in caplog.text and "0/5" in caplog.text
