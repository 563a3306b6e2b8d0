"""Title page, foot of every sheet, and what a file says of itself to catalogues."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book
from builder.edition.imprint import Imprint
from builder.edition.pdf.homework import homework
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet
from builder.setting.setting import Setting
from builder.source import Blank
from builder.source.provenance import Composer, Editor, Provenance, Publication, Witness

DC = "{http://purl.org/dc/elements/1.1/}"
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
SAID = Provenance(
    composer=Composer("Aldwin, John", attributed=True),
    place="Aldwinsbury",
    date="about 1640",
    witnesses=(Witness("A", "Parish library", "Ms. 12"),),
    editors=(Editor("Teacher, Anna", orcid="0000-0002-1825-0097"), Editor("Friend, Paul", "transcriber")),
    published=Publication(
        "A press", "Aldwinsbury", "2026", "Organ books", ismn="979-0-2600-0043-8", doi="10.5281/zenodo.1"
    ),
)
SIGNED = Imprint(
    authors=("Teacher, Anna",), licence="CC-BY-4.0", title="Versets for the year", version="1.2.0"
)


def setting() -> Setting:
    own = course_setting("sixth")
    return replace(own, verset=replace(own.verset, provenance=SAID))


@cache
def sheets() -> dict[str, bytes]:
    own = setting()
    version = {v: single(own, v, imprint=SIGNED) for v in ("given", "plain", "diminished")}
    task, answers = homework(own, [Blank("cantus")], imprint=SIGNED)
    return version | {
        "full": pdf(own, imprint=SIGNED),
        "student": student_sheet(own, imprint=SIGNED),
        "homework": task,
        "answers": answers,
    }


@cache
def bound() -> bytes:
    front = Book("Versets for the year", version="1.2.0", licence="CC-BY-4.0", said=SAID, authors=("X",))
    return book([setting()], front)


def texts(made: bytes) -> list[str]:
    with pymupdf.open(stream=made) as doc:
        return [" ".join(page.get_text().split()) for page in doc]


def packet(made: bytes) -> ET.Element:
    with pymupdf.open(stream=made) as doc:
        found = doc.get_xml_metadata()
    return ET.fromstring(re.sub(r"<\?xpacket.*?\?>", "", found).strip("\ufeff"))


def values(made: bytes, name: str) -> list[str]:
    (found,) = packet(made).iter(DC + name)
    return [item.text or "" for item in found.iter(RDF + "li")] or [found.text or ""]


KINDS = ("full", "given", "plain", "diminished", "student", "homework", "answers")


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_of_every_sheet_says_title_editor_edition_version_licence_and_page(kind: str) -> None:
    pages = texts(sheets()[kind])
    for number, text in enumerate(pages, 1):
        foot = text[-220:]
        assert "Verset in the sixth tone" in foot
        assert "Editor: Teacher, Anna" in foot and "Transcriber: Friend, Paul" in foot
        assert "Versets for the year, Edition 1.2.0" in foot
        assert "Licence: CC-BY-4.0" in foot
        assert (f" {number}/{len(pages)} " if len(pages) > 1 else " 1 ") in foot


def test_a_sheet_of_nobody_says_nothing_of_editors() -> None:
    text = texts(single(course_setting("sixth"), "plain"))[0]
    assert "Editor" not in text and "Licence" not in text


def test_the_title_page_has_composer_people_with_their_roles_edition_and_publisher() -> None:
    front, back, *_ = texts(bound())
    assert front.startswith("attributed to Aldwin, John Versets for the year")
    assert "Editor: Teacher, Anna Transcriber: Friend, Paul" in front
    assert front.endswith("Organ books Edition 1.2.0 A press, Aldwinsbury, 2026")
    assert "ISMN 979-0-2600-0043-8 DOI 10.5281/zenodo.1" in back
    assert "https://orcid.org/0000-0002-1825-0097" in back


@pytest.mark.parametrize("kind", ("full", "plain", "student"))
def test_the_metadata_of_a_file_has_people_roles_publisher_numbers_rights_and_sources(kind: str) -> None:
    made = sheets()[kind]
    assert values(made, "creator") == ["Aldwin, John"]
    assert values(made, "contributor") == ["Teacher, Anna (editor)", "Friend, Paul (transcriber)"]
    assert values(made, "publisher") == ["A press"]
    assert values(made, "date") == ["2026"]
    assert values(made, "identifier") == ["ISMN 979-0-2600-0043-8; DOI 10.5281/zenodo.1"]
    assert values(made, "source") == ["A: Parish library, Ms. 12"]
    assert values(made, "relation") == ["Organ books"]
    assert values(made, "rights") == ["CC-BY-4.0"]
    assert "https://spdx.org/licenses/CC-BY-4.0.html" in ET.tostring(packet(made), "unicode")


def test_the_book_has_the_same_metadata() -> None:
    assert values(bound(), "contributor") == ["Teacher, Anna (editor)", "Friend, Paul (transcriber)"]
    assert values(bound(), "title") == ["Versets for the year"]


def test_an_undated_file_has_no_date(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    made = single(course_setting("sixth"), "given")
    assert b"1980" not in made[-9000:]
    with pymupdf.open(stream=made) as doc:
        assert not doc.metadata["creationDate"] and not doc.metadata["modDate"]
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1750000000")
    with pymupdf.open(stream=single(course_setting("sixth"), "given")) as doc:
        assert doc.metadata["creationDate"].startswith("D:20250615")


def test_the_file_is_still_whole_for_a_strict_reader() -> None:
    """ISO 32000-1, 7.5.4: every entry of the table leads to its object; pymupdf tells repairs."""
    for made in (*sheets().values(), bound()):
        with pymupdf.open(stream=io.BytesIO(made)) as doc:
            assert not doc.is_repaired
            assert all(doc.xref_object(n) for n in range(1, doc.xref_length()))


def test_very_long_names_keep_to_the_foot() -> None:
    many = tuple(Editor(f"Person {n}, Quite Long Named") for n in range(12))
    own = setting()
    own = replace(own, verset=replace(own.verset, title="T " * 200, provenance=replace(SAID, editors=many)))
    with pymupdf.open(stream=single(own, "plain", imprint=SIGNED)) as doc:
        for page in doc:
            assert all(block[3] < page.rect.height - 8 for block in page.get_text("blocks"))
            foot = [block for block in page.get_text("blocks") if block[1] > page.rect.height - 57]
            assert foot and all(block[2] < page.rect.width - 56 for block in foot)
