"""What a page hands to the script of an exercise, reckoned from the verset by hand."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from builder.language.texts import page_texts
from builder.music import Pitch
from builder.pages import homework
from builder.pages.exercise import exercise, exercise_data, exercise_key, parted, second_half
from builder.pages.gracing import Graces
from builder.pages.homework import WorkError, marked, read_work
from builder.setting.setting import Setting, set_verset
from builder.source import EXAMPLE, parse

SOURCE = """---
title: Two </parts>
verset:
  metre: C
  signature: Bb
  tone: 1
  pitch: 415
  allow:
    - {rule: direct-fifth, bar: 3, because: "so it was"}
---

```given
cantus C1 | G5/2 D5/4. E5/8 | F5/4 E5/4 D5/2
bassus F4 | D3/2 G2/4. A2/8 | Bb2/4{6} A2/4{7 #6} G2/2
```
"""
EN = page_texts("en")


@pytest.fixture(scope="module")
def setting() -> Setting:
    return set_verset(parse(SOURCE, "v/duo.md"))


@pytest.fixture(scope="module")
def data(setting: Setting) -> dict[str, Any]:
    found = exercise_data(setting, Fraction(6), setting.verset.end, EN)
    assert found is not None
    return found


def test_a_voice_alone_has_no_exercise(setting: Setting) -> None:
    assert exercise_data(setting, Fraction(0), Fraction(8), EN) is None
    assert exercise(setting, Fraction(0), Fraction(8), EN, Graces(setting, EN)) == ""


def test_the_head_of_an_exercise(data: dict[str, Any]) -> None:
    assert set(data) == {
        *("key", "title", "metre", "symbol", "fifths", "signature", "voices", "order", "closed", "bars"),
        *("events", "line", "ours", "compass", "stands", "hertz", "notes", "pairs"),
    }
    assert (data["key"], data["title"]) == ("duo-2.2-4", "Two </parts>")
    assert (data["metre"], data["symbol"], data["fifths"]) == ([4, 4], "C", -1)
    assert data["signature"] == [0, 0, 0, 0, 0, 0, -1]  # from C to B
    assert data["voices"] == ["cantus"] and data["order"] == ["cantus", "bassus"]
    assert data["closed"] is True
    assert [bar[:3] for bar in data["bars"]] == [[2, 6.0, 2.0], [3, 8.0, 4.0], [4, 12.0, 4.0]]
    assert all(bar[3] == ["cantus"] for bar in data["bars"][1:])
    assert data["compass"] == {"cantus": [25, 40]}  # G3 to A5


def test_only_what_the_source_asks_for_is_left_to_the_student(data: dict[str, Any]) -> None:
    asked = set_verset(parse(SOURCE.replace("  pitch:", "  exercise: [cantus 4]\n  pitch:"), "v/duo.md"))
    found = exercise_data(asked, Fraction(6), asked.verset.end, EN)
    assert found is not None and data["stands"] == {}
    bars = [event["bar"] for event in found["events"]]
    assert bars.count(4) == 4
    assert found["stands"] == {"cantus": [bar != 4 for bar in bars]}
    assert exercise_data(asked, Fraction(6), Fraction(12), EN) is None  # nothing is asked in bar 3


def test_each_sonority_has_its_place_its_figure_and_its_weight(
    data: dict[str, Any], setting: Setting
) -> None:
    events = data["events"]
    assert set(events[2]) >= {
        *("at", "length", "start", "end", "bar", "where", "voice", "bass", "figure", "figured", "upper"),
        *("joined", "stays", "weight", "free", "allowed", "variants", "half", "middle", "late"),
    }
    rows = [(e["at"], e["length"], e["bar"], e["where"], e["voice"]) for e in events]
    assert rows[2:] == [
        (8.0, 1.0, 3, "bar 3, beat 1", "bassus"),
        (9.0, 1.0, 3, "bar 3, beat 2", "bassus"),
        (10.0, 2.0, 3, "bar 3, beat 3", "bassus"),
        (12.0, 1.0, 4, "bar 4, beat 1", "bassus"),
        (13.0, 0.5, 4, "bar 4, beat 2", "bassus"),
        (13.5, 0.5, 4, "bar 4, beat 2 1/2", "bassus"),
        (14.0, 2.0, 4, "bar 4, beat 3", "bassus"),
    ]
    assert [e["figure"] for e in events[5:]] == [["6"], ["7"], ["#6"], []]
    assert [e["figured"] for e in events[5:]] == [True, True, True, False]
    assert [e["bass"] for e in events[2:]] == [
        [22, 0],  # D3
        [22, 0],
        [18, 0],  # G2
        [20, -1],  # Bb2
        [19, 0],  # A2
        [19, 0],
        [18, 0],
    ]
    assert [e["upper"] for e in events] == [[], [], *[["cantus"]] * 7]
    assert [e["stays"] for e in events[2:]] == [False, True, False, False, False, True, False]
    assert [e["joined"] for e in events] == [False] + [True] * 8
    assert events[2]["weight"] > events[4]["weight"] > events[3]["weight"] > events[7]["weight"]
    assert [e["free"] for e in events] == [True, False, True, *[False] * 5, True]
    assert [e["allowed"] for e in events] == [[], [], *[["direct-fifth"]] * 3, *[[]] * 4]
    for e in events:
        assert e["start"] == round(setting.tempo.seconds(Fraction(e["at"])), 4)
        assert e["end"] == round(setting.tempo.seconds(Fraction(e["at"]) + Fraction(e["length"])), 4)
        assert e["start"] < e["middle"] < e["end"] if "middle" in e else e["length"] == 0.5


def test_a_sonority_may_be_divided_in_its_middle_or_after_two_thirds(
    data: dict[str, Any], setting: Setting
) -> None:
    """A second note comes in at half the value, after two thirds where it has a dot; an eighth at least."""
    events = data["events"]
    assert [e.get("half") for e in events[2:]] == [0.5, 0.5, 1.0, 0.5, None, None, 1.0]
    assert events[4]["late"] == [18, 0] and events[8]["late"] == [18, 0]
    assert events[4]["middle"] == round(setting.tempo.seconds(Fraction(11)), 4)
    cut = parted(setting.verset, setting.analysis, Fraction(6), setting.verset.end)
    for length, half in (("3/2", "1"), ("3/4", "1/2"), ("1", "1/2"), ("1/2", None), ("3", "2"), ("4", "2")):
        found = second_half(replace(cut[0], duration=Fraction(length)))
        assert found == (Fraction(half) if half else None), length


def test_variants_name_the_intervals_that_may_sound(data: dict[str, Any]) -> None:
    """Over an unfigured note the third, fifth and octave; a 7 and its #6 as they are written."""
    plain, seventh, sixth = (data["events"][n]["variants"] for n in (2, 6, 7))
    assert {m[0] for m in plain[0]["members"]} == {3, 5, 8}
    assert 7 in {m[0] for m in seventh[0]["members"]}
    assert any(m[:2] == [6, 1] for m in sixth[0]["members"])
    assert all(isinstance(v["must"], list) for e in data["events"] for v in e["variants"])
    assert any(v["must"] for v in seventh)


def test_the_line_of_an_exercise_is_the_given_one_with_its_seconds(
    data: dict[str, Any], setting: Setting
) -> None:
    line = data["line"]
    assert [(n["voice"], n["at"], n["length"], n["pitch"]) for n in line] == [
        ("cantus", 6.0, 2.0, [36, 0]),
        ("bassus", 8.0, 2.0, [22, 0]),
        ("bassus", 10.0, 1.5, [18, 0]),
        ("bassus", 11.5, 0.5, [19, 0]),
        ("bassus", 12.0, 1.0, [20, -1]),
        ("bassus", 13.0, 1.0, [19, 0]),
        ("bassus", 14.0, 2.0, [18, 0]),
    ]
    for n in line:
        assert (n["tied"], n["editorial"]) == (False, False) and n["id"].startswith("given-")
        assert n["start"] == round(setting.tempo.seconds(Fraction(n["at"])), 4)
        assert n["end"] == round(setting.tempo.seconds(Fraction(n["at"] + n["length"])), 4)


def test_our_own_notes_are_those_of_the_plain_setting(data: dict[str, Any], setting: Setting) -> None:
    cantus = setting.realisation.score.part("cantus")
    for event, ours in zip(data["events"], data["ours"]["cantus"], strict=True):
        if "cantus" not in event["upper"]:
            assert ours is None
            continue
        sounding = next(n for n in cantus.sounding() if n.onset <= event["at"] < n.end)
        assert ours == [sounding.pitch.diatonic, sounding.pitch.alter]


def test_every_note_of_the_tuning_has_its_frequency(data: dict[str, Any]) -> None:
    """Quarter-comma on A4 = 415 Hz, from the line's lowest note to the cantus's highest."""
    hertz = data["hertz"]
    steps = {int(key.split(",")[0]) for key in hertz}
    assert min(steps) == 18 and max(steps) == 40
    assert hertz["33,0"] == 415.0 and hertz["26,0"] == 207.5
    assert hertz["29,0"] == pytest.approx(415 / 5**0.25, abs=2e-3)  # D4, a fifth below A4
    assert hertz["30,0"] == pytest.approx(415 * 5**0.25 / 2, abs=2e-3)  # E4, a fourth below
    assert "33,1" not in hertz and "34,-1" in hertz and "31,1" in hertz  # B flat and F sharp, no A sharp


def test_rules_on_one_note_are_told_by_pitch(data: dict[str, Any]) -> None:
    notes = data["notes"]["cantus"]
    assert "25,0" not in notes and "40,0" not in notes
    assert notes["24,0"] == ["compass"] and notes["41,0"] == ["compass"]
    assert notes["33,1"] == ["not-in-tuning"] and notes["14,1"] == ["short-octave"]
    assert set(notes["42,0"]) == {"compass"} and "off-keyboard" in notes["14,-1"]  # C6 is the highest key
    steps = {int(key.split(",")[0]) for key in notes}
    assert min(steps) == 14 and max(steps) == 42  # from C2 to C6


def test_rules_on_two_notes_are_told_by_their_classes(data: dict[str, Any]) -> None:
    """Quarter-comma from E flat to G sharp: G sharp with the key of D sharp is the wolf; no raised note is
    doubled."""
    pairs = data["pairs"]
    assert pairs["4,1,1,1"] == ["wolf"]
    assert pairs["3,1,3,1"] == ["doubled-leading-note"]
    assert "0,0,4,0" not in pairs and "6,-1,6,-1" not in pairs and "0,0,0,0" not in pairs
    assert all(len(key.split(",")) == 4 for key in pairs)


def test_the_close_asks_for_its_leading_note(data: dict[str, Any]) -> None:
    """Close on G: F sharp must rise into it, F and F flat are too low before it; over G the minor third is
    B flat."""
    events = data["events"]
    assert events[8]["rise"] == ["3,1"] and events[8]["minor"] == ["6,-1"]
    assert events[7]["raise"] == ["3,-1", "3,0"]
    for n in (2, 3, 4, 5):
        assert not {"rise", "raise", "minor", "doppia"} & set(events[n])


DOPPIA = """---
title: Double
verset: {metre: C, signature: none}
---

```given
cantus C1 | D5/2 A4/2 | D5/1
tenor C4 | D4/1
bassus F4 | D3/1 | A2/1{5/3:4 6/4:4 5/4:4 #:4} | D3/1{#}
```
"""


def test_a_double_cadence_is_marked_from_its_first_note_to_its_close() -> None:
    setting = set_verset(parse(DOPPIA))
    (cadence,) = (c for c in setting.analysis.cadences if c.kind == "doppia")
    found = exercise_data(setting, Fraction(16), setting.verset.end, EN)
    assert found is not None
    for event in found["events"]:
        assert event.get("doppia", False) == (cadence.start <= event["at"] < cadence.onset)
    last = found["events"][-1]
    assert last["rise"] == ["0,1"] and last["minor"] == ["3,0"]
    before = found["events"][-2]
    assert before["raise"] == ["0,-1", "0,0"] and before["voice"] == "bassus"


def test_an_exercise_is_named_by_its_verset_and_bars(setting: Setting) -> None:
    verset = setting.verset
    pairs = [((0, 8), "duo-1-2"), ((6, 16), "duo-2.2-4"), ((8, 14), "duo-3-4.2"), ((4, 11), "duo-2-3.1")]
    for (start, end), key in pairs:
        assert exercise_key(verset, Fraction(start), Fraction(end)) == key
    assert exercise_key(verset, Fraction(1, 2), Fraction(8)) == "duo-1.1_2-2"


def test_the_exercise_stands_in_the_page_with_its_scripts(setting: Setting) -> None:
    html = exercise(setting, Fraction(6), setting.verset.end, EN, Graces(setting, EN), root="../")
    assert html.startswith(f'<section class="verset-try" lang="en" aria-label="{EN("try.title")}" hidden>')
    names = ("glyphs", "verdicts", "rules-en", "own")
    scripts = "".join(f'<script src="../assets/verset/{name}.js" defer></script>' for name in names)
    assert html.endswith(f"</script>{scripts}</section>")
    told = re.findall(r'<script type="application/json" class="verset-(\w+)">(.*?)</script>', html)
    assert [kind for kind, _ in told] == ["exercise", "gracing"]
    assert json.loads(told[0][1])["title"] == "Two </parts>"
    assert json.loads(told[0][1]) == exercise_data(setting, Fraction(6), setting.verset.end, EN)
    graces = json.dumps(Graces(setting, EN).of(Fraction(6), setting.verset.end))
    assert json.loads(told[1][1]) == json.loads(graces)
    assert '": ' not in told[0][1] and "♭" in told[1][1]


def test_a_plain_note_is_offered_with_its_patterns_in_sound(setting: Setting) -> None:
    notes = Graces(setting, EN).of(Fraction(6), setting.verset.end)
    assert notes
    seconds = setting.tempo.seconds
    onsets = {n.onset: n for n in setting.realisation.score.part("cantus").sounding() if n.onset >= 8}
    starts = {round(seconds(t), 4): t for t in onsets}
    for note in notes:
        assert set(note) == {"voice", "where", "start", "end", "length", "pitch", "next", "patterns"}
        plain = onsets[starts[note["start"]]]
        assert note["voice"] == "cantus" and note["length"] == float(plain.duration)
        assert note["where"].startswith(f"bar {3 + (plain.onset - 8) // 4}, beat ")
        assert note["end"] == round(seconds(plain.end), 4)
        assert note["pitch"] == [plain.pitch.diatonic, plain.pitch.alter]
        after = onsets[plain.end].pitch
        assert note["next"] == [after.diatonic, after.alter]
        assert note["patterns"]
        for offered in note["patterns"]:
            assert set(offered) == {"figure", "source", "notes", "names", "met", "pin"}
            assert offered["pin"].startswith("cantus ")
            assert any(
                p.figure == offered["figure"] and p.source == offered["source"] for p in setting.tables
            )
            now = plain.onset
            names = []
            for start, length, step, alter, hertz in offered["notes"]:
                assert start == round(seconds(now), 4)
                now += Fraction(length)
                pitch = Pitch(step, alter)
                known = 415 * 2 ** ((pitch.midi - 69) / 12)
                assert abs(hertz / known - 1) < 0.025 and hertz == round(hertz, 3)
                names.append(pitch.letter.replace("b", "♭").replace("#", "♯"))
            assert now == plain.end and offered["names"] == " ".join(names)
            assert all(severity in ("error", "warning") for _, severity in offered["met"])
            assert len({tuple(m) for m in offered["met"]}) == len(offered["met"])


# --- a student's file of work


def file(folder: Path, data: object) -> Path:
    path = folder / "w.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), "utf-8")
    return path


def test_a_file_of_work_is_read_by_voice(tmp_path: Path) -> None:
    work = {
        "cantus": [[35, 0], None, [34, -1]],
        "then": {"cantus": [None, [0, 1], [70, 1]], "tenor": []},
        "x": 3,
    }
    read = read_work(file(tmp_path, {"key": "k", "work": work}))
    assert read.key == "k"
    assert read.first == {"cantus": (Pitch(35), None, Pitch(34, -1))}
    assert read.second == {"cantus": (None, Pitch(0, 1), Pitch(70, 1))}
    assert read_work(file(tmp_path, {"key": "k", "work": {"then": 3, "altus": []}})).first == {"altus": ()}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("no json", "not a whole file of work: "),
        ("[" * 100_000, "not a whole file of work"),
        ([], "a page writes `key` and `work`"),
        ({"key": 1, "work": {}}, "a page writes"),
        ({"key": "k", "work": []}, "a page writes"),
        ({"work": {}}, "a page writes"),
        ({"key": "k", "work": {"cantus": 3}}, "cantus: a list of notes belongs here"),
        ({"key": "k", "work": {"cantus": [None, [1]]}}, r"cantus, note 2: \[1\] is no pitch"),
        ({"key": "k", "work": {"cantus": [[71, 0]]}}, r"note 1: \[71, 0\] is no pitch"),
        ({"key": "k", "work": {"cantus": [[-1, 0]]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": [[30, 2]]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": [[30, -2]]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": [[30, True]]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": [[30.0, 0]]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": ["C4"]}}, "is no pitch"),
        ({"key": "k", "work": {"cantus": [], "then": {"cantus": 1}}}, "a list of notes"),
    ],
)
def test_what_is_no_work_is_refused_with_its_file(tmp_path: Path, data: object, said: str) -> None:
    path = file(tmp_path, data)
    with pytest.raises(WorkError, match=said) as refused:
        read_work(path)
    assert str(refused.value).startswith(f"{path}: ") and len(str(refused.value)) < 300 + len(str(path))


def test_a_file_that_is_far_too_large_is_not_read(tmp_path: Path, monkeypatch) -> None:
    assert homework.LARGEST == 1_000_000
    monkeypatch.setattr(homework, "LARGEST", 40)
    good = json.dumps({"key": "k", "work": {}})
    assert read_work(file(tmp_path, good + " " * (40 - len(good)))).key == "k"
    with pytest.raises(WorkError, match="more than 40 bytes: no page writes so much"):
        read_work(file(tmp_path, good + " " * (41 - len(good))))


def work(tmp_path: Path, data: dict[str, Any], row: list[Any], then: list[Any] | None = None) -> Any:
    rows: dict[str, Any] = {"cantus": row}
    if then:
        rows["then"] = {"cantus": then}
    return read_work(file(tmp_path, {"key": data["key"], "work": rows}))


@pytest.fixture(scope="module")
def step(setting: Setting) -> dict[str, Any]:
    (entry,) = (s for s in setting.analysis.steps if s.name == "bassus")
    found = exercise_data(setting, entry.start, entry.end, EN)
    assert found is not None
    return found


def test_our_own_notes_are_marked_as_in_order(tmp_path: Path, setting: Setting, step: dict[str, Any]) -> None:
    versets, analyses = {"other": setting.verset, "duo": setting.verset}, {}
    found = marked(work(tmp_path, step, step["ours"]["cantus"]), versets, analyses)
    count = len(step["events"])
    assert (found.total, found.complete, found.good) == (count, count, count)
    assert found.errors == () and found.step.name == "bassus" and found.verset is setting.verset
    assert list(analyses) == ["duo"]
    kept = dict(analyses)
    marked(work(tmp_path, step, step["ours"]["cantus"]), versets, analyses)
    assert analyses["duo"] is kept["duo"]


def test_a_step_may_begin_on_a_note_that_is_held_over(tmp_path: Path) -> None:
    verset = parse(EXAMPLE, "two.md")
    setting = set_verset(verset)
    begun = [exercise_data(setting, s.start, s.end, EN) for s in setting.analysis.steps]
    asked = [data for data in begun if data]
    sevenths = [(d["ours"]["cantus"][0] or [0])[0] - d["events"][0]["bass"][0] for d in asked]
    assert 6 in sevenths
    for data in asked:
        found = marked(work(tmp_path, data, data["ours"]["cantus"]), {"two": verset}, {})
        assert (found.good, found.errors) == (found.total, ())
    # Only what comes before the step is not asked: a suspension later in it is prepared.
    data = max(asked, key=lambda each: len(each["events"]))
    late = list(data["ours"]["cantus"])
    k = next(n for n, e in enumerate(data["events"]) if n and late[n] and late[n][0] - e["bass"][0] == 6)
    late[k - 1] = [late[k - 1][0] + 2, 0]
    assert "suspension-unprepared" in {
        f.rule for f in marked(work(tmp_path, data, late), {"two": verset}, {}).errors
    }


def test_a_note_that_lacks_or_is_wrong_is_counted(
    tmp_path: Path, setting: Setting, step: dict[str, Any]
) -> None:
    versets = {"duo": setting.verset}
    row = list(step["ours"]["cantus"])
    lacking = marked(work(tmp_path, step, [*row[:-1], None]), versets, {})
    assert (lacking.total, lacking.complete) == (len(row), len(row) - 1)
    k = next(n for n, e in enumerate(step["events"]) if e["at"] == 10.0)
    wrong = list(row)
    low = step["events"][k]["bass"][0] + 7
    # A dissonance by leap: neither prepared nor passing.
    wrong[k] = [next(d for d in (low + 8, low + 6, low + 3) if abs(d - row[k - 1][0]) > 1), 0]
    found = marked(work(tmp_path, step, wrong), versets, {})
    assert found.complete == len(row) and found.good < len(row) and found.errors
    assert any(f.onset == 10 for f in found.errors)
    assert all(6 <= f.onset < 14 for f in found.findings)


def test_a_second_note_comes_in_where_the_sonority_is_divided(
    tmp_path: Path, setting: Setting, step: dict[str, Any]
) -> None:
    versets = {"duo": setting.verset}
    row = step["ours"]["cantus"]
    k = next(n for n, e in enumerate(step["events"]) if e["at"] == 10.0)
    then: list[Any] = [None] * len(row)
    then[k] = [row[k][0] + 14, 0]  # far above the compass
    found = marked(work(tmp_path, step, row, then), versets, {})
    assert any(f.onset == 11 and f.rule in ("compass", "off-keyboard") for f in found.findings)
    assert found.good < len(row)


def test_work_of_another_step_or_another_length_is_refused(
    tmp_path: Path, setting: Setting, step: dict[str, Any]
) -> None:
    row = step["ours"]["cantus"]
    with pytest.raises(
        WorkError,
        match=rf"cantus has {len(row) - 1} notes for {len(row)} sonorities: was the source changed since\?$",
    ):
        marked(work(tmp_path, step, row[:-1]), {"duo": setting.verset}, {})
    for versets in ({}, {"du": setting.verset}, {"duo2": setting.verset}):
        with pytest.raises(WorkError, match="no step of this course"):
            marked(work(tmp_path, step, row), versets, {})
    with pytest.raises(WorkError, match="duo-9-9: no step"):
        marked(work(tmp_path, {"key": "duo-9-9"}, row), {"duo": setting.verset}, {})
