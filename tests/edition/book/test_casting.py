"""A book is cast off so that its pages are full and nobody turns inside a version."""

from __future__ import annotations

import random
import re
from fractions import Fraction
from itertools import combinations, pairwise

import pymupdf
import pytest
from course import course_setting

from builder.edition.book.book import Book, bind, chapter
from builder.edition.pdf.casting import GAPS, WIDEST, Block, Cast, blocks_of, cast, layout, turns
from builder.edition.pdf.filling import empty_shares
from builder.edition.pdf.paper import PAPERS, paper
from builder.edition.service.plan import Row, Service
from builder.music import Version

DEPTH = 257.0


def verset(piece: int, *systems: int, height: float = 30.0) -> list[Block]:
    """A verset with so many systems in each version."""
    row = [Block("head", piece, height=45)]
    for n, count in enumerate(systems):
        row.append(Block("heading", piece, n, height=3))
        row += [Block("system", piece, n, m, height) for m in range(count)]
    return [*row, Block("notes", piece, height=22), Block("plan", piece, height=45)]


def pages(placed: list[Cast]) -> list[list[Cast]]:
    found: list[list[Cast]] = []
    for each in placed:
        if each.turn:
            found.append([])
        found[-1].append(each)
    return found


def high(page: list[Cast]) -> float:
    return sum(c.block.height for c in page) + sum(c.gap for c in page[1:])


def odd_book(seed: int) -> list[Block]:
    dice = random.Random(seed)
    return [
        block
        for n in range(12)
        for block in verset(n, *(dice.randint(1, 9) for _ in range(3)), height=dice.uniform(14, 40))
    ]


def test_every_block_stands_once_and_in_order_and_no_page_overflows() -> None:
    for seed in range(12):
        blocks = odd_book(seed)
        placed = cast(blocks, DEPTH, openings=True)
        assert [c.block for c in placed] == blocks and placed[0].turn
        assert all(high(page) <= DEPTH + 1e-6 for page in pages(placed))


def test_no_page_but_the_last_is_half_empty() -> None:
    worst = 0.0
    for seed in range(12):
        for page in pages(cast(odd_book(seed), DEPTH, openings=True))[:-1]:
            worst = max(worst, 1 - high(page) / DEPTH)
    assert worst < 0.5


def test_heads_and_headings_stay_with_what_follows() -> None:
    for seed in range(12):
        placed = cast(odd_book(seed), DEPTH, openings=True)
        assert not any(one.block.sticky and two.turn for one, two in pairwise(placed))


def test_a_version_is_turned_only_where_a_page_would_be_half_empty() -> None:
    """Of two versions of four systems the second does not fit under the first, and begins on the next page;
    where the first is one system, the page would be three quarters empty."""
    turned = [
        [c.block.system for c in cast(verset(0, count, 5, height=42), DEPTH, openings=False) if c.turn]
        for count in (4, 1)
    ]
    assert not any(turned[0])
    assert any(turned[1])


def test_over_the_fold_a_version_may_go_on() -> None:
    row = [Block("heading", 0, height=3), *(Block("system", 0, 0, n, 60) for n in range(6))]
    bound = [n for n, c in enumerate(cast(row, DEPTH, openings=True)) if c.turn]
    assert bound == [0, 5]


def test_systems_are_spread_to_the_foot_of_a_page_that_is_nearly_full() -> None:
    blocks = [block for n in range(4) for block in verset(n, 3, 3, 3)]
    for page in pages(cast(blocks, DEPTH, openings=True))[:-1]:
        loose = 1 - high(page) / DEPTH
        assert loose < 1e-6 or all(c.gap == c.block.gap for c in page[1:])
        assert all(c.gap - c.block.gap <= WIDEST for c in page)
        first = [c for c in page[1:] if c.block.kind == "system" and not c.block.system]
        assert all(c.gap == GAPS["first"] for c in first)


def test_the_title_stands_once_more_before_the_music_only_where_that_saves_a_turn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Title, its back, contents with the notes on performance below: the music comes to a left page in any
    case. With a preface of one page it comes to a right one, and the title alone can stand there."""
    made = [chapter(course_setting(name), Book("")) for name in ("first", "sixth")]

    def titles_and_start(preface: str = "") -> tuple[list[int], int]:
        with pymupdf.open(stream=bind(made, Book("Versets", preface=preface))) as book:
            alone = [page.number + 1 for page in book if page.get_text().split() == ["Versets"]]
            assert all(len(page.get_text().split()) > 3 for page in book if page.number + 1 not in alone)
            (start,) = (page for _, title, page in book.get_toc() if title == made[0].title)
        return alone, start

    long = "Some words before the music. " * 60
    assert titles_and_start() == ([], 4)
    assert titles_and_start(long) == ([], 5)
    monkeypatch.setattr("builder.edition.book.book.turns", lambda rows, first: first)
    assert titles_and_start() == ([], 4)
    assert titles_and_start(long) == ([5], 6)


def test_turns_are_counted_where_a_reader_turns_inside_a_version() -> None:
    """One version of two full pages: over the fold nobody turns, from a right page somebody does."""
    blocks = verset(0, 12)
    rows = [
        [
            {"turn": c.turn, "kind": c.block.kind, "system": c.block.system}
            for c in cast(blocks, DEPTH, openings=True, first=side)
        ]
        for side in (0, 1)
    ]
    assert [turns(rows[side], first=side) for side in (0, 1)] == [0, 1]


@pytest.mark.parametrize(("paper", "under"), [("a4", True), ("tablet", False)])
def test_a_chapter_of_words_goes_on_below_another_or_begins_a_page(paper: str, under: bool) -> None:
    """The notes on performance have room below the contents of a short book on A4, on a tablet they have not;
    the contents name the pages on which chapters come to stand."""
    made = [chapter(course_setting(name), Book(""), paper_name=paper) for name in ("first", "sixth")]
    front = Book("Versets", preface="These versets were written for a parish that never was.")
    with pymupdf.open(stream=bind(made, front, paper_name=paper)) as book:
        pages = {title: page for _, title, page in book.get_toc()}
        notes = book[pages["Notes on performance"] - 1].get_text()
        contents = " ".join(book[2].get_text().split())
    assert ("Contents" in notes) == under and notes.startswith("Notes on performance") != under
    assert "Learn the plain version first" in " ".join(notes.split())
    for title, page in list(pages.items())[1:]:
        if title in ("Critical report", "Index", made[0].title, made[1].title):
            assert re.search(rf"{title}[ .\u2060]+{page}\b", contents), (title, page)


@pytest.mark.parametrize(("deep", "after"), [(0.0, 5), (110.0, 5), (120.0, 3)])
def test_notes_for_the_player_stand_beside_the_given_line_where_one_page_holds_both(
    deep: float, after: int
) -> None:
    """Head 40, heading 5 + 5, system 3.5 + 30, notes 6 + 25: 114.5 mm. In openings they follow the music."""
    heights = {"head": 40.0, "versions": [5.0, 5.0], "notes": 25.0, "plan": 0.0}
    versions = [{"systems": [{"height": 30.0}]}, {"systems": [{"height": 30.0}]}]
    found = list(blocks_of(0, {"heights": heights, "versions": versions, "plan": []}, deep))
    assert [block.kind for block in found].index("notes") == after
    assert found[after].held == (after == 3)


def test_notes_held_to_the_line_begin_no_page_where_that_hardly_fills_the_others() -> None:
    """Line and notes fill two thirds of a page, the music behind them three quarters: without the hold the
    notes would go over, as the pages are then more alike."""
    row = [Block("system", 0, height=50), Block("notes", 0, height=14, held=True)]
    row += [Block("heading", 0, 1, height=5), *(Block("system", 0, 1, n, 20) for n in range(3))]
    row += [Block("heading", 1, height=5), Block("system", 1, height=80)]
    assert not next(c for c in cast(row, 105, openings=False) if c.block.kind == "notes").turn


@pytest.mark.parametrize("name", ["first", "fourth"])
def test_no_page_of_a_tablet_is_left_half_empty_at_the_end_of_a_verset(name: str) -> None:
    """Notes and plan alone would take a page of their own, less than half of it: the staves are drawn in
    another size, and the notes stand with the given line."""
    made = chapter(course_setting(name), Book(""), paper_name="tablet")
    page = paper("tablet")
    assert max(empty_shares(layout([made.told], page, first=1, even=True), page.depth)) < 0.4


@pytest.mark.parametrize("name", PAPERS)
def test_no_page_of_a_book_is_more_than_half_empty_on_any_paper(name: str) -> None:
    """All versets of the course; in openings the first page is a left or a right one."""
    versets = ("first", "second", "fourth", "sixth", "eighth")
    told = [chapter(course_setting(verset), Book(""), paper_name=name).told for verset in versets]
    page = paper(name)
    for side in (0, 1):
        shares = empty_shares(layout(told, page, first=side, even=True), page.depth)
        assert max(shares) < 0.5 and sum(shares) / len(shares) < 0.15


@pytest.mark.parametrize("words", [1, 8, 16])
def test_contents_name_the_page_of_every_chapter_however_long_the_preface(words: int) -> None:
    """Services, report and index each stand under the one before where there is room, and the contents know
    where that came to be; the lines of the three indexes stand clear of one another."""
    made = [
        chapter(course_setting(name), Book(""), versions=(Version.GIVEN,))
        for name in ("eighth", "first", "fourth", "second", "sixth")
    ]
    front = Book("Versets", preface="These versets were written for a parish that never was. " * words)
    played = Row("organ", "First verse", "first", 1, Fraction(1), "D", "D")
    evening = Service("evening", "Evening canticle", (played,), (), intro="So it goes on and on. " * 10)
    with pymupdf.open(stream=bind(made, front, services=[evening])) as book:
        contents = " ".join(book[2].get_text().split())
        chapters = [(title, page) for level, title, page in book.get_toc() if level == 1]
        assert [title for title, _ in chapters[-3:]] == ["Services", "Critical report", "Index"]
        for title, page in chapters:
            assert re.search(rf"{title}[ .\u2060]+{page}\b", contents), (title, page)
        rows = [line["bbox"] for b in book[-1].get_text("dict")["blocks"] for line in b.get("lines", ())]
    overlaps = [
        (one, two)
        for one, two in combinations(rows, 2)
        if one[0] < two[2] and two[0] < one[2] and min(one[3], two[3]) - max(one[1], two[1]) > 5
    ]
    assert not overlaps


@pytest.mark.parametrize("name", ["landscape", "tablet"])
def test_words_on_a_wide_page_stand_in_two_columns(name: str) -> None:
    """Lines over a whole wide page have 150 letters; those of books 45 to 75, up to 95 (common practice)."""
    made = [chapter(course_setting("first"), Book(""), versions=(Version.GIVEN,), paper_name=name)]
    front = Book("Versets", preface="These versets were written for a parish that never was. " * 12)
    half = paper(name).column * 72 / 25.4 / 2
    with pymupdf.open(stream=bind(made, front, paper_name=name)) as book:
        chapters = {title: page for level, title, page in book.get_toc() if level == 1}
        for title in ("Preface", "Notes on performance", "Critical report"):
            found = book[chapters[title] - 1].get_text("dict")["blocks"]
            lines = [line for block in found for line in block.get("lines", ())]
            told = [(line["bbox"], "".join(span["text"] for span in line["spans"])) for line in lines]
            start = next(box[3] for box, text in told if text == title)
            words = [
                (box, text) for box, text in told if box[1] > start and len(text) > 30 and ". ." not in text
            ]
            assert words and all(box[2] - box[0] < half and len(text) < 96 for box, text in words), title
            if title != "Critical report":  # the report is filled, not levelled, and goes on
                ends = [max(b[3] for b, _ in words if (b[0] > half) == right) for right in (False, True)]
                assert abs(ends[0] - ends[1]) < 80, title
