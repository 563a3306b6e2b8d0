"""What the demonstration course puts before its readers."""

from __future__ import annotations

import gzip
import json
import re
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.counterpoint import alternatives, differences, reasons
from builder.language.texts import texts
from builder.source import read

CONTENT = Path(__file__).resolve().parents[2] / "content" / "versets"
VERSETS = sorted(p.stem for p in CONTENT.glob("*.md"))
VERSIONS = ("given", "plain", "diminished")


class Page(HTMLParser):
    """What a page loads, the ids of its notes, and its play data."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.play: dict = {}
        self._inside = False
        self.feed(path.read_text("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        got = dict(attrs)
        if tag in {"script", "img", "audio", "source", "iframe"} and got.get("src"):
            self.loads.append(got["src"] or "")
        if tag == "link" and got.get("rel") in {"stylesheet", "icon", "preload", "preconnect"}:
            self.loads.append(got.get("href") or "")
        if tag == "a" and got.get("href"):
            self.links.append(got["href"] or "")
        if got.get("data-id"):
            self.ids.append(got["data-id"] or "")
        self._inside = tag == "script" and "verset-play" in (got.get("class") or "")

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.play = json.loads(data)

    def handle_endtag(self, tag: str) -> None:
        self._inside = False


def steps(name: str) -> list[str]:
    verset = read(CONTENT / f"{name}.md")
    return [step.name for step in analyse(verset).steps]


@pytest.mark.parametrize("name", VERSETS)
def test_each_verset_has_an_overview_a_page_for_each_step_and_the_whole(demo_site: Path, name: str) -> None:
    folder = demo_site / "versets"
    assert (folder / f"{name}.html").is_file()
    assert {p.stem for p in (folder / name).glob("*.html")} == {*steps(name), "whole"}


@pytest.mark.parametrize("name", VERSETS)
def test_each_step_page_stays_below_80_kilobytes_as_a_server_sends_it(demo_site: Path, name: str) -> None:
    for step in steps(name):
        page = demo_site / "versets" / name / f"{step}.html"
        assert len(gzip.compress(page.read_bytes())) < 80_000, page.name


def test_nothing_is_loaded_from_outside(demo_site: Path) -> None:
    for path in sorted(demo_site.rglob("*.html")):
        for load in Page(path).loads:
            assert not re.match(r"(https?:)?//", load), (path.name, load)
    for path in sorted(demo_site.rglob("*.css")):
        assert not re.findall(r"url\(\s*['\"]?(?:https?:)?//", path.read_text("utf-8")), path.name


@pytest.mark.parametrize("name", VERSETS)
def test_every_sounding_note_of_a_step_is_drawn_under_its_id(demo_site: Path, name: str) -> None:
    for step in [*steps(name), "whole"]:
        page = Page(demo_site / "versets" / name / f"{step}.html")
        drawn = set(page.ids)
        span = page.play["span"]
        for version in page.play["versions"]:
            for note in page.play["play"]["versions"][version]:
                for note_id, start in note[4]:
                    if span["start"] - 1e-3 <= start < span["end"] - 1e-3:
                        assert note_id in drawn, (step, note_id)


@pytest.mark.parametrize("name", VERSETS)
def test_every_file_of_the_edition_is_linked_from_the_overview_and_there(demo_site: Path, name: str) -> None:
    page = Page(demo_site / "versets" / f"{name}.html")
    wanted = [f"{name}-{v}.{e}" for v in VERSIONS for e in ("musicxml", "mei", "mid")]
    wanted += [f"{name}-diminished.mp3", f"{name}.pdf", f"{name}.brf", "report.json"]
    for file in wanted:
        assert f"{name}/files/{file}" in page.links
        assert (demo_site / "versets" / name / "files" / file).stat().st_size > 100


@pytest.mark.parametrize("name", VERSETS)
def test_the_report_says_what_the_analysis_found(demo_site: Path, name: str) -> None:
    report = json.loads((demo_site / "versets" / name / "files" / "report.json").read_text("utf-8"))
    analysis = analyse(read(CONTENT / f"{name}.md"))
    assert report["tone"] == analysis.tone and report["final"] == analysis.final
    assert [e["voice"] for e in report["entries"]] == [e.voice for e in analysis.entries]
    assert [s["name"] for s in report["steps"]] == steps(name)
    assert not [f for f in report["findings"] if f["severity"] == "error"]


def test_every_link_inside_the_site_leads_somewhere(demo_site: Path) -> None:
    for path in sorted(demo_site.rglob("*.html")):
        for link in Page(path).links:
            target = link.split("#")[0]
            if target and not re.match(r"[a-z]+:", target):
                assert (path.parent / target).exists(), (path.relative_to(demo_site), link)


def test_music_does_not_swell_the_search(demo_site: Path) -> None:
    index = (demo_site / "search" / "search_index.json").read_text("utf-8")
    assert "<svg" not in index and "verset-play" not in index
    assert "tonal answer" in index


def test_a_step_offers_another_way_to_set_it_and_it_differs_there(demo_site: Path) -> None:
    page = Page(demo_site / "versets" / "first" / "cadence.html")
    play = page.play["play"]["versions"]
    plain, other = ({(n[0], round(n[2])) for n in play[v]} for v in ("plain", "plain-2"))
    assert plain != other
    assert any(note_id.startswith("plain-2-") for note_id in page.ids)


def test_a_step_says_how_its_other_way_differs_and_why_its_notes_stand_there(demo_site: Path) -> None:
    verset = read(CONTENT / "first.md")
    analysis = analyse(verset)
    step = next(s for s in analysis.steps if s.name == "cadence")
    within, tuning = (step.start, step.end), verset.settings.tuned
    ways = alternatives(verset, analysis, 2, within=within, tuning=tuning)
    html = unescape((demo_site / "versets" / "first" / "cadence.html").read_text("utf-8"))
    for phrase in (
        *differences(verset, ways[0], ways[1], within),
        *reasons(verset, analysis, within, tuning=tuning),
    ):
        said = texts("choice").said(phrase)
        assert said in html or f"{said[:1].upper()}{said[1:]}" in html


def test_the_reader_chooses_among_three_levels_of_diminution(demo_site: Path) -> None:
    counts = []
    page = Page(demo_site / "versets" / "first" / "whole.html")
    for version in ("plain", "diminished-1", "diminished", "diminished-3"):
        counts.append(len(page.play["play"]["versions"][version]))
    assert counts == sorted(set(counts))
