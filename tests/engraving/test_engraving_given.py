"""The given line on one stave, as a source would show it."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from fractions import Fraction

from builder.engraving import given_mei
from builder.music import notated
from builder.source import Verset

Make = Callable[..., Verset]
Opened = Callable[[str], ET.Element]


def engraved(verset: Verset, opened: Opened, **options: bool) -> ET.Element:
    return opened(given_mei(verset, notated(verset.score()), **options))


def figures(root: ET.Element, bar: int) -> list[tuple[str, list[str | None]]]:
    """Time stamp and rows of every stack in a bar."""
    return [
        (harm.attrib["tstamp"], [f.text for f in harm.iter("f")])
        for harm in root.iterfind(f".//measure[@n='{bar}']/harm")
    ]


def test_the_line_begins_in_the_clef_of_its_first_voice_and_changes_with_each_entry(
    first: Verset, opened: Opened
) -> None:
    root = engraved(first, opened)
    staff = root.find(".//staffDef")
    assert staff is not None
    assert (staff.get("clef.shape"), staff.get("clef.line")) == ("C", "1")
    assert [(c.get("shape"), c.get("line")) for c in root.iter("clef")] == [
        ("C", "3"),
        ("C", "4"),
        ("F", "4"),
    ]


def test_each_entry_carries_the_name_of_its_voice(first: Verset, opened: Opened) -> None:
    root = engraved(first, opened)
    named = [
        (measure.get("n"), name.text, name.get("tstamp"))
        for measure in root.iter("measure")
        for name in measure.iterfind("dir")
    ]
    assert named == [
        ("1", "Cantus", "1"),
        ("3", "Altus", "1"),
        ("6", "Tenor", "1"),
        ("9", "Bassus", "1"),
    ]


def test_a_clef_that_comes_with_a_barline_stands_before_it(first: Verset, opened: Opened) -> None:
    root = engraved(first, opened)
    layer = root.find(".//measure[@n='2']/staff/layer")
    assert layer is not None
    assert layer[-1].tag == "clef"


def test_a_clef_inside_a_bar_stands_before_its_note(make: Make, opened: Opened) -> None:
    verset = make("cantus C1 | D5/2 A4/4\naltus C3 | A4/8 G4/8 | F4/1")
    layer = engraved(verset, opened).find(".//measure[@n='1']/staff/layer")
    assert layer is not None
    assert [child.tag for child in layer] == ["note", "note", "clef", "beam"]


def test_figures_stand_above_the_line_in_time_under_a_held_note(first: Verset, opened: Opened) -> None:
    root = engraved(first, opened)
    assert {harm.get("place") for harm in root.iter("harm")} == {"above"}
    assert figures(root, 13) == [("1", ["♯"]), ("2", ["6", "4"]), ("3", ["5", "4"]), ("4", ["♯"])]


def test_an_accidental_stands_before_the_number_it_alters_or_alone_for_the_third(
    first: Verset, opened: Opened
) -> None:
    root = engraved(first, opened)
    assert figures(root, 4) == [("1", ["6"]), ("2", ["7"]), ("2.5", ["♯6"])]
    assert figures(root, 14) == [("1", ["♯"])]


def test_raised_numbers_may_be_printed_with_a_stroke(first: Verset, opened: Opened) -> None:
    assert figures(engraved(first, opened, slashed=True), 4)[-1] == ("2.5", ["6\u0338"])


def test_figures_of_the_editor_stand_in_brackets_and_a_held_sonority_is_a_dash(
    make: Make, opened: Opened
) -> None:
    root = engraved(make("bassus F4 | D3/1{(6) 6/(4) (#) -}"), opened)
    assert [rows for _, rows in figures(root, 1)] == [["[6]"], ["6", "[4]"], ["[♯]"], ["–"]]


def test_figures_may_be_left_out(first: Verset, opened: Opened) -> None:
    assert engraved(first, opened, figured=False).find(".//harm") is None


def test_every_note_keeps_its_id(
    first: Verset, opened: Opened, ids: Callable[[ET.Element], list[str]]
) -> None:
    score = notated(first.score())
    assert sorted(ids(engraved(first, opened))) == sorted(
        n.id for part in score.parts for n in part.notes if n.pitch
    )


def test_an_excerpt_keeps_bar_numbers_begins_in_the_clef_in_force_and_is_not_closed(
    first: Verset, opened: Opened
) -> None:
    score = notated(first.score()).excerpt(first.bars[5].onset, first.bars[7].end)
    root = opened(given_mei(first, score))
    staff = root.find(".//staffDef")
    assert staff is not None
    assert (staff.get("clef.shape"), staff.get("clef.line")) == ("C", "4")
    assert [m.get("n") for m in root.iter("measure")] == ["6", "7", "8"]
    assert [name.text for name in root.iter("dir")] == ["Tenor"]
    assert not root.findall(".//measure[@right]")


def test_an_excerpt_that_begins_and_ends_inside_bars_has_parts_of_bars(first: Verset, opened: Opened) -> None:
    """From the last note before the altus to the half note on which its line closes in the midst of bar 4."""
    root = opened(given_mei(first, notated(first.score()).excerpt(Fraction(6), Fraction(14))))
    measures = list(root.iter("measure"))
    assert [(m.get("n"), m.get("metcon"), m.get("right")) for m in measures] == [
        ("2", "false", None),
        ("3", None, None),
        ("4", "false", "invis"),
    ]
    assert [len(list(m.iter("note"))) for m in measures] == [1, 3, 2]
    assert [name.text for name in root.iter("dir")] == ["Altus"]
    assert [(h.get("tstamp"), "".join(h.itertext())) for h in root.iter("harm")] == [
        ("1", "6"),
        ("2", "7"),
        ("2.5", "♯6"),
    ]


def test_figures_in_a_bar_cut_at_its_beginning_stand_at_their_notes(first: Verset, opened: Opened) -> None:
    root = opened(given_mei(first, notated(first.score()).excerpt(Fraction(13), Fraction(16))))
    assert [h.get("tstamp") for h in root.iter("harm")] == ["1", "1.5"]


def test_the_whole_is_closed_by_the_final_barline(first: Verset, opened: Opened) -> None:
    measures = list(engraved(first, opened).iter("measure"))
    assert [m.get("right") for m in measures] == [None] * 13 + ["end"]


def test_a_last_note_longer_than_the_bar_is_written_whole(first: Verset, opened: Opened) -> None:
    last = list(engraved(first, opened).iter("measure"))[-1]
    assert last.get("metcon") == "false"
    assert [n.get("dur") for n in last.iter("note")] == ["breve"]


def test_rests_of_the_line_are_written(make: Make, opened: Opened) -> None:
    root = engraved(make("cantus C1 | D5/4 R/2. | R/1 | D5/1"), opened)
    assert [r.get("dur") for r in root.iter("rest")] == ["4", "2"]
    assert len(list(root.iter("mRest"))) == 1
