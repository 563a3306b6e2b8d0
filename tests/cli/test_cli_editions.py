"""The command line for an editor: another pitch, and a release in one call."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import zipfile
from pathlib import Path

import pytest

from builder.cli import main

ROOT = Path(__file__).resolve().parents[2]
SIXTH = ROOT / "content" / "versets" / "sixth.md"
CONFIG = """site_name: A small course
site_description: Two voices to begin with
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false}
plugins:
  - search
  - offline
  - verset:
      audio: false
      processes: 1
      book: {version: 1.0.0, authors: ["Teacher, Anna"], licence: CC0-1.0, licence_file: licence.txt}
"""


@pytest.fixture
def course(tmp_path: Path) -> Path:
    folder = tmp_path / "course"
    (folder / "content" / "versets").mkdir(parents=True)
    shutil.copy(SIXTH, folder / "content" / "versets" / "sixth.md")
    (folder / "content" / "index.md").write_text("# Start\n\n<!-- verset:index -->\n", "utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, "utf-8")
    (folder / "licence.txt").write_text("No rights reserved.\n", "utf-8")
    return folder


def released(course: Path, *more: str) -> int:
    return main(["release", str(course / "mkdocs.yml"), "--to", str(course / "out"), *more])


def inside(archive: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(archive) as found:
        return {name.partition("/")[2]: found.read(name) for name in found.namelist()}


def test_a_verset_is_built_at_the_pitch_of_the_choir(tmp_path: Path) -> None:
    assert main(["build", str(SIXTH), "--to", str(tmp_path), "--no-audio", "--move", "a fourth lower"]) == 0
    report = json.loads((tmp_path / "report.json").read_text("utf-8"))
    assert (report["final"], report["signature"], report["tone"]) == ("C", "none", 6)
    assert any(f["rule"] == "written-compass" for f in report["findings"])
    assert "<fifths>0</fifths>" in (tmp_path / "sixth-plain.musicxml").read_text("utf-8")


def test_an_interval_that_is_none_is_refused_with_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["build", str(SIXTH), "--move", "a third lower"])
    assert stopped.value.code == 2
    assert "such as 'a tone lower'" in capsys.readouterr().err


def test_a_pitch_that_cannot_be_written_is_told_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    high = tmp_path / "high.md"
    high.write_text(SIXTH.read_text("utf-8").replace("signature: Bb", "signature: F# C# G# D#"), "utf-8")
    code = main(["build", str(high), "--to", str(tmp_path / "out"), "--move", "a major third higher"])
    told = capsys.readouterr().err
    assert code == 1 and "choose a nearer pitch" in told and "Traceback" not in told
    assert not (tmp_path / "out").exists()


def test_the_pitches_that_suit_are_listed_the_easiest_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pitches", str(SIXTH)]) == 0
    lines = capsys.readouterr().out.splitlines()
    moves = [line for line in lines if not line.startswith(" ")]
    assert len(moves) == 12
    assert moves[0] == "a tone higher: signature F#, G2 C3"
    assert "    the tuning has no A♭: G♯ sounds" in lines


def test_one_command_makes_the_archive_of_a_course(course: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert released(course) == 0
    archive = course / "out" / "a-small-course-1.0.0.zip"
    told = capsys.readouterr().out.splitlines()
    assert told[0] == str(archive) and told[1].startswith("sha256 ")
    files = inside(archive)
    for name in (
        "site/index.html",
        "site/versets/sixth.html",
        "site/versets/sixth/files/sixth-given.mei",
        "book/book-a4.pdf",
        "book/book-tablet.pdf",
        "sheets/sixth-student.pdf",
        "sheets/sixth-plain.pdf",
        "LICENSE",
        "SHA256SUMS",
    ):
        assert name in files, name
    assert files["LICENSE"] == b"No rights reserved.\n"
    card = files["CITATION.cff"].decode()
    assert "family-names: Teacher" in card and "abstract: Two voices to begin with" in card
    mei = files["site/versets/sixth/files/sixth-plain.mei"].decode()
    assert "Teacher, Anna" in mei and "https://spdx.org/licenses/CC0-1.0.html" in mei
    assert str(course).encode() not in b"".join(files.values())

    (course / "mkdocs.yml").write_text(CONFIG.replace("1.0.0", "1.1.0"), "utf-8")
    text = (course / "content/versets/sixth.md").read_text("utf-8")
    (course / "content/versets/sixth.md").write_text(text.replace("beat: half = ", "beat: half = 1"), "utf-8")
    assert released(course, "--since", str(archive)) == 0
    changes = inside(course / "out" / "a-small-course-1.1.0.zip")["CHANGES.md"].decode()
    assert changes.startswith("# A small course 1.1.0\n\nSince 1.0.0:\n")
    assert sorted(p.name for p in (course / "out").iterdir()) == [
        "a-small-course-1.0.0.zip",
        "a-small-course-1.1.0.zip",
    ]


def test_all_that_hinders_a_release_is_told_at_once_before_anything_is_built(
    course: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = CONFIG.replace("1.0.0", "1.0").replace("licence.txt", "nowhere.txt")
    (course / "mkdocs.yml").write_text(bad.replace("use_directory_urls: false", ""), "utf-8")
    (course / "old.zip").write_bytes(b"no archive")
    assert released(course, "--since", str(course / "old.zip")) == 1
    told = capsys.readouterr().err
    for reason in (
        "'1.0' is not of the form",
        "'nowhere.txt' cannot be read",
        "use_directory_urls is on",
        "is not a release",
    ):
        assert reason in told, reason
    assert "Traceback" not in told
    assert not (course / "out").exists() and not (course / "site").exists()


def test_a_bad_source_or_a_broken_link_stops_the_release(
    course: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = course / "content/versets/sixth.md"
    good = source.read_text("utf-8")
    source.write_text(good.replace("C1 |", "C9 |"), "utf-8")
    assert released(course) == 1
    assert "C9" in capsys.readouterr().err
    source.write_text(good, "utf-8")
    (course / "content/index.md").write_text("# Start\n\n[gone](gone.md)\n", "utf-8")
    assert released(course) == 1
    assert "gone.md" in capsys.readouterr().err
    assert not (course / "out").exists() and not (course / "site").exists()


def test_a_course_without_the_plugin_and_a_missing_file_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "content").mkdir()
    (tmp_path / "mkdocs.yml").write_text("site_name: X\ndocs_dir: content\n", "utf-8")
    assert main(["release", str(tmp_path)]) == 1
    assert "no plugin verset" in capsys.readouterr().err
    assert main(["release", str(tmp_path / "other.yml")]) in (1, 2)
    told = capsys.readouterr().err
    assert "other.yml" in told and "Traceback" not in told


def page_of_the_edition() -> str:
    return (ROOT / "content" / "editions.md").read_text("utf-8")


def test_the_page_for_the_editor_names_every_option_and_every_word_of_the_book() -> None:
    from dataclasses import fields

    from builder.edition.book.book import Book
    from builder.plugin.config import VersetConfig

    page = page_of_the_edition()
    options = {key for key, _ in VersetConfig._schema}
    assert options == set(re.findall(r"^\| `(\w+)` \|", page.partition("## Options of a course")[2], re.M))
    for name in {field.name for field in fields(Book)} - {"lang", "said"}:
        assert f"`{name}`" in page, name


def test_the_examples_of_the_page_for_the_editor_are_what_the_plugin_takes(tmp_path: Path) -> None:
    from builder.plugin.site import read_site

    blocks = re.findall(r"```yaml\n(plugins:.*?)```", page_of_the_edition(), re.S)
    assert len(blocks) == 2
    (tmp_path / "content").mkdir()
    for block in blocks:
        text = f"site_name: X\ndocs_dir: content\ntheme: material\n{block}"
        (tmp_path / "mkdocs.yml").write_text(text, "utf-8")
        site, options = read_site(tmp_path / "mkdocs.yml")
        assert site.title == "X"
    assert options.processes == 2 and options.defaults.articulation.strong == 0.0
    assert options.defaults.breathing.cadence == 0.3


def test_the_commands_of_the_page_for_the_editor_exist() -> None:
    from builder.cli.main import parser

    lines = re.findall(r"^verset-builder (.*)$", page_of_the_edition(), re.M)
    assert len(lines) == 9
    for line in lines:
        assert parser().parse_args(shlex.split(line)).run
