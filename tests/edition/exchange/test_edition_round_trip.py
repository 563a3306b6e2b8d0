"""Our MEI and MusicXML of a given line are sources again: the same verset, and so the same realisation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from course import course_setting

from builder.edition.exchange.mei import mei
from builder.edition.exchange.musicxml import given_musicxml
from builder.music import notated
from builder.setting.setting import Setting, set_verset
from builder.source import SourceErrors, Span, Verset, parse, read, read_mei, read_musicxml

VERSETS = sorted((Path(__file__).parents[3] / "content" / "versets").glob("*.md"))
NOWHERE = Span(0, 0)
Through = Callable[[Verset, Path], Verset]


def musicxml_way(verset: Verset, folder: Path) -> Verset:
    path = folder / f"{verset.name}.musicxml"
    path.write_text(given_musicxml(verset, notated(verset.score())), "utf-8")
    return read_musicxml(path)


def mei_way(verset: Verset, folder: Path) -> Verset:
    path = folder / f"{verset.name}.mei"
    path.write_text(mei(verset, notated(verset.score())), "utf-8")
    return read_mei(path)


WAYS = pytest.mark.parametrize("through", [musicxml_way, mei_way])


def placeless(verset: Verset) -> Verset:
    """A verset without its file and the places of its symbols there."""
    return replace(
        verset,
        path="",
        given=tuple(replace(g, span=NOWHERE) for g in verset.given),
        pins=tuple(replace(p, spans=()) for p in verset.pins),
        licences=tuple(replace(x, span=NOWHERE) for x in verset.licences),
        readings=tuple(replace(x, span=NOWHERE) for x in verset.readings),
    )


def music(setting: Setting) -> tuple[object, ...]:
    return setting.scores, setting.findings, setting.realisation.cost, setting.registration


@WAYS
@pytest.mark.parametrize("path", VERSETS, ids=lambda p: p.stem)
def test_a_verset_of_the_course_comes_back_with_its_realisation(
    path: Path, through: Through, tmp_path: Path
) -> None:
    verset = read(path)
    again = through(verset, tmp_path)
    assert placeless(again) == placeless(verset)
    assert music(set_verset(again)) == music(course_setting(path.stem))


@WAYS
def test_what_a_course_chose_and_another_pitch_come_back_too(through: Through, tmp_path: Path) -> None:
    """A file leaves its course: it says by itself what tuning and pitch it was made at."""
    source = read(VERSETS[0])
    setting = set_verset(replace(source, settings=replace(source.settings, move="a tone lower", pitch=465.0)))
    again = through(setting.verset, tmp_path)
    assert again.settings.tuning == "quarter-comma"
    assert again.settings.pitch == 465.0
    assert music(set_verset(again)) == music(setting)


PINNED = """---
title: Pinned
verset:
  metre: C
  signature: none
  readings:
    - {bar: 2, source: "no figures", adopted: "7 6"}
---

Words <b>with</b> ]]> marks & "signs".

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
tenor  C4 | A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2
```

```plain
cantus 3 | E5/2 _/2
```

## tenor

The answer.
"""


@WAYS
def test_pinned_notes_readings_and_words_come_back(through: Through, tmp_path: Path) -> None:
    verset = parse(PINNED, "pinned.md")
    assert verset.pins
    again = through(verset, tmp_path)
    assert placeless(again) == placeless(verset)
    assert all(span.line > 1 for pin in again.pins for span in pin.spans)


def test_where_someone_changed_the_music_the_music_counts(tmp_path: Path) -> None:
    verset = parse(PINNED, "pinned.md")
    text = given_musicxml(verset, notated(verset.score()))
    assert text.count("<step>B</step>") == 2
    path = tmp_path / "changed.musicxml"
    path.write_text(text.replace("<step>B</step>", "<step>G</step>", 1), "utf-8")
    again = read_musicxml(path)
    assert [g.note.pitch.letter for g in again.given if g.note.pitch][:3] == ["D", "A", "G"]
    assert again.pins == tuple(replace(p, spans=again.pins[0].spans) for p in verset.pins)


def test_what_no_longer_fits_the_music_is_told(tmp_path: Path) -> None:
    verset = parse(PINNED, "pinned.md")
    text = given_musicxml(verset, notated(verset.score()))
    first, _, rest = text.partition('<measure number="3">')
    path = tmp_path / "cut.musicxml"
    path.write_text(f"{first}</part></score-partwise>", "utf-8")
    assert rest
    with pytest.raises(SourceErrors, match="bar 3"):
        read_musicxml(path)
