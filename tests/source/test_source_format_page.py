"""Every example on the page about the source format is what it says it is."""

import re
from pathlib import Path

import pytest

from builder.source import SourceErrors, parse
from builder.source.front import KEYS

PAGE = Path(__file__).parents[2] / "content" / "format.md"
FENCE = re.compile(r"^(`{3,})(\w+)\n(.*?)^\1$", re.MULTILINE | re.DOTALL)
FRONT = "---\ntitle: An example\nverset:\n  metre: C\n  signature: none\n---\n"


def examples(kind: str) -> list[str]:
    return [body for _, found, body in FENCE.findall(PAGE.read_text("utf-8")) if found == kind]


@pytest.mark.parametrize("source", examples("markdown"))
def test_a_whole_source_on_the_page_is_read(source: str) -> None:
    assert parse(source).given


@pytest.mark.parametrize("music", examples("given"))
def test_a_given_line_on_the_page_is_read(music: str) -> None:
    assert parse(f"{FRONT}```given\n{music}```\n").given


@pytest.mark.parametrize("settings", examples("yaml"))
def test_settings_on_the_page_are_read(settings: str) -> None:
    front = "---\ntitle: An example\nverset:\n" + re.sub(r"^", "  ", settings, flags=re.MULTILINE).rstrip(" ")
    verset = parse(f"{front}---\n```given\ncantus C1 | D5/1. | D5/1. |\n```\n")
    assert (verset.tone, verset.settings.pitch, len(verset.licences), len(verset.readings)) == (
        6,
        466.0,
        3,
        1,
    )


def test_the_faulty_lines_on_the_page_give_the_report_beside_them() -> None:
    (music,) = examples("faulty")
    (report,) = examples("text")
    with pytest.raises(SourceErrors) as caught:
        parse(f"{FRONT}```given\n{music}```\n")
    assert str(caught.value) + "\n" == report


def test_every_fence_of_the_page_is_covered_here() -> None:
    kinds = {kind for _, kind, _ in FENCE.findall(PAGE.read_text("utf-8"))}
    assert kinds == {"markdown", "given", "yaml", "faulty", "text", "ebnf"}


def test_every_key_of_the_front_matter_is_on_the_page() -> None:
    text = PAGE.read_text("utf-8")
    assert all(f"| `{key}` |" in text for key in KEYS)


def test_the_symbols_of_the_tables_are_read() -> None:
    """The first column of the tables of notes and figures: each piece in backticks is music."""
    text = PAGE.read_text("utf-8")
    rows = re.findall(r"^\| (`.*`) \|", text, re.MULTILINE)
    pieces = [piece for row in rows for piece in re.findall(r"`([^`]+)`", row)]
    notes = [p for p in pieces if re.match(r"[A-GR].*/", p) and not p.startswith("C|")]
    figures = [p for p in pieces if p.startswith("{")]
    assert len(notes) >= 11 and len(figures) >= 15
    for figure in figures:
        assert parse(f"{FRONT}```given\ncantus C1 | D5/1{figure}\n```\n").given[0].figures
    for note in notes:
        if note.endswith("~"):
            note += f" | {note.rstrip('~')}"
        with pytest.raises(SourceErrors) as caught:  # alone in a bar of C too short or too long, and no more
            parse(f"{FRONT}```given\ncantus C3 | {note} | D4/64\n```\n")
        assert all("a bar of" in e.found for e in caught.value.errors)
