"""MusicXML of a verset: open score by voices, figures as figured bass."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from builder.edition.exchange.musicxml import given_musicxml, musicxml
from builder.edition.exchange.musicxml_keyboard import keyboard_musicxml
from builder.music import Clef, Score, notated
from builder.source import Verset, parse, read

FIRST = read(Path(__file__).parents[3] / "content" / "versets" / "first.md")
SOURCE = """---
title: A verset
verset: {{metre: {metre}, signature: {signature}}}
---

```given
{given}
```
"""


def verset(given: str, metre: str = "C", signature: str = "none") -> Verset:
    return parse(SOURCE.format(given=given, metre=metre, signature=signature), "a.md")


def opened(score: Score, **options: object) -> ET.Element:
    return ET.fromstring(musicxml(score, **options))  # type: ignore[arg-type]


def given(of: Verset) -> ET.Element:
    return ET.fromstring(given_musicxml(of, notated(of.score())))


def figured(root: ET.Element) -> list[tuple[list[str], str]]:
    """Signs and length of every stack."""
    return [
        (
            [
                f"{f.findtext('prefix', '')} {f.findtext('figure-number', '')}".strip()
                for f in fb.iter("figure")
            ],
            fb.findtext("duration", ""),
        )
        for fb in root.iter("figured-bass")
    ]


def test_each_voice_is_a_part_named_after_it_in_its_clef() -> None:
    root = opened(notated(FIRST.score()), clefs={"cantus": Clef("G", 2)})
    assert [p.text for p in root.iter("part-name")] == ["Cantus", "Altus", "Tenor", "Bassus"]
    clefs = [(c.findtext("sign"), c.findtext("line")) for c in root.iter("clef")]
    assert clefs == [("G", "2"), ("C", "3"), ("C", "4"), ("F", "4")]


def test_notes_keep_their_ids() -> None:
    score = notated(FIRST.score())
    found = {n.get("id") for n in opened(score).iter("note")} - {None}
    assert found == {n.id for part in score.parts for n in part.notes if n.pitch}


def test_figures_are_figured_bass_in_time_on_the_part_that_has_the_line() -> None:
    root = opened(notated(FIRST.score()))
    parts = {p.get("id"): p for p in root.iter("part")}
    assert figured(parts["part-altus"])[:3] == [(["6"], "2"), (["7"], "1"), (["sharp 6"], "1")]
    assert figured(parts["part-bassus"])[-5:] == [
        (["sharp"], "2"),
        (["6", "4"], "2"),
        (["5", "4"], "2"),
        (["sharp"], "2"),
        (["sharp"], "16"),
    ]
    assert not figured(parts["part-cantus"])


def test_figures_stand_above_the_given_line_and_below_a_setting() -> None:
    """As in print and in MEI; `placement` and `print-object` after MusicXML 4.0, figured-bass."""
    score = notated(FIRST.score())
    for root, where in ((given(FIRST), "above"), (opened(score), "below")):
        stacks = list(root.iter("figured-bass"))
        assert stacks and {s.get("placement") for s in stacks} == {where}
    keyboard = ET.fromstring(keyboard_musicxml(score))
    assert {s.get("placement") for s in keyboard.iter("figured-bass")} == {"below"}
    later = replace(score.figures[0], onset=Fraction(3), duration=Fraction(1))
    (empty, _) = opened(replace(score, figures=(later,))).iter("figured-bass")
    assert (empty.get("print-object"), empty.get("placement")) == ("no", None)


def test_figures_of_the_editor_are_told_from_those_of_the_source() -> None:
    root = given(verset("bassus F4 | D3/1{(6) 6/(4)}"))
    whole, part = root.iter("figured-bass")
    assert whole.get("parentheses") == "yes"
    assert part.get("parentheses") is None
    assert [f.find("level") is not None for f in part.iter("figure")] == [False, True]


def test_a_held_sonority_is_a_line_of_continuation() -> None:
    root = given(verset("bassus F4 | D3/1{6 -}"))
    assert [f.find("extend") is not None for f in root.iter("figure")] == [False, True]


def test_a_figure_that_begins_inside_a_note_is_led_up_to_by_an_empty_one() -> None:
    score = notated(verset("bassus F4 | D3/1{6}").score())
    (figure,) = score.figures
    later = replace(figure, onset=Fraction(3), duration=Fraction(1))
    assert figured(opened(replace(score, figures=(later,)))) == [([""], "3"), (["6"], "1")]


def test_an_editorial_accidental_says_so() -> None:
    root = given(verset("cantus C1 | F(#)4/1"))
    (sign,) = root.iter("accidental")
    assert (sign.text, sign.get("editorial"), sign.get("parentheses")) == ("sharp", "yes", "yes")
    assert root.findtext(".//alter") == "1"


def test_a_tie_has_a_beginning_and_an_end_and_its_accidental_once() -> None:
    root = given(verset("cantus C1 | F#4/1~ | F#4/1"))
    assert [t.get("type") for t in root.iter("tied")] == ["start", "stop"]
    assert len(list(root.iter("accidental"))) == 1


def test_signature_metre_and_tempo() -> None:
    of = verset("cantus C1 | D5/1 | D5/1", metre="C|", signature="Bb")
    root = opened(notated(of.score()), tempo=(Fraction(2), Fraction(60)))
    assert root.findtext(".//fifths") == "-1"
    time = root.find(".//time")
    assert time is not None
    assert (time.get("symbol"), time.findtext("beats"), time.findtext("beat-type")) == ("cut", "2", "2")
    sound = root.find(".//sound")
    assert sound is not None
    assert sound.get("tempo") == "120"
    assert root.findtext(".//beat-unit") == "half"


def test_beams_of_mixed_values_have_hooks() -> None:
    root = given(verset("cantus C1 | D5/8. C5/16 D5/4 D5/2"))
    beams = [[(b.get("number"), b.text) for b in n.iter("beam")] for n in root.iter("note")]
    assert beams[:2] == [[("1", "begin")], [("1", "end"), ("2", "backward hook")]]


def test_the_given_line_is_one_part_with_clefs_and_names_of_its_voices() -> None:
    root = given(FIRST)
    assert [w.text for w in root.iter("words")] == ["Cantus", "Altus", "Tenor", "Bassus"]
    assert [(c.findtext("sign"), c.findtext("line")) for c in root.iter("clef")] == [
        ("C", "1"),
        ("C", "3"),
        ("C", "4"),
        ("F", "4"),
    ]


def test_only_the_end_of_the_piece_has_the_final_barline() -> None:
    score = notated(FIRST.score())
    assert [b.text for b in opened(score).iter("bar-style")] == ["light-heavy"] * 4
    cut = score.excerpt(FIRST.bars[0].onset, FIRST.bars[1].end)
    assert not list(opened(cut).iter("bar-style"))


def test_every_bar_of_every_part_is_filled() -> None:
    score = notated(FIRST.score())
    root = opened(score)
    divisions = int(root.findtext(".//divisions") or 0)
    for part in root.iter("part"):
        lengths = [
            Fraction(sum(int(n.findtext("duration") or 0) for n in m.iter("note")), divisions)
            for m in part.iter("measure")
        ]
        assert lengths == [bar.length for bar in score.bars]


def test_title_composer_and_rights_are_told() -> None:
    root = opened(notated(FIRST.score()), title="T & U", composer="N. N.", rights="CC0")
    assert root.findtext(".//work-title") == "T & U"
    assert root.findtext(".//creator") == "N. N."
    assert root.findtext(".//rights") == "CC0"


def test_a_length_that_no_value_writes_is_refused() -> None:
    score = notated(verset("cantus C1 | D5/1").score())
    (part,) = score.parts
    broken = replace(part, notes=(replace(part.notes[0], duration=Fraction(5, 2)),))
    with pytest.raises(ValueError, match="notate"):
        musicxml(replace(score, parts=(broken,)))


def test_composer_roles_witnesses_and_numbers_stand_in_the_identification() -> None:
    front = "---\ntitle: A\nverset:\n  metre: C\n  signature: none\n  composer: anonymous\n"
    front += "  witnesses: [{siglum: A, library: L, shelfmark: 12}, {siglum: B}]\n"
    front += "  editors: [X, {name: Y, role: transcriber}]\n  published: {ismn: 979-0-2600-0043-8}\n---\n"
    own = parse(f"{front}```given\ncantus C1 | D5/1\n```\n")
    for text in (
        given_musicxml(own, notated(own.score()), editors=("Z",)),
        musicxml(notated(own.score()), said=own.provenance, editors=("Z",)),
    ):
        known = ET.fromstring(text.encode()).find("identification")
        assert known is not None
        creators = [(c.get("type"), c.text) for c in known.findall("creator")]
        assert creators == [("composer", "Anonymous"), ("editor", "X"), ("transcriber", "Y")]
        assert known.findtext("source") == "A: L, 12; B"
        relation = known.find("relation")
        assert relation is not None and (relation.get("type"), relation.text) == ("ISMN", "979-0-2600-0043-8")
