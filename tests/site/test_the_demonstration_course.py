"""The demonstration course is what it says. Every source reads and is set, and no rule warns of it."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
import yaml
from course import set_once

from builder.analysis import Analysis, analyse
from builder.language.texts import texts
from builder.music import Version
from builder.source import Verset, is_source, read

ROOT = Path(__file__).resolve().parents[2]
CONTENT = ROOT / "content"
SOURCES = sorted(path for path in CONTENT.rglob("*.md") if is_source(path.read_text("utf-8")))
BORNE = {"fourth-by-step"}
"""The double cadence enters its fourth by step, and brings a warning that allows it."""


@pytest.fixture(scope="module")
def course() -> dict[str, tuple[Verset, Analysis]]:
    versets = {path.stem: read(path) for path in SOURCES}
    return {name: (verset, analyse(verset)) for name, verset in versets.items()}


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_every_source_reads_and_is_set_and_no_warning_is_told_of_it_or_its_plain_setting(path: Path) -> None:
    setting = set_once(path)
    assert setting.warnings("en") == ()
    plain = {f.rule for version, f in setting.findings if f.severity != "note" and version == Version.PLAIN}
    assert plain <= BORNE
    assert not [f for _, f in setting.findings if f.severity == "error"]


def test_there_are_three_versets_in_each_tone_in_two_three_and_four_voices(course) -> None:
    tones = Counter(analysis.tone for _, analysis in course.values())
    assert tones == dict.fromkeys(range(1, 9), 3)
    assert set(Counter(analysis.voices for _, analysis in course.values())) == {2, 3, 4}


def test_all_metres_all_cadences_the_high_clefs_and_both_lengths_are_there(course) -> None:
    assert {verset.metre.symbol for verset, _ in course.values()} >= {"C", "C|", "3/2"}
    kinds = {cadence.kind for _, analysis in course.values() for cadence in analysis.cadences}
    assert kinds >= {"semplice", "composta", "doppia", "mi", "evaded"}
    clefs = [{str(g.clef) for g in verset.given} for verset, _ in course.values()]
    assert sum(used >= {"G2", "C2", "C3", "F3"} for used in clefs) == 1
    bars = [len(verset.bars) for verset, _ in course.values()]
    assert min(bars) <= 9 and max(bars) >= 30


def test_no_two_versets_share_a_title_or_a_theme(course) -> None:
    assert len({verset.title for verset, _ in course.values()}) == len(course) == 24
    themes = set()
    for verset, analysis in course.values():
        notes = [g.note for g in verset.given][: analysis.theme.notes]
        first = notes[0].pitch
        themes.add(tuple((n.pitch.diatonic - first.diatonic, n.duration) for n in notes if n.pitch and first))
    assert len(themes) == len(course)


def test_no_new_verset_has_the_title_of_a_lesson_or_of_another_seed(course) -> None:
    say = texts("invention")
    new = [say(f"title.{tone}", seed=seed) for tone in range(1, 9) for seed in (0, 1)]
    assert len({*new, *(verset.title for verset, _ in course.values())}) == len(new) + len(course)


def test_every_page_of_words_and_music_has_its_place_in_the_table_of_contents() -> None:
    nav = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))["nav"]

    def pages(part: object) -> list[str]:
        if isinstance(part, str):
            return [part]
        inside = part.values() if isinstance(part, dict) else part
        return [page for each in inside for page in pages(each)]

    there = sorted(path.relative_to(CONTENT).as_posix() for path in CONTENT.rglob("*.md"))
    assert sorted(pages(nav)) == there
