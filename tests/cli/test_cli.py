"""The command line, for people without a site at hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

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


@pytest.mark.parametrize(
    ("language", "said"), [("en", "A course of versets"), ("it", "Un corso di versetti"), ("de", "Ein Kurs")]
)
def test_a_new_course_speaks_its_language(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], language: str, said: str
) -> None:
    folder = tmp_path / "course"
    assert main(["new", str(folder), "--language", language]) == 0
    written = [path.read_text("utf-8") for path in sorted(folder.rglob("*.*"))]
    asked = yaml.safe_load((folder / "mkdocs.yml").read_text("utf-8"))
    assert asked["site_name"].startswith(said)
    assert asked["plugins"][-1] == ("verset" if language == "en" else {"verset": {"language": language}})
    assert not any("$" in text for text in written)
    (first,) = (folder / "content").glob("*/*.md")
    assert first.parent.name == {"en": "versets", "it": "versetti", "de": "versette"}[language]
    assert f"`{first.parent.name}`" in (folder / "content/index.md").read_text("utf-8")
    assert main(["check", str(first)]) == 0
    if language != "en":
        told = " ".join([*written, capsys.readouterr().out])
        assert not any(word in told for word in ("Write a page", "Dark", "Two voices", "Started", "tone 1"))


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


def test_a_build_that_fails_half_way_leaves_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from builder.edition import files

    def full(*args: object, **named: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "brf", full)
    there = tmp_path / "there"
    there.mkdir()
    (there / "sixth.pdf").write_text("an older one")
    for out in (tmp_path / "out" / "deep", there):
        assert main(["build", str(CONTENT / "sixth.md"), "--to", str(out), "--no-audio"]) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert [(p.name, p.read_text()) for p in there.iterdir()] == [("sixth.pdf", "an older one")]


def test_build_speaks_the_language_asked_for_or_that_of_the_source(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import pymupdf

    text = (CONTENT / "sixth.md").read_text("utf-8")
    source = tmp_path / "sixth.md"
    source.write_text(text.replace("---\n", "---\nlanguage: it\n", 1), "utf-8")
    for asked, word in (([], "Sesto tono"), (["--language", "de"], "Sechster Ton")):
        out = tmp_path / f"out{len(asked)}"
        assert main(["build", str(source), "--to", str(out), "--no-audio", *asked]) == 0
        with pymupdf.open(out / "sixth.pdf") as doc:
            assert word in doc[0].get_text() and "Sixth tone" not in doc[0].get_text()


def test_what_nobody_foresaw_is_told_in_words_with_a_log_and_stops_no_other_source(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from builder.cli import commands

    usual = commands.set_verset

    def set_verset(verset: object, *args: object, **named: object) -> object:
        if getattr(verset, "name", "") == "first":
            raise ZeroDivisionError("deep inside")
        return usual(verset, *args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(commands, "set_verset", set_verset)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert main(["check", str(CONTENT / "first.md"), str(CONTENT / "sixth.md")]) == 2
    told = capsys.readouterr()
    assert "sixth" in told.out and "first.md: something that nobody foresaw" in told.err
    assert "verset-builder.log" in told.err and "Traceback" not in told.err + told.out
    assert "deep inside" in (tmp_path / "verset-builder.log").read_text("utf-8")
    assert main(["build", str(CONTENT / "first.md"), "--to", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert "first.md" in told.err and "verset-builder.log" in told.err and "Traceback" not in told.err


def test_a_file_name_cannot_steer_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a\x1b[2J\x9b.md"
    path.write_text((CONTENT / "sixth.md").read_text("utf-8"), "utf-8")
    main(["check", str(path)])
    main(["build", str(tmp_path / "none\x1b.md"), "--to", str(tmp_path / "out")])
    told = capsys.readouterr()
    assert not set(told.out + told.err) & set("\x1b\x9b") and "␛" in told.out and "␛" in told.err


@pytest.mark.parametrize(
    ("config", "asked", "line"),
    [
        ("plugins: [search, {verset: {language: it}}]", "", "voci      2: canto, tenore"),
        ("plugins: {verset: {language: de}}\nhooks: !ENV [X, y]", "", "Stimmen   2: Cantus, Tenor"),
        ("plugins: [verset]", "", "voices    2: cantus, tenor"),
        ("plugins: [{verset: {language: de}}]", "it", "voci      2: canto, tenore"),
        ("plugins: [", "", "voices    2: cantus, tenor"),
        ("plugins: [{verset: {language: tlh}}]", "", "voices    2: cantus, tenor"),
    ],
)
def test_check_speaks_the_language_of_the_course(
    config: str, asked: str, line: str, tmp_path, capsys
) -> None:
    source = tmp_path / "content/versets/sixth.md"
    source.parent.mkdir(parents=True)
    source.write_text((CONTENT / "sixth.md").read_text("utf-8"), "utf-8")
    (tmp_path / "mkdocs.yml").write_text(config, "utf-8")
    assert main(["check", str(source), *(["--language", asked] if asked else [])]) == 0
    assert line in capsys.readouterr().out.splitlines()


def test_mistakes_are_told_in_the_language_of_the_course_and_of_the_page(tmp_path, capsys) -> None:
    (tmp_path / "mkdocs.yml").write_text("plugins: [{verset: {language: it}}]", "utf-8")
    source = tmp_path / "bad.md"
    text = (CONTENT / "sixth.md").read_text("utf-8").replace("metre:", "metro:", 1)
    source.write_text(text, "utf-8")
    for call in ("check", "pitches", "write", "build"):
        assert main([call, str(source)]) == 1
        told = capsys.readouterr()
        assert 'trovato: la parola chiave "metro"; atteso: ' in told.out + told.err, call
    source.write_text(text.replace("title:", "language: de\ntitle:", 1), "utf-8")
    main(["check", str(source)])
    assert 'gefunden: das Schlüsselwort "metro"; erwartet: ' in capsys.readouterr().out


def test_a_score_is_checked_in_the_language_asked_for(tmp_path, capsys) -> None:
    score = tmp_path / "one.musicxml"
    score.write_text("<score-partwise><part-list/></score-partwise>", "utf-8")
    main(["check", "--language", "de", str(score)])
    assert "0 Stimmen gefunden; erwartet: zwei bis fünf" in capsys.readouterr().out


def test_the_course_s_file_is_read_once_for_all_that_a_command_asks_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its language and what it allows, for several sources; and anew when it has changed."""
    from builder.cli import options

    config, bad = tmp_path / "mkdocs.yml", "---\ntitle: T\nverset: {metre: 9}\n---\n"
    config.write_text("plugins: [{verset: {language: it}}]\n")
    for name in ("a", "b"):
        (tmp_path / f"{name}.md").write_text(bad)
    read: list[str] = []
    load = options.yaml.load

    def counted(text: str, loader: object) -> object:
        if text.startswith("plugins"):  # other rooms read files of their own
            read.append(text)
        return load(text, loader)

    monkeypatch.setattr(options.yaml, "load", counted)
    assert main(["check", str(tmp_path / "a.md"), str(tmp_path / "b.md")]) == 1
    italian = capsys.readouterr().out
    assert len(read) == 1
    config.write_text("plugins: [{verset: {language: de}}]\n")
    assert main(["check", str(tmp_path / "a.md")]) == 1
    assert len(read) == 2 and capsys.readouterr().out not in italian
