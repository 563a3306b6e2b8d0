"""Braille music of a verset, voice after voice, and the given line with figures, read back.

Signs and rules after *Music Braille Code 2015* and the *New International Manual of Braille Music Notation*
(1996): the examples named below are given from memory. The cells of notes are held against music21's besides.
"""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from course import course_setting

from builder.edition.exchange.braille import LINE, PAGE
from builder.edition.exchange.braille_line import braille, brf, given_braille
from builder.edition.exchange.musicxml import musicxml
from builder.engraving.given import line_and_beside
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version, notated
from builder.source import Verset, parse, read

CONTENT = Path(__file__).parents[3] / "content" / "versets"
FIRST = read(CONTENT / "first.md")
HEAD = "---\ntitle: A verset\nverset: {metre: C, signature: none}\n---\n\n"
NAMES = {"cantus": "⠠⠉⠁⠝⠞⠥⠎", "altus": "⠠⠁⠇⠞⠥⠎", "tenor": "⠠⠞⠑⠝⠕⠗", "bassus": "⠠⠃⠁⠎⠎⠥⠎"}
DIGITS = "⠚⠁⠃⠉⠙⠑⠋⠛⠓⠊"
BLANK = "\u2800"
WORD = re.compile("⠜(⠉⠁⠝⠞⠥⠎|⠁⠇⠞⠥⠎|⠞⠑⠝⠕⠗|⠃⠁⠎⠎⠥⠎)⠄?")
NOTE = re.compile("[⠩⠣⠡]*[⠈⠘⠸⠐⠨⠰⠠]?([⠽⠵⠯⠿⠷⠮⠾⠝⠕⠏⠟⠗⠎⠞⠹⠱⠫⠻⠳⠪⠺⠙⠑⠋⠛⠓⠊⠚])⠄*")
STEPS = {c: n for row in ("⠽⠵⠯⠿⠷⠮⠾", "⠝⠕⠏⠟⠗⠎⠞", "⠹⠱⠫⠻⠳⠪⠺", "⠙⠑⠋⠛⠓⠊⠚") for n, c in enumerate(row)}
ALTERS = {"⠩": "#", "⠣": "b", "⠡": "n"}
COURSE = sorted(path.stem for path in CONTENT.glob("*.md"))


def of(given: str) -> Verset:
    return parse(f"{HEAD}```given\n{given}\n```\n", "a.md")


def line_of(given: str) -> list[str]:
    verset = of(given)
    lines = given_braille(verset, notated(verset.score()))
    return lines[lines.index("") + 1 :]


def figure(cells: str) -> str:
    """One figure as a source writes it."""

    def sign(part: str) -> str:
        bare = part.strip("⠶")
        text = "".join(ALTERS.get(c) or str(DIGITS.index(c)) for c in bare)
        return f"({text})" if bare != part else text

    return "-" if cells == "⠒" else "/".join(map(sign, cells.split("⠌")))


def read_back(lines: list[str]) -> list[tuple[int, str, int, list[str]]]:
    """Bar, voice named, step of each note, and the figures that stand under its first cell."""
    found: list[tuple[int, str, int, list[str]]] = []
    rows, voice = list(lines), ""
    while rows:
        music = rows.pop(0)
        number = re.match(f"[{DIGITS}]+(?={BLANK})", music)
        assert number, music
        bar = int("".join(str(DIGITS.index(c)) for c in number[0]))
        under = rows.pop(0) if rows and rows[0].lstrip(BLANK).startswith("⠼") else ""
        at = number.end() + 1
        placed = {m.start(): m[0] for m in re.finditer(f"[^{BLANK}]+", under.replace("⠼", BLANK, 1))}
        while at < len(music):
            if music[at] == BLANK:
                bar += 0 if music[at - 1] == "⠐" and music[at - 2] != "⠐" else int(music[at - 1] != BLANK)
                at += 1
                continue
            starts = at
            if word := WORD.match(music, at):
                voice, at = word[1], word.end()
            if note := NOTE.match(music, at):
                told = placed.pop(starts, "")
                found.append((bar, voice, STEPS[note[1]], [figure(f) for f in told.split("⠤") if f]))
                at = note.end()
                for more in ("⠘⠉", "⠈⠉"):
                    while music.startswith(more, at):
                        at += 2
                        if more == "⠘⠉":
                            at += 1
                continue
            at += 2 if music.startswith("⠣⠅", at) else 1
        assert not placed, (music, under)
    return found


def expected(verset: Verset, score: Score) -> list[tuple[int, int, list[str]]]:
    line, _ = line_and_beside(verset, score)
    found = []
    for n in line:
        assert n.pitch
        here = [str(f) for f in score.figures if n.onset <= f.onset < n.end]
        number = next(b.number for b in score.bars if b.onset <= n.onset < b.end)
        found.append((number, n.pitch.diatonic % 7, here))
    return found


@pytest.mark.parametrize("name", COURSE)
def test_every_note_and_figure_of_the_given_line_comes_back_in_its_place(name: str) -> None:
    verset = course_setting(name).verset
    score = notated(verset.score())
    lines = given_braille(verset, score)
    assert all(len(line) <= LINE for line in lines)
    back = read_back(lines[lines.index("") + 1 :])
    assert [(bar, step, figures) for bar, _, step, figures in back] == expected(verset, score)


def test_the_voice_that_takes_the_line_is_named_before_its_note() -> None:
    """The word sign, the name, and a dot 3 where the next cell has dots on its left (22, from memory)."""
    (music,) = line_of("cantus C1 | D5/2 A4/2\nbassus F4 | D3/1")
    assert music == f"⠁{BLANK}⠜⠉⠁⠝⠞⠥⠎⠨⠕⠐⠎{BLANK}⠜⠃⠁⠎⠎⠥⠎⠸⠵⠣⠅"


def test_figures_stand_under_their_notes() -> None:
    music, under = line_of("bassus F4 | D3/2{6/4} A3/2{#} | D3/1{7 #6} | E3/2{(6)} D3/2{6 -}")
    assert under.lstrip(BLANK)[0] == "⠼"
    told = re.findall(f"[^{BLANK}⠼]+", under)
    assert told == ["⠋⠌⠙", "⠩", "⠛⠤⠩⠋", "⠶⠋⠶", "⠋⠤⠒"]
    for cells, note in zip(told, ("⠕", "⠎", "⠵", "⠏", "⠕")):
        start = under.index(cells)
        under = under[:start] + BLANK * len(cells) + under[start + len(cells) :]
        assert NOTE.search(WORD.sub("", music[start : start + 12]))[1] == note  # type: ignore[index]


@pytest.mark.parametrize(("bars", "cells"), [(1, "⠍"), (2, "⠍⠍"), (3, "⠍⠍⠍"), (4, "⠼⠙⠍"), (12, "⠼⠁⠃⠍")])
def test_bars_of_rest_are_counted(bars: int, cells: str) -> None:
    """Music Braille Code 2015, 5.3 (from memory): up to three whole rests, then a number before one."""
    given = f"cantus C1 | {'| '.join(['D5/1 '] * bars)} \nbassus F4 | D3/1"
    verset = of(given)
    lines = braille(notated(verset.score())).splitlines()
    bass = lines[lines.index(NAMES["bassus"]) + 1]
    assert bass.startswith(f"⠁{BLANK}{cells}{BLANK}⠸⠵")


def test_every_line_of_music_begins_with_the_number_of_its_bar() -> None:
    for version, score in course_setting("first").scores.items():
        if version != "given":
            lines = braille(score).splitlines()
            music = [line for line in lines[3:] if line and line not in NAMES.values()]
            rows = [line for line in music if not line.lstrip(BLANK).startswith("⠼")]
            assert rows and all(re.match(f"[{DIGITS}]+{BLANK}", row) for row in rows)
            assert all(len(line) <= LINE for line in lines)


EXAMPLES = [
    # Music Braille Code 2015, tables 1 and 2 and 3.2, 5.1, 6.2, 10.1 (from memory).
    ("a quarter c in the fourth octave", "C4/4", "⠐⠹"),
    ("a scale needs one octave mark", "C4/4 D4/4 E4/4 F4/4", "⠐⠹⠱⠫⠻"),
    ("a third needs none, across the octave too", "A4/4 C5/4", "⠐⠪⠹"),
    ("a fourth in the same octave needs none", "C4/4 F4/4", "⠐⠹⠻"),
    ("a fourth into the next octave needs one", "A4/4 D5/4", "⠐⠪⠨⠱"),
    ("a sixth needs one", "C4/4 A4/4", "⠐⠹⠐⠪"),
    ("an accidental stands before the octave mark", "F#4/4", "⠩⠐⠻"),
    ("a dotted half", "D4/2.", "⠐⠕⠄"),
    ("a half rest", "D4/2 R/2", "⠐⠕⠥"),
    ("eighths", "C4/8 D4/8", "⠐⠙⠑"),
    ("a breve: the whole note, its sign, and the note again", "D4/breve", "⠐⠵⠘⠉⠵"),
    ("a tie after the note", "D4/2~ | D4/2", "⠐⠕⠈⠉"),
]


def one_voice(text: str) -> Score:
    """A score of one voice from words such as `D5/2`, bars of two halves or more divided by `|`."""
    bars, notes, onset = [], [], Fraction(0)
    for n, words in enumerate(text.split("|"), 1):
        start = onset
        for word in words.split():
            name, _, value = word.rstrip("~").partition("/")
            length = Fraction(8) if value == "breve" else Fraction(4, int(value.rstrip(".")))
            length *= Fraction(3, 2) if value.endswith(".") else 1
            pitch = None if name == "R" else Pitch.parse(name)
            notes.append(Note(onset, length, pitch, tied=word.endswith("~")))
            onset += length
        bars.append(Bar(n, start, onset - start))
    part = Part("altus", tuple(notes))
    return notated(Score("A", Version.PLAIN, Metre.parse("C"), Signature(), tuple(bars), (part,)))


@pytest.mark.parametrize(("what", "notes", "cells"), EXAMPLES)
def test_examples_of_the_code(what: str, notes: str, cells: str) -> None:
    lines = braille(one_voice(notes)).splitlines()
    assert lines[-1].removeprefix(f"⠁{BLANK}").startswith(cells), (what, lines)


def test_cells_are_those_of_a_reference_library() -> None:
    """music21 marks an octave at the head of its lines alone, and repeats bars of rest; notes agree."""
    from music21 import converter
    from music21.braille import translate

    score = course_setting("sixth").scores["plain"]
    parsed: Any = converter.parse(musicxml(score, title="-"), format="musicxml")
    lines = braille(score).splitlines()
    for part in parsed.parts:
        start = lines.index(NAMES[str(part.partName).lower()]) + 1
        stop = next((n for n in range(start, len(lines)) if not lines[n]), len(lines))
        rows = [line for line in lines[start:stop] if not line.lstrip(BLANK).startswith("⠼")]
        ours = "".join(re.sub(f"^[{DIGITS}]+{BLANK}", "", row) for row in rows)
        text = str(translate.partToBraille(part, inPlace=True, maxLineLength=400))
        theirs = text.partition("⠼⠁⠀")[2]
        bare = [re.sub(f"⠼[{DIGITS}]+⠍|[⠈⠘⠸⠐⠨⠰⠠⠍⠶{BLANK}\n]", "", each) for each in (ours, theirs)]
        assert bare[0] == bare[1], part.partName


def test_every_voice_stands_under_its_name_in_order() -> None:
    lines = braille(notated(FIRST.score())).splitlines()
    assert [line for line in lines if line in NAMES.values()] == list(NAMES.values())


def test_lines_and_pages_fit_the_paper_and_the_file_is_braille_ascii() -> None:
    pages = brf(notated(FIRST.score())).decode("ascii").split("\f")
    assert all(page.count("\r\n") <= PAGE for page in pages)
    text = "".join(pages)
    assert text.startswith(",VERSET IN THE FIRST TONE\r\n") and ",BASSUS\r\n" in text
    assert brf(notated(FIRST.score()), title="For the desk").startswith(b",FOR THE DESK\r\n")


def test_forty_eight_short_notes_in_a_bar_are_broken_between_notes() -> None:
    long = " ".join(["D3/16{6}", "E3/16", "D3/16", "E3/16"] * 12)
    head = HEAD.replace("metre: C", "metre: 3/1")
    verset = parse(f"{head}```given\nbassus F4 | {long} | D3/breve.\n```\n", "a.md")
    score = notated(verset.score())
    for lines in (braille(score).splitlines(), given_braille(verset, score)):
        assert all(len(line) <= LINE for line in lines)
        # the first of a beat has the value of a sixteenth, those after it are written as eighths
        assert "".join(lines).replace("⠵⠘⠉⠵", "").count("⠵") == 12
        # and no line begins in the midst of a beat
        firsts = [found[1] for line in lines if (found := re.search("⠸([⠵⠯⠑⠋])", line))]
        assert len(firsts) > 1 and set(firsts) == {"⠵"}


def test_a_figure_within_a_beat_parts_its_notes_from_one_another() -> None:
    long = " ".join(["D3/16{6}", "E3/16{7 6}"] * 24)
    head = HEAD.replace("metre: C", "metre: 3/1")
    verset = parse(f"{head}```given\nbassus F4 | {long} | D3/breve.\n```\n", "a.md")
    lines = given_braille(verset, notated(verset.score()))
    assert all(len(line) <= LINE for line in lines)
    assert sum("".join(lines).count(cell) for cell in "⠵⠯") >= 48
