"""The exchange of a site for a new one, at whatever moment a build dies."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from builder.pages.publishing import Publication, PublishingError

_DIES = """
import os, sys
from pathlib import Path
from builder.pages.publishing import Publication

site, after = Path(sys.argv[1]), int(sys.argv[2])
calls = 0
for name in ("rename", "unlink", "rmdir", "mkdir"):
    def dying(*args, do=getattr(os, name), **named):
        global calls
        calls += 1
        if calls > after:
            os._exit(9)
        return do(*args, **named)
    setattr(os, name, dying)
publication = Publication(site)
publication.begin()
(publication.new / "index.html").write_text("new")
(publication.new / "a").mkdir()
(publication.new / "a" / "page.html").write_text("new")
publication.exchange()
"""


def shown(site: Path) -> dict[str, str]:
    return {p.relative_to(site).as_posix(): p.read_text() for p in site.rglob("*") if p.is_file()}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    site = tmp_path / "site"
    (site / "a").mkdir(parents=True)
    (site / ".git").mkdir()
    (site / ".git" / "HEAD").write_text("main")
    for name in ("index.html", "a/page.html"):
        (site / name).write_text("old")
    return site


OLD = {"index.html": "old", "a/page.html": "old", ".git/HEAD": "main"}
NEW = {"index.html": "new", "a/page.html": "new", ".git/HEAD": "main"}


def test_the_new_site_takes_the_place_of_the_old_and_hidden_files_stay(site: Path) -> None:
    publication = Publication(site)
    publication.begin()
    for name in ("index.html", "a/page.html"):
        (publication.new / name).parent.mkdir(exist_ok=True)
        (publication.new / name).write_text("new")
    assert shown(site) == OLD
    publication.exchange()
    assert shown(site) == NEW
    assert [p.name for p in site.parent.iterdir()] == ["site"]


def test_a_build_that_dies_at_any_moment_leaves_a_whole_site_to_the_next(site: Path) -> None:
    seen = set()
    for after in range(40):
        ran = subprocess.run([sys.executable, "-c", _DIES, str(site), str(after)], check=False)
        publication = Publication(site)
        publication.begin()
        found = shown(site)
        assert found in (OLD, NEW), after
        publication.abandon()
        assert [p.name for p in site.parent.iterdir()] == ["site"]
        seen.add(found["index.html"])
        if ran.returncode == 0:
            break
        for name in ("index.html", "a/page.html"):
            (site / name).write_text("old")
    assert ran.returncode == 0 and after > 5 and seen == {"old", "new"}


def test_what_another_put_in_the_way_is_left_alone(site: Path) -> None:
    room = site.with_name("site.build")
    room.mkdir()
    (room / "mine.txt").write_text("mine")
    with pytest.raises(PublishingError, match="in the way"):
        Publication(site).begin()
    assert (room / "mine.txt").read_text() == "mine"


def test_a_second_build_is_told_to_wait_and_begins_when_the_first_has_done(site: Path) -> None:
    first, second = Publication(site), Publication(site)
    first.begin()
    told = []

    def waiting() -> None:
        told.append("waits")
        first.abandon()

    second.begin(waiting)
    assert told == ["waits"] and second.new.is_dir()
    second.abandon()
    assert shown(site) == OLD
