"""Sources, readings and their signs in print; what is not the source's is small."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.apparatus import readings, witnesses
from builder.edition.book.book import Book, bind, chapter
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.systems import systems
from builder.engraving.given import given_mei, given_notes
from builder.engraving.keyboard import keyboard_mei
from builder.language.texts import edition_texts, languages
from builder.music import Version
from builder.setting.setting import Setting, with_defaults
from builder.source.provenance import Composer


def demonstrated() -> Setting:
    """The verset of the demonstration that has witnesses."""
    return course_setting("eighth")


@cache
def sheets() -> pymupdf.Document:
    return pymupdf.open(stream=pdf(demonstrated()), filetype="pdf")


def text_of(document: pymupdf.Document) -> str:
    return " ".join(" ".join(page.get_text() for page in document).split())


def test_the_report_describes_sources_method_and_readings() -> None:
    text = text_of(sheets())
    assert "Anonymous · Aldwinsbury, about 1640" in text
    assert "Parish library of Saint Aldwin’s, Ms. 12, 12r, 1641, copy-text." in text
    assert "Editorial method A is followed." in text
    assert (
        "Bar 1, beat 1, cantus: G4 (quarter) G4 (eighth) G4 (eighth) ] A: G4 (quarter) G4 (quarter)." in text
    )
    assert "Emendation: value. The copyist slurs over the repeated notes" in text
    assert "Bar 5, beat 4, altus: D4 (figures ♯) ] B: D4 (figures ♮). Variant: figure." in text


def test_a_number_at_the_music_leads_to_its_reading_and_back() -> None:
    there, back = [], []
    for page in sheets():
        for link in page.get_links():
            (there if page.number == 0 else back).append((page.number, link["page"], link["to"].y))
    assert len(there) == len(back) == len(demonstrated().verset.variants)
    report = {page for page, *_ in back}
    assert {to for _, to, _ in there} == report
    assert {to for _, to, _ in back} == {0}


def test_a_plate_shows_the_witness_with_its_licence() -> None:
    assert "A 12r, bars 1 to 5. Picture: drawn for this course, MIT" in text_of(sheets())
    assert any(page.get_images() for page in sheets())


@pytest.mark.parametrize("name", ["tablet", "b4"])
def test_a_plate_stands_within_its_column(name: str) -> None:
    """In the two columns of a wide page it is narrower than on a sheet, and lies on no words beside it."""
    made = chapter(demonstrated(), Book("One"), paper_name=name, versions=(Version.GIVEN,))
    book = pymupdf.open(stream=bind([made], Book("One"), paper_name=name), filetype="pdf")
    edges = [info["bbox"][2] for page in book for info in page.get_image_info()]
    beyond = 10  # the edge of the whole picture, of which the plate shows a part
    assert edges and max(edges) < book[0].rect.width / 2 + beyond


def test_a_sheet_without_a_report_has_no_numbers() -> None:
    sheet = pymupdf.open(stream=single(demonstrated(), Version.GIVEN), filetype="pdf")
    assert not any(page.get_links() for page in sheet)


def test_the_numbers_stand_under_the_notes_at_which_readings_begin() -> None:
    own = demonstrated()
    mei = given_mei(own.verset, own.scores[Version.GIVEN], signed=True)
    drawn = systems(mei, width=170, space=1.75)
    assert [n for system in drawn for sign in system.signs for n in sign.numbers] == [1, 2, 3]
    for system in drawn:
        assert "reading-sign" not in system.svg
        assert all(0 < sign.x < system.width and 0 < sign.y <= system.height for sign in system.signs)


def test_notes_of_the_realisation_are_small_unless_the_course_wants_them_full() -> None:
    own = demonstrated()
    score = own.scores[Version.PLAIN]
    full = frozenset(n.id for _, n in given_notes(own.verset, score))
    small = re.findall(r'<note [^>]*xml:id="([^"]+)"[^>]*cue="true"', keyboard_mei(score, full=full))
    notes = {n.id for part in score.parts for n in part.notes if n.pitch}
    assert {*small} == notes - full and full
    assert 'cue="true"' not in keyboard_mei(score)
    assert own.small


# Common practice of engravers' handbooks (E. Gould, Behind Bars, 2011, from memory): stave lines about an
# eighth of a space, stems about as thick.
def test_lines_and_stems_are_at_full_weight() -> None:
    own = demonstrated()
    (system, *_) = systems(keyboard_mei(own.scores[Version.PLAIN]), width=170, space=1.75)
    lines = {int(n) / 180 for n in re.findall(r'<path stroke-width="(\d+)" d="M\d+ \d+H', system.svg)}
    stems = re.findall(r'class="stem"><path[^>]*stroke-width="(\d+)"', system.svg)
    assert 0.11 <= min(lines) <= 0.13
    assert {round(int(n) / 180, 2) for n in stems} == {0.12}


@pytest.mark.parametrize("language", languages())
def test_the_report_speaks_every_language(language: str) -> None:
    w = edition_texts(language)
    verset = demonstrated().verset
    told = [*witnesses(verset.provenance, w), *(r.text for r in readings(verset, w))]
    assert len(told) == 3 + len(verset.variants)
    if language != "en":
        english = re.compile(r"\b(bar|beat|quarter|figures|copy-text|Variant|Emendation:)\b")
        assert not any(english.search(r.text) for r in readings(verset, w) if language == "it")


def test_what_a_course_says_stands_where_a_verset_says_nothing() -> None:
    own = demonstrated()
    bare = replace(own.verset, provenance=replace(own.verset.provenance, composer=None))
    from builder.setting.setting import Defaults

    said = replace(own.verset.provenance, composer=Composer("The course's"), place="elsewhere")
    found = with_defaults(bare, Defaults(provenance=said)).provenance
    assert (found.composer, found.place) == (Composer("The course's"), "Aldwinsbury")


def test_the_picture_of_the_course_is_there() -> None:
    folder = Path(demonstrated().verset.path).parent
    assert [(folder / p.file).is_file() for _, p in demonstrated().verset.provenance.facsimiles] == [True]
