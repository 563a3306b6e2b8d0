"""A site has the files of an edition by a second name, not by a copy; what is kept is never written into."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from builder.plugin.linking import StoredFile


def stored(source: Path, site: Path) -> StoredFile:
    file = StoredFile("versets/a.mei", src_dir=None, dest_dir=str(site), use_directory_urls=False)
    file.abs_src_path = str(source)
    file._content = None
    return file


def test_a_kept_file_is_on_the_site_by_a_second_name(tmp_path: Path) -> None:
    source = tmp_path / "kept.mei"
    source.write_text("music")
    stored(source, tmp_path / "site").copy_file()
    assert os.path.samefile(source, tmp_path / "site/versets/a.mei")


def test_what_stood_in_its_place_is_not_written_into(tmp_path: Path) -> None:
    old, new = tmp_path / "old.mei", tmp_path / "new.mei"
    old.write_text("old")
    new.write_text("new music")
    for source in (old, new, new):
        stored(source, tmp_path / "site").copy_file()
    assert old.read_text() == "old" and (tmp_path / "site/versets/a.mei").read_text() == "new music"


def test_where_no_link_can_be_made_it_is_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = tmp_path / "kept.mei"
    source.write_text("music")

    def link(*of: object) -> None:
        raise OSError("another disk")

    monkeypatch.setattr(os, "link", link)
    place = tmp_path / "site/versets/a.mei"
    stored(source, tmp_path / "site").copy_file()
    assert place.read_text() == "music" and not os.path.samefile(source, place)


def test_a_file_of_the_site_that_is_written_into_is_made_anew(course) -> None:
    course.build()
    place = course.site / "versets/duo/files/duo-given.mei"
    good, entries = place.read_bytes(), course.root / ".cache/verset-store/entries"
    assert any(os.path.samefile(place, kept) for kept in entries.rglob("*-given.mei"))
    place.write_bytes(b"spoiled by another program")
    course.build()
    assert place.read_bytes() == good
