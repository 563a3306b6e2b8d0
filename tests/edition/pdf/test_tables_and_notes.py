"""Tables and footnotes in the words of a course are set as such in print."""

from __future__ import annotations

from dataclasses import replace

import pymupdf
from course import course_setting

from builder.edition.book.book import Book, book
from builder.edition.pdf.markdown import words
from builder.edition.pdf.sheet import pdf

PREFACE = """Tones and finals[^fin], as they were taught[^2] and *sung*[^fin].

| Tone | Final | Reciting note |
|:-----|:-----:|--------------:|
| first | D | *A* |
| eighth | G | C |

[^fin]: The *final* is the last note.
[^2]: Not everywhere.

    See below.
"""


def test_a_table_has_rows_of_cells_with_their_sides() -> None:
    (table,) = [n for n in words(PREFACE) if n["t"] == "table"]
    rows = [list(row["c"]) for row in _rows(table)]
    assert [[_text(cell) for cell in row] for row in rows] == [
        ["Tone", "Final", "Reciting note"],
        ["first", "D", "A"],
        ["eighth", "G", "C"],
    ]
    assert [cell["align"] for cell in rows[1]] == ["left", "center", "right"]
    assert [row[0]["head"] for row in rows] == [True, False, False]


def _rows(node: dict) -> list[dict]:
    found = []
    for child in node["c"]:
        found += [child] if child["t"] == "row" else _rows(child)
    return found


def _text(node: object) -> str:
    return node if isinstance(node, str) else "".join(_text(child) for child in node["c"])


def test_a_note_stands_where_it_is_first_called() -> None:
    paragraph, *_ = words(PREFACE)
    notes = [n for n in paragraph["c"] if isinstance(n, dict) and n["t"] == "note"]
    assert [_text(note) for note in notes] == ["The final is the last note.", "Not everywhere. See below."]
    assert [_text(n) for n in paragraph["c"] if isinstance(n, dict) and n["t"] == "sup"] == ["1"]


def test_the_preface_of_a_book_has_table_and_notes_at_the_foot_of_the_page() -> None:
    made = book([course_setting("sixth")], Book("Versets", preface=PREFACE))
    with pymupdf.open(stream=made) as doc:
        (page,) = [p for p in doc if "Tones and finals" in p.get_text()]
        below = max(w[1] for w in page.get_text("words") if w[4] == "Preface")
        cells = {w[4]: w for w in reversed(page.get_text("words")) if w[1] > below}
        blocks = {b[4].strip(): b for b in page.get_text("blocks")}
    assert cells["eighth"][0] < cells["G"][0] < cells["C"][0]
    assert abs(cells["eighth"][1] - cells["G"][1]) < 1
    assert cells["first"][1] < cells["eighth"][1]
    (note,) = [b for text, b in blocks.items() if "The final is the last note" in text.replace("\n", " ")]
    assert note[1] > 0.6 * 842


def test_words_over_the_music_have_their_notes_beside_them() -> None:
    own = course_setting("sixth")
    own = replace(own, verset=replace(own.verset, intro=PREFACE))
    with pymupdf.open(stream=pdf(own)) as doc:
        text = " ".join(doc[0].get_text().split())
    assert (
        text.index("Reciting note") < text.index("1 The final is the last note.") < text.index("Given line")
    )
