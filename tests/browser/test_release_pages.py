"""A released edition, unpacked and opened from the disk with the network cut."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from waiting import until

ROOT = Path(__file__).parent.parent.parent
CONFIG = """site_name: Course
docs_dir: content
use_directory_urls: false
theme: {name: material, font: false}
plugins:
  - search
  - offline
  - verset:
      processes: 1
      book: {name: course, version: 1.0.0, licence: CC0-1.0, licence_file: licence.txt}
markdown_extensions: [admonition, attr_list, md_in_html, tables]
"""


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A course released, taken to another place, unpacked; what it was made from is gone."""
    folder = tmp_path_factory.mktemp("released") / "course"
    (folder / "content/versets").mkdir(parents=True)
    shutil.copy(ROOT / "content/versets/sixth.md", folder / "content/versets/sixth.md")
    (folder / "content/index.md").write_text(
        "# Course\n\n<!-- verset:index -->\n\n<!-- verset:book -->\n", "utf-8"
    )
    (folder / "mkdocs.yml").write_text(CONFIG, "utf-8")
    (folder / "licence.txt").write_text("No rights reserved.\n", "utf-8")
    command = [sys.executable, "-m", "builder.cli", "release", "mkdocs.yml", "--to", str(folder.parent)]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(folder.parent / "course-1.0.0.zip") as archive:
        archive.extractall(folder.parent / "a place with blanks")
    shutil.rmtree(folder)
    return folder.parent / "a place with blanks" / "course-1.0.0"


def test_the_first_page_leads_to_a_verset_with_music_and_sound(unpacked: Path, visit) -> None:
    page = visit(unpacked / "site" / "index.html")
    page.get_by_role("link", name="sixth").first.click()
    page.wait_for_url("**/versets/sixth.html")
    assert page.locator("figure.verset-music svg").count() > 0
    page.goto((unpacked / "site" / "versets" / "sixth" / "whole.html").as_uri())
    until(page, "document.querySelector('.verset-player').verset")


def test_the_list_lets_a_verset_be_heard_and_says_how_far_one_has_come(unpacked: Path, visit) -> None:
    page = visit(unpacked / "site" / "index.html")
    music, room = (page.locator(f".verset-first{own}").bounding_box() for own in (" svg", ""))
    assert music["height"] > 30 and abs(music["height"] - room["height"]) < 0.2, "its room, drawn or not"
    stave = page.locator(".verset-first svg path:not([stroke-width])").first
    width = stave.evaluate("p => getComputedStyle(p).strokeWidth")
    assert float(width.removesuffix("px")) > 15, "staves and stems are seen"
    assert Path(page.locator(".verset-shelf audio").evaluate("a => a.src").removeprefix("file://")
                .replace("%20", " ")).is_file()  # fmt: skip
    told = page.locator(".verset-shelf [data-work]")
    steps = told.get_attribute("data-work").split()
    assert told.inner_text() == "" and len(steps) == 2
    page.evaluate("key => localStorage.setItem(`verset.work.${key}`, '{}')", steps[0])
    page.reload()
    assert told.inner_text() == "1 of 2 steps begun"


def test_every_file_that_a_page_offers_is_there(unpacked: Path, visit) -> None:
    page = visit(unpacked / "site" / "versets" / "sixth.html")
    offered = page.eval_on_selector_all("a[href*='files/']", "links => links.map(a => a.href)")
    assert len(offered) > 10
    for address in offered:
        assert Path(address.removeprefix("file://").replace("%20", " ")).is_file(), address


def test_the_recording_plays_from_the_disk(unpacked: Path, visit) -> None:
    page = visit(unpacked / "site" / "versets" / "sixth" / "whole.html", java_script_enabled=True)
    length = page.evaluate(
        """() => new Promise((done, fail) => {
            const audio = document.querySelector("audio");
            audio.preload = "metadata";
            audio.onloadedmetadata = () => done(audio.duration);
            audio.onerror = () => fail("the recording does not load");
            if (audio.readyState > 0) done(audio.duration);
            audio.load();
        })"""
    )
    assert length > 10
