"""The printed edition speaks the language of its course."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book, service_sheet
from builder.edition.imprint import Imprint
from builder.edition.pdf.sheet import pdf
from builder.edition.service.order import parse_order
from builder.edition.service.plan import plan
from builder.language.texts import edition_texts as words
from builder.language.texts import languages
from builder.music import Interval
from builder.setting.setting import Setting, set_verset
from builder.setting.transpose import read_interval, spoken_interval
from builder.source import Reading, read

VERSETS = Path(__file__).parents[3] / "content" / "versets"
ORDER = """---
title: T
service:
  sung: {tone: 1, begins: F, ends: C}
  order: [{organ: sixth}, {choir: A}, {choir: B}, {organ: sixth, move: a tone lower}]
---
"""


def told(made: bytes) -> str:
    with pymupdf.open(stream=made) as doc:
        return " ".join(" ".join(page.get_text() for page in doc).split())


def places(text: str) -> list[str]:
    return sorted(re.findall(r"\{(\w+)\}", text))


@pytest.mark.parametrize("language", languages())
def test_every_language_has_the_same_texts_with_the_same_places(language: str) -> None:
    english, other = words("en").texts, words(language).texts
    assert list(other) == list(english)
    assert {key: places(text) for key, text in other.items()} == {
        key: places(text) for key, text in english.items()
    }


@pytest.mark.parametrize("language", languages())
def test_the_notes_on_performance_have_the_same_chapters(language: str) -> None:
    assert words(language)("performance").count("### ") == words("en")("performance").count("### ") == 6


def test_a_language_without_words_is_named() -> None:
    with pytest.raises(ValueError, match=r"no texts in 'xx'; there are: en, de, it"):
        words("xx")
    assert words("de-AT").language == "de"


@pytest.fixture(scope="module")
def sixth() -> Setting:
    source = read(VERSETS / "sixth.md")
    moved = replace(source.settings, move="a tone lower")
    reading = Reading(2, "nothing", "as printed", "cantus")
    return set_verset(replace(source, settings=moved, readings=(reading,)))


EXPECTED = {
    "it": ("Sesto tono, chiude su", "Linea data", "Apparato critico", "Per tono", "Il coro prende"),
    "de": (
        "Sechster Ton, schließt auf",
        "Gegebene Linie",
        "Kritischer Bericht",
        "Nach Ton",
        "Der Chor nimmt",
    ),
}


@pytest.mark.parametrize("language", ["it", "de"])
def test_a_book_and_its_services_are_in_the_language_of_the_course(sixth: Setting, language: str) -> None:
    plain = course_setting("sixth")
    service = plan(parse_order(ORDER, "t.md"), {plain.verset.name: plain}, language=language)
    assert len(service.warnings) >= 3
    made = book([plain, sixth], Book("T", lang=language), services=[service])
    said = told(made)
    for text in EXPECTED[language]:
        assert text in said, text
    for text in words("en").section("label").values():
        assert text.partition("{")[0].strip() not in said or text in ("Index",), text
    with pymupdf.open(stream=made) as doc:
        assert doc.language == language
    assert words(language)("service.takes") in told(service_sheet(service, imprint=Imprint(language)))


def test_a_moved_verset_says_that_readings_name_the_written_pitch(sixth: Setting) -> None:
    said = told(pdf(sixth))
    assert "Set a tone lower than written" in said
    warning = "Pitches in readings and commentary are named as written: this verset is set a tone lower."
    assert said.count(warning) == 1 + bool(sixth.verset.intro)
    unmoved = course_setting("sixth")
    assert "are named as written" not in told(pdf(unmoved))


def test_every_interval_by_which_a_verset_is_moved_has_words() -> None:
    for language in languages():
        for name in words("en").section("interval"):
            article = "an" if name == "octave" else "a"
            for way in ("lower", "higher"):
                text = f"{article} {name} {way}"
                assert spoken_interval(read_interval(text)) == text
                assert words(language).move(text)
    assert words("en").move(spoken_interval(Interval(-1, -2))) == "a tone lower"


def test_licence_and_publisher_stand_at_the_end(sixth: Setting) -> None:
    said = told(pdf(sixth, imprint=Imprint("it", ("A. B.",), "Una stampa", "CC-BY-4.0")))
    assert said.rstrip(" 0123456789").find("Una stampa · Licenza: CC-BY-4.0") > 0
