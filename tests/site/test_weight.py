"""What a page and a verset of a large course weigh: every page carries what is near, not the whole tree."""

from __future__ import annotations

import re
from pathlib import Path

from mkdocs.structure.nav import Link, Navigation, Section

from builder.plugin.nav import MOST, NEAR, near


class Item:
    is_page, is_section, is_link, parent = True, False, False, None

    def __init__(self, name: str, active: bool = False) -> None:
        self.title, self.active = name, active


def names(items: list) -> list[str]:
    return [item.title for item in items]


def rest(count: int) -> Link:
    return Link(f"all {count}", "list.html")


def test_a_short_navigation_is_whole() -> None:
    items = [Item(str(n)) for n in range(MOST)]
    assert names(near(Navigation(items, []), rest).items) == [str(n) for n in range(MOST)]


def test_of_a_long_section_stands_what_is_near_and_a_link_to_the_list() -> None:
    for at, first in ((0, 0), (3, 0), (50, 50 - NEAR), (99, 100 - 2 * NEAR - 1)):
        items = [Item(str(n), n == at) for n in range(100)]
        section = Section("Versets", items)
        found = near(Navigation([Item("start"), section], []), rest).items[1]
        assert names(found.children) == [*(str(n) for n in range(first, first + 2 * NEAR + 1)), "all 100"]
        assert len(section.children) == 100


def test_of_a_long_section_that_is_closed_stands_its_beginning() -> None:
    section = Section("Versets", [Item(str(n)) for n in range(100)])
    found = near(Navigation([Item("start", True), section], []), None).items[1]
    assert names(found.children) == [str(n) for n in range(2 * NEAR + 1)]


def size(path: Path) -> int:
    return len(path.read_bytes())


def test_a_page_of_words_in_a_course_of_many_versets_is_small_and_leads_to_all(course) -> None:
    for n in range(40):
        course.write(f"versets/v{n:02}.md", f"# Of no. {n}\n\nWords.\n")
    course.write("words.md", "# Words\n\nNothing else.\n")
    course.write("index.md", "# Start\n\n<!-- verset:index -->\n")
    path = course.root / "mkdocs.yml"
    path.write_text(path.read_text().replace("font: false", "font: false, features: [navigation.sections]"))
    course.build(strict=True)
    words = course.site / "words.html"
    assert size(words) <= 40_000
    page = words.read_text("utf-8")
    assert re.search(r'<a href="index\.html"[^>]*>\s*<span[^>]*>\s*… All 41', page)
    lesson = (course.site / "versets/v20.html").read_text("utf-8")
    for near_by in ("v19.html", "v26.html"):
        assert f'href="{near_by}"' in lesson, near_by
    assert 'href="v35.html"' not in lesson
    step = (course.site / "versets/duo/tenor.html").read_text("utf-8")
    assert 'href="cantus.html"' in step and 'href="../v05.html"' in step and 'href="../v35.html"' not in step
