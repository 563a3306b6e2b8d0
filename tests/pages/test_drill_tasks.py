"""What each drill asks, note by note. A page remembers a task by its `id`, so a task must stay what it
is: those drawn by lot are written out here."""

from __future__ import annotations

import random
import re
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from builder.analysis.tone_table import TONES
from builder.invention import unseen_line
from builder.invention.melody import singable
from builder.language.texts import page_texts
from builder.music import Pitch, Signature
from builder.pages.drills import entries as looking
from builder.pages.drills import names, snippet, sonorities, tunes
from builder.pages.drills.course import USUAL, CourseMusic, bass_of, course_music, finals
from builder.pages.drills.shown import right, shown, tune
from builder.setting.setting import Defaults
from builder.source import EXAMPLE, parse

WORDS = page_texts("en")
FIRST = CourseMusic(tones=(1,), figures=("6", "7 6", "4/2"))
PLAIN, FLAT = Signature.parse("none"), Signature.parse("Bb")


def drawn(task: Any) -> str:
    """`C1 |1 D5:2`: clefs, numbers of bars, notes with their quarters."""
    return " ".join(
        (f"{clef} " if clef else "") + (f"|{bar} " if bar else "") + f"{Pitch(step, alter)}:{length:g}"
        for length, step, alter, clef, bar in task["shown"]
    )


def answer(row: Any) -> str:
    return " ".join(str(Pitch(*note)) for note in row["notes"])


def by_id(tasks: Any) -> dict[str, Any]:
    found = {task["id"]: task for task in tasks}
    return found


# --- what is drawn


def test_a_note_is_drawn_with_its_length_and_place_and_a_rest_with_none() -> None:
    assert shown(Pitch.parse("Bb3")) == [2.0, 27, -1, "", 0]
    assert shown(Pitch.parse("F#4"), Fraction(3, 2), "C3", 7) == [1.5, 31, 1, "C3", 7]
    assert shown(None, 1) == [1.0, None, 0, "", 0]


def test_a_task_of_notes_has_what_is_drawn_and_what_is_right() -> None:
    note = Pitch.parse("D4")
    assert right([note], "modal") == {"kind": "modal", "notes": [[29, 0]]}
    assert tune("clefs:C1:0", 2, [shown(note)], [note], -1, clef="C1") == {
        "id": "clefs:C1:0",
        "step": 2,
        "ask": {"clef": "C1"},
        "shown": [[2.0, 29, 0, "", 0]],
        "fifths": -1,
        "right": [{"kind": "", "notes": [[29, 0]]}],
    }
    assert tune("x", 1, [], [])["fifths"] == 0


# --- clefs and syllables


@pytest.mark.parametrize(
    ("clef", "note"),
    [
        *(("C1", "G4"), ("C2", "E4"), ("C3", "C4"), ("C4", "A3"), ("C5", "F3")),
        *(("F3", "F3"), ("F4", "D3"), ("F5", "B2"), ("G1", "D5"), ("G2", "B4")),
    ],
)
def test_the_middle_line_of_every_clef(clef: str, note: str) -> None:
    """C and F on their line, G on the second or first (common practice)."""
    assert str(Pitch(names.middle(clef))) == note


def test_clefs_are_asked_from_ledger_line_to_ledger_line() -> None:
    tasks = by_id(names.clefs(FIRST, 3, WORDS))
    own = [t for key, t in tasks.items() if key.startswith("clefs:C3:")]
    assert [str(Pitch(*t["right"][0]["notes"][0])) for t in own] == [
        "E3", "F3", "G3", "A3", "B3", "C4", "D4", "E4", "F4", "G4", "A4",
    ]  # fmt: skip
    assert [t["id"] for t in own] == [f"clefs:C3:{n}" for n in range(-5, 6)]
    assert drawn(tasks["clefs:C1:5"]) == "C1 E5:4" and tasks["clefs:C1:5"]["ask"] == {"clef": "C1"}
    assert {t["id"].split(":")[1]: t["step"] for t in tasks.values()} == {
        **dict.fromkeys(("C1", "C3", "C4", "F4"), 1),
        **dict.fromkeys(("C2", "F3", "G2"), 2),
        **dict.fromkeys(("C5", "F5", "G1"), 3),
    }
    assert {t["step"] for t in names.clefs(FIRST, 2, WORDS)} == {1, 2}


def test_four_notes_with_a_change_of_clef_stay_the_tasks_they_are() -> None:
    tasks = [t for t in names.clefs(FIRST, 4, WORDS) if t["step"] == 4]
    assert len(tasks) == 24 and [t["id"] for t in tasks] == [f"clefs:two:{n}" for n in range(24)]
    assert drawn(tasks[0]) == "C4 G3:2 G3:2 F4 A3:2 E3:2" and tasks[0]["ask"] == {"clef": "C4, F4"}
    assert drawn(tasks[8]) == "G2 D5:2 D5:2 C1 G4:2 D5:2"
    assert answer(tasks[8]["right"][0]) == "D5 D5 G4 D5"
    for task in tasks:
        first, then = task["ask"]["clef"].split(", ")
        assert first != then and {first, then} <= {*names.CLEFS[0], *names.CLEFS[1]}
        for (_, step, *_), clef in zip(task["shown"], (first, first, then, then)):
            assert abs(step - names.middle(clef)) <= 4


def test_syllables_stay_the_tasks_they_are() -> None:
    tasks = by_id(names.syllables(FIRST, 3, WORDS))
    assert len(tasks) == 3 * 4 * 8
    assert [drawn(tasks[f"syllables:1:C1:{n}"]) for n in range(8)] == [
        "C1 C4:4", "C1 D4:4", "C1 E4:4", "C1 F4:4", "C1 G4:4", "C1 A4:4", "C1 Bb4:4".replace("Bb", "B"),
        "C1 C5:4",
    ]  # fmt: skip
    assert drawn(tasks["syllables:1:C3:3"]) == "C3 Bb3:4" and tasks["syllables:1:C3:3"]["fifths"] == -1
    assert drawn(tasks["syllables:2:C1:1"]) == "C1 Bb4:2 C5:2 Bb4:2 C5:2 Bb4:2 C5:2"
    assert drawn(tasks["syllables:2:C3:4"]) == "C3 B3:2 C4:2 A3:2 G3:2 A3:2 B3:2"
    assert drawn(tasks["syllables:2:C4:7"]) == "C4 Bb3:2 C4:2 D4:2 Bb3:2 A3:2 G3:2"
    assert drawn(tasks["syllables:3:C1:2"]) == "C1 E4:2 F4:2 G4:2 A4:2 B4:2 C5:2 D5:2 E5:2"
    assert drawn(tasks["syllables:3:C3:5"]) == "C3 G4:2 F4:2 E4:2 D4:2 C4:2 Bb3:2 A3:2 G3:2"
    assert {t["step"] for t in names.syllables(FIRST, 1, WORDS)} == {1}


# --- what a course gives


def test_a_course_gives_its_tones_first_and_its_figures_after_the_usual_ones() -> None:
    verset = parse(EXAMPLE)
    found = course_music([verset, verset], [8, 2, 8], Defaults())
    assert found.tones == (8, 2, 1, 3, 4, 5, 6, 7)
    assert found.figures[: len(USUAL)] == USUAL and "7 #6" in found.figures
    assert len(set(found.figures)) == len(found.figures) and len(found.themes) == 2
    theme = found.themes[0]
    heads = [g for g in verset.given if g.note.pitch][: len(theme.notes)]
    assert theme.notes == tuple((str(g.note.pitch), str(g.note.duration)) for g in heads)
    assert (theme.voice, theme.clef) == (heads[0].voice, heads[0].clef.name)
    assert (theme.signature, theme.title) == (str(verset.signature), verset.title)
    assert course_music([verset], [8], Defaults(), themes=False).themes == ()
    assert course_music([], [], Defaults()).tones == tuple(range(1, 9))


def test_degrees_of_cadences_are_those_of_the_tones_in_their_order() -> None:
    for number in (1, 4, 6):
        form = TONES[number - 1].forms[0]
        own = [(form.signature, letter) for letter in form.cadences]
        assert finals(CourseMusic(tones=(number,))) == own
    both = finals(CourseMusic(tones=(1, 1, 2)))
    assert len(set(both)) == len(both)


def test_the_bass_of_a_letter_lies_at_or_above_f() -> None:
    letters = ("F", "G", "A", "Bb", "C", "D", "E")
    assert [str(bass_of(x)) for x in letters] == ["F2", "G2", "A2", "Bb2", "C3", "D3", "E3"]
    assert [str(bass_of(x, "A2")) for x in letters] == ["F3", "G3", "A2", "Bb2", "C3", "D3", "E3"]


# --- sonorities over a bass


@pytest.mark.parametrize(
    ("kind", "signature", "degree", "bars"),
    [
        ("semplice", "none", "D", ("D3/1", "A2/1", "D3/1")),
        ("semplice", "Bb", "G", ("G3/1", "D3/1", "G3/1")),
        ("half", "none", "D", ("D3/1", "G3/1", "A2/1")),
        ("half", "none", "A", ("A2/1", "D3/1", "E2/1")),
        ("composta", "none", "D", ("D3/1", "A2/1{4 3}", "D3/1")),
        ("composta", "Bb", "G", ("G3/1", "D3/1{4 3}", "G3/1")),
        ("mi", "none", "E", ("A3/1", "F3/1{7 6}", "E3/1")),
        ("mi", "Bb", "A", ("D3/1", "Bb2/1{7 6}", "A2/1")),
        ("stepwise", "none", "D", ("D3/1", "E3/1{7 6}", "D3/1")),
        ("doppia", "none", "D", ("A2/1{#:4 6/4:4 5/4:4 #:4}", "D3/breve")),
        ("doppia", "Bb", "G", ("D3/1{#:4 6/4:4 5/4:4 #:4}", "G3/breve")),
        ("doppia", "none", "F", ("C3/1{5/3:4 6/4:4 5/4:4 5/3:4}", "F3/breve")),
        ("doppia", "Bb", "F", ("C3/1{5/3:4 6/4:4 5/4:4 5/3:4}", "F3/breve")),
    ],
)
def test_the_bass_of_each_cadence(kind: str, signature: str, degree: str, bars: tuple[str, ...]) -> None:
    """Fifth and final, simple, with the suspended fourth, by step with the suspended seventh, double (B.
    Gasparini, L'armonico pratico al cimbalo, 1708, chapter VI; from memory)."""
    assert [*sonorities._close(kind, signature, degree)] == [bars]


@pytest.mark.parametrize(
    ("kind", "signature", "degree"),
    [
        *(("semplice", "none", "E"), ("half", "none", "E"), ("composta", "Bb", "A")),
        *(("stepwise", "none", "B"), ("doppia", "none", "E"), ("mi", "none", "D"), ("mi", "Bb", "G")),
    ],
)
def test_on_mi_there_is_no_close_by_a_leading_note_and_elsewhere_none_by_the_semitone(
    kind: str, signature: str, degree: str
) -> None:
    assert not [*sonorities._close(kind, signature, degree)]


@pytest.mark.parametrize(
    ("figure", "bars", "tail"),
    [
        ("", "D3/1", "D3/1"),
        ("6", "D3/1{6}", "D3/1"),
        ("#", "D3/1{#}", "D3/1"),
        ("4 3", "G3/1 D3/1{4 3}", "D3/1"),
        ("4 #", "G3/1 D3/1{4 #}", "D3/1"),
        ("7 6", "F3/1 D3/1{7 6} C3/1", "C3/1"),
        ("7 #6", "F3/1 D3/1{7 #6} C3/1", "C3/1"),
        ("9 8", "C3/1 D3/1{9 8}", "D3/1"),
        ("6/5", "F3/1 D3/1{6/5} E3/1", "E3/1"),
        ("7", "F3/1 D3/1{7} G3/1", "G3/1"),
        ("4/2", "D3/2~{5/3} D3/2{4/2} C3/1{6}", "D3/1"),
    ],
)
def test_a_suspension_has_its_preparation_before_and_its_fall_after(
    figure: str, bars: str, tail: str
) -> None:
    """What is prepared stands over the note before it, and the bass of a 4/2 falls into a sixth (common
    practice)."""
    found = sonorities._around(figure, "none", 1)
    assert (" ".join(found.bars), " ".join(found.tail)) == (bars, tail)
    assert (found.signature, found.voices, found.metre) == ("none", 2, "C")


def test_figures_lie_between_f_and_e_and_follow_the_signature() -> None:
    assert [sonorities._around("6", "none", n).bars[0] for n in range(7)] == [
        "C3/1{6}", "D3/1{6}", "E3/1{6}", "F2/1{6}", "G2/1{6}", "A2/1{6}", "B2/1{6}",
    ]  # fmt: skip
    assert sonorities._around("6/5", "Bb", 5).bars == ("C3/1", "A2/1{6/5}", "Bb2/1")


def test_figures_are_learned_from_the_plain_to_the_suspended() -> None:
    rows = sonorities._graded((*USUAL, "#6", "4 #", "7 #6", "b", "5"))
    assert rows == (
        ["", "6"],
        ["#", "#6", "b", "5"],
        ["4 3", "7 6", "9 8", "4 #", "7 #6"],
        ["6/5", "4/2", "7"],
    )


def test_figures_are_asked_in_two_three_and_four_voices_by_turns() -> None:
    tasks = [*sonorities.figures(FIRST, 4, WORDS)]
    sixths = [t["id"] for t in tasks if t["ask"]["figure"] == "6"]
    assert sixths == [
        *(f"figures:6:none:{n}:{v}" for n, v in enumerate((2, 3, 4, 2, 3, 4, 2))),
        *(f"figures:6:Bb:{n}:{v}" for n, v in enumerate((3, 4, 2, 3, 4, 2, 3))),
    ]
    for task in tasks:
        assert task["id"].endswith(f":{task['ask']['voices']}")
        assert len(task["exercise"]["voices"]) == task["ask"]["voices"] - 1
        assert task["exercise"]["key"] == task["id"]
        assert not task["exercise"]["closed"]  # what is asked is no close
    assert {t["ask"]["figure"]: t["step"] for t in tasks} == {"6": 1, "7 6": 3, "4/2": 4}
    assert {t["step"] for t in sonorities.figures(FIRST, 1, WORDS)} == {1}
    seventh = by_id(tasks)["figures:7 6:none:1:2"]["exercise"]
    assert [e["figure"] for e in seventh["events"]] == [[], ["7"], ["6"], []]
    assert [Pitch(*e["bass"]).name for e in seventh["events"]] == ["F3", "D3", "D3", "C3"]


def test_the_usual_cadences_of_the_first_tone() -> None:
    tasks = [*sonorities.cadences(FIRST, 4, WORDS)]
    keys = [t["id"] for t in tasks]
    for kind, degrees, step in (
        ("semplice", "DAF", 1), ("half", "DA", 1), ("composta", "DAF", 2),
        ("stepwise", "DAF", 3), ("doppia", "DAF", 4),
    ):  # fmt: skip
        for degree in degrees:
            for voices in (2, 3):
                assert f"cadences:{kind}:none:{degree}:{voices}" in keys
        assert {t["step"] for t in tasks if t["ask"]["kind"] == kind} == {step}
    assert {t["step"] for t in sonorities.cadences(FIRST, 2, WORDS)} == {1, 2}
    mi = [*sonorities.cadences(CourseMusic(tones=(4,)), 3, WORDS)]
    assert {t["ask"]["degree"] for t in mi if t["ask"]["kind"] == "mi"} == {"E"}
    double = by_id(tasks)["cadences:doppia:none:D:4"]
    assert double["ask"] == {"kind": "doppia", "degree": "D", "voices": 4} and double["exercise"]["closed"]


def test_short_lines_begin_on_the_final_close_as_the_tone_does_and_are_sung() -> None:
    """Closes and what a voice sings: common practice."""
    closes = {"D": "A", "E": "F"}
    for tone, final, close in ((1, "D", "D"), (3, "A", "E"), (4, "E", "E")):
        drawn = [bars for n in range(12) if (bars := unseen_line(tone, 3, sonorities.BARS, f"line {n}"))]
        assert len(set(drawn)) == len(drawn) >= sonorities.LINES
        for bars in drawn:
            pitches = [Pitch.parse(name) for name in re.findall(r"([A-G]b?\d)/", " ".join(bars))]
            assert (pitches[0].letter, pitches[-1].letter) == (final, close)
            assert pitches[-2].letter == closes[close]
            assert len(bars) == sonorities.BARS
            assert all(singable(a, b) for a, b in pairwise(pitches))
            assert len({p.diatonic for p in pitches}) >= 5


def test_lines_stay_the_tasks_they_are() -> None:
    tasks = [*sonorities.lines(FIRST, 2, WORDS)]
    assert tasks == [*sonorities.lines(FIRST, 2, WORDS)]
    assert [t["ask"] for t in tasks[::4]] == [{"tone": 1, "voices": 2}, {"tone": 1, "voices": 3}]
    assert [t["step"] for t in tasks[::4]] == [1, 2]
    assert len({t["id"] for t in tasks}) == 8
    assert tasks[0]["id"] == "lines:1:2:phrase-0"
    assert " | ".join(unseen_line(1, 2, sonorities.BARS, "line 1")) == (
        "D3/2 D3/4{6} G3/4 | A3/2 G3/4.{6} F3/8 | E3/2{5 6} D3/2 | C3/2{6} D3/2 | A2/1{4 #} | D3/1"
    )
    played = [" ".join(Pitch(*e["bass"]).name for e in t["exercise"]["events"]) for t in tasks]
    assert len(set(played)) == len(played)


def test_motions_of_the_bass_are_asked_where_their_size_is_right(monkeypatch: pytest.MonkeyPatch) -> None:
    rules = [r for r in sonorities.RULES_OF_THE_BASS if r[1] in ("mi-up", "fourth-up", "third-up")]
    monkeypatch.setattr(sonorities, "RULES_OF_THE_BASS", tuple(rules))
    monkeypatch.setattr(sonorities, "UNTRANSPOSED", ("none",))
    tasks = [*sonorities.bass(FIRST, 1, WORDS)]
    assert [t["id"].rpartition(":")[0] for t in tasks] == [
        *(f"bass:mi-up:1:none:{letter}" for letter in "BE"),
        *(f"bass:fourth-up:1:none:{letter}" for letter in "GABCDE"),  # not F, under a tritone
    ]
    assert [t["ask"]["voices"] for t in tasks[:2]] == [2, 3]
    for task in tasks:
        low, high = (event["bass"][0] for event in task["exercise"]["events"])
        assert high - low == {"mi-up": 1, "fourth-up": 3}[task["ask"]["rule"]] and task["step"] == 1
        assert all(event["figure"] == [] for event in task["exercise"]["events"])
    first = tasks[0]
    assert first["rule"] == [1, 1] and [len(e["variants"]) for e in first["exercise"]["events"]] == [4, 5]
    assert first["exercise"]["ours"] == {"altus": [[25, 0], [23, 0]]}


# --- a few notes as a source


def test_a_few_notes_become_a_source() -> None:
    made = snippet.Snippet(("D3/1", "A2/1{4 3}"), "Bb", 3, ("D3/1",), "3/2")
    assert made.text() == (
        "---\ntitle: Drill\nverset:\n  metre: 3/2\n  signature: Bb\n  voices: [cantus, altus]\n---\n\n"
        "```given\nbassus F4 | D3/1 | A2/1{4 3} | D3/1\n```\n"
    )
    assert snippet.UPPER == {2: ("altus",), 3: ("cantus", "altus"), 4: ("cantus", "altus", "tenor")}


def test_a_long_note_is_played_once_and_the_tail_is_not_asked_for() -> None:
    long = snippet.Snippet(("A2/1", "D3/breve"), "none", 4)
    it = snippet.framed(long, Defaults())
    assert it is not None
    assert [(e.onset, e.duration, e.bass.name) for e in it.cut] == [(0, 4, "A2"), (4, 8, "D3")]
    tailed = snippet.Snippet(("D3/1{6}",), "none", 2, ("D3/1",))
    own = snippet.framed(tailed, Defaults())
    assert own is not None and [e.onset for e in own.cut] == [0]
    made = snippet.exercise_of(own, "key", WORDS)
    assert (made["closed"], made["voices"], made["order"]) == (False, ["altus"], ["altus", "bassus"])
    assert made["bars"][0][:3] == [1, 0.0, 4.0] and len(made["bars"]) == 1 and made["key"] == "key"
    assert (made["metre"], made["symbol"], made["fifths"], made["signature"]) == ([4, 4], "C", 0, [0] * 7)
    readings = snippet.readings_of(tailed, Defaults())
    assert [*readings] == [0.0] and readings[0.0][0]["must"] == [6]


def test_what_cannot_be_set_is_no_task() -> None:
    assert snippet.framed(snippet.Snippet(("D3/1{7}", "F3/1"), "none", 2), Defaults()) is None


def test_our_own_setting_stands_beside_each_sonority() -> None:
    it = snippet.framed(snippet.Snippet(("D3/1", "A2/1{4 3}", "D3/1"), "none", 3), Defaults())
    assert it is not None
    made = snippet.exercise_of(it, "k", WORDS)
    assert {v: len(row) for v, row in made["ours"].items()} == {"cantus": 4, "altus": 4}
    assert made["closed"] and len(made["events"]) == 4
    leading = {Pitch(*row[2]).letter for row in made["ours"].values()}
    assert "C#" in leading  # the leading note, though nobody has signed it
    fourth = {(Pitch(*row[1]).midi - Pitch.parse("A2").midi) % 12 for row in made["ours"].values()}
    assert 5 in fourth


def test_what_exercises_share_is_by_voice_and_by_signature() -> None:
    made = snippet.shared(("none", "Bb"), Defaults())
    assert made["compass"]["cantus"] == [Pitch.parse("G3").diatonic, Pitch.parse("A5").diatonic]
    assert {*made["pairs"]} == {"0", "-1"} and {*made["notes"]} == {"cantus", "altus", "tenor", "bassus"}


# --- answers and patterns


def test_answers_stay_the_tasks_they_are() -> None:
    tasks = by_id(tunes.answers(CourseMusic(tones=(1, 4)), 2, WORDS))
    assert [*tasks] == [f"answers:{tone}:{step}:{n}" for step in (1, 2) for tone in (1, 4) for n in range(3)]
    one = tasks["answers:1:1:1"]
    assert drawn(one) == "C1 D5:2 A4:2 B4:1 C5:1 D5:2" and one["ask"] == {"tone": 1} and one["octave"]
    assert [(r["kind"], answer(r)) for r in one["right"]] == [
        ("exact", "A5 E5 F#5 G5 A5"),
        ("modal", "A5 E5 F5 G5 A5"),
        ("exact", "G5 D5 E5 F5 G5"),
    ]
    two = tasks["answers:1:2:0"]
    assert drawn(two) == "C1 A4:3 D5:1 E5:2 F5:2"
    assert [(r["kind"], answer(r)) for r in two["right"]] == [
        ("exact", "E5 A5 B5 C6"),
        ("exact", "D5 G5 A5 Bb5"),
        ("modal", "D5 G5 A5 B5"),
        ("tonal", "D5 A5 B5 C6"),
    ]
    assert drawn(tasks["answers:4:2:1"]) == "C1 B4:2 E5:1 F5:1 E5:2 F5:2"
    assert drawn(tasks["answers:4:1:0"]) == "C1 E5:2 G5:1 E5:1 D5:1 C5:1 B4:2"
    assert {t["step"] for t in tunes.answers(FIRST, 1, WORDS)} == {1}


def test_a_courses_own_themes_are_answered_in_the_third_step() -> None:
    music = course_music([parse(EXAMPLE)], [8], Defaults())
    own = [t for t in tunes.answers(music, 3, WORDS) if t["step"] == 3]
    assert [t["id"] for t in own] == ["answers:own:0"]
    theme = music.themes[0]
    assert own[0]["ask"] == {"tone": theme.tone} and own[0]["shown"][0][3] == theme.clef
    assert [Pitch(s, a).name for _, s, a, *_ in own[0]["shown"]] == [name for name, _ in theme.notes]
    assert [length for length, *_ in own[0]["shown"]] == [float(Fraction(x)) for _, x in theme.notes]
    assert not [t for t in tunes.answers(music, 2, WORDS) if t["step"] == 3]


@pytest.mark.parametrize("tone", range(1, 9))
def test_themes_of_our_own_keep_to_their_tone(tone: int) -> None:
    """Two bars from the final or its fifth, within a fifth of the final on either side, without a tritone."""
    form = TONES[tone - 1].forms[0]
    begins = set()
    for step in (1, 2):
        for n in range(12):
            theme = tunes.make_theme(random.Random(f"theme {tone} {step} {n}"), form, tone, step)
            pitches = [Pitch.parse(name) for name, _ in theme.notes]
            assert sum(Fraction(length) for _, length in theme.notes) == 8
            assert (theme.voice, theme.clef, theme.tone) == ("cantus", "C1", tone)
            final = Pitch.parse(f"{form.final}4").diatonic
            final += 7 if final < 31 else 0
            first = pitches[0].diatonic - final
            begins.add((step, first))
            assert first in ((0,) if step == 1 else (4, -3))
            moves = [b.diatonic - a.diatonic for a, b in pairwise(pitches)]
            assert all(abs(m) in (1, 2) for m in moves[1:]), moves
            assert moves[0] in ((2, -3, 1) if step == 1 else {4: (-4,), -3: (3,)}[first])
            assert all(abs(p.diatonic - final) <= 4 for p in pitches)
            sizes = [abs(b.midi - a.midi) for a, b in pairwise(pitches[1:])]
            assert 6 not in sizes
    assert begins == {(1, 0), (2, 4), (2, -3)}


def test_patterns_stay_the_tasks_they_are() -> None:
    tasks = by_id(tunes.diminution(FIRST, 4, WORDS))
    ladder = tasks["diminution:1:unison-minuta-5/half:1"]
    assert drawn(ladder) == (
        "C1 C4:1 E4:0.5 D4:0.5 C4:2 |2 D4:2 D4:2 |3 E4:2 E4:2 |4 F4:2 F4:2 |5 G4:2 G4:2 |6 A4:2 A4:2 "
        "|7 B4:2 B4:2 |8 C5:2 C5:2"
    )
    assert answer(ladder["right"][0]) == (
        "D4 F4 E4 D4 E4 G4 F4 E4 F4 A4 G4 F4 G4 B4 A4 G4 A4 C5 B4 A4 B4 D5 C5 B4 C5 E5 D5 C5"
    )
    assert ladder["ask"] == {"figure": "minuta", "way": "up", "phrase": False, "source": "our own"}
    down = tasks["diminution:2:sixth-up-broken-1/half:-1"]
    # On G the leap from B flat to E would be a tritone: the degree is passed over.
    assert drawn(down) == (
        "C3 A4:1 C5:1 F5:2 |2 F4:2 D5:2 |3 E4:2 C5:2 |4 D4:2 Bb4:2 |5 C4:2 A4:2 |6 Bb3:2 G4:2 |7 A3:2 F4:2"
    )
    assert answer(down["right"][0]) == "F4 A4 D5 E4 G4 C5 D4 F4 Bb4 C4 E4 A4 Bb3 D4 G4 A3 C4 F4"
    assert down["ask"]["way"] == "down"
    phrase = tasks["diminution:4:third-up-minuta-1/half:1"]
    assert drawn(phrase) == "C3 F4:0.5 E4:0.5 F4:0.5 G4:0.5 A4:2 |2 F4:2 A4:2 G4:2 B4:2 A4:2"
    assert answer(phrase["right"][0]) == "F4 E4 F4 G4 A4 G4 F4 G4 A4 B4 A4" and phrase["ask"]["phrase"]
    assert {t["step"] for t in tunes.diminution(FIRST, 2, WORDS)} == {1, 2}


# --- where voices enter


def test_lines_with_entries_stay_the_tasks_they_are() -> None:
    tasks = by_id(looking.entries(FIRST, 3, WORDS))
    assert [*tasks] == [
        "entries:1:1:1", "entries:1:1:2", "entries:1:2:2", "entries:1:2:3", "entries:1:3:0", "entries:1:3:6",
    ]  # fmt: skip
    two = tasks["entries:1:1:1"]
    assert drawn(two) == (
        "C1 |1 D5:2 A4:2 |2 B4:1 C5:1 A4:2 |3 B4:1 A4:1 F4:2 "
        "C4 |4 D4:2 A3:2 |5 B3:1 C4:1 A3:2 |6 A3:4 |7 D4:4"
    )
    assert two["marks"] == {"entries": [0, 8], "cadences": [14]}
    assert (two["ask"], two["fifths"], two["step"]) == ({"tone": 1}, 0, 1)
    four = tasks["entries:1:3:0"]
    assert drawn(four) == (
        "C1 |1 D5:2 E5:2 |2 C5:2 B4:2 |3 C5:2 B4:1 A4:1 C3 |4 A4:2 B4:2 |5 G4:2 F4:2 C4 |6 D4:2 E4:2 "
        "|7 C4:2 B3:2 F4 |8 A3:2 B3:2 |9 G3:2 F3:2 |10 A3:4 |11 D3:4"
    )
    assert four["marks"] == {"entries": [0, 7, 11, 15], "cadences": [20]}


def test_voices_answer_a_fourth_below_then_at_the_octave() -> None:
    assert [looking._below(v, n, 2) for n, v in enumerate(("cantus", "tenor"))] == [0, 7]
    three = ("cantus", "altus", "bassus")
    assert [looking._below(v, n, 3) for n, v in enumerate(three)] == [0, 3, 14]
    four = ("cantus", "altus", "tenor", "bassus")
    assert [looking._below(v, n, 4) for n, v in enumerate(four)] == [0, 3, 7, 10]


def test_a_line_closes_from_the_nearest_fifth_or_by_the_semitone_on_mi() -> None:
    first, fourth = TONES[0].forms[0], TONES[3].forms[0]
    for step in (15, 18, 22, 24, 28, 29):
        (before, four), (final, whole) = looking._close(first, step)
        assert (four, whole) == (4, 4) and final % 7 == 1 and before - final in (4, -3)
        assert min(abs(final - step), abs(final - 7 - step), abs(final + 7 - step)) == abs(final - step)
    assert looking._close(fourth, 23) == [(24, 4), (23, 4)]
    assert looking._close(first, 19) == [(19, 4), (22, 4)] and looking._close(first, 25) == [(26, 4), (22, 4)]


def test_notes_of_a_line_fill_bars_of_four_quarters() -> None:
    assert looking._bars([(29, 2), (30, 1), (31, 1), (34, 3), (33, 1), (29, 4)], FLAT) == (
        "D4/2 E4/4 F4/4 | Bb4/2. A4/4 | D4/1"
    )
    for n in range(6):
        free = looking._free(random.Random(n), 30)
        assert sum(v for _, v in free) == 4
        steps = [30, *(s for s, _ in free)]
        assert all(b - a in (-1, 1, -2) for a, b in pairwise(steps))
