"""A lesson's pages as Markdown: what each says, in its order, with links that lead there."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from builder.language.texts import page_texts
from builder.music import Version
from builder.pages.build import Making, build_lesson
from builder.pages.facts import where
from builder.pages.lesson import Lesson, LessonPage
from builder.setting.setting import Defaults, Setting

SOURCE = """---
title: Two *parts*
subtitle: kept
verset: {metre: C, signature: none, registration: principale and flauto}
---

The teacher's words.

```given
cantus C1 | D5/2 A4/4. B4/8 | C5/4 B4/4 A4/2
bassus F4 | A3/2 D3/4. E3/8 | F3/4{6} E3/4{7 #6} D3/2
```

## bassus

Words for the bass.

## whole

Words for the whole.
"""
OVERVIEW = """\
---
title: Two *parts*
subtitle: kept
---

# Two &#42;parts&#42;

The teacher's words.

<div data-verset-slot="practice"></div>

<span data-board="given"></span>

## What is found

- Tone: **first tone** (final D)
- Voices: 2 (cantus, bassus)
- Metre: C
- Length: 4 bars, about 10 s
- Theme: 6 notes, D5 A4 B4 C5 B4 A4
- Tuning: Quarter-comma meantone, A at 440 Hz
- Registration: principale and flauto

<span data-board="given"></span>

### Why this tone

- the last note, D, is the final
- the signature (none) is this tone’s
- its reciting note, A, takes 34 % of the line
- entries on D and A: 2 of 2
- cadences on its degrees (D, A and F): 1 of 1

<span data-board="given"></span>

### Entries

- **Cantus, bar 1, beat 1: D5 in clef C1** · theme<br>the first voice to sound: 6 notes that the other \
entries imitate
- **Bassus, bar 3, beat 1: A3 in clef F4** · tonal answer<br>all 6 notes, an octave and a fifth below; \
bent so that final and fifth change places (D5 answered by A3 and A4 answered by D3)

<span data-board="given"></span>

### Cadences

- **Bar 4, beat 3, on D** · *composta*<br>the clausula of the tenor in the lowest voice: it falls a tone \
from E to D, with the major sixth above it; the seventh is held and falls to the sixth

## The steps

1. [Cantus alone](two/cantus.md): bars 1 to 2
2. [Bassus enters](two/bassus.md): bar 2, beat 3, to bar 4, beat 2
3. [The cadence](two/cadence.md): bar 4, beat 2, to bar 4, beat 4
4. [The whole](two/whole.md): bars 1 to 4

## To print, to hear, to keep

- The verset: [braille music](two/files/two.brf), [report](two/files/report.json)
"""


def made(folder: Path, source: str = SOURCE, **chosen: object) -> tuple[Lesson, Setting]:
    path = folder / "two.md"
    path.write_text(source)
    making = Making("versets/two.md", Defaults(), rules_uri="rules.md", audio=False, pdf=False)
    return build_lesson(path, replace(making, **chosen), folder / "work")


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> tuple[Lesson, Setting]:
    return made(tmp_path_factory.mktemp("lesson"))


def page(lesson: Lesson, name: str) -> LessonPage:
    return next(p for p in lesson.pages if p.uri == f"versets/{name}.md")


def table(markdown: str, heading: str) -> list[list[str]]:
    """The rows of the table under a heading, without its head."""
    after = markdown.partition(f"## {heading}\n")[2]
    rows = [line for line in after.splitlines() if line.startswith("|")]
    head = after.find(rows[0])
    block = after[head:].partition("\n\n")[0].splitlines()
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in block[2:]]


def test_the_pages_are_the_overview_the_steps_and_the_whole(lesson) -> None:
    found, _ = lesson
    assert [(p.uri, p.title) for p in found.pages] == [
        ("versets/two.md", "Overview"),
        ("versets/two/cantus.md", "Cantus alone"),
        ("versets/two/bassus.md", "Bassus enters"),
        ("versets/two/cadence.md", "The cadence"),
        ("versets/two/whole.md", "The whole"),
    ]
    assert (found.uri, found.title, found.tone) == ("versets/two.md", "Two *parts*", 1)
    summary = dict(found.summary)
    assert summary.pop("line").count("<svg") == 1 and summary.pop("work") == "two-2.2-4.2 two-4.1-4"
    assert summary == {
        "tone": "first tone",
        "voices": "2 (cantus, bassus)",
        "cadence": "composta",
        "length": "4 bars, about 10 s",
    }
    assert found.errors == ()


def test_the_overview_says_what_was_found_and_leads_to_steps_and_files(lesson) -> None:
    text = page(lesson[0], "two").markdown
    assert text.startswith(OVERVIEW)
    links = re.findall(r"\]\(two/files/([^)]+)\)", text)
    assert {f"versets/two/files/{name}" for name in links} == {d.uri for d in lesson[0].downloads}
    groups = re.findall(r"^- ([^:\n]+): \[", text.partition("## To print")[2], re.M)
    assert groups == ["The verset", "Given line", "Plain", "In voices", "Diminished", "Full diminution"]


def test_each_step_has_its_title_its_lead_and_the_teachers_words(lesson) -> None:
    text = page(lesson[0], "two/bassus").markdown
    assert text.startswith("---\ntitle: Bassus enters · Two *parts*\n---\n\n# Bassus enters\n\n")
    assert "**Bar 2, beat 3, to bar 4, beat 2.** The bassus enters on A3 in clef F4: tonal answer" in text
    assert "\n\nWords for the bass.\n\n<div data-verset-slot" in text
    assert "Words for" not in page(lesson[0], "two/cadence").markdown
    whole = page(lesson[0], "two/whole")
    assert "All 2 voices from first to last." in whole.markdown and "Words for the whole." in whole.markdown
    assert sorted(whole.slots) == ["plan", "practice"] and "<svg" in whole.slots["plan"]


@pytest.mark.parametrize("name", ["two/bassus", "two/cadence"])
def test_the_table_above_the_line_has_the_notes_of_the_plain_setting(lesson, name: str) -> None:
    found, setting = lesson
    step = next(s for s in setting.analysis.steps if name.endswith(s.name))
    rows = table(page(found, name).markdown, "Above the line")
    sounding = [s for s in setting.realisation.sonorities if step.start <= s.onset < step.end]
    assert [row[0] for row in rows] == [
        where(setting.verset.place(s.onset), page_texts("en")) for s in sounding
    ]
    upper = setting.realisation.score.part("cantus")
    for row, sonority in zip(rows, sounding, strict=True):
        given = setting.verset.given_at(sonority.onset)
        now = given.note.pitch if given.voice == "cantus" else upper.at(sonority.onset).pitch
        assert row[3] == page_texts("en").written(now)


def test_each_grace_of_a_step_stands_with_plain_notes_and_reason(lesson) -> None:
    found, setting = lesson
    step = next(s for s in setting.analysis.steps if s.name == "bassus")
    graces = [c for c in setting.diminution.choices if step.start <= c.onset < step.end]
    rows = table(page(found, "two/bassus").markdown, "Graces")
    assert graces and len(rows) == len(graces)
    for row, choice in zip(rows, sorted(graces, key=lambda c: c.onset), strict=True):
        say = page_texts("en").written
        assert row[3] == (" ".join(say(n.pitch) for n in choice.notes) or "–")  # a rest
        assert row[2] == " ".join(say(n.pitch) for n in choice.replaced or (choice.plain,))
        assert row[4].endswith(".")


def test_the_player_of_a_step_has_its_versions_and_its_stretch(lesson) -> None:
    found, setting = lesson
    step = next(s for s in setting.analysis.steps if s.name == "bassus")
    html = page(found, "two/bassus").slots["practice"]
    data = json.loads(re.search(r"verset-play\">(.*?)</script>", html)[1])
    assert set(data["versions"]) >= {"given", "plain", "diminished"}
    assert data["span"]["start"] == round(setting.tempo.seconds(step.start), 4)
    labels = re.findall(r"<figcaption>(.*?)</figcaption>", html)
    assert labels[0].startswith("Two *parts*, given line, bar 2, beat 3, to bar 4, beat 2")


def test_what_breaks_a_rule_is_told_with_a_way_to_the_rule_and_stops_a_strict_build(tmp_path: Path) -> None:
    source = SOURCE + "\n```plain\ncantus 3 | E5/2 A4/2 | A4/4 B4/4 D5/2\n```\n"
    found, setting = made(tmp_path, source)
    assert found.errors
    assert found.errors[0].startswith(f"{tmp_path / 'two.md'}: plain: bar ")
    rule = next(f for v, f in setting.findings if v == Version.PLAIN and f.severity == "error").rule
    text = page(found, "two/bassus").markdown + page(found, "two/cadence").markdown
    assert f"](../../rules.md#{rule})" in text and " · plain · " in text


def test_the_same_lesson_in_another_language(tmp_path: Path) -> None:
    found, _ = made(tmp_path, language="it")
    assert [p.title for p in found.pages] == [
        "Panoramica",
        "Voce sola: canto",
        "Entrata: basso",
        "La cadenza",
        "Il versetto intero",
    ]
    text = page(found, "two").markdown
    assert "- Tono: **primo tono** (finale re)" in text
    assert "mesotonico a un quarto di comma" in text and "principale e flauto" in text
    assert "What is found" not in text


ALONE = """
import sys
from pathlib import Path
from builder.pages.build import Making, build_lesson
from builder.setting.setting import Defaults
build_lesson(Path(sys.argv[1]), Making("two.md", Defaults(), files=False), Path(sys.argv[2]))
print([name for name in ("scipy.signal", "scipy.fft", "music21", "pyloudnorm") if name in sys.modules])
"""


def test_pages_alone_wait_for_no_library_of_sound_or_interchange(tmp_path: Path) -> None:
    """Each takes up to a second to read in, and who has saved a verset while it is served waits for it."""
    (tmp_path / "two.md").write_text(SOURCE, "utf-8")
    command = [sys.executable, "-c", ALONE, str(tmp_path / "two.md"), str(tmp_path)]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout == "[]\n"
