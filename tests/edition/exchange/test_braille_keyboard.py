"""Braille music for the keyboard, bar over bar, read back by a reader of the test's own.

Signs and rules after *Music Braille Code 2015*, from memory; the cells of single voices are held against
music21, which writes them after the *New International Manual of Braille Music Notation* (1996).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pytest
from course import course_setting

from builder.edition.exchange.braille import LINE, PAGE, embossed
from builder.edition.exchange.braille_keyboard import keyboard_braille
from builder.edition.exchange.musicxml import musicxml
from builder.edition.files import keyboard_brf
from builder.engraving.hands import hands
from builder.music import Bar, Figure, Note, Score, notated, written
from builder.source import parse

NAMES = ("first", "fourth", "sixth", "eighth", "second")
NOTES = {
    cell: (step, value)
    for value, cells in ((1, "⠽⠵⠯⠿⠷⠮⠾"), (2, "⠝⠕⠏⠟⠗⠎⠞"), (4, "⠹⠱⠫⠻⠳⠪⠺"), (8, "⠙⠑⠋⠛⠓⠊⠚"))
    for step, cell in enumerate(cells)
}
OCTAVES = {"⠈": 1, "⠘": 2, "⠸": 3, "⠐": 4, "⠨": 5, "⠰": 6, "⠠": 7}
NOTE = re.compile(r"([⠩⠣⠡]*)([⠈⠘⠸⠐⠨⠰⠠]?)([⠽⠵⠯⠿⠷⠮⠾⠝⠕⠏⠟⠗⠎⠞⠹⠱⠫⠻⠳⠪⠺⠙⠑⠋⠛⠓⠊⠚])(⠄*)")
Played = tuple[int, int, int]
"""Diatonic number, value of the cell, dots."""


WAITS = re.compile("⠐\u2800+")
"""A music hyphen, behind which the rest of a bar waits for its figures."""


def grouped(lines: list[str]) -> list[tuple[str, str, str]]:
    """The lines of both hands, and that of the figures under them, empty where there is none; a bar that goes
    on in further lines is joined to one of each."""
    found: list[list[str]] = []
    hand = 0
    for row in lines[lines.index("") + 1 :]:
        if row.lstrip("\u2800").startswith("⠼"):
            found[-1][2] += row.lstrip("\u2800")[1:] if found[-1][2] else row
        elif "⠨⠜" in row[:6]:
            hand = 0
            found.append([row, "", ""])
        elif "⠸⠜" in row[:6]:
            hand = 1
            found[-1][1] = row
        else:
            found[-1][hand] = found[-1][hand].removesuffix("⠐") + row.lstrip("\u2800")
    return [(over, under, below) for over, under, below in found]


def voice(cells: str) -> list[Played]:
    """The notes of a voice: a note without a mark is the nearest of its name, a fourth or fifth in the octave
    of the one before."""
    found: list[Played] = []
    for _, mark, cell, dots in NOTE.findall(cells.replace("⠈⠉", "").replace("⠘⠉", "")):
        step, value = NOTES[cell]
        if mark:
            at = OCTAVES[mark] * 7 + step
        else:
            before = found[-1][0]
            near = [o * 7 + step for o in range(9) if abs(o * 7 + step - before) <= 2]
            at = near[0] if near else before // 7 * 7 + step
        found.append((at, value, len(dots)))
    return found


def read(lines: list[str]) -> dict[tuple[int, int], list[list[Played]]]:
    """The voices of each bar and hand."""
    found: dict[tuple[int, int], list[list[Played]]] = {}
    for over, under, _ in grouped(lines):
        number = re.match("[⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊]+", over)
        assert number
        first = int("".join(str("⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊".index(c)) for c in number[0]))
        for hand, row, sign in ((0, over, "⠨⠜"), (1, under, "⠸⠜")):
            body = row[number.end() + 1 :]
            assert body.startswith(sign), row
            bars = [b for b in re.split("\u2800+", WAITS.sub("", body[2:])) if b]
            for n, bar in enumerate(bars):
                found[first + n, hand] = [voice(part) for part in bar.removesuffix("⠣⠅").split("⠣⠜")]
    return found


def expected(score: Score) -> dict[tuple[int, int], list[list[Played]]]:
    share, found = hands(score), {}
    for bar in score.bars:
        for hand, parts in enumerate((score.parts[: share[bar.number]], score.parts[share[bar.number] :])):
            rows = []
            for part in parts:
                row = [n for n in part.notes if n.pitch and bar.onset <= n.onset < bar.end]
                played = [
                    (at, 8 if n.id in grouped_notes(row, bar) else value, dots)
                    for n in row
                    for at, value, dots in cells_of(n.duration, n.pitch.diatonic if n.pitch else 0)
                ]
                rows += [played] if played else []
            rows = rows[::-1] if hand else rows  # the left hand's from the lowest (11, from memory)
            found[bar.number, hand] = rows or [[]]
    return found


def grouped_notes(row: list[Note], bar: Bar) -> set[str]:
    """Four sixteenths of a beat, or three behind a rest, where no eighth follows: all but the first."""
    found: set[str] = set()
    for beat in range(int(bar.length)):
        start = bar.onset + beat
        here = [n for n in row if start <= n.onset < start + 1]
        short = all(n.duration == Fraction(1, 4) for n in here) and here and here[-1].end == start + 1
        if not short or len(here) < 3 or here[0].onset != start + 1 - Fraction(len(here), 4):
            continue
        after = next((n for n in row if n.onset > here[-1].onset), None)
        rest = (after.onset if after else bar.end) - start - 1
        next_value = after.duration if after and not rest else rest
        if not Fraction(1, 2) <= next_value < 1:
            found |= {n.id for n in here[len(here) - 3 :]}
    return found


def cells_of(length: Any, at: int) -> list[Played]:
    value, dots = written(length) or ("", 0)
    if value == "breve":
        return [(at, 1, 0), (at, 1, dots)]
    plain = int(value)
    return [(at, plain if plain <= 8 else plain // 16, dots)]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("version", ["plain", "diminished"])
def test_every_note_comes_back_in_its_bar_hand_and_voice(name: str, version: str) -> None:
    score = course_setting(name).scores[version]
    assert read(keyboard_braille(score)) == expected(score)


@pytest.mark.parametrize("name", NAMES)
def test_the_bars_of_both_hands_begin_in_the_same_cell(name: str) -> None:
    lines = keyboard_braille(course_setting(name).scores["plain"])
    for over, under, _ in grouped(lines):
        starts = [{m.end() for m in re.finditer("(?<!⠐)\u2800+", row)} for row in (over, under)]
        assert starts[1] - {under.index("⠸⠜")} <= starts[0], (over, under)
        assert over.index("⠨⠜") == under.index("⠸⠜")


def spelled(figure: Figure) -> str:
    """A stack of figures as its cells, by a table of the test's own."""
    cells = []
    for sign in figure.signs:
        cell = {"#": "⠩", "b": "⠣", "n": "⠡", "": ""}[sign.sign]
        cell += "" if sign.lone else "".join("⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊"[int(d)] for d in str(sign.number))
        cells.append(f"⠶{cell}⠶" if sign.editorial else cell)
    return "⠒" if figure.dash else "⠌".join(cells)


@pytest.mark.parametrize("name", NAMES)
def test_figures_stand_in_order_each_under_the_first_cell_of_its_note(name: str) -> None:
    """Where a line has figures they stand in a third one, which begins with the number sign; the cell over
    the first of a figure begins a note or rest, with its accidental and octave mark (after the code's rule
    for chords under a melody, from memory)."""
    score = course_setting(name).scores["plain"]
    read_back, starts = [], 0
    for over, under, below in grouped(keyboard_braille(score)):
        cells = below.lstrip("\u2800")[1:]
        at = len(below) - len(cells)
        for found in re.finditer("[^\u2800]+", cells):
            read_back += [f for f in found[0].split("⠤") if f]
            column = at + found.start()
            rows = [row[column:] for row in (over, under) if column < len(row)]
            assert any(NOTE.match(row.replace("⠈⠈", "⠈")) or row[:1] in "⠍⠥⠧⠭" for row in rows)
            starts += 1
    assert starts and read_back == [spelled(f) for f in score.figures]


@pytest.mark.parametrize("name", NAMES)
def test_lines_and_pages_fit_the_paper_and_pages_are_numbered(name: str) -> None:
    for version, score in course_setting(name).scores.items():
        if version != "given":
            assert all(len(line) <= LINE for line in keyboard_braille(score))
    pages = embossed([f"⠁{'⠃' * (n % 7)}" for n in range(60)]).decode("ascii").split("\f")
    assert [len(page.strip("\r\n").split("\r\n")) for page in pages] == [PAGE, PAGE, 12]
    assert pages[1].startswith(" " * 38 + "#B\r\n") and pages[2].startswith(" " * 38 + "#C\r\n")
    assert sum(page.count("A") for page in pages) >= 60


def test_the_cells_of_a_voice_are_those_of_a_reference_library() -> None:
    """music21 marks an octave at the beginning of its lines, here each bar has one; all other cells agree."""
    from music21 import converter
    from music21.braille import translate

    score = course_setting("sixth").scores["plain"]
    parsed: Any = converter.parse(musicxml(score, title="-"), format="musicxml")
    ours = keyboard_braille(score)
    rows = [WAITS.sub("", over).partition("⠨⠜")[2] for over, _, _ in grouped(ours)]
    upper = [b for row in rows for b in re.split("\u2800+", row) if b]
    text = str(translate.partToBraille(parsed.parts[0], inPlace=True, maxLineLength=400))
    theirs = [b for b in re.split("[\u2800\n]+", text.partition("⠼⠁⠀")[2]) if b]
    bare = [re.sub("[⠈⠘⠸⠐⠨⠰⠠]", "", bar) for bar in upper]
    assert bare == [re.sub("[⠈⠘⠸⠐⠨⠰⠠]", "", bar) for bar in theirs]


def test_signature_metre_rests_ties_and_the_last_bar() -> None:
    text = (
        "---\ntitle: A\nverset: {metre: 3/2, signature: Bb}\n---\n```given\n"
        "cantus C1 | D5/1.~ | D5/2 R/2 F#5/2 | D5/1.\n```\n"
    )
    head, signs, _, over, under = keyboard_braille(notated(parse(text).score()))
    assert head == "⠠⠁" and signs.strip("\u2800") == "⠣⠼⠉⠆"
    assert over == "⠁⠀⠨⠜⠨⠵⠄⠈⠉⠀⠨⠕⠥⠩⠟⠀⠨⠵⠄⠣⠅"
    assert under.split("\u2800")[0] == "" and under.count("⠍") == 3


def test_the_file_is_written_in_braille_ascii() -> None:
    made = keyboard_brf(course_setting("first").scores["plain"]).decode("ascii")
    assert made.startswith(",VERSET IN THE FIRST TONE\r\n") and '."?' not in made
