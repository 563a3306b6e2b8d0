"""What a page asks to be written into its source is written whole, or not at all and told why."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from builder.pages import pinning
from builder.pages.pinning import PinWriter, Refused
from builder.source import EXAMPLE, parse

LINES = ["cantus 3 | F5/2 D5/2"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "content/versets").mkdir(parents=True)
    (tmp_path / "content/versets/two.md").write_bytes(b"\xef\xbb\xbf" + EXAMPLE.encode())
    (tmp_path / "content/words.md").write_text("# Words\n")
    (tmp_path / "outside.md").write_text(EXAMPLE)
    return tmp_path / "content"


@pytest.fixture
def writer(folder: Path) -> PinWriter:
    made = PinWriter()
    made.read(folder)
    return made


def asked(writer: PinWriter, **more: Any) -> dict[str, Any]:
    place = writer.page("versets/two.md")
    assert place
    return {**place, "version": "plain", "lines": LINES, **more}


def test_written_and_taken_back_to_the_same_bytes(writer: PinWriter, folder: Path) -> None:
    path = folder / "versets/two.md"
    before = path.read_bytes()
    path.chmod(0o640)
    assert writer.act(asked(writer)) == 'written into "versets/two.md"'
    after = path.read_bytes()
    assert after.startswith(before[:-1]) and [p.voice for p in parse(after.decode("utf-8-sig")).pins]
    assert path.stat().st_mode & 0o777 == 0o640
    assert writer.last("versets/two.md") == LINES
    writer.read(folder)
    assert writer.act(asked(writer, back=True)) == 'taken back: "versets/two.md"'
    assert path.read_bytes() == before and writer.last("versets/two.md") == []
    assert sorted(p.name for p in path.parent.iterdir()) == ["two.md"]


def test_several_writings_are_taken_back_one_by_one(writer: PinWriter, folder: Path) -> None:
    path, stages = folder / "versets/two.md", []
    for line in ("cantus 3 | F5/2 _/2", "cantus 3 | _/2 D5/2"):
        stages.append(path.read_bytes())
        writer.read(folder)
        writer.act(asked(writer, lines=[line]))
    for stage in reversed(stages):
        writer.read(folder)
        writer.act(asked(writer, back=True))
        assert path.read_bytes() == stage
    writer.read(folder)
    with pytest.raises(Refused, match="nothing to take back"):
        writer.act(asked(writer, back=True))


def test_a_source_that_was_edited_meanwhile_is_left_alone(writer: PinWriter, folder: Path) -> None:
    path = folder / "versets/two.md"
    path.write_text(EXAMPLE + "\nA thought.\n")
    for back in (False, True):
        with pytest.raises(Refused, match="has changed since this page was made"):
            writer.act(asked(writer, back=back))
    assert path.read_text() == EXAMPLE + "\nA thought.\n"
    writer.read(folder)
    writer.act(asked(writer))
    edited = path.read_text().replace("A thought.", "Another thought.")
    path.write_text(edited)
    writer.read(folder)
    assert writer.last("versets/two.md") == [], "what was edited since cannot be taken back"
    with pytest.raises(Refused, match="nothing to take back"):
        writer.act(asked(writer, back=True))
    assert path.read_text() == edited


def test_an_edit_in_the_very_moment_is_not_lost(
    writer: PinWriter, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = folder / "versets/two.md"

    def while_it_is_written(handle: int) -> None:
        path.write_text("the editor was quicker")

    monkeypatch.setattr(pinning.os, "fsync", while_it_is_written)
    with pytest.raises(Refused, match="has changed"):
        writer.act(asked(writer))
    assert path.read_text() == "the editor was quicker"
    assert [p.name for p in path.parent.iterdir()] == ["two.md"]


def test_two_pages_that_ask_at_once_do_not_write_over_each_other(writer: PinWriter, folder: Path) -> None:
    one, other = asked(writer), asked(writer, lines=["cantus 2 | _/2 C5/4 _/4"])
    writer.act(one)
    with pytest.raises(Refused, match="choose again"):
        writer.act(other)


@pytest.mark.parametrize(
    "name", ["../outside.md", "words.md", "/etc/passwd", "versets/none.md", "", None, 3, ["versets/two.md"]]
)
def test_only_sources_of_the_course_are_written(writer: PinWriter, folder: Path, name: object) -> None:
    with pytest.raises(Refused, match="no request of a page"):
        writer.act(asked(writer, source=name))
    with pytest.raises(Refused, match="no request of a page"):
        writer.last(name)
    assert (folder.parent / "outside.md").read_text() == EXAMPLE


def test_a_link_that_leads_out_of_the_course_is_not_followed(folder: Path) -> None:
    (folder / "versets/link.md").symlink_to(folder.parent / "outside.md")
    writer = PinWriter()
    writer.read(folder)
    place = writer.page("versets/link.md")
    with pytest.raises(Refused, match="no request"):
        writer.act({**asked(writer), **(place or {}), "source": "versets/link.md"})
    assert (folder.parent / "outside.md").read_text() == EXAMPLE


@pytest.mark.parametrize(
    "wrong",
    [
        {"version": "given"},
        {"version": "readings"},
        {"version": None},
        {"lines": []},
        {"lines": "cantus 3 | F5/2 D5/2"},
        {"lines": [3]},
        {"lines": ["cantus 3 | F5/2 D5/2\n```\n<script>alert(1)</script>"]},
        {"lines": ["% a remark"]},
        {"lines": LINES * 201},
    ],
)
def test_what_is_no_pin_is_not_written(writer: PinWriter, folder: Path, wrong: dict[str, Any]) -> None:
    before = (folder / "versets/two.md").read_bytes()
    with pytest.raises(Refused, match="no request of a page"):
        writer.act(asked(writer, **wrong))
    assert (folder / "versets/two.md").read_bytes() == before


def test_pins_that_meet_are_told_with_file_and_line_in_the_language(writer: PinWriter, folder: Path) -> None:
    writer.act(asked(writer))
    writer.read(folder)
    with pytest.raises(Refused) as refused:
        writer.act(asked(writer), "it")
    assert str(refused.value).startswith("niente è stato scritto:\ntwo.md:")
    assert "già fissata qui, alla riga" in str(refused.value)


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is closed to the system's administrator")
def test_a_folder_that_may_not_be_written_to(writer: PinWriter, folder: Path) -> None:
    (folder / "versets").chmod(0o500)
    with pytest.raises(Refused, match="cannot be changed"):
        writer.act(asked(writer))


def test_a_full_disk_leaves_the_source_as_it_was(
    writer: PinWriter, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    before = (folder / "versets/two.md").read_bytes()
    monkeypatch.setattr(pinning.os, "fsync", full)
    with pytest.raises(Refused, match="No space left on device"):
        writer.act(asked(writer))
    assert (folder / "versets/two.md").read_bytes() == before
    assert [p.name for p in (folder / "versets").iterdir()] == ["two.md"]
