"""What is too large, too deep or no plain value is refused with its place, in little time and memory."""

from __future__ import annotations

import io
import time
import tracemalloc
import zipfile

import pytest

from builder.counterpoint.check.musicxml import UnreadableScore, read_musicxml
from builder.edition.exchange.midi import midi
from builder.setting.setting import set_verset
from builder.source import SourceErrors, is_source, parse
from builder.source.front import page_front
from builder.source.limits import LARGEST, MOST_BARS, MOST_BYTES, MOST_ELEMENTS
from builder.source.musicxml import parse_musicxml, unpacked

FRONT = "title: A\nverset: {metre: C, signature: none}\n"
GIVEN = "```given\ncantus C1 | D5/1\n```\n"


def source(front: str = FRONT, given: str = GIVEN) -> str:
    return f"---\n{front}---\n\n{given}"


def refused(text: str) -> str:
    with pytest.raises(SourceErrors) as told:
        parse(text, "a.md")
    return str(told.value)


@pytest.mark.parametrize(
    ("front", "where", "found"),
    [
        ("title: &a A\nlanguage: en\n", "a.md:2:8", "the anchor &a"),
        ("title: A\nlanguage: [*a, *a]\n", "a.md:3:12", "the alias *a"),
        ("title: !!str A\n", "a.md:2:8", "the tag tag:yaml.org,2002:str"),
        ("title: !!python/object/apply:os.system ['x']\n", "a.md:2:8", "the tag"),
        ("title: A\ndate: 2024-02-30\n", "a.md:3:7", "the date"),
        ("title: A\nwhen: 2024-02-03\n", "a.md:3:7", "the date"),
        ("title: A\nweight: .inf\n", "a.md:3:9", "weight"),
        ("title: A\nmap: {deep: [1, .nan]}\n", "a.md:3:17", ".nan"),
        ("title: A\nx: 1\nx: 2\n", "a.md:4:1", "a second time"),
        ('title: A\nx: "\\u001b[31m"\n', "a.md:3:4", "cannot be printed"),
        ("title: A\nx: " + "[" * 40 + "]" * 40 + "\n", "a.md:3:15", "nested too deeply"),
        ("title: A\nx: [" + "a, " * 5000 + "]\n", "a.md:3", "too many values"),
        ("title: A\nx: " + "a" * 70_000 + "\n", "a.md:2:1", "front matter of"),
    ],
)
def test_front_matter_is_texts_numbers_lists_and_maps(front: str, where: str, found: str) -> None:
    told = refused(source(front + "verset: {metre: C, signature: none}\n"))
    assert told.startswith(where) and found in told
    with pytest.raises(SourceErrors):
        page_front(source(front), "a.md")


def test_a_page_of_the_course_may_have_a_date_that_is_one() -> None:
    assert str(page_front("---\ndate: 2024-02-03\n---\n", "a.md", dates=True)["date"]) == "2024-02-03"
    with pytest.raises(SourceErrors):
        page_front("---\ndate: 2024-02-30\n---\n", "a.md", dates=True)


def test_an_alias_bomb_is_refused_before_anything_is_made_of_it() -> None:
    bomb = "a: &a [x, x, x, x, x, x, x, x, x, x]\n"
    for here, there in zip("bcdefghi", "abcdefgh"):
        bomb += f"{here}: &{here} [{', '.join(['*' + there] * 10)}]\n"
    text = source(f"{bomb}language: *i\n{FRONT}")
    tracemalloc.start()
    assert is_source(text)
    assert "the anchor &a" in refused(text)
    assert tracemalloc.get_traced_memory()[1] < 5_000_000
    tracemalloc.stop()


def test_a_verset_has_an_end() -> None:
    bars = " | ".join(["D5/1"] * (MOST_BARS + 1))
    told = refused(source(given=f"```given\ncantus C1 | {bars}\n```\n"))
    assert told.startswith(f"a.md:7:{13 + 7 * MOST_BARS}: ") and f"{MOST_BARS + 1} bars" in told
    good = " | ".join(["D5/1"] * MOST_BARS)
    assert len(parse(source(given=f"```given\ncantus C1 | {good}\n```\n")).bars) == MOST_BARS


def test_a_source_has_a_size() -> None:
    assert "characters" in refused(source() + "a" * MOST_BYTES)


def test_a_file_of_errors_is_told_in_part_and_at_once() -> None:
    began = time.perf_counter()
    told = refused(source(given="```given\ncantus C1 | " + "x| " * 3_000 + "\n```\n"))
    assert "more errors" in told and told.count("\n") < 1000
    assert "symbols" in refused(source(given="```given\ncantus C1 | " + "x|" * 60_000 + "\n```\n"))
    assert time.perf_counter() - began < 2


def test_what_would_steer_a_terminal_is_shown_as_a_sign() -> None:
    told = refused(source(given="```given\ncantus C1 | \x1b[2JD5/1 \u202e\x9bD5/2\n```\n"))
    assert not set(told) & set("\x1b\x9b\u202e") and "␛[2J" in told


def packed(document: bytes, said: int = 0) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>',
        )
        z.writestr("a.xml", document)
    data = bytearray(file.getvalue())
    if said:  # the list of contents tells another size
        at = data.index(b"PK\x01\x02", data.index(b"PK\x01\x02") + 1) + 24
        data[at : at + 4] = said.to_bytes(4, "little")
    return bytes(data)


@pytest.mark.parametrize("said", [0, 100])
def test_a_packed_file_is_bounded_in_build_and_in_check(tmp_path, said: int) -> None:
    data = packed(b"<score-partwise>" + b" " * (5 * LARGEST), said)
    path = tmp_path / "a.mxl"
    path.write_bytes(data)
    tracemalloc.start()
    with pytest.raises(SourceErrors):
        parse_musicxml(unpacked(data, "a.mxl"))
    with pytest.raises(UnreadableScore):
        read_musicxml(path)
    assert tracemalloc.get_traced_memory()[1] < 60_000_000
    tracemalloc.stop()


def test_a_file_of_elements_without_end_is_refused(tmp_path) -> None:
    path = tmp_path / "a.musicxml"
    path.write_bytes(b"<a>" + b"<b/>" * (MOST_ELEMENTS + 1) + b"</a>")
    with pytest.raises(UnreadableScore, match="elements"):
        read_musicxml(path)


def test_a_score_of_too_many_notes_is_refused(tmp_path) -> None:
    path = tmp_path / "a.musicxml"
    path.write_bytes(b"<a>" + b"<note/>" * 12_001 + b"</a>")
    with pytest.raises(UnreadableScore, match="12001 notes"):
        read_musicxml(path)


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("beat: eighth = 10", "the tempo"),
        ("beat: half = 9", "the tempo"),
        ("beat: half = 401", "the tempo"),
        ("pitch: 3", "pitch"),
        ("pitch: .inf", "pitch"),
        ("seed: " + "9" * 5000, "seed"),
    ],
)
def test_what_no_organ_plays_is_refused(line: str, found: str) -> None:
    told = refused(source(f"title: A\nverset:\n  metre: C\n  signature: none\n  {line}\n"))
    assert told.startswith("a.md:6:") and f"found {found}" in told


@pytest.mark.parametrize("beat", ["dotted breve = 10", "dotted breve = 400", "quarter = 10", "eighth = 20"])
def test_slow_and_fast_beats_go_into_a_midi_file(beat: str) -> None:
    text = f"title: A\nverset: {{metre: C, signature: none, beat: {beat}}}\n"
    setting = set_verset(parse(source(text)))
    assert midi(setting.scores["given"], setting.tempo).startswith(b"MThd")
