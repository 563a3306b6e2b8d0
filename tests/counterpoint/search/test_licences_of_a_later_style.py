"""What is not prepared is refused with its rule; source or course may allow it for a later style."""

from pathlib import Path

import pytest

from builder.analysis import analyse
from builder.cli.commands import check
from builder.counterpoint import realise
from builder.setting.reading import course_licences
from builder.setting.setting import Defaults, set_verset
from builder.source import parse, write

SOURCE = """---
title: A struck seventh
verset:
  metre: C
  signature: none
{allow}---

```given
cantus C1 | E5/1
bassus F4 | C3/1 | G3/1{{7}} | C3/1
```
"""
STRUCK = {"rule": "suspension-unprepared", "because": "sevenths are struck"}
ALLOWED = '  allow:\n    - {rule: suspension-unprepared, because: "sevenths are struck"}\n'


def wrong(findings):
    return [f.rule for f in findings if f.severity == "error" and not f.allowed]


def test_a_seventh_that_nothing_prepares_is_refused_with_its_rule():
    verset = parse(SOURCE.format(allow=""))
    (refused,) = [f for f in realise(verset, analyse(verset)).findings if f.rule == "no-way"]
    assert "suspension without preparation" in refused.message


def test_a_licence_without_a_bar_opens_it_in_the_whole_verset_and_its_reason_is_told():
    verset = parse(SOURCE.format(allow=ALLOWED))
    found = realise(verset, analyse(verset))
    assert wrong(found.findings) == []
    (met,) = [f for f in found.findings if f.rule == "suspension-unprepared"]
    assert (met.place.bar, met.allowed) == (3, "sevenths are struck")
    assert [n.pitch.letter for n in found.score.part("cantus").sounding()][-2:] == ["F", "E"]
    assert parse(write(verset)).licences[0].bar == 0


def test_a_course_opens_it_in_all_its_versets_and_no_verset_need_use_it():
    course = Defaults(licences=course_licences([STRUCK]))
    verset = parse(SOURCE.format(allow=""))
    made = set_verset(verset, course)
    assert made.errors == ()
    assert made.report()["licences"][0] == {
        "rule": "suspension-unprepared",
        "bar": None,
        "voices": [],
        "because": "sevenths are struck",
    }
    assert "allow:" not in write(made.verset)
    plain = set_verset(parse(SOURCE.format(allow="").replace("{7}", "")), course)
    assert not [text for text in plain.warnings() if "licence" in text]
    unused = set_verset(parse(SOURCE.format(allow=ALLOWED).replace("{7}", "")))
    assert [text for text in unused.warnings() if "licence" in text] == [
        "line 7: the licence for suspension-unprepared allows nothing: the rule is kept everywhere"
    ]


def test_the_check_of_a_source_knows_what_its_course_allows(tmp_path: Path, capsys):
    source = tmp_path / "content" / "struck.md"
    source.parent.mkdir()
    source.write_text(SOURCE.format(allow=""), "utf-8")
    assert check([source], False) == 1
    allow = "[{rule: suspension-unprepared, because: sevenths are struck}]"
    (tmp_path / "mkdocs.yml").write_text(f"plugins:\n  - verset:\n      allow: {allow}\n", "utf-8")
    assert check([source], False) == 0
    assert "sevenths are struck" in capsys.readouterr().out


def test_what_is_struck_must_still_fall():
    """The licence for one rule is none for the other: a seventh that rises stays an error."""
    pinned = SOURCE.format(allow=ALLOWED) + "\n```plain\ncantus 3 | F5/1 | G5/1\n```\n"
    verset = parse(pinned)
    assert wrong(realise(verset, analyse(verset)).findings) == ["suspension-unresolved"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"rule": "dissonanse", "because": "x"}, "rule 'dissonanse'; one of dissonance"),
        ({"rule": "dissonance"}, "may stand there"),
        ({"rule": "dissonance", "because": "x", "bar": 2}, "may stand there"),
        ({"rule": "dissonance", "because": "x", "voices": ["alto"]}, "cantus, altus, tenor or bassus"),
        ({"rule": "dissonance", "because": 3}, "a text may stand there"),
        ("dissonance", "may stand there"),
    ],
)
def test_a_licence_that_a_course_cannot_give_is_told(asked, said):
    with pytest.raises(ValueError, match=said):
        course_licences([asked])
