"""A build says how far it is where somebody watches, and at its end what it made."""

from __future__ import annotations

import io
import logging
import re

from builder.plugin.progress import Progress, weighed


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_sees_how_far_a_build_is_and_how_long_yet() -> None:
    out = Terminal()
    progress = Progress(out)
    progress.started -= 60
    progress.tell(1, 3, "first.md")
    progress.tell(3, 3, "third.md")
    told = out.getvalue().split("\r")
    assert told[1] == "1 of 3, about 2 min to go: first.md"
    assert told[2].rstrip(" \n") == "3 of 3: third.md" and out.getvalue().endswith("\n")


def test_the_language_of_the_course_is_spoken() -> None:
    out = Terminal()
    progress = Progress(out, "it")
    progress.started -= 60
    progress.tell(1, 3, "primo.md")
    assert out.getvalue().split("\r")[1] == "1 di 3, mancano circa 2 min: primo.md"


def test_a_log_is_not_filled() -> None:
    out = io.StringIO()
    Progress(out).tell(1, 3, "first.md")
    assert out.getvalue() == ""


def test_the_end_of_a_build_says_what_was_made_and_what_was_kept(course, caplog, capsys) -> None:
    with caplog.at_level(logging.INFO, "mkdocs"):
        course.build(strict=True)
        first = caplog.text
        caplog.clear()
        course.build(strict=True)
    assert re.search(r"1 versets, \d pages; 0 errors, 0 warnings; made anew: 2, kept: 0", first)
    assert "made anew: 0, kept: 2" in caplog.text
    told = re.search(r"versets ([\d.]+) s, pages ([\d.]+) s; ([\d.]+) MB: pages ([\d.]+)", caplog.text)
    assert told
    whole = sum(p.stat().st_size for p in course.site.rglob("*") if p.is_file())
    assert abs(float(told[3]) - whole / 1e6) < 0.1
    assert sum(weighed(course.site).values()) == whole
    assert "not included in the" not in caplog.text
