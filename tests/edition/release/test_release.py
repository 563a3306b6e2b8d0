"""A release is one archive with everything in it, and the same bytes wherever it is made."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
import yaml

from builder.edition.release.changes import read_index
from builder.edition.release.release import About, release

VERSETS = Path(__file__).parents[3] / "content" / "versets"
ABOUT = About("versets", "Versets", "1.0.0", ("Teacher, Anna", "A Choir"), "CC-BY-4.0", "The whole licence.")


def site_at(folder: Path, marks: str = "plain") -> Path:
    """A small built course with one verset."""
    files = folder / "versets" / "first" / "files"
    files.mkdir(parents=True)
    (folder / "index.html").write_text("<html>course</html>", encoding="utf-8")
    (folder / "sitemap.xml").write_text(f"<day>{time.time()}</day>")
    (folder / ".nothing").write_text("")
    (files / "first-given.mei").write_text("<mei/>")
    (files / "first-plain.mei").write_text(f"<mei>{marks}</mei>")
    (files / "first-plain-tuned.mid").write_text(marks)
    (files / "first-plain.mp3").write_bytes(b"sound")
    found = {"name": "first", "title": "First", "tone": 1, "final": "D", "voices": 4, "seconds": 35}
    (files / "report.json").write_text(json.dumps(found))
    return folder


@pytest.fixture
def made(tmp_path):
    return release(ABOUT, site_at(tmp_path / "site"), {"book/book-a4.pdf": b"%PDF"}, tmp_path / "out")


def content(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {n: archive.read(n) for n in archive.namelist()}


def test_everything_is_in_one_folder_named_after_the_version(made):
    assert made.path.name == "versets-1.0.0.zip"
    assert list(content(made.path)) == [
        f"versets-1.0.0/{name}"
        for name in (
            "CHANGES.md",
            "CITATION.cff",
            "LICENSE",
            "README.txt",
            "SHA256SUMS",
            "book/book-a4.pdf",
            "index.json",
            "metadata/dublin-core.xml",
            "site/index.html",
            "site/versets/first/files/first-given.mei",
            "site/versets/first/files/first-plain-tuned.mid",
            "site/versets/first/files/first-plain.mei",
            "site/versets/first/files/first-plain.mp3",
            "site/versets/first/files/report.json",
        )
    ]


def test_what_a_server_needs_and_hidden_files_stay_out(made):
    assert not any("sitemap" in n or ".nothing" in n for n in content(made.path))


def test_the_checksums_are_those_of_the_files(made):
    inside = content(made.path)
    for line in inside["versets-1.0.0/SHA256SUMS"].decode().splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256(inside[f"versets-1.0.0/{name}"]).hexdigest() == digest
    assert made.sha256 == hashlib.sha256(made.path.read_bytes()).hexdigest()


def test_the_index_names_every_file_with_its_kind_and_every_verset(made):
    index = json.loads(content(made.path)["versets-1.0.0/index.json"])
    assert index == made.index
    kinds = {Path(f["path"]).name: f["kind"] for f in index["files"]}
    assert kinds["first-given.mei"] == "encoding"
    assert kinds["first-plain.mp3"] == "audio"
    assert kinds["book-a4.pdf"] == "print"
    (verset,) = index["versets"]
    assert (verset["title"], verset["tone"], len(verset["files"])) == ("First", 1, 5)


def test_people_are_cited_by_family_and_given_name(made):
    card = yaml.safe_load(content(made.path)["versets-1.0.0/CITATION.cff"])
    assert card["authors"] == [{"family-names": "Teacher", "given-names": "Anna"}, {"name": "A Choir"}]
    assert (card["version"], card["license"]) == ("1.0.0", "CC-BY-4.0")
    assert "date-released" not in card


def test_the_date_is_the_releases_not_the_clocks(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    made = release(ABOUT, site_at(tmp_path / "site"), {}, tmp_path / "out")
    with zipfile.ZipFile(made.path) as archive:
        assert {i.date_time for i in archive.infolist()} == {(2023, 11, 14, 22, 13, 20)}
    assert "date-released: '2023-11-14'" in content(made.path)["versets-1.0.0/CITATION.cff"].decode()


def test_the_changes_name_the_verset_and_the_version_that_changed(tmp_path, made):
    later = About("versets", "Versets", "1.1.0", (), "CC-BY-4.0", "L")
    site = site_at(tmp_path / "site2", "other notes")
    new = site / "versets" / "second" / "files"
    new.mkdir(parents=True)
    found = {"name": "second", "title": "Second", "tone": 2, "final": "G", "voices": 2, "seconds": 20}
    (new / "report.json").write_text(json.dumps(found))
    second = release(later, site, {"book/book-a4.pdf": b"%PDF"}, tmp_path / "out", previous=made.path)
    told = content(second.path)["versets-1.1.0/CHANGES.md"].decode()
    assert told == (
        "# Versets 1.1.0\n\nSince 1.0.0:\n\n- New: Second\n- Changed: First (Plain)\n"
        "- New files: 1\n- Changed files: 2\n"
    )
    assert read_index(second.path) == second.index


def test_a_verset_has_not_changed_where_only_the_heads_of_its_encodings_are_others(tmp_path, made):
    """They name the version of the edition."""
    later = About("versets", "Versets", "1.1.0", (), "CC-BY-4.0", "L")
    site = site_at(tmp_path / "site2")
    (site / "versets" / "first" / "files" / "first-plain.mei").write_text("<mei>1.1.0</mei>")
    second = release(later, site, {"book/book-a4.pdf": b"%PDF"}, tmp_path / "out", previous=made.path)
    told = content(second.path)["versets-1.1.0/CHANGES.md"].decode()
    assert told == "# Versets 1.1.0\n\nSince 1.0.0:\n\n- Changed files: 1\n"


def test_a_first_release_lists_what_it_holds(made):
    assert content(made.path)["versets-1.0.0/CHANGES.md"].decode() == (
        "# Versets 1.0.0\n\nFirst release.\n\n- First\n"
    )


def test_the_archive_speaks_the_language_of_the_edition(tmp_path, made):
    about = About("versets", "Versetten", "1.1.0", (), "CC-BY-4.0", "L", lang="de")
    later = release(about, site_at(tmp_path / "site2", "other"), {}, tmp_path / "out", previous=made.path)
    inside = {
        name.rpartition("/")[2]: data.decode()
        for name, data in content(later.path).items()
        if "site/" not in name
    }
    assert inside["README.txt"] == (
        "Versetten\nAusgabe 1.1.0\n\n"
        "site/index.html in einem Browser öffnen: weder Server noch Netz sind nötig.\n"
        "In book/ und sheets/ liegt, was zu drucken ist, in audio/ verlustfreier Klang, in metadata/, was "
        "ein Repositorium wissen will; index.json nennt jede Datei.\n"
        "Prüfen, ob alles unversehrt ist: sha256sum -c SHA256SUMS\n\n"
        "Lizenz: CC-BY-4.0\n"
        "Die ganze Lizenz steht in LICENSE, wie zu zitieren ist, in CITATION.cff.\n\n"
        "Mit Kopfhörern leise beginnen: volle Orgel schadet dem Gehör.\n"
        "In kurzen Abschnitten üben und dazwischen Hände, Gelenke und Rücken ruhen lassen.\n"
        "Ein historisches Instrument nur mit Erlaubnis und nach den Regeln derer spielen, die es hüten.\n"
    )
    assert inside["CHANGES.md"] == (
        "# Versetten 1.1.0\n\nSeit 1.0.0:\n\n- Geändert: First (Schlicht)\n"
        "- Geänderte Dateien: 2\n- Entfallene Dateien: 1\n"
    )
    assert (
        yaml.safe_load(inside["CITATION.cff"])["message"]
        == "Wer diese Ausgabe verwendet, zitiere sie wie folgt."
    )


def test_what_cannot_be_released_is_refused_with_the_reason(tmp_path, made):
    site = tmp_path / "site"
    with pytest.raises(ValueError, match=r"1\.0\.0 is not higher than the last release, 1\.0\.0"):
        release(ABOUT, site, {}, tmp_path / "out", previous=made.path)
    with pytest.raises(ValueError, match="not of the form"):
        release(About("v", "V", "1.0", (), "MIT", ""), site, {}, tmp_path)
    with pytest.raises(ValueError, match="small letters"):
        release(About("My Versets", "V", "1.0.0", (), "MIT", ""), site, {}, tmp_path)
    with pytest.raises(ValueError, match=r"no index\.html"):
        release(ABOUT, tmp_path / "out", {}, tmp_path)
    with pytest.raises(ValueError, match="is not a release"):
        release(ABOUT, site, {}, tmp_path, previous=site / "index.html")


def test_a_folder_of_the_machine_in_a_page_stops_the_release(tmp_path):
    site = site_at(tmp_path / "site")
    (site / "page.html").write_text(f"<a href='file://{site.resolve()}/x'>", encoding="utf-8")
    with pytest.raises(ValueError, match=r"page\.html in the site names a folder of this machine"):
        release(ABOUT, site, {}, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_link_in_the_site_stops_the_release(tmp_path):
    site = site_at(tmp_path / "site")
    (site / "away").symlink_to("/")
    with pytest.raises(ValueError, match="is a link"):
        release(ABOUT, site, {}, tmp_path / "out")


_BUILD = """
import sys
from pathlib import Path
from builder.edition.book.book import Book, book
from builder.edition.release.release import About, release
from builder.setting.setting import set_verset
from builder.source import read
about = About("v", "V", "1.0.0", ("A",), "MIT", "text")
settings = [set_verset(read(p)) for p in sorted(Path("versets").glob("*.md"))]
made = release(about, Path("site"), {"book/book-a4.pdf": book(settings, Book("V"))}, Path("out"))
print(made.sha256)
"""


def test_two_folders_two_clocks_and_two_hash_seeds_give_the_same_bytes(tmp_path):
    sums = []
    for n, (seed, zone) in enumerate((("1", "UTC"), ("777", "Asia/Tokyo"))):
        room = tmp_path / f"{'x' * (1 + 20 * n)}room"
        site_at(room / "site")
        (room / "versets").mkdir()
        for name in ("first.md", "sixth.md"):
            shutil.copy(VERSETS / name, room / "versets")
            os.utime(room / "versets" / name, (n * 10**8, n * 10**8))
        env = os.environ | {
            "PYTHONHASHSEED": seed,
            "TZ": zone,
            "TMPDIR": str(room),
            "PYTHONPATH": str(VERSETS.parents[1]),
        }
        env.pop("SOURCE_DATE_EPOCH", None)
        ran = subprocess.run(
            [sys.executable, "-c", _BUILD], cwd=room, env=env, capture_output=True, text=True, check=True
        )
        sums.append(ran.stdout.strip())
        time.sleep(1.1)
    assert len(sums[0]) == 64
    assert sums[0] == sums[1]


@pytest.mark.parametrize(
    "tag",
    [
        '<script src="https://cdn.invalid/x.js"></script>',
        '<link rel="stylesheet" href="//fonts.invalid/css">',
        "<img alt='' src='http://cdn.invalid/x.png'>",
    ],
)
def test_a_page_that_loads_from_another_host_stops_the_release(tmp_path, tag):
    site = site_at(tmp_path / "site")
    (site / "page.html").write_text(f"<html>{tag}</html>", encoding="utf-8")
    with pytest.raises(ValueError, match=r"page\.html in the site loads .*\.invalid.*: it would not open"):
        release(ABOUT, site, {}, tmp_path / "out")


def test_a_page_may_link_to_another_host(tmp_path):
    site = site_at(tmp_path / "site")
    links = '<link rel="canonical" href="https://here.invalid/"><a href="https://there.invalid">there</a>'
    (site / "page.html").write_text(links, encoding="utf-8")
    assert release(ABOUT, site, {}, tmp_path / "out").path.is_file()


def test_an_archive_that_cannot_be_finished_leaves_nothing_behind(tmp_path, monkeypatch):
    site = site_at(tmp_path / "site")
    from builder.edition.release import release as room

    def full(part):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(room, "_blocks", full)
    with pytest.raises(OSError, match="No space"):
        release(ABOUT, site, {}, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []
