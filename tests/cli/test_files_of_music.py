"""MusicXML and MEI as sources: checked, written out as text, and lessons of a course."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest

from builder.cli.main import main
from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.music import notated
from builder.pages.course import Options, build_course
from builder.pages.store import Store
from builder.source import Verset, parse, read, write

SOURCE = """---
title: A verset
verset: {metre: C, signature: none}
---

```given
cantus C1 | D5/2 A4/2 | C5/4 B4/4 A4/2
tenor  C4 | A3/2 D3/2 | F3/4 E3/4{7 #6} D3/2 | A3/1{4 3} | D3/1
```
"""
CONTAINER = (
    '<?xml version="1.0"?><container><rootfiles><rootfile full-path="a.musicxml"/></rootfiles></container>'
)
LOST = "<notations><fermata/><ornaments><trill-mark/></ornaments></notations><lyric><text>A</text></lyric>"


@pytest.fixture
def verset() -> Verset:
    return parse(SOURCE, "a.md")


@pytest.fixture
def xml(verset: Verset) -> str:
    return given_musicxml(verset, notated(verset.score()))


def packed(path: Path, text: str) -> Path:
    with zipfile.ZipFile(path, "w") as file:
        file.writestr("META-INF/container.xml", CONTAINER)
        file.writestr("a.musicxml", text)
    return path


def test_a_given_line_is_checked_plain_and_packed_with_figures_and_without(
    xml: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = re.sub(r"<figured-bass.*?</figured-bass>", "", xml, flags=re.DOTALL)
    bare = re.sub(r"<miscellaneous>.*?</miscellaneous>", "", bare, flags=re.DOTALL)
    (tmp_path / "a.musicxml").write_text(xml, "utf-8")
    (tmp_path / "bare.musicxml").write_text(bare, "utf-8")
    packed(tmp_path / "a.mxl", xml)
    for name in ("a.musicxml", "a.mxl", "bare.musicxml"):
        main(["check", str(tmp_path / name)])
        told = capsys.readouterr()
        assert "voices    2: cantus, tenor" in told.out, name
        assert not told.err


def test_a_score_is_checked_plain_and_packed(
    verset: Verset, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    score = musicxml(notated(verset.score()))
    (tmp_path / "score.musicxml").write_text(score, "utf-8")
    packed(tmp_path / "score.mxl", score)
    for name in ("score.musicxml", "score.mxl"):
        main(["check", str(tmp_path / name)])
        assert f"{name}: " in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("cut.musicxml", b"<?xml version='1.0'?><score-partwise><part>"),
        ("empty.musicxml", b""),
        ("none.musicxml", b"<score-partwise/>"),
        ("broken.mxl", b"PK\x03\x04and nothing more"),
        ("cut.mei", b"<mei><music>"),
    ],
)
def test_a_broken_file_is_told_with_its_place(
    name: str, data: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(data)
    assert main(["check", str(tmp_path / name)]) == 1
    told = capsys.readouterr()
    assert name in told.out and "Traceback" not in told.out + told.err and "nobody foresaw" not in told.err


@pytest.mark.parametrize("ending", ["musicxml", "mei"])
def test_a_file_of_music_is_written_out_as_text_that_says_the_same(
    verset: Verset, xml: str, ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / f"a.{ending}"
    source.write_text(xml if ending == "musicxml" else mei(verset, notated(verset.score())), "utf-8")
    assert main(["write", str(source), "--to", str(tmp_path / "out.md")]) == 0
    assert not capsys.readouterr().err
    assert write(read(tmp_path / "out.md")) == write(verset)
    assert main(["write", str(source), "--to", str(tmp_path / "out.md")]) == 2
    assert "is there already" in capsys.readouterr().err


def test_write_refuses_in_the_language_of_the_course(
    xml: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mkdocs.yml").write_text("plugins: [{verset: {language: de}}]", "utf-8")
    source, out = tmp_path / "a.musicxml", tmp_path / "out.md"
    source.write_text(xml, "utf-8")
    out.write_text("an older one", "utf-8")
    assert main(["write", str(source), "--to", str(out)]) == 2
    assert capsys.readouterr().err == f"{out} gibt es schon: eine neue Datei angeben\n"
    assert out.read_text("utf-8") == "an older one"


def test_what_is_lost_is_listed(xml: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    at = xml.index("</note>")
    source = tmp_path / "a.musicxml"
    source.write_text(f"{xml[:at]}{LOST}{xml[at:]}", "utf-8")
    assert main(["write", str(source)]) == 0
    told = capsys.readouterr().err.splitlines()
    assert [line.partition(": ")[2] for line in told] == [
        "bars with ornaments, which no source keeps: 1",
        "bars with fermatas, which no source keeps: 1",
        "bars with lyrics, which no source keeps: 1",
    ]
    repeat = '<barline location="right"><repeat direction="backward"/></barline></measure>'
    source.write_text(xml.replace("</measure>", repeat, 1), "utf-8")
    assert [(loss.kind, loss.bars) for loss in read(source).lost] == [("repeat", (1,))]


def test_files_of_music_in_a_course_become_lessons_and_scores_stay_files(
    verset: Verset, xml: str, tmp_path: Path
) -> None:
    course = tmp_path / "content"
    course.mkdir()
    (course / "index.md").write_text("# A course\n", "utf-8")
    (course / "plain.musicxml").write_text(xml, "utf-8")
    packed(course / "packed.mxl", xml)
    (course / "score.musicxml").write_text(musicxml(notated(verset.score())), "utf-8")
    (course / "own.md").write_text("# A page of its own\n", "utf-8")
    (course / "own.musicxml").write_text(xml, "utf-8")
    (course / "broken.mei").write_text("<mei>", "utf-8")
    options = Options(audio=False, pdf=False, processes=1, cache=tmp_path / "store")
    store = Store(options.cache)
    store.open()
    try:
        built = build_course(course, options, store)
    finally:
        store.close()
    assert sorted(built.lessons) == ["packed.md", "plain.md"]
    assert "plain/tenor.md" in {page.uri for page in built.pages}
    assert [failure for failure in built.failures if "broken.mei" in str(failure)]
