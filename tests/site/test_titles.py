"""Titles in any script go through every page of a built site as they were typed."""

from __future__ import annotations

import json
import re
from html import unescape

from titles import TITLES


def texts(html: str, tag: str, marked: str = "") -> list[str]:
    """What a reader sees in the elements of a name (and a class)."""
    found = re.findall(rf"<{tag}(?:\s[^>]*{marked}[^>]*)?>(.*?)</{tag}>", html, re.DOTALL)
    return [" ".join(unescape(re.sub(r"<[^>]*>", "", each)).split()) for each in found]


def test_every_title_stands_on_its_page_in_the_navigation_in_a_service_and_in_the_index(course) -> None:
    told = [json.dumps(title, ensure_ascii=False) for title in TITLES]
    seen = [" ".join(title.split()) for title in TITLES]
    for n, title in enumerate(told):
        course.write(f"titled/{n:02}.md", f"---\ntitle: {title}\n---\n\nWords.\n")
    choir = "".join(f"\n    - choir: {title}" for title in told)
    course.write("service.md", f"---\ntitle: {told[0]}\nservice:\n  order:{choir}\n---\n")
    together = " / ".join(seen)
    duo = (course.root / "content/versets/duo.md").read_text("utf-8")
    course.write(
        "versets/duo.md", duo.replace("title: A duo", f"title: {json.dumps(together, ensure_ascii=False)}")
    )
    course.build()
    pages = [(course.site / f"titled/{n:02}.html").read_text("utf-8") for n in range(len(TITLES))]
    for title, page in zip(seen, pages, strict=True):
        assert texts(page, "title")[0].startswith(title) and title in texts(page, "h1"), title
        assert title in texts(page, "span", "md-ellipsis"), title
    rows = texts((course.site / "service.html").read_text("utf-8"), "td")
    assert not [title for title in seen if title not in rows]
    assert together in texts((course.site / "versets/duo.html").read_text("utf-8"), "h1")
    assert together in texts((course.site / "index.html").read_text("utf-8"), "strong")
    found = json.loads((course.site / "search/search_index.json").read_text("utf-8"))["docs"]
    assert {unescape(entry["title"]) for entry in found} >= {*seen, together}
