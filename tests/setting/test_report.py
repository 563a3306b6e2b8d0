"""The report says what was found, in words and numbers, after one schema."""

import json
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import jsonschema
import pytest

from builder.analysis.findings import Analysis, Cadence, Entry, Evidence, Step, Theme, ToneReading
from builder.counterpoint.check.finding import Finding, Realisation
from builder.music import Bar, Clef, Figure, FigureSign, Metre, Note, Pitch, Place, Score, Signature, Version
from builder.setting.report import number, refused, report, report_json, schema
from builder.setting.report_text import report_text
from builder.source.errors import SourceError
from builder.source.verset import GivenNote, Licence, Reading, Verset

P = Pitch.parse


def small_verset() -> Verset:
    """Two voices, two bars: D A | D, with an editor's sharp and an editor's figure."""
    bars = (Bar(1, F(0), F(4)), Bar(2, F(4), F(4)))
    six = Figure(F(2), F(2), (FigureSign(6, editorial=True),))
    given = (
        GivenNote(Note(F(0), F(2), P("D5")), "cantus", Clef("C", 1)),
        GivenNote(Note(F(2), F(2), P("C#4"), editorial=True), "tenor", Clef("C", 4), (six,)),
        GivenNote(Note(F(4), F(4), P("D4")), "tenor", Clef("C", 4)),
    )
    return Verset(
        name="small",
        path="/home/someone/course/versets/small.md",
        title="A small verset",
        metre=Metre.parse("C"),
        signature=Signature(),
        bars=bars,
        given=given,
        licences=(Licence("direct-fifth", 2, "horn fifths", ("cantus", "tenor")),),
        readings=(Reading(1, "C without sharp", "C sharp", "tenor"),),
    )


def small_analysis() -> Analysis:
    where = Place(1, F(3))
    return Analysis(
        theme=Theme(1, F(2), (P("D5"),)),
        entries=(
            Entry(
                "cantus",
                F(0),
                F(2),
                Place(1, F(1)),
                P("D5"),
                Clef("C", 1),
                "theme",
                1,
                "the first voice",
                F(0),
            ),
            Entry("tenor", F(2), F(4), where, P("C#4"), Clef("C", 4), "free", 0, "another interval", F(2)),
        ),
        voices=2,
        final="D",
        tones=(
            ToneReading(1, 3.5, (Evidence("ends on D", 3.5),)),
            ToneReading(7, -1.0, (Evidence("no flat in the signature", -1.0),)),
        ),
        tone=1,
        cadences=(Cadence(F(2), F(4), Place(2, F(1)), "D", "semplice", "C sharp rises to D"),),
        sections=((F(0), F(8)),),
        steps=(Step("cantus", "entry", F(0), F(0), F(2), ("cantus",), Place(1, F(1)), Place(1, F(2))),),
        warnings=("the theme is short",),
    )


def small_realisation() -> Realisation:
    verset = small_verset()
    met = (
        Finding(
            "third-missing", "warning", F(5), Place(2, F(3, 2)), ("cantus",), "no third", ("add F sharp",)
        ),
        Finding(
            "direct-fifth",
            "error",
            F(4),
            Place(2, F(1)),
            ("cantus", "tenor"),
            "a direct fifth",
            reason="horn fifths",
        ),
    )
    score: Score = replace(verset.score(), version=Version.PLAIN)
    return Realisation(score, (), met, 12.25, {2: {"leap": 2.25, "crossing": 10.0}})


@pytest.fixture
def found() -> dict:
    return report(small_verset(), small_analysis(), small_realisation())


def test_the_schema_itself_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(schema())


def test_a_report_keeps_the_schema(found):
    jsonschema.validate(json.loads(report_json(found)), schema(), jsonschema.Draft202012Validator)


def test_the_schema_refuses_a_cadence_of_no_known_kind(found):
    found["cadences"][0]["kind"] = "perfect"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(found, schema())


def test_bars_and_beats_count_from_one_and_halves_are_decimals(found):
    assert found["entries"][1] | {"evidence": ""} == {
        "voice": "tenor",
        "bar": 1,
        "beat": 3,
        "pitch": "C#4",
        "clef": "C4",
        "kind": "free",
        "notes": 0,
        "evidence": "",
    }
    assert [f["beat"] for f in found["findings"]] == [1, 1.5]
    assert number(F(7, 3)) == 2.333333


def test_findings_stand_in_order_of_time_with_the_licence_that_allows_them(found):
    assert [(f["rule"], f["allowed"], f["version"]) for f in found["findings"]] == [
        ("direct-fifth", "horn fifths", "plain"),
        ("third-missing", "", "plain"),
    ]


def test_what_the_editor_supplied_is_listed(found):
    assert [(e["kind"], e["sign"], e["beat"]) for e in found["editorial"]] == [
        ("accidental", "C#", 3),
        ("figure", "(6)", 3),
    ]


def test_what_the_editor_supplied_is_written_with_the_signs_of_print(found):
    where = {"bar": 2, "beat": 1.0, "voice": "cantus"}
    supplied = [{**where, "kind": "figure", "sign": "6/(b5)"}, {**where, "kind": "accidental", "sign": "F#"}]
    text = report_text({**found, "editorial": supplied})
    assert "cantus  figure 6/[♭5]\n" in text and "cantus  accidental F♯\n" in text


def test_a_report_holds_no_folder_of_the_machine(found):
    assert "someone" not in report_json(found)
    assert found["file"] == "small.md"


def test_without_a_realisation_there_is_no_cost():
    bare = report(small_verset(), small_analysis())
    jsonschema.validate(bare, schema())
    assert bare["cost"] is None and bare["findings"] == []


def test_the_words_say_the_same_as_the_numbers(found):
    text = report_text(found)
    assert "tone      1, final D, signature no accidental (weight 3.5; next is tone 7, -1)" in text
    assert "entries   bar 1, beat 1     cantus  D5  clef C1  theme: the first voice" in text
    assert "cadences  bar 2, beat 1     on D  semplice: C sharp rises to D" in text
    assert "error: bar 2, beat 1: a direct fifth (cantus, tenor) [direct-fifth, plain]" in text
    assert "allowed: horn fifths" in text
    assert text.endswith("\nno errors, 2 warnings, 1 allowed.\n")


def test_a_source_that_cannot_be_read_is_reported_with_line_bar_and_beat():
    error = SourceError("course/x.md", 9, 4, "H4", "a pitch", "a H4/2", Place(1, F(5, 2)))
    told = refused("course/x.md", [error])
    jsonschema.validate(told, schema())
    assert (told["errors"][0]["bar"], told["errors"][0]["beat"]) == (1, 2.5)
    assert report_text(told).startswith("x.md:9:4: bar 1, beat 2.5: found H4; expected a pitch\n")


def test_the_page_of_the_course_names_every_key_and_links_the_same_schema():
    content = Path(__file__).parents[2] / "content"
    page = (content / "report.md").read_text(encoding="utf-8")
    for key in schema()["$defs"]["read"]["properties"]:
        assert f"`{key}`" in page, key
    assert "](report.schema.json)" in page
    assert json.loads((content / "report.schema.json").read_text(encoding="utf-8")) == schema()
