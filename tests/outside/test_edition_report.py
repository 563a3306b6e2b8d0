"""Reports of real versets against JSON Schema, draft 2020-12 (published), through `jsonschema`."""

import json
from pathlib import Path

import jsonschema
import pytest
from course import course_setting

from builder.setting.report import refused, report, report_json, schema
from builder.setting.report_text import report_text
from builder.source import SourceErrors, parse

VERSETS = sorted((Path(__file__).parents[2] / "content" / "versets").glob("*.md"))


@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_the_report_of_every_verset_of_the_course_is_valid(path):
    setting = course_setting(path.stem)
    found = report(setting.verset, setting.analysis, setting.realisation, setting.diminution)
    again = json.loads(report_json(found))
    assert again == found
    jsonschema.Draft202012Validator(schema()).validate(again)
    text = report_text(found)
    assert setting.verset.title in text
    for entry in found["entries"]:
        assert entry["pitch"] in text


def test_a_first_tone_verset_is_reported_as_such():
    """Four entries make four voices; entries on D and A with the last note D: first tone (TRADE facts,
    common practice)."""
    setting = course_setting("first")
    found = report(setting.verset, setting.analysis, setting.realisation)
    assert (found["tone"], found["final"], found["voices"]) == (1, "D", 4)
    assert [e["pitch"][0] for e in found["entries"]] == ["D", "A", "D", "A"]
    assert found["cadences"][-1]["kind"] == "doppia"


def test_a_refused_source_gives_a_valid_report():
    with pytest.raises(SourceErrors) as caught:
        parse(
            "---\ntitle: A\nverset: {metre: C, signature: none}\n---\n```given\ncantus C1 | H4/1\n```\n",
            "a.md",
        )
    told = json.loads(report_json(refused("a.md", caught.value.errors)))
    jsonschema.Draft202012Validator(schema()).validate(told)
    assert told["errors"][0]["line"] == 6
