"""Every example of music in the README and on the pages of the course can be used as it stands: it is read,
set in voices and diminished, and breaks no rule."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from builder.setting.setting import is_error, set_verset
from builder.source import parse

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", ROOT / "builder/cli/course/example.md", *sorted((ROOT / "content").glob("*.md")))
FENCE = re.compile(r"^(`{3,})(\w+)\n(.*?)^\1$", re.MULTILINE | re.DOTALL)
FRONT = "---\ntitle: An example\nverset: {metre: C, signature: none}\n---\n"


def examples(page: Path) -> list[str]:
    """The sources a page shows; a given line by itself stands in a bar of C without signature."""
    text = page.read_text("utf-8")
    if text.startswith("---") and "\nverset:" in text.split("---")[1]:
        return [text]  # the page is a source itself
    found = []
    for _, kind, body in FENCE.findall(text):
        if kind == "given":
            found.append(f"{FRONT}```given\n{body}```\n")
        elif "```given" in body:
            found.append(body if body.startswith("---") else FRONT + body)
    return found


EXAMPLES = [
    pytest.param(source, id=f"{page.name}-{n + 1}")
    for page in PAGES
    for n, source in enumerate(examples(page))
]


@pytest.mark.parametrize("source", EXAMPLES)
def test_an_example_of_the_documents_is_set_and_graced_without_a_fault(source: str) -> None:
    setting = set_verset(parse(source))
    assert [(v, f.rule, str(f.place)) for v, f in setting.findings if is_error(f)] == []
    above = [n for part in setting.scores["plain"].parts[:-1] for n in part.notes if n.pitch]
    assert above or len(setting.verset.voices) == 1


def test_the_pinned_close_of_the_format_page_keeps_its_pins_and_gives_no_cause_for_a_word() -> None:
    (source,) = (s for s in examples(ROOT / "content/format.md") if "```plain" in s)
    setting = set_verset(parse(source))
    assert [(v, f.rule) for v, f in setting.findings if f.severity == "error"] == []
    assert [f.rule for v, f in setting.findings if v == "plain" and f.severity != "note"] == []
    assert {pin.version for pin in setting.verset.pins} == {"plain", "diminished"}
    for pin in setting.verset.pins:
        for pinned in pin.notes:
            sung = setting.scores[pin.version].part(pin.voice).at(pinned.onset)
            assert sung is not None and sung.pitch == pinned.pitch


def test_the_readme_the_format_and_the_first_course_have_examples() -> None:
    count = {page.name: len(examples(page)) for page in PAGES}
    assert count["README.md"] >= 1 and count["format.md"] >= 7 and count["example.md"] == 1
