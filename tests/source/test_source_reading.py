"""What a source says is what is read: voices, bars, values, figures, words."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from builder.music import Clef, FigureSign, Pitch
from builder.source import GivenNote, Span, Verset, parse, read

FRONT = "---\ntitle: An example\nverset: {metre: C, signature: Bb}\n---\n"


def music(lines: str, more: str = "") -> Verset:
    return parse(f"{FRONT}```given\n{lines}\n```\n{more}")


def first(note: str) -> GivenNote:
    return music(f"cantus C1 | {note}").given[0]


def test_every_symbol_knows_its_line_and_column() -> None:
    verset = music("cantus C1 | D5/2 A4/2\naltus C3 | A4/1")
    assert [g.span for g in verset.given] == [Span(6, 13), Span(6, 18), Span(7, 12)]


def test_bars_number_themselves_from_one_and_a_last_bar_line_changes_nothing() -> None:
    for end in ("", " |"):
        bars = music(f"cantus C1 | D5/1 | A4/1{end}").bars
        assert [(b.number, b.onset, b.length) for b in bars] == [(1, 0, 4), (2, 4, 4)]


def test_a_new_line_is_another_voice_in_another_clef() -> None:
    verset = music("cantus C1 | D5/1\ntenor C4 | D4/1")
    assert [(g.voice, g.clef) for g in verset.given] == [("cantus", Clef("C", 1)), ("tenor", Clef("C", 4))]
    assert verset.voices == ("cantus", "tenor")
    assert verset.above(Fraction(0)) == () and verset.above(Fraction(4)) == ("cantus",)


def test_a_bar_is_shared_when_a_line_breaks_off_inside_it() -> None:
    verset = music("cantus C1 | D5/1 | A4/4\naltus C3 | A4/4 G4/2 | F4/1")
    assert [(g.voice, g.note.onset) for g in verset.given][1:4] == [("cantus", 4), ("altus", 5), ("altus", 6)]
    assert len(verset.bars) == 3


def test_a_bar_may_be_shared_by_three_lines() -> None:
    verset = music("cantus C1 | D5/4\naltus C3 | A4/4\ntenor C4 | D4/2")
    assert [g.note.onset for g in verset.given] == [0, 1, 2] and len(verset.bars) == 1


def test_a_line_that_fills_its_bar_shares_nothing() -> None:
    assert len(music("cantus C1 | D5/1\naltus C3 | A4/1").bars) == 2


@pytest.mark.parametrize("last", ["D5/breve", "D5/longa", "D5/1~ D5/1", "D5/1.", "D5/breve."])
def test_the_last_bar_may_hold_one_long_note(last: str) -> None:
    bars = music(f"cantus C1 | D5/1 | {last}").bars
    assert len(bars) == 2 and bars[1].length > 4


def test_several_blocks_are_one_line() -> None:
    verset = music("cantus C1 | D5/1", "\nWords.\n\n```given\naltus C3 | A4/1\n```\n")
    assert [g.voice for g in verset.given] == ["cantus", "altus"] and "Words." in verset.intro


def test_comments_and_empty_lines_are_nothing() -> None:
    assert len(music("% a comment\n\ncantus C1 | D5/1\n   % another | H4/3").given) == 1


def test_the_signature_does_not_change_notes() -> None:
    assert first("B4/1").note.pitch == Pitch.parse("B4")


@pytest.mark.parametrize(
    ("text", "pitch"), [("F(#)4", "F#4"), ("B(b)4", "Bb4"), ("B(n)4", "B4"), ("F(##)4", "F##4")]
)
def test_an_editorial_accidental_sounds(text: str, pitch: str) -> None:
    note = first(f"{text}/1").note
    assert note.editorial and note.pitch == Pitch.parse(pitch)


def test_a_held_note_keeps_the_editor_s_accidental() -> None:
    verset = music("cantus C1 | F(#)4/1~ | F#4/1~ | F#4/2 F#4/2")
    assert [g.note.editorial for g in verset.given] == [True, True, True, False]


@pytest.mark.parametrize(
    ("braces", "signs"),
    [
        ("{6}", [FigureSign(6)]),
        ("{#}", [FigureSign(3, "#", lone=True)]),
        ("{#6}", [FigureSign(6, "#")]),
        ("{(6)}", [FigureSign(6, editorial=True)]),
        ("{(b)}", [FigureSign(3, "b", lone=True, editorial=True)]),
        ("{6/4}", [FigureSign(6), FigureSign(4)]),
        ("{#6/n3}", [FigureSign(6, "#"), FigureSign(3, "n")]),
        ("{9/7/#}", [FigureSign(9), FigureSign(7), FigureSign(3, "#", lone=True)]),
    ],
)
def test_a_stack_of_figures_is_read_from_the_top(braces: str, signs: list[FigureSign]) -> None:
    for space in ("", " "):
        (figure,) = first(f"D5/1{space}{braces}").figures
        assert list(figure.signs) == signs and str(figure) == braces.strip("{}")


def test_figures_divide_their_note_evenly_or_as_they_say() -> None:
    def times(note: str) -> list[tuple[Fraction, Fraction]]:
        return [(f.onset, f.duration) for f in first(note).figures]

    assert times("D5/1{7 6}") == [(0, 2), (2, 2)]
    assert times("D5/1{4:2. 3:4}") == [(0, 3), (3, 1)]
    assert times("D5/1{5/3:4 6/4:4 5/4:4 #:4}") == [(0, 1), (1, 1), (2, 1), (3, 1)]
    assert first("D5/1{7 -}").figures[1].dash


def test_a_pin_leaves_open_what_is_not_written() -> None:
    lines = "cantus C1 | D5/1\naltus C3 | A4/1 | A4/1 | A4/1"
    pins = (
        "```plain\ncantus 2 | F5/2 _/2 | _ | R/2 E5/2\n```\n```diminished\ncantus 2 | F5/4 E5/4 F5/2\n```\n"
    )
    plain, diminished = music(lines, pins).pins
    assert (plain.version, plain.voice, diminished.version) == ("plain", "cantus", "diminished")
    assert [(n.onset, n.duration, n.pitch and n.pitch.name) for n in plain.notes] == [
        (4, 2, "F5"),
        (12, 2, None),
        (14, 2, "E5"),
    ]
    assert len(plain.spans) == 3 and len(diminished.notes) == 3


def test_words_stand_under_their_headings_and_code_survives() -> None:
    page = """
Before.

## Altus

Under *altus*.

### At the keyboard

Still altus.

```text
## no heading
```

Tenor
-----

Under tenor.

#### cadence

The end.
"""
    verset = music("cantus C1 | D5/1", page)
    assert verset.intro == "Before."
    assert list(verset.words) == ["altus", "tenor", "cadence"]
    assert verset.words["altus"].startswith("Under *altus*.\n\n### At the keyboard")
    assert "```text\n## no heading\n```" in verset.words["altus"]
    assert verset.words["cadence"] == "The end."


def test_settings_are_read_and_absent_ones_are_left_to_the_course() -> None:
    verset = music("cantus C1 | D5/1")
    assert verset.tempo == (2, 52) and verset.tone is None
    assert verset.settings.pitch is None and verset.settings.level is None and not verset.settings.tuning


def test_a_verset_that_is_not_moved_may_say_so() -> None:
    front = "---\ntitle: A\nverset: {metre: C, signature: none, move: MOVE}\n---\n"
    text = f"{front}```given\ncantus C1 | D5/1\n```\n"
    assert parse(text.replace("MOVE", "none")).settings.move == ""
    assert parse(text.replace("MOVE", "a tone lower")).settings.move == "a tone lower"


def test_a_verset_has_the_name_of_its_file_and_its_path_as_given() -> None:
    path = Path(__file__).parents[2] / "content" / "versets" / "first.md"
    assert (read(path).name, read(path).path) == ("first", str(path))
