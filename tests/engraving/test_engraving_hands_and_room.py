"""Which hand plays what, and where things stand in a picture: prices, edges, corrections, each by itself."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from builder.engraving import corrections, glyphs, hands, page, reduced_svg
from builder.engraving.engrave import picture
from builder.engraving.hands import Played
from builder.engraving.reduced_svg import System, lean


def played(*keys: int, start: float = 0, length: float = 1, held: bool = False) -> list[Played]:
    return [Played(start + n * length, start + (n + 1) * length, k, held) for n, k in enumerate(keys)]


def test_ledger_lines_towards_the_middle_are_priced_by_length_and_distance() -> None:
    """Half a point a quarter note and a step beyond middle C; both staves alike."""
    assert hands._staves([played(28)], []) == 0 == hands._staves([], [played(28)])
    assert hands._staves([played(26)], []) == 1 and hands._staves([], [played(30)]) == 1
    assert hands._staves([played(26, length=2)], []) == 2
    assert hands._staves([played(27, 25)], []) == 2 and hands._staves([played(40)], [played(10)]) == 0


def test_a_third_voice_on_a_stave_is_dear_and_an_idle_hand_a_little() -> None:
    low, high = played(20), played(35)
    assert hands._staves([high, high], [low, low]) == 0
    assert hands._staves([high, high, high], [low]) == 60
    assert hands._staves([high] * 4, [low]) == 120
    assert hands._staves([high, high], []) == 3 and hands._staves([high, []], []) == 0
    assert hands._staves([high, high], [[]]) == 3


def test_a_wide_grip_is_priced_beyond_an_octave_and_more_beyond_a_ninth() -> None:
    low = played(10)
    for span, price in ((7, 0), (8, 1), (9, 6), (10, 11)):
        assert hands._staves([played(40), played(40 - span)], [low]) == price
        assert hands._stretch([played(40), played(40 - span)]) == price
    assert hands._stretch([]) == 0 == hands._stretch([played(40, 20)])
    held = [played(40, length=2), played(36, 30)]
    assert hands._stretch(held) == 3 + 2 * 4  # only with the second note, an eleventh away
    assert (
        hands._staves([played(40), played(20)], []) == 3 + 4
    )  # with one stave empty no grip, but two ledgers


def test_a_voice_that_changes_stave_is_dear_and_dearer_when_it_is_held() -> None:
    here = [played(35), played(30), played(25)]
    held = [played(35), played(30, held=True), played(25)]
    assert hands._moves(1, 2, None, here) == 0 == hands._moves(2, 2, here, here)
    assert hands._moves(1, 2, here, here) == 21 == hands._moves(2, 1, here, here)
    assert hands._moves(1, 2, held, here) == 51
    assert hands._moves(1, 3, held, here) == 71
    assert hands._moves(1, 2, [here[0], [], here[2]], here) == 1
    assert hands._moves(1, 2, here, [here[0], [], here[2]]) == 1
    assert hands.MIDDLE_C == 28


# --- outlines and figures


def test_paths_are_rounded_and_written_short() -> None:
    assert glyphs.compact("M1.5,2.4 L-3.6 4 z") == "M2 2L-4 4z"
    assert glyphs.compact("M 1e-3 0 L 1.2e1 5") in ("M1e-3 0L12 5", "M0 0L12 5", "M1e-3 0L1.2e1 5")
    assert glyphs.compact("M0.2 -0.4") == "M0 0"


def test_signs_of_figures_are_those_of_smufl() -> None:
    """SMuFL 1.4, figured bass: digits, strokes U+EA53, EA56, EA59, EA5C, EA5F; flat, natural, sharp."""
    digits = ("EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61")
    assert glyphs.signs("0123456789") == digits
    assert glyphs.signs("".join(f"{n}\u0338" for n in "24567")) == ("EA53", "EA56", "EA59", "EA5C", "EA5F")
    assert glyphs.signs("3\u0338x") == ("EA54",) and glyphs.signs("♭♮♯") == ("EA64", "EA65", "EA66")
    assert glyphs.signs("\uea66\uea6f\uea4f\uea70") == ("EA66", "EA6F")
    assert glyphs.signs("[–-]") == ("[", "–", "–", "]")
    assert (glyphs.width("["), glyphs.width("]"), glyphs.width("–")) == (90, 90, 250)
    assert 100 < glyphs.width("EA5B") < 400
    left, low, wide, top = glyphs.box("E050")
    assert left <= 0.2 and low < -500 and wide > 400 and top > 900  # a treble clef reaches far up and down


def test_a_row_of_figures_begins_where_the_one_before_lets_it() -> None:
    six = glyphs.width("EA5B")
    (mark,) = glyphs.place(("EA5B",), 1000, 50, float("-inf"))
    assert mark.x == pytest.approx(1000 + (157 - six / 2) * 0.72) and (mark.code, mark.y) == ("EA5B", 50)
    sharp = glyphs.width("EA66")
    before, number = glyphs.place(("EA66", "EA5B"), 1000, 0, float("-inf"))
    assert number.x == pytest.approx(mark.x)
    assert before.x == pytest.approx(mark.x - (sharp + 36) * 0.72)  # and air before the number
    assert glyphs.place(("EA66", "EA5B"), 1000, 0, 990)[0].x == 990
    assert glyphs.place(("EA66", "EA5B"), 1000, 0, 2000)[0].x == 1000  # never behind its own note
    (alone,) = glyphs.place(("EA66",), 1000, 0, float("-inf"))
    assert alone.x == pytest.approx(1000 + (157 - sharp / 2) * 0.72)
    one, two = glyphs.place(("[", "EA66", "]"), 0, 0, float("-inf"))[:2]
    assert two.x - one.x == pytest.approx(90 * 0.72) and two.x == pytest.approx((157 - sharp / 2) * 0.72)
    assert glyphs.place(("[", "]"), 0, 0, 0) == () == glyphs.place((), 0, 0, 0)
    assert glyphs.end((mark,)) == pytest.approx(mark.x + six * 0.72)
    assert glyphs.end(()) == float("-inf") and glyphs.end((number, before)) == glyphs.end((number,))


# --- what is kept of verovio's picture

RAW = """<svg xmlns="http://www.w3.org/2000/svg" width="900px"><defs/><svg class="definition-scale"
 viewBox="0 0 1200.4 800.6"><g class="page-margin" transform="translate(30, 15)"><g class="system" id="s">
<g class="measure pickup" id="m" data-n="3"><g class="staff" id="t">
<path d="M0 500 L900 500" stroke-width="13"/><path d="M0 680 L900 680" stroke-width="13"/>
<path d="M10 500 L10 680" stroke-width="13" class="x" id="y"/><path d="M1.6 2.4 L5.5 7" stroke-width="20"/>
<g class="layer"><g class="note" id="n&amp;1"><g class="notehead"><use href="#E0A4-x"
 transform="translate(100, 590) scale(0.72, 0.72)"/></g><g class="stem">
<path d="M120 500 L120 590" stroke-width="18"/></g></g></g>
<g class="beam placeholder"><path d="M0 0 L1 1"/></g>
<polygon points="1,2 3,4" class="p" id="q" fill="x"/></g>
<g class="harm" id="h"><g class="fb"><text x="100" y="300">6</text><text x="100" y="420"> </text></g></g>
<g class="mNum">
<text x="5" y="400" text-anchor="middle" font-size="0px"><tspan font-size="324px">3</tspan></text></g>
<g class="label"><text x="7" y="600" font-size="0px">
<tspan font-size="405px">Can  tus &amp;</tspan></text></g>
</g></g></g></svg></svg>"""


def test_a_system_keeps_groups_and_lines_and_drops_what_a_page_does_not_need() -> None:
    made = lean(RAW)
    body = made.body
    assert (made.width, made.height + made.top) == (1200, 801)
    assert body.startswith(
        '<g transform="translate(30, 15)"><g class="system"><g class="measure" data-n="3">'
    )
    assert '<g class="staff"><path stroke-width="13" d="M0 500H900M0 680H900M10 500V680"/>' in body
    assert '<path stroke-width="20" d="M2 2L6 7"/>' in body
    assert (
        '<g class="note" data-id="n&amp;1"><g class="notehead"><use href="#gE0A4-72" x="100" y="590"/></g>'
        in body
    )
    assert '<g class="stem"><path stroke-width="18" d="M120 500V590"/></g></g>' in body
    assert "layer" not in body and "placeholder" not in body and "M0 0" not in body
    assert '<polygon points="1,2 3,4" fill="x"/>' in body and 'id="' not in body.replace('data-id="', "")
    assert '<g class="harm" data-id="h"><use href="#gEA5B-72" x="' in body
    number = 'x="0" y="400" text-anchor="start" font-size="324" class="number" font-style="italic">3</text>'
    assert f'<text stroke="none" {number}' in body
    assert '<text stroke="none" x="7" y="600" font-size="405" class="label">Can tus &amp;</text>' in body
    assert set(made.glyphs) == {"gE0A4-72", "gEA5B-72"}
    outline = glyphs.outline("E0A4")
    assert made.glyphs["gE0A4-72"] == f'<path id="gE0A4-72" transform="scale(0.72,-0.72)" d="{outline}"/>'


def test_figures_are_drawn_as_signs_dashes_and_brackets() -> None:
    drawing = reduced_svg.Drawing()
    assert reduced_svg._mark(drawing, "–", 10, 200) == '<path stroke-width="22" d="M20 72h160"/>'
    left, right = (reduced_svg._mark(drawing, code, 10, 400) for code in "[]")
    assert left == '<path fill="none" stroke-width="18" d="M60 445H25V85H60"/>'
    assert right == '<path fill="none" stroke-width="18" d="M25 445H60V85H25"/>'
    assert reduced_svg._mark(drawing, "EA5B", 1, 2) == '<use href="#gEA5B-72" x="1" y="2"/>'
    assert list(drawing.glyphs) == ["gEA5B-72"]


def test_the_second_figure_of_a_row_keeps_its_distance_from_the_first() -> None:
    drawing = reduced_svg.Drawing()
    for x in (100, 130):
        harm = ET.fromstring(f'<g class="harm" id="a"><g class="fb"><text x="{x}" y="9">66</text></g></g>')
        reduced_svg._harm(harm, drawing)
    at = [int(x) for x in __import__("re").findall(r'x="(\d+)"', "".join(drawing.out))]
    wide = glyphs.width("EA5B") * 0.72
    assert at[1] - at[0] == pytest.approx(wide, abs=1)
    assert at[2] == 130 or at[2] - (at[1] + wide) == pytest.approx(120, abs=2)
    assert drawing.pens[9.0] == pytest.approx(at[3] + wide, abs=1)
    name = ET.fromstring('<g class="harm"><text x="1" y="2" font-size="405px">Altus</text></g>')
    other = reduced_svg.Drawing()
    reduced_svg._harm(name, other)
    assert other.out == [
        '<text stroke="none" x="1" y="2" font-size="405" class="name" font-style="italic">Altus</text>'
    ]


def test_a_picture_stands_by_itself() -> None:
    system = System("<g/>", {"b": "<path id='b'/>", "a": "<path id='a'/>"}, 900, 500, -20)
    assert picture(system, label='A "b"', font="Some & font") == (
        '<svg xmlns="http://www.w3.org/2000/svg" class="music" viewBox="0 -20 900 500" fill="currentColor" '
        'stroke="currentColor" font-family="Some &amp; font" role="img" aria-label="A &quot;b&quot;">'
        "<defs><path id='a'/><path id='b'/></defs><g/></svg>"
    )
    assert 'font-family="serif" aria-hidden="true">' in picture(system)


def test_signs_of_a_page_are_defined_once_in_their_order() -> None:
    one = '<svg><defs><path id="b" d="1"/><path id="a" d="2"/></defs><g/></svg>'
    two = '<svg><defs><path id="c" d="3"/><path id="a" d="2"/></defs><i/></svg>'
    defs, bodies = page.page_svg([one, two])
    assert bodies == ("<svg><g/></svg>", "<svg><i/></svg>")
    assert defs == (
        '<svg xmlns="http://www.w3.org/2000/svg" width="0" height="0" aria-hidden="true" '
        'style="position:absolute"><defs><path id="a" d="2"/><path id="b" d="1"/><path id="c" d="3"/></defs>'
        "</svg>"
    )
    assert page.WIDTHS == {"narrow": (360, 38), "wide": (860, 42)}


# --- corrections: numbers off clefs, figures off stems, names down to the stave


def drawn(*parts: str) -> ET.Element:
    stave = '<g class="staff"><path d="M0 1000 L2000 1000"/></g>'
    return ET.fromstring(f'<svg><g class="system">{stave}{"".join(parts)}</g></svg>')


def number(y: int, text: str = "12") -> str:
    return f'<g class="mNum"><text x="0" y="{y}">{text}</text></g>'


def clef(x: int, y: int, code: str = "E05C") -> str:
    return f'<use href="#{code}-a" transform="translate({x}, {y}) scale(1, 1)"/>'


def heights(inner: ET.Element, kind: str) -> list[float]:
    return [float(t.attrib["y"]) for g in inner.iter("g") if g.get("class") == kind for t in g.iter("text")]


def test_the_number_of_a_bar_goes_above_a_c_clef_at_its_edge() -> None:
    top = 1000 - glyphs.box("E05C")[3]
    inner = drawn(number(900), clef(50, 1000))
    corrections.settle(inner)
    assert heights(inner, "mNum") == [round(top - 0.25 * 324 - 60)]
    for free in (
        drawn(number(900)),
        drawn(number(900), clef(1500, 1000)),
        drawn(number(100), clef(50, 1000)),
    ):
        before = heights(free, "mNum")
        corrections.settle(free)
        assert heights(free, "mNum") == before
    other = drawn(number(900), clef(50, 1000, "E062"))
    corrections.settle(other)
    assert heights(other, "mNum") == [900]


def figure(x: int, y: int, text: str = "6") -> str:
    return f'<g class="harm"><g class="fb"><text x="{x}" y="{y}">{text}</text></g></g>'


def test_figures_go_as_far_up_as_the_highest_stem_under_them_asks() -> None:
    """By sixty units above it, all of one system together; a stem beside them asks for nothing."""
    stem = '<path d="M520 700 L520 1200"/>'
    inner = drawn(figure(400, 800), figure(1400, 800), figure(1400, 500), stem)
    corrections.settle(inner)
    assert heights(inner, "fb") == [640, 640, 340]
    beside = drawn(figure(900, 800), stem)
    corrections.settle(beside)
    assert heights(beside, "fb") == [800]
    deep = drawn(figure(400, 800), '<path d="M520 860 L520 1200"/>')
    corrections.settle(deep)
    assert heights(deep, "fb") == [800]
    under = drawn(figure(400, 1500), stem)
    corrections.settle(under)
    assert heights(under, "fb") == [1500]  # below the stave they stand as they are


def voice(x: int, y: int, text: str = "Altus") -> str:
    return f'<g class="harm"><text x="{x}" y="{y}">{text}</text></g>'


def test_names_come_down_to_what_stands_under_them_on_one_line() -> None:
    """A quarter of their size and sixty units above it; never higher than they were."""
    below = 1000 - 0.25 * 405 - 60
    inner = drawn(voice(100, 200), voice(900, 200))
    corrections.settle(inner)
    assert heights(inner, "harm") == pytest.approx([below, below], abs=1)
    high = drawn(voice(100, 200), voice(1500, 200), '<path d="M150 700 L150 1200"/>')
    corrections.settle(high)
    assert heights(high, "harm") == pytest.approx([700 - 0.25 * 405 - 60] * 2, abs=1)
    figured = drawn(voice(100, 200), figure(1500, 900))
    corrections.settle(figured)
    assert heights(figured, "harm")[0] == pytest.approx(900 - 300 - 0.25 * 405 - 60, abs=1)
    tall = drawn(voice(100, 500), '<path d="M150 300 L150 1200"/>')
    corrections.settle(tall)
    assert heights(tall, "harm") == [500]


def test_room_above_a_system_is_given_up_but_for_a_margin() -> None:
    assert corrections.settle(drawn()) == 1000 - 150
    assert corrections.settle(drawn(figure(100, 900))) == 900 - 300 - 150
    assert corrections.settle(drawn(number(600))) == pytest.approx(600 - 0.75 * 324 - 150)
    assert corrections.settle(drawn('<path d="M10 -40 L10 900"/>')) == -40
    assert corrections.settle(drawn('<path d="M10 100 L10 900"/>')) == 0  # less than the margin: nothing
    assert corrections.settle(drawn('<polygon points="10,400 20,300 30,500"/>')) == 150
    assert corrections.settle(ET.fromstring("<svg><g/></svg>")) == 0
    assert corrections.settle(drawn('<g><text x="5" y="700">word</text></g>')) == pytest.approx(
        700 - 0.75 * 405 - 150
    )
    assert corrections.settle(drawn('<g><text x="5" y="700"> </text></g>')) == 850
