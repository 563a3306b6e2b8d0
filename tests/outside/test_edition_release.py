"""The archive through the ordinary programs of a system: `unzip`, `sha256sum`; the citation file
against the keys of the Citation File Format 1.2.0 (published)."""

import json
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest
import yaml

from builder.edition.release.release import About, release

ABOUT = About("v", "Versets", "2.0.1", ("Teacher, A.", "A Choir"), "CC-BY-4.0", "Text.", "What it is.")


@pytest.fixture(scope="module")
def archive(tmp_path_factory) -> Path:
    room = tmp_path_factory.mktemp("release")
    (room / "site" / "deep").mkdir(parents=True)
    (room / "site" / "index.html").write_text("<html/>")
    (room / "site" / "deep" / "é ü.html").write_text("<html/>" * 1000)
    return release(ABOUT, room / "site", {"book/b.pdf": bytes(range(256)) * 100}, room / "out").path


def test_no_entry_is_damaged(archive):
    with zipfile.ZipFile(archive) as found:
        assert found.testzip() is None
        assert len(found.namelist()) == len(set(found.namelist())) == 10


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="coreutils are not installed")
def test_sha256sum_finds_every_file_as_it_should_be(archive, tmp_path):
    with zipfile.ZipFile(archive) as found:
        found.extractall(tmp_path)
    ran = subprocess.run(
        ["sha256sum", "-c", "--strict", "SHA256SUMS"],
        cwd=tmp_path / "v-2.0.1",
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.count(": OK") == 9


def test_the_citation_file_has_the_keys_that_the_format_requires(archive):
    """CFF 1.2.0: required are authors, cff-version, message, title; keys are a closed set (from memory
    of the published schema, those used here)."""
    with zipfile.ZipFile(archive) as found:
        card = yaml.safe_load(found.read("v-2.0.1/CITATION.cff"))
    assert {"authors", "cff-version", "message", "title"} <= card.keys()
    known = {"abstract", "authors", "cff-version", "date-released", "license", "message", "title"}
    assert card.keys() <= known | {"type", "version"}
    assert card["cff-version"] == "1.2.0"
    assert card["type"] in ("software", "dataset")
    person, entity = card["authors"]
    assert person.keys() == {"family-names", "given-names"} and entity.keys() == {"name"}


def test_the_index_counts_the_bytes_as_the_archive_does(archive):
    with zipfile.ZipFile(archive) as found:
        sizes = {i.filename.partition("/")[2]: i.file_size for i in found.infolist()}
        index = json.loads(found.read("v-2.0.1/index.json"))
    assert {f["path"]: f["bytes"] for f in index["files"]} == {
        name: size for name, size in sizes.items() if name.startswith(("site/", "book/"))
    }
