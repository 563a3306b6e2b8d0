"""What print has no glyphs for is told of the book and of a service too, with the file."""

from __future__ import annotations

from fractions import Fraction

from builder.edition.book.book import Book
from builder.edition.service.plan import Row, Service
from builder.pages.course import Course, Options


def test_the_words_of_the_book_and_of_a_service_are_looked_through() -> None:
    row = Row("choir", "verse \U0001d11e", "", 1, Fraction(1), "A", "D")
    services = {"a.md": Service("a", "Evening", (row,), ())}
    told = Course(Options(book=Book("Title", authors=("An\ue000na",))), services=services).warnings
    assert told == (
        "a.md: print has no glyph for 𝄞 (U+1D11E): � stands for it",
        "mkdocs.yml, book: print has no glyph for U+E000: � stands for it",
    )


def test_words_that_all_have_glyphs_are_not_told() -> None:
    assert Course(Options(book=Book("讃美歌 ℣", lang="de"))).warnings == ()
