"""A small verset in each layout, sign by sign, as MEI 5.1 (CMN) writes it; read and written here by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from builder import engraving
from builder.engraving import given_mei, keyboard_mei, open_mei, tree
from builder.engraving.engrave import OPTIONS, counted, dialect
from builder.engraving.figures import sign_text
from builder.engraving.sheet import by_bar
from builder.engraving.tree import beats, duration, keysig
from builder.engraving.writing import empty, filled, silence
from builder.music import Bar, Clef, FigureSign, Metre, Note, Pitch, Score, Signature, notated
from builder.source import parse

VERSET = parse("""---
title: Small & old
verset: {metre: C, signature: Bb}
---

```given
cantus C1 | D5/2 A4/4. B4/8
altus  C3 | F4/2{6/4:4 5/#:4} R/2 | Eb4/2~{7} Eb4/4 D(#)4/4{(6)} | D4/breve
```
""")
SCORE = notated(VERSET.score())
HEAD = (
    "<meiHead><fileDesc><titleStmt><title>Small &amp; old</title></titleStmt><pubStmt><unpub /></pubStmt>"
    '</fileDesc></meiHead><music><body><mdiv><score><scoreDef keysig="1f" meter.sym="common" '
    'meter.count="4" meter.unit="4">'
)
CANTUS = (
    '<note xml:id="given-cantus-1-1" pname="d" oct="5" dur="2" />'
    '<note xml:id="given-cantus-1-2" pname="a" oct="4" dur="4" dots="1" />'
    '<note xml:id="given-cantus-1-3" pname="b" oct="4" dur="8"><accid accid="n" /></note>'
)
ALTUS = (
    '<note xml:id="given-altus-2-1" pname="f" oct="4" dur="2" /><rest dur="2" />',
    '<note xml:id="given-altus-3-1" pname="e" oct="4" dur="2"><accid accid="f" /></note>'
    '<note xml:id="given-altus-3-2" pname="e" oct="4" dur="4" accid.ges="f" />'
    '<note xml:id="given-altus-3-3" pname="d" oct="4" dur="4">'
    '<accid accid="s" func="edit" enclose="brack" /></note>',
    '<note xml:id="given-altus-4-1" pname="d" oct="4" dur="breve"><accid accid="n" func="caution" /></note>',
)
CLEF = '<clef shape="C" line="3" />'
TIE = '<tie startid="#given-altus-3-1" endid="#given-altus-3-2" />'
END = "</section></score></mdiv></body></music></mei>"


def whole(group: str, *measures: str) -> str:
    start = '<?xml version="1.0" encoding="UTF-8"?>\n<mei xmlns="http://www.music-encoding.org/ns/mei" '
    return f'{start}meiversion="5.1">{HEAD}{group}</scoreDef><section>{"".join(measures)}{END}'


def staff(n: int, content: str) -> str:
    return f'<staff n="{n}"><layer n="1">{content}</layer></staff>'


def name(text: str) -> str:
    return f'<dir type="voice" staff="1" tstamp="1" place="above">{text}</dir>'


def harm(id: str, n: int, at: str, place: str, *rows: str) -> str:
    stack = "".join(f"<f>{row}</f>" for row in rows)
    return (
        f'<harm xml:id="given-figure-{id}" staff="{n}" tstamp="{at}" place="{place}"><fb>{stack}</fb></harm>'
    )


def figures(n: int, place: str, six: str = "6", sharp: str = "♯") -> tuple[str, str]:
    return (
        harm("2-1", n, "1", place, six, "4") + harm("2-2", n, "2", place, "5", sharp),
        harm("3-1", n, "1", place, "7") + harm("3-2", n, "4", place, f"[{six}]"),
    )


def test_the_given_line_sign_by_sign() -> None:
    two, three = figures(1, "above")
    assert given_mei(VERSET, SCORE) == whole(
        '<staffGrp><staffDef n="1" lines="5" clef.shape="C" clef.line="1" /></staffGrp>',
        f'<measure n="1">{staff(1, CANTUS + CLEF)}{name("Cantus")}</measure>',
        f'<measure n="2">{staff(1, ALTUS[0])}{two}{name("Altus")}</measure>',
        f'<measure n="3">{staff(1, ALTUS[1])}{TIE}{three}</measure>',
        f'<measure n="4" right="end" metcon="false">{staff(1, ALTUS[2])}</measure>',
    )


def test_the_keyboard_score_sign_by_sign() -> None:
    two, three = figures(2, "below")
    rest = staff(2, "<mRest />")
    assert keyboard_mei(SCORE, figured=True, names=True) == whole(
        '<staffGrp symbol="brace" bar.thru="true"><staffDef n="1" lines="5" clef.shape="G" clef.line="2" />'
        '<staffDef n="2" lines="5" clef.shape="F" clef.line="4" /></staffGrp>',
        f'<measure n="1">{staff(1, CANTUS)}{rest}{name("Cantus")}</measure>',
        f'<measure n="2">{staff(1, ALTUS[0])}{rest}{two}{name("Altus")}</measure>',
        f'<measure n="3">{staff(1, ALTUS[1])}{rest}{TIE}{three}</measure>',
        f'<measure n="4" right="end" metcon="false">{staff(1, ALTUS[2])}{rest}</measure>',
    )


def test_the_open_score_sign_by_sign() -> None:
    two, three = figures(2, "below")
    rest = "<mRest />"
    clefs = {"cantus": Clef("G", 2)}
    assert open_mei(SCORE, clefs, figured=True) == whole(
        '<staffGrp symbol="bracket" bar.thru="true">'
        '<staffDef n="1" lines="5" clef.shape="G" clef.line="2"><label>Cantus</label>'
        "<labelAbbr>C.</labelAbbr></staffDef>"
        '<staffDef n="2" lines="5" clef.shape="C" clef.line="3"><label>Altus</label>'
        "<labelAbbr>A.</labelAbbr></staffDef></staffGrp>",
        f'<measure n="1">{staff(1, CANTUS)}{staff(2, rest)}</measure>',
        f'<measure n="2">{staff(1, rest)}{staff(2, ALTUS[0])}{two}</measure>',
        f'<measure n="3">{staff(1, rest)}{staff(2, ALTUS[1])}{TIE}{three}</measure>',
        f'<measure n="4" right="end" metcon="false">{staff(1, rest)}{staff(2, ALTUS[2])}</measure>',
    )


def test_a_voice_without_a_clef_of_its_own_takes_its_natural_one(four: Score) -> None:
    """Common practice: soprano, alto, tenor and bass clef."""
    found = re.findall(r'clef\.shape="(\w)" clef\.line="(\d)"', open_mei(four))
    assert found == [("C", "1"), ("C", "3"), ("C", "4"), ("F", "4")]


def test_figures_are_stroked_and_names_are_set_only_when_asked() -> None:
    """A raised second, fourth, fifth and sixth may have a stroke (common practice); a lone sharp stays."""
    assert "6/" not in keyboard_mei(SCORE) and "<harm" not in keyboard_mei(SCORE)
    assert "<dir" not in keyboard_mei(SCORE) and "<harm" not in open_mei(SCORE)
    verset = parse(BARE.replace("cantus C1 | D5/1 | C5/1", "bassus F4 | D3/1{#6} | D3/1{#}"))
    score = notated(verset.score())
    for mei in (given_mei, lambda v, s, **o: keyboard_mei(s, figured=True, **o)):
        plain, stroked = mei(verset, score), mei(verset, score, slashed=True)
        assert "<f>♯6</f>" in plain and "<f>6\u0338</f>" in stroked and "<f>♯</f>" in stroked
    stroked = open_mei(score, figured=True, slashed=True)
    assert "<f>6\u0338</f>" in stroked and '<harm xml:id="given-figure-1-1" staff="1"' in stroked
    assert "<harm" not in given_mei(verset, score, figured=False)
    for number in range(2, 10):
        told = sign_text(FigureSign(number, "#"), slashed=True)
        assert told == (f"{number}\u0338" if number in (2, 4, 5, 6) else f"♯{number}")
    assert (
        sign_text(FigureSign(6, "n")) == "♮6"
        and sign_text(FigureSign(3, "#", lone=True), slashed=True) == "♯"
    )
    assert sign_text(FigureSign(6, "b"), slashed=True) == "♭6" and sign_text(FigureSign(8)) == "8"


def test_the_engraver_gets_names_as_a_second_row_of_figures_and_stacks_filled_from_above() -> None:
    """Verovio's dialect: names of voices are set as figures, all stacks are as tall as the tallest, and an
    editorial accidental has brackets only."""
    found = dialect(given_mei(VERSET, SCORE))
    assert '<harm n="2" staff="1" tstamp="1" place="above">Cantus</harm>' in found and "<dir" not in found
    assert (
        '<harm xml:id="given-figure-3-1" staff="1" tstamp="1" place="above" n="1">'
        "<fb><f /><f>7</f></fb></harm>"
    ) in found
    assert 'place="above" n="1"><fb><f>6</f><f>4</f></fb>' in found
    assert '<accid accid="s" enclose="brack" />' in found and 'func="caution"' in found
    assert 'xmlns="http://www.music-encoding.org/ns/mei"' in found and 'func="edit"' not in found
    below = dialect(keyboard_mei(SCORE, figured=True))
    assert (
        '<harm xml:id="given-figure-3-1" staff="2" tstamp="1" place="below" n="1"><fb><f>7</f></fb>' in below
    )
    other = given_mei(VERSET, SCORE).replace('type="voice"', 'type="other"')
    assert dialect(other).count("<dir") == 2
    assert "<harm" not in dialect(given_mei(parse(BARE), notated(parse(BARE).score()))).replace(
        '<harm n="2"', ""
    )


BARE = "---\ntitle: T\nverset: {metre: C, signature: none}\n---\n\n```given\ncantus C1 | D5/1 | C5/1\n```\n"


def test_a_picture_holds_one_system_without_head_or_foot() -> None:
    """Options of verovio 5 by its reference book; sizes and margins are ours."""
    asked = {"header": "none", "footer": "none", "breaks": "auto", "breaksNoWidow": True, "font": "Leipzig"}
    asked |= {"adjustPageHeight": True, "systemMaxPerPage": 1, "svgRemoveXlink": True, "svgViewBox": True}
    asked |= {"svgFormatRaw": True, "svgAdditionalAttribute": ["measure@n"], "smuflTextFont": "none"}
    asked |= {"xmlIdSeed": 1, "scale": 100, "pageMarginLeft": 30, "pageMarginRight": 0, "pageMarginTop": 15}
    asked |= {"pageMarginBottom": 15, "spacingStaff": 9, "pageHeight": 60000}
    asked |= {"staffLineWidth": 0.24, "stemWidth": 0.24}
    assert asked == OPTIONS
    assert counted("A", 1, 2) == "A (2/2)" and counted("A", 0, 1) == "A" and counted("", 0, 3) == ""


def test_the_face_of_the_room_gives_what_it_names() -> None:
    assert all(hasattr(engraving, name) for name in engraving.__all__)
    assert len(set(engraving.__all__)) == len(engraving.__all__) == 14


# --- the words of MEI


@pytest.mark.parametrize(
    ("signature", "written"), [("none", "0"), ("Bb", "1f"), ("Bb Eb", "2f"), ("F#", "1s"), ("F# C#", "2s")]
)
def test_a_signature_is_written_as_a_number_of_sharps_or_flats(signature: str, written: str) -> None:
    assert keysig(Signature.parse(signature)) == written


@pytest.mark.parametrize(
    ("length", "dur", "dots"),
    [
        ("16", "long", ""),
        ("8", "breve", ""),
        ("4", "1", ""),
        ("6", "1", "1"),
        ("7/2", "2", "2"),
        ("1/8", "32", ""),
    ],
)
def test_lengths_are_written_as_values_with_dots(length: str, dur: str, dots: str) -> None:
    assert duration(Fraction(length)) == {"dur": dur, "dots": dots}


def test_a_length_that_no_value_writes_is_refused() -> None:
    with pytest.raises(ValueError, match="no single value writes 5/4 quarter notes: notate the score first"):
        duration(Fraction(5, 4))
    with pytest.raises(ValueError, match="a note without an id: engrave notated"):
        by_bar([Note(Fraction(0), Fraction(1), Pitch.parse("C4"))], [Bar(1, Fraction(0), Fraction(4))])


def test_times_are_beats_of_the_metre_from_one() -> None:
    bar = Bar(3, Fraction(8), Fraction(4))
    common, halves = Metre.parse("C"), Metre.parse("3/2")
    assert [beats(common, bar, Fraction(t)) for t in ("8", "9", "19/2")] == ["1", "2", "2.5"]
    assert beats(halves, bar, Fraction(9)) == "1.5" and beats(common, bar, Fraction(25, 3)) == "1.333333"


def test_signs_of_metre_are_those_of_mei() -> None:
    group = tree.element("staffGrp")
    for text, sign, count, unit in (
        ("C", "common", "4", "4"),
        ("C|", "cut", "2", "2"),
        ("3/2", None, "3", "2"),
    ):
        found = tree.score_definition(Metre.parse(text), Signature(), group)
        assert (found.get("meter.sym"), found.get("meter.count"), found.get("meter.unit")) == (
            sign,
            count,
            unit,
        )
    assert tree.SIGNS == {1: "s", -1: "f", 0: "n", 2: "x", -2: "ff"}
    assert tree.element("a", None, tree.element("b"), class_="x", other="").attrib == {"class": "x"}


def test_a_bar_says_when_it_is_cut_or_too_long_and_where_the_piece_ends() -> None:
    bars = (
        Bar(1, Fraction(0), Fraction(4)),
        Bar(2, Fraction(4), Fraction(2)),
        Bar(3, Fraction(6), Fraction(8)),
    )
    score = replace(SCORE, bars=bars, closed=True)
    found = [dict(tree.measure(score, bar, ()).attrib) for bar in bars]
    assert found == [
        {"n": "1"},
        {"n": "2", "right": "invis", "metcon": "false"},
        {"n": "3", "right": "end", "metcon": "false"},
    ]
    assert tree.measure(replace(score, closed=False), bars[2], ()).get("right") is None
    assert tree.measure(score, Bar(3, Fraction(6), Fraction(8)), ()).get("right") is None


# --- silences


def tags(elements: object) -> list[tuple[str, str]]:
    return [(e.tag, e.get("dur", "") + "." * int(e.get("dots", 0))) for e in elements]  # type: ignore[attr-defined]


def test_a_silent_bar_is_one_rest_or_as_long_as_what_is_left_of_it() -> None:
    common = Metre.parse("C")
    full, cut = Bar(1, Fraction(0), Fraction(4)), Bar(1, Fraction(0), Fraction(3))
    assert tags(empty(full, common)) == [("mRest", "")] and tags(empty(full, common, seen=False)) == [
        ("mSpace", "")
    ]
    assert tags(empty(Bar(1, Fraction(0), Fraction(8)), common)) == [("mRest", "")]
    assert tags(empty(cut, common)) == [("rest", "2"), ("rest", "4")]
    assert tags(empty(cut, common, seen=False)) == [("space", "2"), ("space", "4")]


def test_gaps_between_notes_are_silences() -> None:
    bar = Bar(2, Fraction(4), Fraction(4))
    a, b = (Note(Fraction(t), Fraction(1), Pitch.parse("C4")) for t in (5, 6))
    rest = Note(Fraction(7), Fraction(1), None)
    assert [(n.onset, n.duration, n.pitch is None) for n in filled((a, b, rest), bar)] == [
        *((4, 1, True), (5, 1, False), (6, 1, False), (7, 1, True))
    ]
    assert filled((), bar) == (Note(Fraction(4), Fraction(4), None),)
    whole = Note(Fraction(4), Fraction(4), Pitch.parse("C4"))
    assert filled((whole,), bar) == (whole,)


def test_a_silence_is_seen_where_it_is_asked_for_and_blank_elsewhere() -> None:
    bar, rest = Bar(2, Fraction(4), Fraction(4)), Note(Fraction(4), Fraction(4), None)
    seen = [(Fraction(5), Fraction(7))]
    assert tags(silence(rest, bar, seen)) == [("space", "4"), ("rest", "4"), ("rest", "4"), ("space", "4")]
    assert tags(silence(rest, bar, None)) == [("rest", "1")] and tags(silence(rest, bar, ())) == [
        ("space", "1")
    ]
    beyond = [(Fraction(0), Fraction(6))]
    assert tags(silence(rest, bar, beyond)) == [("rest", "2"), ("space", "2")]
