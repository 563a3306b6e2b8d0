"""The PDF held against published standards, through reference readers (pymupdf, poppler)."""

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book
from builder.edition.pdf.sheet import pdf
from builder.edition.pdf.student import student_sheet

ROOT = Path(__file__).parents[2]
VERSETS = sorted((ROOT / "content" / "versets").glob("*.md"))


def inset(rect: pymupdf.Rect, across: float, down: float) -> pymupdf.Rect:
    """A box made smaller on all sides, in points."""
    return pymupdf.Rect(rect.x0 + across, rect.y0 + down, rect.x1 - across, rect.y1 - down)


@pytest.fixture(scope="module")
def settings():
    return [course_setting(p.stem) for p in VERSETS[:3]]


@pytest.fixture(scope="module")
def made(settings) -> dict[str, bytes]:
    return {
        "sheet": pdf(settings[0]),
        "tablet": pdf(settings[0], paper_name="tablet"),
        "student": student_sheet(settings[0]),
        "book": book(settings, Book("Versets")),
    }


KINDS = ("sheet", "tablet", "student", "book")


@pytest.mark.parametrize("kind", KINDS)
def test_every_font_is_embedded(made, kind):
    """ISO 19005-2 (PDF/A-2), 6.2.11.4.1: font programs are embedded."""
    with pymupdf.open(stream=made[kind]) as doc:
        fonts = {f[0]: f for page in doc for f in doc.get_page_fonts(page.number, full=True)}
        assert fonts
        for xref in fonts:
            name, ext, _, data = doc.extract_font(xref)
            assert ext not in ("n/a", "") and len(data) > 500, name


@pytest.mark.parametrize("kind", KINDS)
def test_the_music_is_drawn_not_pictured(made, kind, settings):
    # The one picture of a document is the plate of a witness, where it has the report.
    plates = 0 if kind == "student" else sum(len(s.verset.provenance.facsimiles) for s in settings)
    with pymupdf.open(stream=made[kind]) as doc:
        assert sum(len(page.get_images(full=True)) for page in doc) == plates == (kind != "student")
        assert sum(len(page.get_drawings()) for page in doc) > 100


def test_a4_is_the_size_of_iso_216(made):
    """ISO 216: A4 is 210 by 297 mm; 1 point is 1/72 inch of 25.4 mm."""
    with pymupdf.open(stream=made["book"]) as doc:
        for page in doc:
            assert page.rect.width == pytest.approx(210 / 25.4 * 72, abs=0.01)
            assert page.rect.height == pytest.approx(297 / 25.4 * 72, abs=0.01)


def test_a_tablet_page_lies_on_its_side_4_to_3(made):
    with pymupdf.open(stream=made["tablet"]) as doc:
        assert {round(p.rect.width / p.rect.height, 3) for p in doc} == {1.333}


@pytest.mark.parametrize("kind", KINDS)
def test_it_declares_pdf_a_2a_and_pdf_ua_1(made, kind):
    """ISO 19005-2, 6.6.4 and ISO 14289-1, clause 5: the identification in the XMP metadata."""
    with pymupdf.open(stream=made[kind]) as doc:
        xmp = doc.get_xml_metadata()
    assert re.search(r"pdfaid:part(>|=\")2", xmp)
    assert re.search(r"pdfaid:conformance(>|=\")A", xmp)
    assert re.search(r"pdfuaid:part(>|=\")1", xmp)


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_tagged_with_its_language_and_every_picture_has_words(made, kind):
    """ISO 14289-1, 7.1 and 7.3: marked content with a structure tree; figures have alternate text."""
    with pymupdf.open(stream=made[kind]) as doc:
        root = doc.pdf_catalog()
        assert doc.xref_get_key(root, "MarkInfo/Marked") == ("bool", "true")
        assert doc.xref_get_key(root, "StructTreeRoot")[0] == "xref"
        assert doc.xref_get_key(root, "Lang") == ("string", "en")
        objects = [doc.xref_object(n, compressed=True) for n in range(1, doc.xref_length())]
    figures = [o for o in objects if "/S/Figure" in o]
    assert figures
    assert all("/Alt" in o for o in figures)


def test_the_bookmarks_are_the_chapters_and_versions(made, settings):
    with pymupdf.open(stream=made["book"]) as doc:
        toc = doc.get_toc()
    assert [t for level, t, _ in toc if level == 1][1:4] == [s.verset.title for s in settings]
    assert [t for level, t, _ in toc if level == 2][:3] == ["Given line", "Plain", "Diminished"]


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not installed")
def test_its_words_can_be_searched_with_another_reader(made, tmp_path):
    (tmp_path / "x.pdf").write_bytes(made["book"])
    said = subprocess.run(["pdftotext", tmp_path / "x.pdf", "-"], capture_output=True, text=True, check=True)
    assert "Notes on performance" in said.stdout
    assert "The fiffaro, with the principale" in " ".join(said.stdout.split())


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_cut_off_at_the_edge_of_the_paper(made, kind):
    """Common practice, no source: 7 mm are left white all round, which office printers cannot print."""
    with pymupdf.open(stream=made[kind]) as doc:
        for page in doc:
            room = inset(page.rect, 20, 20)
            for drawing in page.get_drawings():
                assert drawing["rect"] in room, (page.number, drawing["rect"])
            for word in page.get_text("words"):
                assert pymupdf.Rect(word[:4]) in room, word[4]


@pytest.mark.parametrize("kind", KINDS)
def test_no_two_words_overlap(made, kind):
    """Text is never printed over text: figures, bar numbers, names of voices, running heads."""
    with pymupdf.open(stream=made[kind]) as doc:
        for page in doc:
            boxes = [(inset(pymupdf.Rect(w[:4]), 1, 3), w[4]) for w in page.get_text("words")]
            for n, (one, text) in enumerate(boxes):
                for other, words in boxes[n + 1 :]:
                    assert not (one & other).get_area() > 0, (page.number, text, words)


def test_two_processes_give_the_same_bytes():
    code = (
        "import sys, hashlib; from builder.edition.pdf.sheet import pdf; from builder.source import read;"
        "from builder.setting.setting import set_verset;"
        f"print(hashlib.sha256(pdf(set_verset(read({str(VERSETS[0])!r})))).hexdigest())"
    )
    sums = set()
    for seed in ("0", "4242"):
        env = os.environ | {"PYTHONHASHSEED": seed}
        ran = subprocess.run(
            [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
        )
        sums.add(ran.stdout)
        time.sleep(1.1)  # a clock read by the engine would show
    assert len(sums) == 1
