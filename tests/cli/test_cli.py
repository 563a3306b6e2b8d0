"""The command line, for people without a site at hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from builder.cli import main

CONTENT = Path(__file__).resolve().parents[2] / "content" / "versets"


def test_check_tells_tone_entries_and_cadence_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(CONTENT / "first.md")]) == 0
    told = capsys.readouterr().out
    assert "first" in told and "doppia" in told
    assert told.index("altus") < told.index("bassus")


def test_check_as_json_is_the_report(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--json", str(CONTENT / "sixth.md")]) == 0
    report = json.loads(capsys.readouterr().out)
    assert report["tone"] == 6 and report["final"] == "F" and report["voices"] == 2


def test_a_refused_source_is_told_with_all_its_errors_and_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.md"
    text = (CONTENT / "first.md").read_text()
    bad.write_text(text.replace("D5/2 A4/4.", "D5/2 H4/4.").replace("bassus F4", "bassus F9"))
    assert main(["check", str(bad)]) == 1
    told = capsys.readouterr().out
    assert "H4" in told and "F9" in told and "Traceback" not in told


@pytest.mark.parametrize("version", ["given", "plain", "diminished"])
def test_every_score_of_an_edition_may_be_checked_again(
    version: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Settings are written with the figures of their line, and are settings all the same."""
    assert main(["build", str(CONTENT / "sixth.md"), "--no-audio", "--to", str(tmp_path)]) == 0
    capsys.readouterr()
    code = main(["check", str(tmp_path / f"sixth-{version}.musicxml")])
    told = capsys.readouterr().out
    assert "expected one part" not in told
    assert code == 0, told


def test_a_file_that_is_not_there_is_said_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "nowhere.md"]) in (1, 2)
    assert "nowhere.md" in "".join(capsys.readouterr())


def test_a_new_course_builds_at_once(tmp_path: Path) -> None:
    folder = tmp_path / "course"
    assert main(["new", str(folder)]) == 0
    assert main(["check", str(folder / "content/versets/example.md")]) == 0
    assert (folder / "mkdocs.yml").is_file()


def test_a_new_course_never_writes_over_anything(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    assert main(["new", str(tmp_path)]) == 2
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_build_writes_every_file_of_the_edition(tmp_path: Path) -> None:
    assert main(["build", str(CONTENT / "sixth.md"), "--to", str(tmp_path), "--no-audio"]) == 0
    names = {p.name for p in tmp_path.iterdir()}
    for version in ("given", "plain", "diminished"):
        assert {f"sixth-{version}.{e}" for e in ("musicxml", "mei", "mid")} <= names
    assert {"sixth.pdf", "sixth.brf", "report.json"} <= names


def test_nothing_is_written_from_a_refused_source(tmp_path: Path) -> None:
    bad = tmp_path / "bad.md"
    bad.write_text((CONTENT / "first.md").read_text().replace("C1 |", "C9 |"))
    assert main(["build", str(bad), "--to", str(tmp_path / "out")]) == 1
    assert not (tmp_path / "out").exists()
