"""What an editor chooses for print: paper, stave, clefs, values, figures, open score, part books."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import chain
from pathlib import Path

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, book
from builder.edition.files import write_files
from builder.edition.pdf.chosen import MODERN, as_printed, halved, halved_metre, in_modern_clefs
from builder.edition.pdf.paper import PAPERS, chosen_paper
from builder.edition.pdf.parts import part_book
from builder.edition.pdf.sheet import pdf, single
from builder.edition.pdf.student import student_sheet
from builder.edition.pdf.systems import systems
from builder.engraving.barlines import barred
from builder.engraving.given import given_mei
from builder.engraving.keyboard import keyboard_mei
from builder.music import Metre, Version
from builder.setting.setting import Setting
from builder.source import SourceErrors, parse
from builder.source.bibliography import of_course
from builder.source.printing import PAPERS as NAMED
from builder.source.printing import Printing
from builder.source.provenance import NOTHING_SAID, filled
from builder.source.write import write

MM = 72 / 25.4


def chosen(name: str = "eighth", **choices: object) -> Setting:
    own = course_setting(name)
    said = replace(own.verset.provenance, printing=Printing(**choices))  # type: ignore[arg-type]
    return replace(own, verset=replace(own.verset, provenance=said))


def text_of(made: bytes) -> str:
    with pymupdf.open(stream=made) as doc:
        return " ".join(" ".join(page.get_text() for page in doc).split())


FRONT = "---\ntitle: A\nverset:\n  metre: C\n  signature: none\n  print: {print}\n---\n"
LINE = "```given\ncantus C1 | D5/1\n```\n"
WRITTEN = (
    "{paper: b4, stave: 8.5, clefs: modern, values: halved, figures: line, score: open, barring: ticks, "
    "words: below, parts: true}"
)


def test_choices_are_read_and_written_back() -> None:
    verset = parse(FRONT.format(print=WRITTEN) + LINE)
    assert verset.provenance.printing == Printing(
        "b4", 8.5, "modern", "halved", "line", "open", True, "ticks", "below"
    )
    assert parse(write(verset)).provenance == verset.provenance


@pytest.mark.parametrize(
    "wrong",
    [
        "{paper: a5}",
        "{stave: 3}",
        "{stave: big}",
        "{clefs: old}",
        "{barring: none}",
        "{parts: 1}",
        "{size: 2}",
        "b4",
    ],
)
def test_a_wrong_choice_is_told_at_its_place(wrong: str) -> None:
    with pytest.raises(SourceErrors) as refused:
        parse(FRONT.format(print=wrong) + LINE)
    assert refused.value.errors[0].line == 6


def test_a_verset_chooses_before_its_course() -> None:
    course = of_course({"print": {"paper": "b4", "stave": 8}}, "", "mkdocs.yml")
    own = replace(NOTHING_SAID, printing=Printing(stave=6.0, clefs="modern"))
    assert filled(own, course).printing == Printing("b4", 6.0, "modern")


@pytest.mark.parametrize("name", NAMED)
def test_every_paper_has_its_size_and_nothing_runs_over_its_edge(name: str) -> None:
    """ISO 216: A4 210 × 297, B4 250 × 353 mm; letter 8½ × 11, octavo of music 6¾ × 10½ inches."""
    sizes = {
        "a4": (210, 297),
        "b4": (250, 353),
        "letter": (8.5 * 25.4, 11 * 25.4),
        "octavo": (6.75 * 25.4, 10.5 * 25.4),
        "landscape": (297, 210),
        "tablet": (240, 180),
    }
    with pymupdf.open(stream=pdf(chosen(paper=name))) as doc:
        for page in doc:
            assert (page.rect.width / MM, page.rect.height / MM) == pytest.approx(sizes[name], abs=0.02)
            edge = (PAPERS[name].margin - 5) * MM
            for drawn in page.get_drawings():
                assert edge < drawn["rect"].x0 and drawn["rect"].x1 < page.rect.width - edge
                assert drawn["rect"].y1 < page.rect.height - edge / 2


def test_a_stave_is_as_high_as_chosen() -> None:
    for high in (5.0, 7.0, 9.0):
        page = chosen_paper("", Printing(stave=high))
        (system, *_) = systems(given_mei(*given("first")), width=page.column, space=page.space)
        lines = sorted({float(y) for y in re.findall(r"M[-\d.]+ ([-\d.]+)H", system.svg)})[:5]
        scale = system.height / float(re.search(r'viewBox="\S+ \S+ \S+ ([\d.]+)"', system.svg)[1])  # type: ignore[index]
        assert (lines[4] - lines[0]) * scale == pytest.approx(high, abs=0.05)


def given(name: str):
    own = course_setting(name)
    return own.verset, own.scores[Version.GIVEN]


def test_modern_clefs_change_no_note() -> None:
    own = course_setting("first")
    mei = given_mei(in_modern_clefs(own.verset), own.scores[Version.GIVEN])
    before = given_mei(own.verset, own.scores[Version.GIVEN])
    assert 'clef.shape="G"' in mei and 'shape="C"' not in mei and 'shape="C"' in before
    notes = re.compile(r'<note [^>]*pname="(.)" oct="(.)"')
    assert notes.findall(mei) == notes.findall(before)
    assert set(MODERN) == {"cantus", "altus", "tenor", "bassus"}


@pytest.mark.parametrize("name", ["first", "fourth", "sixth", "eighth", "second"])
def test_halved_values_keep_pitches_bars_ties_and_ids(name: str) -> None:
    own = course_setting(name)
    shown = as_printed(own, Printing(values="halved"))
    for version, score in own.scores.items():
        other = shown.scores[version]
        for one, two in zip(score.parts, other.parts, strict=True):
            for a, b in zip(one.notes, two.notes, strict=True):
                assert (a.pitch, a.tied, a.id) == (b.pitch, b.tied, b.id)
                assert (a.onset, a.duration) == (2 * b.onset, 2 * b.duration)
        assert [b.number for b in other.bars] == [b.number for b in score.bars]
        assert other.bars[0].length == other.metre.bar
        mei = keyboard_mei(other)
        assert mei.count("<measure ") == len(score.bars)


def test_halving_a_metre_halves_its_bar() -> None:
    for symbol in ("C", "C|", "3/2", "3/1", "6/4", "4/4", "4/2", "9/8"):
        metre = Metre.parse(symbol)
        assert halved_metre(metre).bar == metre.bar / 2


def test_the_report_keeps_the_values_of_the_source_and_the_sheet_says_what_was_chosen() -> None:
    own = text_of(pdf(chosen(clefs="modern", values="halved")))
    assert "Printed in modern clefs and in half the values." in own
    assert "G4 (quarter) G4 (eighth) G4 (eighth)" in own


def test_the_metronome_mark_is_a_note_sign_with_words_for_who_cannot_see_it() -> None:
    made = single(course_setting("eighth"), "plain")
    assert "Half note" not in text_of(made) and "= 60" in text_of(made)
    halves = single(chosen(values="halved"), "plain")
    for pdf_bytes, told in ((made, "Half note"), (halves, "Quarter note")):
        with pymupdf.open(stream=pdf_bytes) as doc:
            objects = " ".join(doc.xref_object(n) for n in range(1, doc.xref_length()))
        assert told in objects or told.encode("utf-16-be").hex().upper() in objects


def test_figures_stand_under_the_plain_setting_unless_the_line_alone_has_them() -> None:
    all_of_them, line_alone = (
        sum(page.get_drawings() != [] and len(page.get_drawings()) for page in pymupdf.open(stream=made))
        for made in (single(chosen(), "plain"), single(chosen(figures="line"), "plain"))
    )
    assert all_of_them > line_alone + 10
    same = [
        len(pymupdf.open(stream=single(s, "diminished"))[0].get_drawings())
        for s in (chosen(), chosen(figures="line"))
    ]
    assert same[0] == same[1]


def drawn(barring: str, version: str = "plain") -> list[str]:
    """The systems of a version of the eighth verset with these bar lines."""
    score = course_setting("eighth").scores[Version(version)]
    return [s.svg for s in systems(barred(keyboard_mei(score), barring), width=170)]


def bar_lines(svg: str) -> list[tuple[int, float]]:
    """The bar number behind which each line of two staves stands, with the height of the line."""
    found = []
    for number, body in re.findall(r'class="measure" data-n="(\d+)">(.*?)(?=<g class="measure"|$)', svg):
        paths = re.findall(r'stroke-width="27" d="([^"]+)"', body)
        ends = [pair for d in paths for pair in re.findall(r"M\S+ ([-\d.]+)V([-\d.]+)", d)]
        high = [abs(float(b) - float(a)) for a, b in ends]
        found += [(int(number), h) for h in high]
    return found


def test_double_bars_have_a_line_behind_every_second_bar() -> None:
    every, double = ([n for svg in drawn(b) for n, _ in bar_lines(svg)] for b in ("every", "double"))
    last = len(course_setting("eighth").verset.bars)
    assert {*range(1, last)} <= {*every}
    assert {n for n in double if n < last} == {*range(2, last, 2)}


def test_no_line_of_music_ends_inside_a_double_bar() -> None:
    for width in (170.0, 90.0, 45.0):
        score = course_setting("eighth").scores[Version.DIMINISHED]
        mei = barred(keyboard_mei(score), "double")
        for system in systems(mei, width=width):
            numbers = re.findall(r'class="measure" data-n="(\d+)"', system.svg)
            assert numbers[-1] in {str(n) for n, _ in bar_lines(system.svg)} | {str(len(score.bars))}


def test_ticks_are_short_strokes_through_the_highest_lines() -> None:
    """A stave space is 90 or 180 units high as it is drawn; the lines of a stave tell which."""
    svg = drawn("ticks")[0]
    lines = sorted({float(y) for y in re.findall(r"M[-\d.]+ ([-\d.]+)H", svg)})
    space = lines[1] - lines[0]
    last = len(course_setting("eighth").verset.bars)
    ticks = [high for n, high in bar_lines(svg) if n < last]
    assert len(ticks) >= 4 and all(high == pytest.approx(space) for high in ticks)


@pytest.mark.parametrize("barring", ["every", "double", "ticks"])
def test_fewer_bar_lines_change_no_note(barring: str) -> None:
    one, other = ([re.findall(r'data-id="([^"]+)"', svg) for svg in drawn(b)] for b in ("every", barring))
    assert sorted(chain(*one)) == sorted(chain(*other))


def test_a_part_book_has_one_voice_with_its_name() -> None:
    own = chosen(parts=True)
    for voice in own.verset.voices:
        text = text_of(part_book(own, voice))
        assert text.startswith("Verset in the eighth tone") and voice.capitalize() in text
    with pytest.raises(ValueError, match="no voice 'tenor'"):
        part_book(own, "tenor")


def test_part_books_are_written_where_they_are_chosen(tmp_path: Path) -> None:
    names = {p.name for p in write_files(chosen(parts=True), tmp_path / "a", audio={})}
    assert {"eighth-part-cantus.pdf", "eighth-part-altus.pdf", "eighth-part-bassus.pdf"} <= names
    assert not any("-part-" in p.name for p in write_files(chosen(), tmp_path / "b", audio={}))


def test_a_book_takes_each_verset_as_it_is_chosen() -> None:
    made = book([chosen(values="halved"), chosen("sixth", clefs="modern")], Book("B"), paper_name="octavo")
    text = text_of(made)
    assert "Printed in half the values." in text and "Printed in modern clefs." in text


def test_a_book_sets_its_realisations_in_open_score_where_that_is_chosen() -> None:
    with pymupdf.open(stream=book([chosen("first", score="open")], Book("Versets"))) as doc:
        objects = [doc.xref_get_key(n, "Alt")[1] for n in range(1, doc.xref_length())]
    assert any("Plain realisation in open score, in the original clefs" in o for o in objects)
    assert not any("on two staves" in o for o in objects)


def test_the_student_writes_over_the_line_as_it_is_printed() -> None:
    assert text_of(student_sheet(chosen(clefs="modern"))).startswith("Verset in the eighth tone")


def test_a_note_too_short_to_be_halved_is_refused() -> None:
    score = course_setting("first").scores[Version.GIVEN]
    part = score.parts[0]
    short = replace(score, parts=(replace(part, notes=(replace(part.notes[0], duration=Fraction(1, 16)),)),))
    with pytest.raises(ValueError, match="no single value"):
        keyboard_mei(halved(short))
