"""A good site is never replaced by a bad or half-written one."""

from __future__ import annotations

from pathlib import Path

import pytest
from mkdocs.exceptions import Abort, PluginError


def test_a_course_becomes_an_overview_a_page_for_each_entry_and_the_whole(course) -> None:
    course.build(strict=True)
    pages = {p.name for p in (course.site / "versets" / "duo").glob("*.html")}
    assert {"cantus.html", "tenor.html", "whole.html"} <= pages
    assert (course.site / "versets" / "duo.html").is_file()
    assert not Path(f"{course.site}.partial").exists()


def test_the_page_for_wrong_addresses_is_made_only_where_the_address_of_the_site_is_known(course) -> None:
    course.build(strict=True)
    assert not (course.site / "404.html").exists()
    course.build(strict=True, site_url="https://versets.example/year/")
    assert 'href="/year/assets/verset/reader.css"' in (course.site / "404.html").read_text("utf-8")


def test_a_refused_source_leaves_the_good_site_as_it_was(course, caplog, contents) -> None:
    course.build()
    before = contents(course.site)
    text = (course.root / "content/versets/duo.md").read_text()
    course.write("versets/duo.md", text.replace("A4/4.", "H4/4."))
    with pytest.raises((PluginError, Abort)):
        course.build()
    assert "H4" in caplog.text
    assert contents(course.site) == before


def test_the_errors_of_every_file_are_told_together(course, caplog) -> None:
    good = (course.root / "content/versets/duo.md").read_text()
    course.write("versets/duo.md", good.replace("A4/4.", "H4/4."))
    course.write("versets/other.md", good.replace("C4 |", "X9 |"))
    with pytest.raises((PluginError, Abort)):
        course.build()
    told = caplog.text
    assert "duo.md:12" in told and "H4" in told
    assert "other.md:13" in told and "X9" in told


FIFTHS = """
```plain
cantus 3 | E5/2 A4/2
```
"""


def test_a_strict_build_refuses_errors_against_the_rules_and_keeps_the_good_site(course, contents) -> None:
    course.build()
    before = contents(course.site)
    text = (course.root / "content/versets/duo.md").read_text()
    course.write("versets/duo.md", text.replace("## tenor", FIFTHS + "\n## tenor"))
    with pytest.raises((PluginError, Abort)):
        course.build(strict=True)
    assert contents(course.site) == before


def test_what_breaks_a_rule_is_told_in_the_language_of_the_course(course, caplog) -> None:
    config = course.root / "mkdocs.yml"
    config.write_text(config.read_text().replace("audio: false", "audio: false, language: it"))
    text = (course.root / "content/versets/duo.md").read_text()
    course.write("versets/duo.md", text.replace("## tenor", FIFTHS + "\n## tenor"))
    with pytest.raises((PluginError, Abort)):
        course.build(strict=True)
    lines = [line for line in caplog.text.splitlines() if "parallel-fifths (" in line]
    assert lines and all("battuta" in line and "(canto, tenore): Quinte" in line for line in lines), lines
    assert "non si pubblica nulla: " in caplog.text and "Nothing is published" not in caplog.text


def test_a_lenient_build_publishes_with_the_findings_on_the_page(course) -> None:
    text = (course.root / "content/versets/duo.md").read_text()
    course.write("versets/duo.md", text.replace("## tenor", FIFTHS + "\n## tenor"))
    course.build()
    assert "parallel-fifths" in (course.site / "versets/duo/tenor.html").read_text()


def test_any_warning_stops_a_strict_build_before_it_is_published(course, contents) -> None:
    course.build()
    before = contents(course.site)
    course.write("index.md", "# Start\n\n[nowhere](nowhere.md)\n")
    with pytest.raises((PluginError, Abort)):
        course.build(strict=True)
    assert contents(course.site) == before


def test_every_page_of_the_course_is_in_the_table_of_contents_in_order_of_study(course) -> None:
    course.build()
    nav = (course.site / "versets/duo.html").read_text()
    places = [nav.index(f'href="duo/{name}.html"') for name in ("cantus", "tenor", "whole")]
    assert places == sorted(places)
