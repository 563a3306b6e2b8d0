"""Braille music of a verset, one voice after another.

Signs after the *New International Manual of Braille Music Notation* (1996), from memory: a note's
letter in the upper four dots, its value in dots 3 and 6.
"""

from __future__ import annotations

from pathlib import Path

from builder.edition.exchange.braille import LINE, PAGE, braille, brf
from builder.music import notated
from builder.source import parse, read

FIRST = read(Path(__file__).parents[3] / "content" / "versets" / "first.md")
HEAD = "---\ntitle: A verset\nverset: {metre: C, signature: none}\n---\n\n"

NAMES = {"cantus": "⠠⠉⠁⠝⠞⠥⠎", "altus": "⠠⠁⠇⠞⠥⠎", "tenor": "⠠⠞⠑⠝⠕⠗", "bassus": "⠠⠃⠁⠎⠎⠥⠎"}
HALF_D, QUARTER_A, WHOLE_D, BREVE = "⠕", "⠪", "⠵", "⠘⠉"
FIFTH_OCTAVE = "⠨"


def of(given: str) -> str:
    return braille(notated(parse(f"{HEAD}```given\n{given}\n```\n", "a.md").score()))


def test_every_voice_stands_under_its_name_in_order() -> None:
    lines = braille(notated(FIRST.score())).splitlines()
    assert [line for line in lines if line in NAMES.values()] == list(NAMES.values())


def test_a_half_note_d_in_the_fifth_octave_and_a_dotted_quarter() -> None:
    assert f"{FIFTH_OCTAVE}{HALF_D}⠐{QUARTER_A}⠄" in of("cantus C1 | D5/2 A4/4. B4/8")


def test_a_breve_at_the_end_stays_one_note() -> None:
    assert f"{WHOLE_D}{BREVE}{WHOLE_D}" in braille(notated(FIRST.score()))


def test_lines_and_pages_fit_the_paper() -> None:
    assert all(len(line) <= LINE for line in braille(notated(FIRST.score())).splitlines())
    pages = brf(notated(FIRST.score())).decode("ascii").split("\f")
    assert all(page.count("\r\n") <= PAGE for page in pages)


def test_the_file_for_an_embosser_is_braille_ascii() -> None:
    text = brf(notated(FIRST.score())).decode("ascii")
    assert text.startswith(",VERSET IN THE FIRST TONE\r\n")
    assert ",BASSUS\r\n" in text


def test_the_title_may_be_another() -> None:
    assert brf(notated(FIRST.score()), title="For the desk").startswith(b",FOR THE DESK\r\n")


def test_forty_eight_short_notes_in_a_bar_are_broken_between_notes() -> None:
    long = " ".join(["D3/16{6}", "E3/16{7 6}"] * 24)
    head = HEAD.replace("metre: C", "metre: 3/1")
    lines = braille(notated(parse(f"{head}```given\nbassus F4 | {long} | D3/breve.\n```\n", "a.md").score()))
    assert all(len(line) <= LINE for line in lines.splitlines())
    # the first of a beat has the value of a sixteenth, those after it are written as eighths
    assert sum(lines.count(cell) for cell in "⠵⠯⠑⠋") >= 48
