"""A page of words may let a verset of the course be heard."""

from __future__ import annotations

import pytest
from mkdocs.exceptions import Abort


def test_a_page_shows_and_plays_the_whole_of_the_verset_that_it_names(course) -> None:
    course.write("index.md", "# Start\n\n<!-- verset:hear duo -->\n\nWords.\n")
    course.build(strict=True)
    page = (course.site / "index.html").read_text("utf-8")
    assert page.count('class="verset-play"') == 1 and "verset:hear" not in page
    whole = (course.site / "versets/duo/whole.html").read_text("utf-8")
    start = '<script type="application/json" class="verset-play">'
    music = whole.partition(start)[2].partition("</script>")[0]
    assert music and music in page
    assert "verset-root:" not in page


def test_a_verset_that_is_not_there_is_told_with_its_place_and_the_nearest_name(course, caplog) -> None:
    course.write("index.md", "# Start\n\n<!-- verset:hear dou -->\n")
    with pytest.raises(Abort):
        course.build()
    assert 'index.md:3:18: found the verset "dou"; expected duo' in caplog.text
