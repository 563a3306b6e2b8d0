"""The same words in two languages: side by side or below each other in print, divisions of a page."""

from __future__ import annotations

from dataclasses import replace

import markdown
import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book
from builder.edition.pdf.sheet import pdf
from builder.language.parallel import on_page, parts
from builder.setting.setting import Setting
from builder.source.printing import Printing

WORDS = (
    "Prima.\n\n[it]\nTre *voci*, un tema[^1].\n\n[^1]: Una nota.\n\n[de]\nDrei Stimmen.\n\n[]\nSenza lingua."
)


def said(words: str = "") -> Setting:
    own = course_setting("sixth")
    chosen = replace(own.verset.provenance, printing=Printing(words=words))
    return replace(own, verset=replace(own.verset, intro=WORDS, provenance=chosen))


def places(made: bytes, page: int = 0) -> dict[str, tuple[float, float]]:
    """Where words of each language begin, from the left and from the top."""
    with pymupdf.open(stream=made) as doc:
        found = {w[4]: (w[0], w[1]) for w in doc[page].get_text("words")}
    return {word: found[word] for word in ("Tre", "Drei", "Prima.", "Senza")}


@pytest.mark.parametrize("words", ["", "beside"])
def test_two_languages_stand_side_by_side(words: str) -> None:
    at = places(pdf(said(words)))
    assert at["Drei"][0] > at["Tre"][0] + 50 and at["Drei"][1] == pytest.approx(at["Tre"][1], abs=1)
    assert at["Prima."][1] < at["Tre"][1] < at["Senza"][1]


def test_or_one_below_the_other() -> None:
    at = places(pdf(said("below")))
    assert at["Drei"][0] == pytest.approx(at["Tre"][0], abs=1) and at["Drei"][1] > at["Tre"][1] + 8


def test_a_preface_is_set_so_too_and_says_which_language_it_speaks() -> None:
    made = book([said()], Book("B", preface=WORDS))
    with pymupdf.open(stream=made) as doc:
        page = next(n for n, p in enumerate(doc) if "Drei" in p.get_text())
        tags = " ".join(doc.xref_object(n) for n in range(1, doc.xref_length()))
    at = places(made, page)
    assert at["Drei"][0] > at["Tre"][0] + 50
    assert "/Lang (it)" in tags and "/Lang (de)" in tags


def test_on_a_page_each_language_has_its_division() -> None:
    html = markdown.markdown(on_page(WORDS), extensions=["md_in_html", "footnotes"])
    assert '<div lang="it">' in html and "<p>Tre <em>voci</em>" in html and '<div lang="de">' in html
    assert html.index("Prima.") < html.index("verset-parallel") < html.index("Senza lingua.")


def test_a_mark_in_code_or_in_a_sentence_is_none() -> None:
    for text in ("```\n[it]\n```", "See [it] there.", "[it]: https://example.org", "[IT]\n"):
        assert parts(text) == (text.strip("\n"),)
