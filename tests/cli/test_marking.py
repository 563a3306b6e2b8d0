"""The work of a class, judged by one call."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from course import course_setting

from builder.cli import main
from builder.language.texts import page_texts
from builder.pages.exercise import exercise_data

ROOT = Path(__file__).parents[2]
NAME = "fourth"


def steps() -> list[dict[str, Any]]:
    """The exercises of the verset as its pages have them, with our own notes in `ours`."""
    setting = course_setting(NAME)
    found = (exercise_data(setting, s.start, s.end, page_texts("en")) for s in setting.analysis.steps)
    return [data for data in found if data]


@pytest.fixture
def course(tmp_path: Path) -> Path:
    (tmp_path / "content").mkdir()
    shutil.copy(ROOT / f"content/versets/{NAME}.md", tmp_path / f"content/{NAME}.md")
    (tmp_path / "content/index.md").write_text("# Course\n")
    (tmp_path / "mkdocs.yml").write_text(
        "site_name: C\ndocs_dir: content\nuse_directory_urls: false\ntheme: {name: material, font: false}\n"
        "plugins: [search, offline, {verset: {audio: false, pdf: false}}]\n"
    )
    return tmp_path


def send(folder: Path, student: str, exercise: dict[str, Any], work: dict[str, Any]) -> None:
    path = folder / "works" / student / f"{exercise['key']}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"key": exercise["key"], "work": work}), "utf-8")


def test_our_own_notes_are_in_order_at_every_step(course: Path, capsys: pytest.CaptureFixture[str]) -> None:
    all_steps = steps()
    for exercise in all_steps:
        send(course, "Ours", exercise, exercise["ours"])
    assert main(["mark", str(course / "works"), "--course", str(course)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert len(told) == len(all_steps) + 2 >= 4
    assert told[0].split() == ["student", "step", "set", "in", "order"]
    for line in told[1:-1]:
        done, good = line.split()[-2:]
        assert line.startswith("Ours     Verset in the fourth tone: ") and done == good
        assert done.split("/")[0] == done.split("/")[1]
    assert told[-1] == "Most often: nothing that the rules mind"


def with_octaves(exercise: dict[str, Any]) -> tuple[dict[str, Any], int]:
    """Our notes, but the highest voice goes two sonorities long in octaves with the line."""
    events, work = exercise["events"], {v: list(row) for v, row in exercise["ours"].items()}
    voice = exercise["voices"][0]
    for n in range(1, len(events)):
        a, b = events[n - 1], events[n]
        goes = b["joined"] and not b["stays"] and a["voice"] == b["voice"] and a["bass"] != b["bass"]
        if goes and voice in a["upper"] and voice in b["upper"]:
            for k, event in ((n - 1, a), (n, b)):
                work[voice][k] = [event["bass"][0] + 7, event["bass"][1]]
            return work, n
    raise AssertionError("no two notes of the line follow each other")


def test_a_fault_is_told_with_its_place_and_counted_over_the_class(
    course: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    exercise = steps()[-1]
    wrong, at = with_octaves(exercise)
    send(course, "Anna", exercise, wrong)
    send(course, "Bruno", exercise, wrong)
    unfinished = {v: [None, *row[1:]] for v, row in exercise["ours"].items()}
    send(course, "Carla", exercise, unfinished)
    table = course / "class.csv"
    assert main(["mark", str(course / "works"), "--course", str(course), "--table", str(table)]) == 0
    told = capsys.readouterr().out
    assert f"  bar {exercise['events'][at]['bar']}, " in told and "Parallel octaves" in told
    assert "2 × Parallel octaves" in told.splitlines()[-1]
    rows = list(csv.reader(table.open(encoding="utf-8-sig", newline="")))
    assert [row[0] for row in rows] == ["student", "Anna", "Bruno", "Carla"]
    total = len(exercise["events"])
    assert rows[1][2] == f"{total}/{total}" and rows[1][3] != f"{total}/{total}"
    assert rows[3][2:] == [f"{total - 1}/{total}", f"{total - 1}/{total - 1}", ""]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[]", "`key` and `work`"),
        ("{", "not a whole file of work"),
        ('{"key": "fourth-99-99", "work": {}}', "no step of this course"),
        ('{"key": "KEY", "work": {"cantus": [[3, 0]]}}', "has 1 notes for"),
        ('{"key": "KEY", "work": {"cantus": [["x", 0]]}}', "no pitch"),
        ('{"key": "KEY", "work": {"cantus": 3}}', "a list of notes"),
        ("[" * 100_000, "not a whole file of work"),
    ],
)
def test_what_is_no_work_is_told_with_its_file_and_stops_nobody(
    course: Path, capsys: pytest.CaptureFixture[str], text: str, says: str
) -> None:
    exercise = steps()[0]
    send(course, "Anna", exercise, exercise["ours"])
    bad = course / "works" / "bad.json"
    bad.write_text(text.replace("KEY", exercise["key"]), "utf-8")
    assert main(["mark", str(course / "works"), "--course", str(course)]) == 1
    told = capsys.readouterr()
    assert str(bad) in told.err and says in told.err
    assert told.out.splitlines()[1].startswith("Anna ")
    assert any(line.startswith("bad: not read: ") and says in line for line in told.out.splitlines())


def test_who_could_not_be_read_stands_in_the_table_in_the_language_of_the_course(
    course: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = course / "mkdocs.yml"
    config.write_text(config.read_text().replace("{audio: false,", "{language: it, audio: false,"))
    exercise = steps()[-1]
    send(course, "Anna", exercise, exercise["ours"])
    whole = (course / "works/Anna").glob("*.json").__next__().read_text()
    (course / "works/Ida.json").write_text(whole[: len(whole) // 2])
    table = course / "class.csv"
    assert main(["mark", str(course / "works"), "--course", str(course), "--table", str(table)]) == 1
    rows = list(csv.reader(table.open(encoding="utf-8-sig", newline="")))
    assert [row[0] for row in rows] == ["allievo", "Anna", "Ida"]
    assert rows[2][1:4] == ["", "", ""] and rows[2][4].startswith("non letto: ")
    assert "Expecting" not in "".join(capsys.readouterr())


@pytest.mark.parametrize(
    ("language", "heads"), [("it", ["scritte", "in regola"]), ("de", ["gesetzt", "in Ordnung"])]
)
def test_columns_line_up_whatever_the_names(
    course: Path, capsys: pytest.CaptureFixture[str], language: str, heads: list[str]
) -> None:
    """Names with accents (one sign or two), of any length, and in wide letters of two places each."""
    config = course / "mkdocs.yml"
    config.write_text(config.read_text().replace("{audio: false,", f"{{language: {language}, audio: false,"))
    exercise = steps()[-1]
    wide = {
        "Al": 0,
        "Zoe\u0308 Giu\u0300": 2,
        "Maximiliane-Apollonia von der Lühe": 0,
        "李明": -2,
        "한지민": -3,
    }
    for name in wide:
        send(course, name, exercise, exercise["ours"])
    assert main(["mark", str(course / "works"), "--course", str(course)]) == 0
    table = capsys.readouterr().out.splitlines()[:-1]
    ends = [
        len(table[0]),
        *({name: len(row) - wide[name] for name in wide for row in table if row.startswith(name)}.values()),
    ]
    assert len(ends) == len(wide) + 1 and len({*ends}) == 1
    assert table[0].endswith(f"{heads[0]}  {heads[1]}")


def test_the_call_speaks_the_language_of_the_course(course: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = course / "mkdocs.yml"
    config.write_text(config.read_text().replace("{audio: false,", "{language: de, audio: false,"))
    exercise = steps()[-1]
    send(course, "Anna", exercise, with_octaves(exercise)[0])
    assert main(["mark", str(course / "works"), "--course", str(course)]) == 0
    told = capsys.readouterr().out
    assert "in Ordnung" in told and "Oktavparallelen" in told and "bar" not in told
