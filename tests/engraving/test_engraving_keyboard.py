"""The keyboard score: two staves that two hands can read; and open score."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from fractions import Fraction

import pytest

from builder.engraving import clefs_of, keyboard_mei, open_mei
from builder.engraving.hands import hands
from builder.music import Clef, Score
from builder.source import Verset

Make = Callable[..., Verset]
Opened = Callable[[str], ET.Element]
Voices = Callable[[Verset], Score]


def layers(root: ET.Element, bar: int, staff: int) -> list[ET.Element]:
    return root.findall(f".//measure[@n='{bar}']/staff[@n='{staff}']/layer")


def voices_of(layer: ET.Element) -> set[str]:
    return {
        value.split("-")[1] for note in layer.iter("note") for k, value in note.attrib.items() if "id" in k
    }


def test_every_note_stands_once_under_its_id(
    four: Score, opened: Opened, ids: Callable[[ET.Element], list[str]]
) -> None:
    assert sorted(ids(opened(keyboard_mei(four)))) == sorted(
        n.id for part in four.parts for n in part.notes if n.pitch
    )


def test_the_staves_are_braced_in_treble_and_bass_clef(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four))
    group = root.find(".//staffGrp")
    assert group is not None
    assert group.get("symbol") == "brace"
    assert [(s.get("clef.shape"), s.get("clef.line")) for s in group] == [("G", "2"), ("F", "4")]


def test_four_voices_stand_two_and_two_with_stems_apart(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four))
    found = [[voices_of(layer) for layer in layers(root, 4, staff)] for staff in (1, 2)]
    assert found == [[{"cantus"}, {"altus"}], [{"tenor"}, {"bassus"}]]
    for staff in (1, 2):
        for layer, stems in zip(layers(root, 4, staff), ("up", "down"), strict=True):
            assert {n.get("stem.dir") for n in layer.iter("note") if n.get("dur") != "1"} <= {stems}


def test_a_voice_alone_on_its_stave_has_free_stems(four: Score, opened: Opened) -> None:
    (layer,) = layers(opened(keyboard_mei(four)), 1, 1)
    assert {n.get("stem.dir") for n in layer.iter("note")} == {None}


def test_a_voice_that_has_not_entered_leaves_no_rest(make: Make, voices: Voices, opened: Opened) -> None:
    score = voices(make("cantus C1 | D5/2 A4/4\naltus C3 | A4/4 | G4/1", "cantus 1 | _/2. F5/4 | E5/1"))
    upper, lower = layers(opened(keyboard_mei(score)), 1, 1)
    assert [child.tag for child in lower if child.tag != "note"] == ["space", "space"]
    assert upper.find("rest") is None


def test_a_voice_that_pauses_in_its_course_has_a_rest(four: Score, opened: Opened) -> None:
    upper, _ = layers(opened(keyboard_mei(four)), 4, 1)
    assert [child.tag for child in upper] == ["note", "rest", "note"]


def test_where_a_whole_stave_is_silent_one_rest_is_written(
    make: Make, voices: Voices, opened: Opened
) -> None:
    score = voices(make("cantus C1 | D5/2 R/4\naltus C3 | A4/4 | A4/1", ""))
    upper, lower = layers(opened(keyboard_mei(score)), 1, 1)
    assert [(c.tag, c.get("dur")) for c in upper] == [("note", "2"), ("rest", "4"), ("space", "4")]
    assert [(c.tag, c.get("dur")) for c in lower] == [("space", "2"), ("space", "4"), ("note", "4")]


def test_an_empty_stave_has_one_rest_of_a_bar(four: Score, opened: Opened) -> None:
    (layer,) = layers(opened(keyboard_mei(four)), 1, 2)
    assert [child.tag for child in layer] == ["mRest"]


def test_two_high_voices_share_the_upper_stave(make: Make, voices: Voices) -> None:
    score = voices(make("cantus C1 | D5/1\naltus C3 | A4/2 F4/2 | G4/1", "cantus 2 | D5/1 | D5/1"))
    assert hands(score) == {1: 2, 2: 2, 3: 2}


def test_a_low_second_voice_goes_to_the_lower_stave(make: Make, voices: Voices) -> None:
    score = voices(make("cantus C1 | D5/1\ntenor C4 | D4/2 A3/2 | G3/1", "cantus 2 | D5/1 | D5/1"))
    assert [hands(score)[bar] for bar in (2, 3)] == [1, 1]


def test_a_voice_held_over_the_barline_keeps_its_stave(make: Make, voices: Voices) -> None:
    plain = "cantus 2 | A4/1 | A4/1 | A4/1"
    score = voices(make("cantus C1 | D5/1\ntenor C4 | B3/2 C4/2~ | C4/2 D4/2~ | D4/1", plain))
    shares = [hands(score)[bar] for bar in (2, 3, 4)]
    assert len(set(shares)) == 1


def test_ties_lead_to_the_same_pitch_across_barline_and_bar(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four))
    ties = {(t.get("startid"), t.get("endid")) for t in root.iter("tie")}
    assert ties == {("#plain-cantus-2-1", "#plain-cantus-2-2")}


def test_a_tie_that_leaves_the_excerpt_is_not_drawn(make: Make, voices: Voices, opened: Opened) -> None:
    score = voices(make("cantus C1 | D5/1~ | D5/1 | D5/1"))
    assert len(list(opened(keyboard_mei(score)).iter("tie"))) == 1
    one = score.excerpt(score.bars[0].onset, score.bars[0].end)
    assert not list(opened(keyboard_mei(one)).iter("tie"))


def test_an_editorial_accidental_stands_in_brackets_before_its_note(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four))
    found = [a for a in root.iter("accid") if a.get("func") == "edit"]
    assert [(a.get("accid"), a.get("enclose"), a.get("place")) for a in found] == [("s", "brack", None)]


@pytest.mark.parametrize("figured", [True, False])
def test_figures_stand_under_the_lower_stave_when_asked(first: Verset, opened: Opened, figured: bool) -> None:
    from builder.music import notated

    root = opened(keyboard_mei(notated(first.score()), figured=figured))
    assert {(h.get("staff"), h.get("place")) for h in root.iter("harm")} == (
        {("2", "below")} if figured else set()
    )


def test_names_of_voices_when_asked(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four, names=True))
    assert [d.text for d in root.iter("dir")] == ["Cantus", "Altus", "Tenor", "Bassus"]


def test_only_the_end_of_the_piece_has_the_final_barline(four: Score, opened: Opened) -> None:
    cut = four.excerpt(four.bars[1].onset, four.bars[2].end)
    assert [m.get("right") for m in opened(keyboard_mei(cut)).iter("measure")] == [None, None]
    assert list(opened(keyboard_mei(four)).iter("measure"))[-1].get("right") == "end"


def test_open_score_has_a_named_stave_for_each_voice_in_its_original_clef(
    first: Verset, opened: Opened
) -> None:
    from builder.music import notated

    root = opened(open_mei(notated(first.score()), clefs_of(first)))
    staves = [(s.findtext("label"), s.get("clef.shape"), s.get("clef.line")) for s in root.iter("staffDef")]
    assert staves == [("Cantus", "C", "1"), ("Altus", "C", "3"), ("Tenor", "C", "4"), ("Bassus", "F", "4")]


def test_open_score_takes_other_clefs(four: Score, opened: Opened) -> None:
    root = opened(open_mei(four, {"cantus": Clef("G", 2)}))
    upper = root.find(".//staffDef")
    assert upper is not None
    assert (upper.get("clef.shape"), upper.get("clef.line")) == ("G", "2")


def test_a_score_that_is_not_notated_is_refused(first: Verset) -> None:
    with pytest.raises(ValueError, match="notated"):
        keyboard_mei(first.score())


def test_a_voice_silent_in_a_part_of_a_bar_has_rests_of_its_length(four: Score, opened: Opened) -> None:
    root = opened(keyboard_mei(four.excerpt(Fraction(2), Fraction(7))))
    first, second = root.iter("measure")
    assert not list(first.iter("mRest"))
    assert [[r.get("dur") for r in staff.iter("rest")] for staff in first.iter("staff")] == [[], ["2"]]
    assert [second.get("right"), second.get("metcon")] == ["invis", "false"]
