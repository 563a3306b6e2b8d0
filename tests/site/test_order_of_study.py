"""The book keeps to the order of the teacher's table of contents."""

from __future__ import annotations

import pymupdf

CONTENTS = "nav: [index.md, {Versets: [versets/zither.md, versets/duo.md]}]\n"


def test_the_book_and_the_list_of_versets_follow_the_table_of_contents(course) -> None:
    duo = (course.root / "content/versets/duo.md").read_text("utf-8")
    course.write("versets/zither.md", duo.replace("title: A duo", "title: The first to learn"))
    course.write("index.md", "# Start\n\n<!-- verset:index -->\n\n<!-- verset:book -->\n")
    config = course.root / "mkdocs.yml"
    text = config.read_text("utf-8").replace("pdf: false", "pdf: true")
    config.write_text(text + CONTENTS, "utf-8")
    course.build()
    with pymupdf.open(course.site / "book-a4.pdf") as book:
        chapters = [title for level, title, _ in book.get_toc() if level == 1]
    assert chapters.index("The first to learn") < chapters.index("A duo")
    start = (course.site / "index.html").read_text("utf-8").partition('class="md-content"')[2]
    assert start.index("The first to learn") < start.index("A duo")
