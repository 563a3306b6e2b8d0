"""Scores of several voices: the lowest voice that sounds is the line, the voices above it are pinned."""

from __future__ import annotations

from fractions import Fraction

import pytest

from builder.source import SourceErrors, parse, write
from builder.source.musicxml import parse_musicxml

HEAD = (
    "<attributes><divisions>2</divisions>{key}<time><beats>4</beats><beat-type>4</beat-type></time>"
    "{staves}<clef{n}><sign>{sign}</sign><line>{line}</line>{octave}</clef>{more}</attributes>"
)


def head(clef: str, key: int = 0, octave: str = "", staves: str = "", more: str = "", n: str = "") -> str:
    shown = f"<key><fifths>{key}</fifths></key>"
    change = f"<clef-octave-change>{octave}</clef-octave-change>" if octave else ""
    return HEAD.format(sign=clef[0], line=clef[1], key=shown, octave=change, staves=staves, more=more, n=n)


def notes(text: str, voice: str = "", staff: str = "") -> str:
    """Notes as `D5/4 R/2 +F5/4 C5/2~`: quarters in halves of a division; + joins a chord."""
    found = ""
    for word in text.split():
        name, _, length = word.rstrip("~").partition("/")
        ticks = 8 // int(length)
        inside = "<chord/>" if name[0] == "+" else ""
        name = name.lstrip("+")
        alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(name[1:2], "")
        pitch = f"<pitch><step>{name[0]}</step>{alter}<octave>{name[-1]}</octave></pitch>"
        inside += "<rest/>" if name[0] == "R" else pitch
        inside += f"<duration>{ticks}</duration>" + ('<tie type="start"/>' if word[-1] == "~" else "")
        inside += f"<voice>{voice}</voice>" if voice else ""
        found += f"<note>{inside}{f'<staff>{staff}</staff>' if staff else ''}</note>"
    return found


def score(*parts: tuple[str, list[str]]) -> bytes:
    names = "".join(
        f'<score-part id="P{n}"><part-name>{p}</part-name></score-part>' for n, (p, _) in en(parts)
    )
    music = "".join(
        f'<part id="P{n}">{"".join(f"<measure>{bar}</measure>" for bar in bars)}</part>'
        for n, (_, bars) in en(parts)
    )
    return f"<score-partwise><part-list>{names}</part-list>{music}</score-partwise>".encode()


def en(items):
    return list(enumerate(items, 1))


def line(verset) -> list[str]:
    return [f"{g.voice[0]}:{g.note.pitch or 'R'}/{g.note.duration}" for g in verset.given]


def pinned(verset, voice: str) -> list[str]:
    return [f"{n.pitch or 'R'}/{n.duration}" for p in verset.pins if p.voice == voice for n in p.notes]


def lost(verset) -> dict[str, tuple[int, ...]]:
    return {loss.kind: loss.bars for loss in verset.lost}


CHORALE = score(
    ("Soprano", [head("G2") + notes("D5/2 C5/2"), notes("B4/1")]),
    ("Alto", [head("G2") + notes("A4/2 A4/2"), notes("G4/1")]),
    ("Tenor", [head("G2", octave="-1") + notes("F4/2 E4/2"), notes("D4/1")]),
    ("Bass", [head("F4") + notes("D3/2 A3/2"), notes("G3/1")]),
)


def test_the_lowest_voice_is_the_line_and_the_others_are_pinned() -> None:
    verset = parse_musicxml(CHORALE)
    assert line(verset) == ["b:D3/2", "b:A3/2", "b:G3/4"]
    assert pinned(verset, "cantus") == ["D5/2", "C5/2", "B4/4"]
    assert pinned(verset, "tenor") == ["F4/2", "E4/2", "D4/4"]
    assert verset.from_start == ("cantus", "altus", "tenor") and not verset.lost


def test_what_is_read_is_written_as_text_and_read_again() -> None:
    verset = parse_musicxml(CHORALE)
    again = parse(write(verset))
    assert [p.notes for p in again.pins] == [p.notes for p in verset.pins]
    assert [(g.voice, g.clef, g.note) for g in again.given] == [
        (g.voice, g.clef, g.note) for g in verset.given
    ]
    assert again.from_start == verset.from_start


def test_while_the_lowest_voice_rests_the_next_one_has_the_line() -> None:
    """As basses for the organ do (Viadana 1602, Banchieri 1605)."""
    verset = parse_musicxml(
        score(
            ("Canto", [head("C1") + notes("D5/2 C5/2"), notes("B4/1"), notes("D5/1")]),
            ("Alto", [head("C3") + notes("R/1"), notes("G4/1"), notes("R/1")]),
        )
    )
    assert line(verset) == ["c:D5/2", "c:C5/2", "a:G4/4", "c:D5/4"]
    assert pinned(verset, "cantus") == ["B4/4"] and verset.from_start == ()


def test_a_note_held_over_a_change_of_the_lowest_voice_is_struck_again_and_told() -> None:
    verset = parse_musicxml(
        score(
            ("Canto", [head("C1") + notes("D5/1")]),
            ("Alto", [head("C3") + notes("R/2 G4/2")]),
        )
    )
    assert line(verset) == ["c:D5/2", "a:G4/2"] and pinned(verset, "cantus") == ["D5/2"]
    assert lost(verset) == {"tie": (1,)}


def test_two_staves_of_one_part_and_chords_are_voices() -> None:
    staves = "<staves>2</staves>"
    below = '<clef number="2"><sign>F</sign><line>4</line></clef>'
    bar = notes("D5/1 +A4/1", "1", "1") + "<backup><duration>8</duration></backup>"
    bar += notes("F4/1", "5", "2") + "<backup><duration>8</duration></backup>" + notes("D3/1", "6", "2")
    verset = parse_musicxml(score(("Organ", [head("G2", staves=staves, n=' number="1"', more=below) + bar])))
    assert line(verset) == ["b:D3/4"] and verset.given[0].clef.name == "F4"
    assert [pinned(verset, v) for v in ("cantus", "altus", "tenor")] == [["D5/4"], ["A4/4"], ["F4/4"]]


def test_figures_tell_the_line_and_the_voice_that_goes_with_it_is_left_out() -> None:
    figured = "<figured-bass><figure><figure-number>6</figure-number><suffix>backslash</suffix></figure>"
    bass = head("F4") + notes("D3/2") + figured + "</figured-bass>" + notes("A2/2")
    verset = parse_musicxml(
        score(
            *(
                (name, [head("G2") + notes(music)])
                for name, music in (("Soprano", "D5/1"), ("Alto", "A4/1"), ("Tenor", "F4/1"))
            ),
            ("Bass", [head("F4") + notes("D3/2 A3/2")]),
            ("Continuo", [bass]),
        )
    )
    assert line(verset) == ["b:D3/2", "b:A2/2"] and [str(f) for f in verset.figures] == ["#6"]
    assert pinned(verset, "tenor") == ["F4/4"] and lost(verset) == {"voice": (1,)}


def test_figures_that_begin_inside_a_note_divide_it_by_a_tie() -> None:
    six = "<figured-bass><figure><figure-number>6</figure-number></figure></figured-bass>"
    bar = notes("D3/1", "1") + "<backup><duration>4</duration></backup>" + six
    bar += "<forward><duration>4</duration></forward>"
    verset = parse_musicxml(score(("Continuo", [head("F4") + bar])))
    assert [(g.note.duration, g.note.tied, len(g.figures)) for g in verset.given] == [
        (2, True, 0),
        (2, False, 1),
    ]


def test_a_pick_up_and_a_bar_that_a_repeat_divides_make_whole_bars() -> None:
    bars = (["R/4", "D3/4"], ["A4/4", "D3/4"], ["D5/1", "G3/1"], ["B4/2", "G2/2"])
    halves = (["C5/2", "A3/2"], ["D5/2", "D3/2"])
    upper = [bars[1][0], bars[2][0], bars[3][0], *(h[0] for h in halves[:1]), "D5/2"]
    lower = [bars[1][1], bars[2][1], bars[3][1], *(h[1] for h in halves[:1]), "D3/2"]
    verset = parse_musicxml(
        score(
            ("Soprano", [head("G2") + notes(upper[0]), *map(notes, upper[1:])]),
            ("Bass", [head("F4") + notes(lower[0]), *map(notes, lower[1:])]),
        )
    )
    assert len(verset.bars) == 4 and all(b.length == 4 for b in verset.bars)
    sounding = [(g.note.onset, str(g.note.pitch)) for g in verset.given if g.note.pitch]
    assert sounding == [(3, "D3"), (4, "G3"), (8, "G2"), (10, "A3"), (12, "D3")]


def test_a_bass_an_octave_lower_than_written_stays_on_the_keys_and_is_told() -> None:
    down = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    deep = score(
        ("Soprano", [head("G2") + notes("D5/1")]),
        ("Contrabass", [head("F4", more=down) + notes("E2/1")]),
    )
    assert line(parse_musicxml(deep)) == ["b:E2/4"] and lost(parse_musicxml(deep)) == {"octave": (1,)}
    tenor = score(
        ("Tenor", [head("G2", more=down) + notes("D5/1")]),
        ("Bass", [head("F4") + notes("D3/1")]),
    )
    assert pinned(parse_musicxml(tenor), "tenor") == ["D4/4"] and not parse_musicxml(tenor).lost


def test_a_part_in_another_key_is_read_at_its_sounding_pitch() -> None:
    shift = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    verset = parse_musicxml(
        score(
            ("Clarinet", [head("G2", 2, more=shift) + notes("E5/2 F#5/2")]),
            ("Bass", [head("F4") + notes("D3/1")]),
        )
    )
    assert pinned(verset, "cantus") == ["D5/2", "E5/2"] and str(verset.signature) == "none"


@pytest.mark.parametrize(
    ("bars", "found"),
    [
        ([head("G2") + notes("D5/1"), notes("D5/2"), notes("D5/1")], "a bar of 2 quarters"),
        (
            [head("G2") + notes("D5/1"), head("G2").replace("4<", "3<", 1) + notes("D5/1")],
            "a change of metre",
        ),
        ([head("G2") + notes("D5/1").replace("8", "1/3").replace("<d", "<d")], "a tuplet"),
    ],
)
def test_what_no_verset_holds_is_refused_with_its_reason(bars: list[str], found: str) -> None:
    data = score(("Soprano", bars), ("Bass", [head("F4") + notes("D3/1")]))
    with pytest.raises(SourceErrors) as wrong:
        parse_musicxml(data)
    assert found in [e.found for e in wrong.value.errors]


def test_parts_whose_bar_lines_do_not_meet_get_the_bars_of_the_metre() -> None:
    """A breve that one part writes as a bar of its own."""
    verset = parse_musicxml(
        score(
            ("Canto", [head("C1") + notes("D5/1"), notes("C5/1"), notes("B4/1 D5/1")]),
            ("Basso", [head("F4") + notes("D3/1 A3/1"), notes("G3/1"), notes("D3/1")]),
        )
    )
    assert line(verset) == ["b:D3/4", "b:A3/4", "b:G3/4", "b:D3/4"]
    assert pinned(verset, "cantus") == ["D5/4", "C5/4", "B4/4", "D5/4"]


def test_parts_that_do_not_last_equally_long_and_whose_bars_differ_are_refused() -> None:
    data = score(
        ("Canto", [head("C1") + notes("D5/1"), notes("C5/1")]),
        ("Basso", [head("F4") + notes("D3/1 A3/1"), notes("G3/1")]),
    )
    with pytest.raises(SourceErrors, match="a bar of 8 quarters"):
        parse_musicxml(data)


def test_losses_have_the_numbers_of_our_bars() -> None:
    fermata = "<notations><fermata/></notations></note>"
    upper = [head("G2") + notes("A4/4"), notes("D5/1"), notes("D5/2").replace("</note>", fermata)]
    lower = [head("F4") + notes("D3/4"), notes("D3/1"), notes("D3/2")]
    verset = parse_musicxml(score(("Soprano", upper), ("Bass", lower)))
    assert lost(verset) == {"fermata": (3,)} and verset.bars[-1].end == Fraction(12)
