"""Stretches set by hand, stretches that differ, their names and their reasons; spelling; errors of tables."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from builder.diminution import load_tables, shown
from builder.diminution.choices import choices
from builder.diminution.ficta import Speller
from builder.diminution.lines import Lines
from builder.diminution.pattern import DIVIDED, INTERVALS, Pattern, density_of, read_notes
from builder.diminution.pinned import known, pinned
from builder.diminution.reasons import Reasons
from builder.diminution.result import Choice
from builder.diminution.stillness import Still
from builder.diminution.texture import lay_out
from builder.diminution.treatise import Words
from builder.diminution.weave import Change, Tone, Weave
from builder.music import Bar, Metre, Note, Part, Pitch, Score, Signature, Version
from builder.source import SourceErrors

Q = Fraction(1)
WALK = Pattern("walk/half", "passing", 2, 2 * Q, (0, 1), (Q, Q), "walking", 1, ("middle",), "A")
TURN = Pattern("turn/whole", "turn", None, 4 * Q, (0, 1, 0), (2 * Q, Q, Q), "turning", 2, ("opening",), "B")
LATE = Pattern("late/half", "accento", 2, 2 * Q, (1, 0), (Q / 2, 3 * Q / 2), "leaning", 1, ("middle",), "C")


def notes(text: str, at: int = 0) -> tuple[Note, ...]:
    now, found = Fraction(at), []
    for word in text.split():
        name, _, length = word.partition(":")
        tied = length.endswith("~")
        size = Fraction(length.rstrip("~"))
        found.append(Note(now, size, None if name == "R" else Pitch.parse(name), tied=tied))
        now += size
    return tuple(found)


def sounding(text: str) -> tuple[Note, ...]:
    return tuple(n for n in notes(text) if n.pitch)


def score(flat: bool = False, **parts: str) -> Score:
    metre = Metre.parse("C")
    bars = (Bar(1, 0 * Q, 4 * Q), Bar(2, 4 * Q, 4 * Q))
    voices = tuple(Part(v, sounding(text)) for v, text in parts.items())
    return Score("S", Version.PLAIN, metre, Signature.parse("Bb" if flat else "none"), bars, voices)


def told(found: tuple[Choice, ...]) -> list[tuple[str, str, str, str, str]]:
    return [
        (
            f"{c.voice} {c.onset}+{c.duration}",
            c.name,
            c.pattern,
            " ".join(str(n.pitch) for n in c.replaced),
            " ".join(str(n.pitch) for n in c.notes),
        )
        for c in found
    ]


def test_stretches_that_differ_are_named_by_the_trade() -> None:
    plain = score(cantus="D5:2 F5:2 E5:2 D5:2", altus="A4:4 G4:4")
    made = score(cantus="D5:1 E5:1 F5:2 E5:1/2 D5:1/2 C5:1/2 D5:1/2 D5:2", altus="A4:4 G4:2 A4:2")
    found = choices(plain, made, (), [WALK])
    assert told(found) == [
        ("cantus 0+2", "passing", "walk/half", "D5", "D5 E5"),
        ("cantus 4+2", "minuta", "", "E5", "E5 D5 C5 D5"),
        ("altus 4+4", "division", "", "G4", "G4 A4"),
    ]
    assert (found[0].character, found[0].source, found[0].late) == ("walking", "A", 0)
    assert (found[0].plain, found[0].after) == (plain.parts[0].notes[0], plain.parts[0].notes[1])
    assert choices(plain, plain, (), [WALK]) == ()


@pytest.mark.parametrize(
    ("old", "new", "name"),
    [
        ("D5:4 E5:4", "R:4 E5:4", "rest"),
        ("D5:4 E5:4", "D5:1/2 E5:1/2 D5:1/2 C5:1/2 D5:1/2 E5:1/2 D5:1/2 C5:1/2 E5:4", "passaggio"),
        ("D5:2 E5:2 F5:4", "D5:3 E5:1/2 D5:1/2 F5:4", "minuta"),
        ("D5:2 E5:2 F5:4", "D5:7/2 E5:1/2 F5:4", "exchange"),
        ("D5:2 E5:2 F5:4", "D5:3 E5:1 F5:4", "syncopation"),
        ("D5:2 E5:2 F5:4", "D5:2 E5:1 D5:1 F5:4", "division"),
    ],
)
def test_what_is_in_no_table_has_a_name_of_its_own(old: str, new: str, name: str) -> None:
    """A rest; eight small notes and more; more notes with small ones; as many; held over; more notes."""
    (found,) = choices(score(cantus=old), score(cantus=new), (), ())
    assert found.name == name and found.pattern == "" and not found.pinned


def test_what_is_sung_into_a_rest_belongs_to_the_note_before() -> None:
    (found,) = choices(score(cantus="D5:2 R:2 F5:4"), score(cantus="D5:2 E5:2 F5:4"), (), ())
    assert told((found,)) == [("cantus 0+4", "division", "", "D5", "D5 E5")] and found.duration == 4
    assert found.after == notes("D5:2 R:2 F5:4")[2]


def by_hand(plain: Score, version: Version, voice: str, *runs: tuple[Note, ...]) -> tuple[Choice, ...]:
    pins = [SimpleNamespace(version=version, voice=voice, notes=sum(runs, ()))]
    return pinned(SimpleNamespace(pins=pins), plain, [WALK, TURN, LATE])  # type: ignore[arg-type]


def test_what_is_set_by_hand_is_kept_and_named_when_it_is_known() -> None:
    plain = score(cantus="D5:2 F5:2 E5:4")
    found = by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:1 E5:1 F5:1 A5:1"))
    assert told(found) == [
        ("cantus 0+2", "passing", "walk/half", "D5", "D5 E5"),
        ("cantus 2+2", "by hand", "", "F5", "F5 A5"),
    ]
    one, two = found
    assert one.pinned and two.pinned and (one.source, two.source) == ("A", "")
    assert (one.character, one.late, one.after) == ("walking", 0, plain.parts[0].notes[1])
    assert by_hand(plain, Version.PLAIN, "cantus", notes("D5:1 E5:1")) == ()
    assert by_hand(plain, Version.DIMINISHED, "altus", notes("D5:1 E5:1")) == ()
    assert by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:2 F5:2")) == ()  # as it was: no choice
    (late,) = by_hand(plain, Version.DIMINISHED, "cantus", notes("E5:1/2 D5:3/2"))
    assert (late.name, late.late, late.onset) == ("accento", Q / 2, 0)


def test_a_run_by_hand_may_begin_and_end_inside_plain_notes() -> None:
    """What it leaves of them sounds on as it was."""
    plain = score(cantus="D5:4 E5:4")
    (inside,) = by_hand(plain, Version.DIMINISHED, "cantus", notes("F5:1", 1))
    assert told((inside,)) == [("cantus 0+4", "by hand", "", "D5", "D5 F5 D5")]
    assert [(n.onset, n.duration) for n in inside.notes] == [(0, 1), (1, 1), (2, 2)]
    (joined,) = by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:1 E5:1 D5:1", 1))
    assert told((joined,)) == [("cantus 0+4", "turn", "turn/whole", "D5", "D5 E5 D5")]
    assert [(n.onset, n.duration) for n in joined.notes] == [(0, 2), (2, 1), (3, 1)]
    (tied,) = by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:1~ D5:1 E5:1 D5:1"))
    assert tied.pattern == "turn/whole" and len(tied.notes) == 3
    apart = by_hand(plain, Version.DIMINISHED, "cantus", notes("F5:1", 1), notes("G5:1", 5))
    assert [c.onset for c in apart] == [0, 4]
    struck = by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:2 D5:2"))
    assert told(struck) == [("cantus 0+4", "by hand", "", "D5", "D5 D5")]


def test_what_is_set_by_hand_is_no_other_choice() -> None:
    plain = score(cantus="D5:2 F5:2 E5:4", altus="A4:4 G4:4")
    made = score(cantus="D5:1 E5:1 F5:1 A5:1 E5:2 F5:2", altus="A4:2 B4:2 G4:4")
    hand = by_hand(plain, Version.DIMINISHED, "cantus", notes("D5:1 E5:1"))
    found = choices(plain, made, hand, [WALK])
    assert [(c.voice, c.onset, c.pinned) for c in found] == [
        ("cantus", 0, True),
        ("altus", 0, False),
        ("cantus", 2, False),
        ("cantus", 4, False),
    ]


def test_a_known_pattern_may_begin_with_a_longer_note() -> None:
    d, f, g = (Note(at * Q, 2 * Q, Pitch.parse(p)) for at, p in ((0, "D5"), (2, "F5"), (2, "G5")))
    assert known(notes("D5:1 E5:1"), d, f, [WALK]) == WALK
    assert known(notes("D5:3 E5:1"), d, f, [WALK]) == WALK
    assert (
        known(notes("D5:1/2 E5:1"), d, f, [WALK]) is None and known(notes("D5:1 E5:2"), d, f, [WALK]) is None
    )
    assert (
        known(notes("D5:1 E5:1"), d, g, [WALK]) is None and known(notes("D5:1 E5:1"), d, None, [WALK]) is None
    )
    assert known(notes("D5:1 C5:1"), d, f, [WALK]) is None and known(notes("D5:1 R:1"), d, f, [WALK]) is None
    assert known(notes("D5:2 E5:1 D5:1"), d, None, [WALK, TURN]) == TURN


# --- reasons


def choice(voice: str, onset: int, length: int, old: str, new: str, **more: Any) -> Choice:
    old_notes, new_notes = notes(old, onset), notes(new, onset)
    known_fields = {"pattern": "", "name": "minuta", "replaced": old_notes, **more}
    return Choice(
        voice, Fraction(onset), Fraction(length), plain=old_notes[0], notes=new_notes, **known_fields
    )


def plan(**more: Any) -> Any:
    return SimpleNamespace(**{"statements": (), "countersubject": (), "clausulae": (), **more})


def why(made: Score, one: Choice, of: Any = None) -> tuple[str, dict[str, Any]]:
    verset = SimpleNamespace(place=lambda t: t)
    phrase = Reasons(verset, made, of or plan()).reason(one)  # type: ignore[arg-type]
    return phrase.key, dict(phrase.values)


def test_a_grace_says_what_it_answers_or_does() -> None:
    quiet = score(cantus="C5:4 D5:4", bassus="D3:8")
    shapes = [
        ("D5:2 F5:2", "D5:1 E5:1 F5:2", "walk"),
        ("D5:4", "D5:2 E5:1 D5:1", "neighbour"),
        ("D5:2 E5:2", "D5:1 E5:1 D5:1 E5:1", "neighbour"),
        ("D5:4", "D5:2 E5:1 F5:1", "passing"),
        ("D5:4", "D5:2 F5:2", "rhythm"),
        ("D5:2 F5:2", "F5:2 D5:2", "line"),
        ("D5:2 F5:2", "D5:4", "held"),
        ("D5:4", "D5:2", "breath"),
        ("D5:2 F5:2", "D5:1 F5:3", "shifted"),
        ("D5:4", "D5:1 C5:1 B4:1 A4:1", "run"),
    ]
    alone = score(cantus="C5:4 D5:4")
    assert why(alone, choice("cantus", 0, 4, "D5:4", "D5:2 F5:2"))[0] == "line", "nobody holds"
    for old, new, key in shapes:
        assert why(quiet, choice("cantus", 0, 4, old, new))[0] == key, key
    key, values = why(quiet, choice("cantus", 0, 4, "D5:2 F5:2", "D5:1 E5:1 F5:2"))
    assert values == {"first": "D5", "last": "F5"}
    assert why(quiet, choice("cantus", 0, 4, "D5:4", "D5:4", pinned=True))[0] == "by-hand"
    assert why(quiet, choice("cantus", 0, 4, "D5:4", ""))[0] == "silent"


def test_a_grace_from_a_table_names_its_figure_and_its_way() -> None:
    after = Note(4 * Q, Q, Pitch.parse("F5"))
    one = choice("cantus", 0, 4, "D5:4", "D5:2 E5:1 D5:1", pattern="x", name="turn", after=after)
    made = score(cantus="D5:4 F5:4")
    assert why(made, one) == ("table", {"figure": "turn", "first": "D5", "last": "F5"})
    for other in ({"after": None}, {"pattern": ""}, {"after": Note(4 * Q, Q, None)}):
        fields = {"pattern": "x", "after": after, **other}
        assert why(made, choice("cantus", 0, 4, "D5:4", "D5:2 E5:1 D5:1", **fields))[0] != "table"


def test_a_figure_heard_before_is_answered() -> None:
    made = score(cantus="D5:1 E5:1 F5:1 D5:1 A5:4", altus="R:4 G4:1 A4:1 B4:1 G4:1")
    one = choice("altus", 4, 4, "G4:4", "G4:1 A4:1 B4:1 G4:1")
    assert why(made, one) == ("answer-below", {"leader": "cantus", "place": 0, "steps": -4})
    same = score(cantus="D5:1 E5:1 F5:1 D5:1 A5:4", altus="R:4 D5:1 E5:1 F5:1 D5:1")
    assert why(same, choice("altus", 4, 4, "D5:4", "D5:1 E5:1 F5:1 D5:1"))[0] == "answer-same"
    above = score(altus="D4:1 E4:1 F4:1 D4:1 A4:4", cantus="R:4 A4:1 B4:1 C5:1 A4:1")
    assert why(above, choice("cantus", 4, 4, "A4:4", "A4:1 B4:1 C5:1 A4:1"))[0] == "answer-above"
    again = score(cantus="D5:1 E5:1 F5:1 D5:1 E5:1 F5:1 G5:1 E5:1")
    assert why(again, choice("cantus", 4, 4, "E5:4", "E5:1 F5:1 G5:1 E5:1"))[0] == "sequence-above"
    repeated = score(cantus="D5:1 E5:1 F5:1 D5:1 D5:1 E5:1 F5:1 D5:1")
    assert why(repeated, choice("cantus", 4, 4, "D5:4", "D5:1 E5:1 F5:1 D5:1"))[0] == "repeated"
    first = score(cantus="R:4 D5:1 E5:1 F5:1 D5:1", altus="G4:1 A4:1 B4:1 C5:1 D5:4")
    assert why(first, choice("cantus", 4, 4, "D5:4", "D5:1 E5:1 F5:1 D5:1"))[0] not in (
        "answer-below",
        "repeated",
    )


def test_a_suspension_is_named_by_the_note_held() -> None:
    made = score(cantus="C5:2 B4:2 A4:4", bassus="E3:1 D3:3 F3:4")
    one = choice("cantus", 0, 4, "C5:4", "C5:2 B4:2")
    assert why(made, one) == ("suspension", {"pitch": "C5"})
    still = score(cantus="C5:2 B4:2 A4:4", bassus="E3:4 F3:4")
    assert why(still, one)[0] != "suspension"
    rising = score(cantus="C5:2 D5:2 A4:4", bassus="E3:1 D3:3 F3:4")
    assert why(rising, choice("cantus", 0, 4, "C5:4", "C5:2 D5:2"))[0] != "suspension"
    fifth = score(cantus="C5:2 B4:2 A4:4", bassus="E3:1 F3:3 F3:4")
    assert why(fifth, one)[0] != "suspension"


def test_the_plan_comes_before_what_is_heard() -> None:
    made = score(cantus="D5:2 E5:2 F5:4", altus="R:8 A4:2 B4:2 C5:4")
    one = choice("cantus", 0, 4, "D5:4", "D5:2 E5:2")
    again = SimpleNamespace(voice="altus", start=8 * Q, end=16 * Q, first=False, against="tenor", place=9)
    for first, key in ((True, "countersubject-first"), (False, "countersubject")):
        c = SimpleNamespace(voice="cantus", start=0 * Q, end=8 * Q, first=first, against="altus", place=7)
        assert why(made, one, plan(countersubject=(c,)))[0] != key, "it comes nowhere else"
        assert why(made, one, plan(countersubject=(c, again))) == (
            key,
            {"voice": "cantus", "against": "altus", "place": 7},
        )
        outside = SimpleNamespace(**{**vars(c), "start": 4 * Q, "end": 6 * Q})
        assert why(made, one, plan(countersubject=(outside, again)))[0] != key
        other = SimpleNamespace(**{**vars(c), "voice": "altus"})
        assert why(made, one, plan(countersubject=(other, again)))[0] != key
    close = SimpleNamespace(voice="cantus", onset=4 * Q, kind="cantizans")
    assert why(made, one, plan(clausulae=(close,)))[0] == "formula"
    tenor = SimpleNamespace(voice="cantus", onset=4 * Q, kind="tenorizans")
    assert why(made, one, plan(clausulae=(tenor,)))[0] != "formula"
    single = choice("cantus", 0, 4, "D5:2 E5:2", "D5:4")
    assert why(made, single, plan(clausulae=(close,)))[0] != "formula"


def test_a_groppo_is_one_only_where_it_leads_into_a_close() -> None:
    made = score(cantus="D5:2 E5:2 F5:4")
    one = choice("cantus", 0, 4, "D5:4", "D5:2 E5:2", pattern="g", name="groppo", source="s", character="c")
    verset = SimpleNamespace(place=lambda t: t)
    close = SimpleNamespace(voice="cantus", onset=4 * Q, kind="cantizans")
    kept = Reasons(verset, made, plan(clausulae=(close,))).given(one)  # type: ignore[arg-type]
    assert (kept.name, kept.pattern, kept.reason.key) == ("groppo", "g", "formula")
    free = Reasons(verset, made, plan()).given(one)  # type: ignore[arg-type]
    assert (free.name, free.pattern, free.source, free.character) == ("minuta", "", "", "") and free.reason


# --- spelling


def spelled(line: str, others: dict[str, str], dias: tuple[int, ...], flat: bool = False) -> Any:
    """The keys of a pattern on the first note of the cantus, a quarter to a note."""
    texture = lay_out(score(flat, cantus=line, **others))
    speller = Speller(texture, 0)
    stem = texture.stems[0][0]
    speller.at(stem)
    return speller.line(tuple(8 * k for k in range(len(dias) - 1)), dias)


def test_a_letter_is_spelled_as_it_sounds_nearby_else_by_the_signature() -> None:
    assert spelled("D5:4 E5:4", {}, (36, 37, 38, 37)) == ([74, 76, 77, 76], 0.0)
    assert spelled("A4:4 G4:4", {}, (33, 34, 33, 32), flat=True)[0] == [69, 70, 69, 67]
    assert spelled("D5:4 E5:4", {"bassus": "F#3:4 E3:4"}, (36, 38, 36, 37))[0] == [74, 78, 74, 76]
    assert spelled("D5:4 E5:4", {"bassus": "D3:4 F#3:4"}, (36, 38, 36, 37))[0][1] in (77, 78)
    assert spelled("D5:4 E5:4", {"altus": "F4:4 E4:4", "bassus": "F#3:4 E3:4"}, (36, 38, 36, 37)) is None
    keys, cost = spelled("D5:4 F#5:4", {"bassus": "F3:4 D3:4"}, (36, 37, 36, 38))
    assert keys[-1] == 78 and cost == 0
    cross = spelled("D5:4 E5:4", {"altus": "D4:2 F4:2 E4:4", "bassus": "F#3:2 D3:2 E3:4"}, (36, 38, 36, 37))
    assert cross == ([74, 78, 74, 76], 1.5)


def test_no_augmented_second_and_no_tritone_where_a_note_is_free() -> None:
    """Una nota super la: B flat over A in a line that turns there (common practice)."""
    keys, cost = spelled("F4:4 E4:4", {}, (31, 32, 33, 34, 33, 32))
    assert keys[3] == 70 and cost == 0
    keys, cost = spelled("F4:4 E4:4", {"bassus": "B2:4 E3:4"}, (31, 32, 33, 34, 33, 32))
    assert keys[3] == 71 and cost == 1.2
    # Under a raised note the flat of the signature is taken back: a tone, no augmented second.
    assert spelled("C#5:4 D5:4", {}, (35, 34, 33, 34, 36), flat=True) == ([73, 71, 69, 71, 74], 0.0)
    # Where the letter sounds in another voice it cannot be bent.
    assert spelled("C#5:4 D5:4", {"bassus": "Bb2:4 D3:4"}, (35, 34, 33, 34, 36), flat=True) is None


# --- patterns as words


def test_words_fit_value_and_way_and_the_level() -> None:
    weave = Weave(score(cantus="D5:2 F5:2 E5:4"))
    harmony = SimpleNamespace(alter=[[0] * 7] * weave.size)
    a, b, c = weave.tones[0]
    words = Words([WALK, LATE, TURN], 1, Q / 2)
    assert words.own == {"walk/half", "late/half", "turn/whole"}
    found = {words.change(weave, harmony, 0, a, b, Random(k)) for k in range(20)}
    assert found == {
        Change(0, 0, 8, (Tone(0, 4, 36, 74), Tone(4, 8, 37, 76))),
        Change(0, 0, 8, (Tone(0, 2, 37, 76), Tone(2, 8, 36, 74))),
    }
    assert words.change(weave, harmony, 0, b, c, Random(1)) is None  # a second down
    assert words.change(weave, harmony, 0, c, a, Random(1)) is None  # too busy for the level
    held = Words([TURN], 2, Q / 2).change(weave, harmony, 0, c, a, Random(1))
    assert held == Change(0, 16, 32, (Tone(16, 24, 37, 76), Tone(24, 28, 38, 77), Tone(28, 32, 37, 76)))
    assert Words([WALK], 1, 2 * Q).change(weave, harmony, 0, a, b, Random(1)) is None
    bad = SimpleNamespace(alter=[[0, 0, None, 0, 0, 0, 0]] * weave.size)
    assert Words([WALK], 1, Q).change(weave, bad, 0, a, b, Random(1)) is None
    raised = SimpleNamespace(alter=[[0, 0, -1, 0, 0, 0, 0]] * weave.size)
    assert Words([WALK], 1, Q).change(weave, raised, 0, a, b, Random(1)).tones[1] == Tone(4, 8, 37, 75)
    fine = Pattern("fine", "x", 2, 2 * Q, (0, 1), (Q / 8, 15 * Q / 8), "x", 1, ("middle",), "x")
    assert Words([fine], 1, Q / 8).change(weave, harmony, 0, a, b, Random(1)) is None
    groppo = Pattern("g", "groppo", 2, 2 * Q, (0, 1), (Q, Q), "x", 1, ("middle",), "x")
    assert Words([groppo], 3, Q / 8).change(weave, harmony, 0, a, b, Random(1)) is None


def test_a_course_s_own_word_goes_before_those_of_the_house() -> None:
    from builder.diminution import patterns

    weave = Weave(score(cantus="D5:2 E5:2 E5:4"))
    harmony = SimpleNamespace(alter=[[0] * 7] * weave.size)
    mine = Pattern("mine", "x", 1, 2 * Q, (0, -1), (Q, Q), "x", 1, ("middle",), "x")
    words = Words([*patterns(), mine], 3, Q / 4)
    a, b, _ = weave.tones[0]
    assert words.own == {"mine"}
    assert {words.change(weave, harmony, 0, a, b, Random(k)).tones[1].d for k in range(8)} == {35}


def test_a_pattern_is_shown_over_its_plain_notes() -> None:
    made = shown(LATE, Pitch.parse("D5"))
    assert [str(n.pitch) for n in made.part("cantus").notes] == ["E5", "D5", "F5"]
    assert [(str(n.pitch), n.onset, n.duration) for n in made.part("altus").notes] == [
        *(("D4", 0, 2), ("F4", 2, 2)),
    ]
    assert [(b.number, b.onset, b.length) for b in made.bars] == [(1, 0, 2), (2, 2, 2)]
    assert made.metre.symbol == "C|" and made.title == "late/half" and made.version == Version.DIMINISHED
    three = Pattern("t", "x", 1, 3 * Q, (0, 1), (2 * Q, Q), "x", 1, ("middle",), "x")
    assert shown(three).metre.symbol == "3/2"
    assert [str(n.pitch) for n in shown(three, Pitch.parse("A4"), Signature.parse("Bb")).parts[0].notes] == [
        *("A4", "Bb4", "Bb4"),
    ]


def test_values_intervals_and_densities_of_patterns() -> None:
    assert {name: str(v) for name, v in DIVIDED.items()} == {
        "breve": "8", "dotted whole": "6", "whole": "4", "dotted half": "3", "half": "2",
        "dotted quarter": "3/2", "quarter": "1",
    }  # fmt: skip
    assert INTERVALS["any"] is None and INTERVALS["unison"] == 0
    assert (INTERVALS["second up"], INTERVALS["fifth down"], INTERVALS["octave up"]) == (1, -4, 7)
    assert len(INTERVALS) == 16 and LATE.late == Q / 2 and WALK.late == 0
    assert (LATE.interval_name, TURN.interval_name) == ("third up", "any")
    assert read_notes("0/2. 1/breve -2/32") == ((0, 1, -2), (3 * Q, 8 * Q, Q / 8))
    for bad in ("0", "x/4", "0/3", "0/4...", "111/4"):
        with pytest.raises(ValueError):
            read_notes(bad)
    for lengths, value, level in (
        ((1, 1), 2, 1), ((Q / 2, 3 * Q / 2), 2, 1), ((Q / 2,) * 4, 2, 2), ((3 * Q / 2, Q / 4, Q / 4), 2, 2),
        ((Q / 4,) * 4, 1, 3), ((Q / 2, Q / 4, Q / 4), 1, 3), ((Q / 8, 15 * Q / 8), 2, 3),
    ):  # fmt: skip
        assert density_of(tuple(Fraction(x) for x in lengths), Fraction(value)) == level, lengths


@pytest.mark.parametrize(
    ("changes", "found", "expected"),
    [
        ({"figure": "''"}, "no word for 'figure'", "a word or a line of text"),
        ({"notes": "0/4 1/16"}, "notes that last 5/4 quarter notes", "a breve, a dotted whole"),
        (
            {"notes": "0/2"},
            "no division of the plain note",
            "two notes or more, the plain note (0) among them",
        ),
        ({"notes": "0/4 0"}, "a note struck again", "each note different from the one before"),
        ({"notes": "0/4 1"}, "the next plain note too early", "an anticipation of an eighth at most"),
        ({"notes": "0/4 10"}, "a note more than a tenth away", "steps from -9 to 9"),
        ({"density": "4"}, "the density '4'", "1, 2 or 3"),
        ({"where": "end"}, "'end' under 'where'", "some of opening, middle, cadence"),
        ({"also": "[week]"}, "'week' under 'also'", "some of breve, dotted whole"),
        ({"id": "a, id: b"}, "'id' a second time", "each key once"),
        ({"notes": ""}, "no 'notes'", "'notes' in each entry"),
        ({}, "no mapping", "keys and values: id, figure, notes, character, source"),
    ],
)
def test_a_bad_entry_is_told_with_what_belongs_there(
    tmp_path: Path, changes: dict[str, str], found: str, expected: str
) -> None:
    path = tmp_path / "t.yaml"
    fields = {"id": "a", "figure": "x", "notes": "0/4 2", "character": "c", "source": "s", **changes}
    entry = "{" + ", ".join(f"{k}: {v}" for k, v in fields.items() if v) + "}" if changes else "word"
    path.write_text(f"interval: second up\npatterns:\n  - {entry}\n")
    with pytest.raises(SourceErrors) as caught:
        load_tables([path])
    error = next(e for e in caught.value.errors if e.found == found)
    assert error.expected.startswith(expected) and error.path == str(path) and error.line == 3
    assert error.text == f"  - {entry}" and error.column >= 5


def test_a_bad_document_is_told_with_what_belongs_there(tmp_path: Path) -> None:
    path = tmp_path / "t.yaml"
    for text, found, line in (
        ("interval: sixth\npatterns: []\n", "the interval 'sixth'", 1),
        ("interval: any\npatterns: x\n", "no list", 2),
        ("interval: any\n", "no 'patterns'", 1),
        ("- a\n", "no mapping", 1),
    ):
        path.write_text(text)
        with pytest.raises(SourceErrors) as caught:
            load_tables([path])
        assert [(e.found, e.line) for e in caught.value.errors] == [(found, line)]
    path.write_text(
        "interval: any\npatterns:\n  - {id: a, figure: x, notes: 0/4 1, character: c, source: s}\n"
    )
    with pytest.raises(SourceErrors, match="a pattern for any interval that ends off the plain note"):
        load_tables([path])


GOOD = "interval: {}\npatterns:\n  - {{id: a, figure: ' x ', notes: {}, character: c, source: s{}}}\n"


def test_a_good_entry_is_stretched_to_its_other_values(tmp_path: Path) -> None:
    path = tmp_path / "t.yaml"
    path.write_text(GOOD.format("third up", "0/4 1", ", also: [whole, half], where: [cadence], density: 3"))
    half, whole = load_tables([path])
    assert (half.id, half.value, half.lengths) == ("a/half", 2, (1, 1))
    assert (whole.id, whole.value, whole.lengths) == ("a/whole", 4, (2, 2))
    assert (half.figure, half.where, half.density, half.interval) == ("x", ("cadence",), 3, 2)
    path.write_text(GOOD.format("third up", "0/4. 1/8", ", also: [dotted half]"))
    plain, long = load_tables([path], taken=["b/half"])
    assert (
        plain.where == ("opening", "middle", "cadence") and plain.density == 1 and long.id == "a/dotted-half"
    )
    with pytest.raises(SourceErrors, match="taken in the tables of the house"):
        load_tables([path], taken=["a/half"])
    path.write_text(GOOD.format("second up", "0/4. 1/8", ""))
    assert len(load_tables([path])) == 1  # an anticipation of an eighth


def test_a_table_that_cannot_be_read_is_told_at_its_beginning(tmp_path: Path) -> None:
    with pytest.raises(SourceErrors) as caught:
        load_tables([tmp_path / "none.yaml"])
    (error,) = caught.value.errors
    assert (error.path, error.line, error.column) == (str(tmp_path / "none.yaml"), 1, 1)
    assert error.found.startswith("a file that cannot be read (") and error.expected == "a table of patterns"


def test_a_pattern_keeps_what_must_stay() -> None:
    """Where the first tick must stay, the pattern begins on its note; inside the note nothing must stay."""
    weave = Weave(score(cantus="D5:2 F5:2 E5:4"))
    still = Still(weave)
    lines = object.__new__(Lines)
    lines.still, lines.weave, lines.dice = still, weave, Random(1)
    lines.search = SimpleNamespace(harmony=SimpleNamespace(alter=[[0] * 7] * weave.size))
    a, b, _ = weave.tones[0]
    lines.words = Words([WALK], 1, Q / 2)
    assert lines._pattern(0, a, b).tones[1].d == 37
    still.mark(0, 0, 1)
    assert lines._pattern(0, a, b) is not None
    lines.words = Words([LATE], 1, Q / 2)
    assert lines._pattern(0, a, b) is None  # it would begin a step higher
    lines.words = Words([WALK], 1, Q / 2)
    assert lines._pattern(0, a, b._replace(start=9)) is None  # a rest between
    still.mark(0, 4, 5)
    assert lines._pattern(0, a, b) is None
