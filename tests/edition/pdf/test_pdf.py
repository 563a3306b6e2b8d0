"""The printed edition: what stands on the sheets and in the book, and how it lies on the page."""

import re
from dataclasses import replace
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book, service_sheet
from builder.edition.imprint import Imprint
from builder.edition.pdf.breaks import broken, even_lines, natural_widths
from builder.edition.pdf.incipit import incipit
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet, with_empty_staves
from builder.edition.pdf.systems import systems
from builder.edition.service.order import parse_order
from builder.edition.service.plan import plan
from builder.engraving.given import given_mei
from builder.engraving.keyboard import keyboard_mei
from builder.setting.setting import Setting, set_verset
from builder.source import parse, read
from builder.source.verset import Licence, Reading

VERSETS = Path(__file__).parents[3] / "content" / "versets"


@pytest.fixture(scope="module")
def versets() -> list[Setting]:
    return [course_setting(n) for n in ("first", "fourth", "sixth")]


@pytest.fixture(scope="module")
def first(versets) -> Setting:
    return versets[0]


@pytest.fixture(scope="module")
def critical() -> Setting:
    """A verset with everything an editor can do to it."""
    text = (VERSETS / "sixth.md").read_text(encoding="utf-8")
    text = text.replace("E3/2{6} |", "E3/2{(6)} |", 1).replace("A3/2 |", "A3/2 |", 1)
    text = text.replace("G3/2. F3/4 E3/2{(6)}", "G3/2. F(#)3/4 E3/2{(6)}")
    verset = parse(text, "edited.md")
    return set_verset(
        replace(
            verset,
            readings=(Reading(5, "F without sharp", "F sharp", "tenor"),),
            licences=(Licence("direct-fifth", 7, "horn fifths"),),
        )
    )


def text_of(made: bytes) -> str:
    """The text of a PDF in one line, with typographic ligatures undone by the reader."""
    with pymupdf.open(stream=made) as doc:
        return " ".join(" ".join(page.get_text() for page in doc).split())


def pages(made: bytes) -> list[str]:
    with pymupdf.open(stream=made) as doc:
        return [" ".join(page.get_text().split()) for page in doc]


def test_the_sheet_of_one_verset_says_what_a_player_needs(first):
    said = text_of(pdf(first))
    for words in (
        "Verset in the first tone",
        "First tone, closing on D",
        "Four voices: cantus, altus, tenor, bassus",
        "About 35 s",
        "= 52",
        "Given line",
        "Plain",
        "Diminished",
        "Registration Principale",
        "Tuning Quarter-comma",
        "start softly: full organ harms the ear",
    ):
        assert words in said, words


def test_given_line_and_plain_version_stand_on_one_page_the_diminished_on_the_next(first):
    on = pages(pdf(first))
    assert "Given line" in on[0] and "Plain" in on[0] and "Diminished" not in on[0]
    assert on[1].startswith("Diminished")


def test_the_critical_report_tells_what_the_editor_did(critical):
    said = text_of(pdf(critical))
    assert "Bar 5, tenor: the source has F without sharp; adopted: F sharp." in said
    assert "Editorial accidentals Bar 5, beat 2 1/2, tenor: F♯." in said
    assert "Editorial figures Bar 5, beat 3, tenor: [6]." in said
    assert "Licences Bar 7: Direct fifth: horn fifths." in said
    assert "Accidentals in brackets and figures in brackets are the editor’s." in said


def test_a_verset_without_editing_has_no_critical_report(versets):
    assert "Readings" not in text_of(pdf(versets[2]))


def test_an_unmet_rule_is_confessed(first):
    met = replace(first.realisation, findings=(broken_rule(first),))
    said = text_of(pdf(replace(first, realisation=met)))
    assert "Rules not kept Bar 3, beat 1, cantus and altus, plain: parallel fifths." in said


def broken_rule(setting: Setting):
    from builder.counterpoint import Finding

    where = setting.verset.bars[2].onset
    place = setting.verset.place(where)
    return Finding("parallel-fifths", "error", where, place, ("cantus", "altus"), "parallel fifths")


def test_the_student_has_one_empty_stave_for_each_upper_voice(first):
    mei = with_empty_staves(given_mei(first.verset, first.scores["given"]), [])
    assert mei.count("<staffDef ") == 1
    clefs = [g.clef for g in first.verset.given[:1]] * 3
    full = with_empty_staves(given_mei(first.verset, first.scores["given"]), clefs)
    assert full.count("staffDef ") == 4
    assert full.count("mSpace") == 3 * len(first.verset.bars)
    assert text_of(student_sheet(first)).startswith("Verset in the first tone")


def test_a_single_sheet_holds_one_version_and_no_notes(first):
    said = text_of(single(first, "diminished"))
    assert "Diminished · First tone" in said
    assert "Registration" not in said and "Given line" not in said


def test_a_single_sheet_of_a_short_verset_never_turns(versets):
    for setting in versets:
        for paper in ("a4", "tablet"):
            for version in ("given", "plain", "diminished"):
                assert len(pages(single(setting, version, paper_name=paper))) == 1


def test_the_book_has_all_its_parts_in_order(versets):
    made = book(
        versets, Book("Twelve versets", authors=("A. Teacher",), version="1.2.0", preface="Of *use*.")
    )
    with pymupdf.open(stream=made) as doc:
        chapters = [title for level, title, _ in doc.get_toc() if level == 1]
    assert chapters == [
        "Preface",
        "Notes on performance",
        "Verset in the first tone",
        "Verset in the fourth tone",
        "Verset in the sixth tone",
        "Critical report",
        "Index",
    ]
    assert "Edition 1.2.0" in pages(made)[0]


def test_the_index_gives_the_page_where_a_verset_stands(versets):
    made = book(versets, Book("Versets"))
    with pymupdf.open(stream=made) as doc:
        start = {title: page for level, title, page in doc.get_toc() if level == 1}
    index = pages(made)[-1]
    for title in ("Verset in the first tone", "Verset in the sixth tone"):
        shown = re.search(re.escape(title) + r"[ .]*(\d+)", index)
        assert shown and int(shown[1]) == start[title]


def test_a_service_has_its_sheet_its_chapter_and_its_index(versets):
    order = parse_order(
        "---\ntitle: Evening\nservice:\n  order:\n    - {choir: One, tone: 1}\n    - organ: sixth\n---\n",
        "e.md",
    )
    service = plan(order, {s.verset.name: s for s in versets})
    made = book(versets, Book("Versets"), services=[service])
    assert "Services" in [title for _, title, _ in pymupdf.open(stream=made).get_toc()]
    assert "By service Evening Verset in the sixth tone" in pages(made)[-1]
    sheet = text_of(service_sheet(service))
    assert "Before the day" in sheet and "the choir is in tone 1, the organ in tone 6." in sheet


def test_two_versets_of_one_name_are_kept_apart(versets):
    twin = replace(versets[2], verset=replace(versets[2].verset, name="first", title="Another"))
    titles = [t for _, t, _ in pymupdf.open(stream=book([versets[0], twin], Book("B"))).get_toc()]
    assert "Another" in titles and "Verset in the first tone" in titles


def test_words_of_the_course_keep_their_marks(versets):
    said = text_of(book(versets[:1], Book("B & <C>", preface='Of "use" & *care*, # 1 $x$ @home [a](b.md).')))
    assert "B & <C>" in said
    assert "Of “use” & care, # 1 $x$ @home a." in said


def test_an_unknown_paper_or_version_is_named(first):
    with pytest.raises(ValueError, match="known are a4, tablet"):
        pdf(first, paper_name="a5")
    with pytest.raises(ValueError, match="known are given, plain, diminished"):
        pdf(first, versions=("ornate",))
    with pytest.raises(ValueError, match="at least one verset"):
        book([], Book("B"))


def test_no_sign_of_the_music_font_is_left_as_text(first):
    mei = given_mei(first.verset, first.scores["given"])
    for system in systems(mei, width=170):
        assert not re.search("[\ue000-\uf8ff]", system.svg)
        assert "@font-face" not in system.svg


def test_an_accidental_hangs_out_to_the_left_of_its_figure():
    body = "tenor C4 | A3/2{6} A3/2{#6} | A3/1{(b6)}"
    verset = parse(
        f"---\ntitle: X\nverset: {{metre: C, signature: none}}\n---\n```given\n{body}\n```\n", "x.md"
    )
    from builder.music import notated

    (drawn,) = systems(given_mei(verset, notated(verset.score())), width=170)
    signs = [int(x) for x in re.findall(r'href="#gEA\w+-72" x="(\d+)"', drawn.svg)]
    brackets = [int(x) for x in re.findall(r'stroke-width="18" d="M\d+ -?\d+H(\d+)V', drawn.svg)]
    # 6 | ♯ 6 | [ ♭ 6 ]: each right of the one before
    assert len(signs) == 5 and len(brackets) == 2
    assert [*signs[:3], brackets[0], *signs[3:], brackets[1]] == sorted(signs + brackets)


def test_lines_are_even_and_every_bar_is_there(first):
    mei = keyboard_mei(first.scores["plain"])
    drawn = systems(mei, width=170)
    assert sum(s.bars for s in drawn) == len(first.verset.bars)
    assert max(s.bars for s in drawn) - min(s.bars for s in drawn) <= 1
    assert [s.width for s in drawn] == pytest.approx([173.5] * len(drawn), abs=0.1)


def test_bars_are_shared_out_by_their_width():
    assert even_lines([1, 1, 1, 3], 2) == [3, 1]
    assert even_lines([5], 3) == [1]
    assert natural_widths("<svg xmlns='http://www.w3.org/2000/svg'/>") == []
    mei = "<mei xmlns='http://www.music-encoding.org/ns/mei'><section><measure/><measure/><measure/></section></mei>"
    assert re.sub(' xmlns="[^"]*"', "", broken(mei, [2, 1])) == (
        "<mei><section><measure /><measure /><pb /><measure /></section></mei>"
    )


def test_the_incipit_shows_each_voice_in_its_own_clef(first):
    drawn = incipit(first.verset)
    assert drawn.svg.count("Cantus") == 1 and drawn.svg.count("Bassus") == 1
    assert drawn.width < 60


def test_authors_and_language_are_in_the_file(first):
    with pymupdf.open(stream=pdf(first, imprint=Imprint("it", ("A. Teacher",)))) as doc:
        assert doc.metadata["author"] == "A. Teacher"
        assert doc.metadata["title"] == "Verset in the first tone"
        assert doc.language == "it"


def test_a_moved_verset_shows_its_written_pitch_in_the_incipit(first):
    written = read(VERSETS / "first.md")
    moved = set_verset(replace(written, settings=replace(written.settings, move="a fifth higher")))
    said = text_of(pdf(moved))
    assert "Set a fifth higher than written" in said
    with pymupdf.open(stream=pdf(moved)) as doc:
        objects = [doc.xref_object(n, compressed=True) for n in range(1, doc.xref_length())]
    assert any("Incipit: original clefs cantus C1, altus C3" in o for o in objects)
