"""What a course asks for by `<!-- verset:drills … -->`, and the tasks that are made of it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from builder.analysis import analyse
from builder.language.texts import languages, page_texts
from builder.music import Pitch, Signature
from builder.pages.drills import STEPS, drills_asked
from builder.pages.drills.course import CourseMusic, finals
from builder.pages.drills.data import MAKERS, opening
from builder.pages.drills.entries import entries
from builder.pages.drills.names import CLEFS, clefs, hexachord_table, syllables
from builder.pages.drills.sonorities import bass, cadences, figures, lines
from builder.pages.drills.tunes import answers, diminution, lawful_answers
from builder.source import SourceErrors, parse

WORDS = page_texts("en")
FIRST = CourseMusic(tones=(1,), figures=("6", "7 6"))


def test_a_comment_without_words_asks_for_all_and_one_with_words_for_those() -> None:
    (every,) = drills_asked("Words.\n\n<!-- verset:drills -->\n")
    assert dict(every) == dict(STEPS) and list(every) == list(MAKERS)
    (some,) = drills_asked("<!-- verset:drills lines:2 clefs -->")
    assert list(some.items()) == [("lines", 2), ("clefs", 4)]
    assert drills_asked("<!-- verset:index -->") == ()


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("clef", "one of the drills clefs, syllables"),
        ("figures:5", "a step from 1 to 4"),
        ("figures:", "a step from 1 to 4"),
        ("figures:two", "a step from 1 to 4"),
        ("clefs clefs", "each drill once"),
    ],
)
def test_a_wrong_word_is_told_with_line_and_column(word: str, expected: str) -> None:
    text = f"# Page\n\n<!-- verset:drills {word} -->\n"
    with pytest.raises(SourceErrors) as refused:
        drills_asked(text, "page.md")
    told = str(refused.value)
    column = 20 + word.rindex(word.split()[-1])
    assert told.startswith(f"page.md:3:{column}: ") and expected in told
    assert refused.value.told("de") != told and refused.value.told("it") != told


def test_all_wrong_words_of_a_page_are_told_together() -> None:
    with pytest.raises(SourceErrors) as refused:
        drills_asked("<!-- verset:drills a b -->\n\n<!-- verset:drills c -->\n")
    assert [error.line for error in refused.value.errors] == [1, 1, 3]


def test_every_drill_has_its_texts_in_every_language() -> None:
    for language in languages():
        section = page_texts(language).section("drills")
        assert {f"name.{name}" for name in STEPS} <= set(section)
        assert {f"about.{name}" for name in STEPS} <= set(section)
        assert {f"ask.{n}" for n in STEPS if n != "diminution"} <= set(section)
        assert "<script" not in opening({"clefs": 1}, page_texts(language)).split("application/json")[0][:-20]


def test_clefs_are_all_that_occur_with_c_and_f() -> None:
    """C on each of the five lines, F on the third, fourth and fifth (common practice)."""
    names = {clef for group in CLEFS for clef in group}
    assert {f"C{n}" for n in range(1, 6)} | {"F3", "F4", "F5"} <= names
    for task in clefs(FIRST, 4, WORDS):
        for note, (step, alter) in zip(task["shown"], task["right"][0]["notes"]):
            assert note[1:3] == [step, alter]


def test_the_gamut_has_twenty_places_with_the_syllables_of_the_hand() -> None:
    """From Γ ut to e la: the hand as it is handed down (from memory): C fa ut, D sol re, E la mi, F fa ut,
    G sol re ut, A la mi re, B fa · mi."""
    names = ("ut", "re", "mi", "fa", "sol", "la")
    table = hexachord_table()
    told = {key: {names[syllable] for _, syllable in row} for key, row in table.items()}
    assert told == {
        "0,0": {"sol", "fa", "ut"},
        "1,0": {"la", "sol", "re"},
        "2,0": {"la", "mi"},
        "3,0": {"fa", "ut"},
        "4,0": {"sol", "re", "ut"},
        "5,0": {"la", "mi", "re"},
        "6,-1": {"fa"},
        "6,0": {"mi"},
    }
    for task in syllables(FIRST, 3, WORDS):
        assert all(f"{step % 7},{alter}" in table for _, step, alter, *_ in task["shown"])


def test_a_run_of_the_second_step_needs_no_mutation_and_an_octave_does() -> None:
    table = hexachord_table()
    for task in syllables(FIRST, 3, WORDS):
        rows = [{h for h, _ in table[f"{s % 7},{a}"]} for _, s, a, *_ in task["shown"]]
        steps = [s for _, s, *_ in task["shown"]]
        if task["step"] == 2:
            assert set.intersection(*rows) and max(steps) - min(steps) <= 5
        if task["step"] == 3:
            assert max(steps) - min(steps) == 7


def test_answers_are_what_the_analysis_calls_them() -> None:
    """Each answer is put under its theme in a verset of two voices, and read by the analysis."""
    d, a = "D5", "A4"
    theme = [Pitch.parse(n) for n in (d, a, "B4", "C5", "B4", a)]
    checked = set()
    for notes, kind in lawful_answers(theme, Signature(), "D"):
        low = [Pitch(p.diatonic - 7, p.alter) for p in notes]
        if any(p.diatonic > 33 or p.diatonic < 24 for p in low):
            continue
        row = [" | ".join(f"{p[0]}/2 {p[1]}/2" for p in zip(r[::2], r[1::2])) for r in (theme, low)]
        text = "---\ntitle: T\nverset:\n  metre: C\n  signature: none\n  tone: 1\n---\n\n```given\n"
        verset = parse(f"{text}cantus C1 | {row[0]}\naltus C3 | {row[1]}\n```\n")
        found = analyse(verset).entries[1]
        assert found.kind == kind, (notes, kind, found.evidence)
        checked.add(kind)
    assert checked == {"exact", "modal", "tonal"}


def test_every_theme_has_an_answer_at_the_fifth() -> None:
    tasks = [*answers(CourseMusic(), 2, WORDS)]
    assert len({task["ask"]["tone"] for task in tasks}) == 8
    for task in tasks:
        first = task["shown"][0][1]
        assert first + 4 in {right["notes"][0][0] for right in task["right"]}
        assert {"exact"} <= {right["kind"] for right in task["right"]}


def test_a_pattern_goes_up_and_down_by_degrees_and_none_of_its_leaps_is_forbidden() -> None:
    tasks = [*diminution(FIRST, 4, WORDS)]
    ways = {(task["step"], task["ask"]["way"]) for task in tasks}
    assert {(1, "up"), (2, "down"), (3, "up"), (3, "down"), (4, "up")} <= ways
    for task in tasks:
        notes = [Pitch(*each) for each in task["right"][0]["notes"]]
        for low, high in pairwise(notes):
            leap = abs(high.midi - low.midi)
            assert leap != 6 or abs(high.diatonic - low.diatonic) not in (3, 4) or task["step"] < 4
        starts = [n for n, each in enumerate(task["shown"]) if each[4] > 1]
        firsts = [task["shown"][n][1] for n in starts]
        if task["step"] < 4:
            up = 1 if task["ask"]["way"] == "up" else -1
            ways = [up * (b - a) for a, b in pairwise(firsts)]
            assert (
                set(ways) <= {1, 2, 3} and ways.count(1) >= 3
            )  # a degree that cannot bear it is passed over
            assert sum(ways) <= 6 and len(firsts) >= 5


def test_a_pattern_that_no_leap_forbids_goes_through_the_whole_octave() -> None:
    whole = 0
    for task in diminution(FIRST, 3, WORDS):
        model = task["shown"][0][1]
        last = task["shown"][-2][1]  # the plain note of the last bar, before the one it goes to
        whole += abs(last - model) == 7
    assert whole > 20


def test_entries_and_closes_are_those_that_were_put_in() -> None:
    tasks = [*entries(CourseMusic(tones=(1, 2, 4, 6, 8)), 2, WORDS)]
    assert len(tasks) > 12
    for task in tasks:
        shown, marks = task["shown"], task["marks"]
        assert len(marks["entries"]) == task["step"] + 1
        heads = [[b[1] - a[1] for a, b in pairwise(shown[n : n + 4])] for n in marks["entries"]]
        assert all(head == heads[0] for head in heads)
        assert marks["cadences"][-1] == len(shown) - 1


def test_a_cadence_stands_on_every_usual_degree_in_two_to_four_voices() -> None:
    tasks = [*cadences(FIRST, 2, WORDS)]
    assert {(t["ask"]["degree"], t["ask"]["voices"]) for t in tasks if t["ask"]["kind"] == "composta"} == {
        (degree, voices) for degree in "DAF" for voices in (2, 3, 4)
    }
    assert finals(CourseMusic(tones=(2, 1)))[:3] == [("Bb", "G"), ("Bb", "D"), ("Bb", "Bb")]
    for task in tasks:
        assert set(task["exercise"]["ours"]) == {"cantus", "altus", "tenor"} - (
            {"tenor"} if task["ask"]["voices"] < 4 else set()
        ) - ({"cantus"} if task["ask"]["voices"] < 3 else set())


def test_transposed_tones_have_their_cadences_with_one_sharp_to_two_flats() -> None:
    first = CourseMusic(tones=(1, 7))
    asked = {
        (t["exercise"]["fifths"], t["ask"]["degree"])
        for t in cadences(first, 5, WORDS)
        if t["step"] == 5 and t["ask"]["kind"] != "half"
    }
    # The first tone a fourth up (one flat: G, D, B flat) and a tone down (two: C, G, E flat); the seventh
    # on E with one sharp. From memory of the general literature, as the table of tones.
    assert {(-1, "G"), (-1, "Bb"), (-2, "C"), (-2, "G"), (-2, "Eb"), (1, "E"), (1, "B"), (1, "G")} <= asked
    assert not asked & {(0, "D"), (0, "A"), (0, "F")}, "those are at the usual pitch already"


def test_a_figure_is_asked_over_every_letter_of_the_bass() -> None:
    tasks = [*figures(FIRST, 1, WORDS)]
    assert {task["exercise"]["events"][0]["bass"][0] % 7 for task in tasks} == set(range(7))
    assert all(task["exercise"]["events"][0]["figure"] == ["6"] for task in tasks)


def test_the_rule_of_thumb_is_not_shown_but_stands_among_the_readings() -> None:
    tasks = [*bass(CourseMusic(), 1, WORDS)]
    for task in tasks:
        for event, own in zip(task["exercise"]["events"], task["rule"]):
            assert event["figure"] == [] and 1 <= own <= len(event["variants"])
    mi = next(t for t in tasks if t["ask"]["rule"] == "mi-up")
    assert {number for number, *_ in mi["exercise"]["events"][0]["variants"][0]["members"]} >= {6, 3}


def test_the_same_course_gives_the_same_tasks() -> None:
    assert [*lines(FIRST, 1, WORDS)] == [*lines(FIRST, 1, WORDS)]


def test_a_cadence_is_asked_for_on_the_note_on_which_its_bass_comes_to_rest() -> None:
    for task in cadences(CourseMusic(tones=(1, 4, 7)), 5, WORDS):
        step, alter = task["exercise"]["line"][-1]["pitch"]
        assert Pitch(step, alter).letter == task["ask"]["degree"], task["id"]
