"""What in a source reaches no page and no ear is told, with its line, in the language of the course."""

from __future__ import annotations

import os

import pytest

from builder.analysis import analyse
from builder.setting.setting import set_verset
from builder.setting.source_warnings import source_warnings
from builder.source import parse

FRONT = "---\ntitle: A verset\nverset:\n  metre: C\n  signature: none\n{more}---\n"
LINE = """cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
tenor  C4 | D4/2 A3/4. B3/8 | C4/4 B3/4 A3/2 | A3/1{4 3} | D4/1
"""


def told(given: str = LINE, words: str = "", more: str = "", language: str = "en") -> list[str]:
    verset = parse(f"{FRONT.format(more=more)}```given\n{given}```\n\n{words}")
    analysis = analyse(verset)
    return list(source_warnings(verset, analysis, (), language))


def test_words_under_a_heading_that_names_no_step_are_told_with_the_names_that_would_do() -> None:
    assert told(words="## The end\n\nLost.\n") == [
        "line 12: the words under “the end” stand on no page; headings that name one: "
        "cantus, tenor, cadence or whole"
    ]
    assert told(words="## bassus\n\nLost.\n")[0].startswith("line 12: the words under “bassus”")
    assert told(words="## Fine\n\nPerso.\n", language="it")[0].startswith("riga 12: le parole sotto «fine»")


@pytest.mark.parametrize("heading", ["tenor", "Tenore", "cadence", "Cadenza", "Kadenz", "Whole", "Il tutto"])
def test_headings_are_known_in_the_languages_of_courses(heading: str) -> None:
    assert told(words=f"## {heading}\n\nRead.\n") == []


def test_an_italian_heading_puts_its_words_on_the_page_of_its_step() -> None:
    verset = parse(f"{FRONT.format(more='')}```given\n{LINE}```\n\n## Tenore\n\nEcco.\n")
    assert dict(verset.words) == {"tenor": "Ecco."}


def test_a_licence_that_allows_nothing_is_told_and_one_that_allows_is_not() -> None:
    more = '  allow:\n    - {rule: parallel-fifths, bar: 2, because: "why"}\n'
    verset = parse(f"{FRONT.format(more=more)}```given\n{LINE}```\n")
    found = [w for w in set_verset(verset).warnings() if "licence" in w]
    assert found == [
        "line 7: the licence for parallel-fifths in bar 2 allows nothing: the rule is kept there"
    ]


def test_a_line_that_stands_twice_is_told() -> None:
    assert told(LINE.replace("tenor", "cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2\ntenor")) == [
        "line 9: the same notes as line 8 in the same voice; if they sound twice, write both in one line"
    ]


TWO = """cantus C1 | D5/2 C5/2 | B4/2 A4/2 | G4/2 A4/2 | B4/2 C5/2 | D5/1
{other} | D4/2 F4/2 | G4/2 F4/2 | E4/2 F4/2 | G4/2 A4/2 | D4/1
"""


def test_two_voices_written_to_sound_at_once_are_told_apart_from_one_line() -> None:
    (warning,) = told(TWO.format(other="altus C3"))
    assert warning.startswith("line 9: cantus (line 8) and altus look like two voices written to sound")


def test_a_theme_and_its_answer_of_the_same_length_are_one_line() -> None:
    assert told(LINE.split("\n")[0] + "\ntenor C4 | D4/2 A3/4. B3/8 | C4/4 B3/4 A3/2\n") == []


def test_two_lines_that_clash_are_one_line() -> None:
    clash = TWO.format(other="altus C3").replace("| D4/2 F4/2 | G4/2", "| C4/2 D4/2 | A4/2")
    assert told(clash) == []


music21 = pytest.importorskip("music21")


def test_outer_voices_of_chorales_written_one_below_the_other_are_told() -> None:
    """Soprano and bass of the chorales in music21's corpus (odd numbers), joined to one line: at least six
    in ten are known for two voices; suspensions and ornaments on the beat hide the others."""
    paths = list(music21.corpus.chorales.Iterator(1, 60, returnType="filename"))
    step = 1 if os.environ.get("VERSET_MANY") else 5
    known = count = 0
    for path in paths[1::2][::step]:
        text = as_two_lines(music21.corpus.parse(path))
        if text:
            count += 1
            known += any("sound at once" in warning for warning in told(text))
    assert count >= 3
    assert known >= 0.6 * count, (known, count)


def as_two_lines(stream) -> str:
    """Soprano over bass, a line each, on half bars; empty when they cannot be written so."""
    lines = []
    for clef, voice, part in (("G2", "cantus", stream.parts[0]), ("F4", "bassus", stream.parts[-1])):
        notes = part.flatten().notes
        end = min(p.flatten().highestTime for p in stream.parts) // 4 * 4
        halves = []
        for at in range(0, int(end), 2):
            here = [n for n in notes if n.offset <= at < n.offset + n.quarterLength]
            if not here or here[0].isChord:
                return ""
            name = here[0].pitch.nameWithOctave.replace("-", "b")
            halves.append(f"{name}/2")
        bars = [" ".join(halves[n : n + 2]) for n in range(0, len(halves), 2)]
        lines.append(f"{voice} {clef} | {' | '.join(bars)}")
    return "\n".join(lines) + "\n"
