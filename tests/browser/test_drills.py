"""Drills in the browser, from a disk with the network cut: opened, answered, judged, remembered, printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from sample import _theme
from test_keys_on_screen import key
from test_reader_screens import violations
from waiting import until

from builder.language.texts import page_texts
from builder.pages import assets
from builder.pages.drills.course import CourseMusic
from builder.pages.drills.data import common_data, drill_data, drill_file, drill_uri, opening
from builder.pages.lesson import ROOT
from builder.pages.policy import policy, with_policy

STEPS = {
    "clefs": 2,
    "syllables": 3,
    "figures": 3,
    "cadences": 2,
    "answers": 1,
    "diminution": 1,
    "entries": 1,
}
ROOM = "document.querySelector('.verset-drills').drills"
TASKS = "(name) => window.versetDrills[name]"


@pytest.fixture(scope="session")
def drills_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page of a few drills with its files, under the policy of a site."""
    folder = tmp_path_factory.mktemp("drills")
    words, music = page_texts("en"), CourseMusic(tones=(1,), figures=("", "6", "7 6"))
    files = {"common": common_data(music, words)}
    files |= {name: drill_data(name, music, steps, words) for name, steps in STEPS.items()}
    made = {asset.uri: asset.content for asset in assets.all_assets()}
    made |= {drill_uri(name): drill_file(name, data).encode() for name, data in files.items()}
    for uri, content in made.items():
        (folder / uri).parent.mkdir(parents=True, exist_ok=True)
        (folder / uri).write_bytes(content)
    html = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Drills</title>'
        f'<meta name="viewport" content="width=device-width,initial-scale=1">{_theme()}'
        f'<link rel="stylesheet" href="{assets.HOME}/reader.css">'
        f'<script src="{assets.HOME}/reader.js" defer></script></head>'
        '<body data-md-color-scheme="default"><main class="md-content"><article class="md-typeset">'
        f"<h1>Drills</h1>{opening(STEPS, words).replace(ROOT, '')}</article></main></body></html>"
    )
    (folder / "drills.html").write_text(with_policy(html, policy()), "utf-8")
    return folder / "drills.html"


def opened(page: Page) -> Page:
    page.get_by_role("button", name="Begin").click()
    page.locator(".verset-drill-table").wait_for()
    return page


@pytest.fixture
def page(visit: Any, drills_page: Path) -> Page:
    return opened(visit(drills_page))


def begin(page: Page, *names: str, seed: float = 0.0) -> None:
    """A session of these drills whose dice always fall alike."""
    page.evaluate(f"{ROOM}.dice = () => {seed}")
    page.evaluate(f"(names) => {ROOM}.begin(names)", list(names))
    until(page, f"{ROOM}.session && {ROOM}.session.asked")


def now(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(f"{ROOM}.session.now.task")
    return found


def verdict(page: Page) -> str:
    return page.locator(".verset-drill-verdict").inner_text()


def midi(pitch: list[int]) -> int:
    step, alter = pitch
    return 12 * (step // 7 + 1) + (0, 2, 4, 5, 7, 9, 11)[step % 7] + alter


def test_a_course_carries_the_drills_that_its_pages_ask_for(visit: Any, site: Path) -> None:
    files = {path.name for path in (site / "assets/verset").glob("drill-*.js")}
    assert files == {"drill-common.js", "drill-diminution.js"}
    page = opened(visit(site / "diminutions.html"))
    begin(page, "diminution")
    for step, alter in now(page)["right"][0]["notes"]:
        page.evaluate(f"(key) => {ROOM}.session.stage.played(key)", midi([step, alter]))
    assert "Right" in verdict(page)


def test_nothing_of_the_drills_is_loaded_before_they_are_opened(visit: Any, drills_page: Path) -> None:
    page = visit(drills_page)
    until(page, "document.querySelector('.verset-drills.is-awake')")
    loaded = "[...document.scripts].map((s) => s.src.split('/').pop()).filter(Boolean)"
    assert page.evaluate(loaded) == ["reader.js"]
    opened(page)
    assert page.evaluate(loaded)[-2:] == ["drills.js", "drill-common.js"]
    begin(page, "clefs")
    assert page.evaluate(loaded)[-1] == "drill-clefs.js"
    assert not page.evaluate(f"({TASKS})('figures')")


def test_a_note_is_named_by_its_letter_or_played_on_its_key(page: Page) -> None:
    begin(page, "clefs")
    (pitch,) = now(page)["right"][0]["notes"]
    page.keyboard.press("cdefgab"[pitch[0] % 7])
    assert "Right" in verdict(page)
    page.keyboard.press("Enter")
    (pitch,) = now(page)["right"][0]["notes"]
    key(page, midi(pitch)).click(position={"x": 4, "y": 80}, force=True)
    assert "Right" in verdict(page)
    page.keyboard.press("Enter")
    (pitch,) = now(page)["right"][0]["notes"]
    page.keyboard.press("cdefgab"[(pitch[0] + 1) % 7])
    assert "Not so" in verdict(page) and "It is" in verdict(page)


def test_what_was_wrong_comes_back_after_three_others(page: Page) -> None:
    begin(page, "clefs", seed=0.3)
    first = now(page)["id"]
    page.keyboard.press("?")
    for _ in range(3):
        page.keyboard.press("Enter")
        task = now(page)
        assert task["id"] != first
        page.keyboard.press("cdefgab"[task["right"][0]["notes"][0][0] % 7])
    page.keyboard.press("Enter")
    assert now(page)["id"] == first


def test_any_lawful_sonority_is_right_and_what_is_not_is_told_with_its_rule(page: Page) -> None:
    begin(page, "figures")
    page.evaluate(f"{ROOM}.progress.steps.figures = 1")
    task = next(t for t in page.evaluate(f"({TASKS})('figures')") if t["ask"] == {"figure": "6", "voices": 3})
    show = f"(task) => {ROOM}.session.show({{ drill: 'figures', task }})"
    played = f"(keys) => keys.forEach((key) => {ROOM}.session.stage.played(key))"
    bass = task["exercise"]["events"][0]["bass"][0]
    signature = task["exercise"]["signature"]

    def pitches(*steps: int) -> list[int]:
        return [midi([step, signature[step % 7]]) for step in steps]

    third = bass + 2 + 7 * ((25 - bass) // 7 + 1)
    for chord in ((third, third + 3), (third + 3, third + 7)):
        page.evaluate(show, task)
        page.evaluate(played, pitches(*chord))
        assert "Right" in verdict(page), chord
    page.evaluate(show, task)
    page.evaluate(played, pitches(third, third + 1))
    assert "Not so" in verdict(page)
    assert page.locator(".verset-drill-verdict li.is-error").count() >= 1


def test_the_settings_of_the_build_are_right_by_the_tables_of_the_page(page: Page) -> None:
    """Each task that is answered with sonorities, with our own setting played from the keys."""
    faults = page.evaluate(
        f"""async () => {{
          const room = {ROOM}, found = [];
          for (const name of ["figures", "cadences"]) {{
            const drills = await new Promise((done) => room.open([name], done));
            await new Promise((done) => {{ room.begin([name]); setTimeout(done, 200); }});
            for (const task of drills[name]) {{
              room.session.show({{ drill: name, task }});
              const {{ asked }} = room.session, {{ events, ours }} = task.exercise;
              events.forEach((event, n) => {{
                for (const voice of event.upper) {{
                  const key = versetOwn.midiOf(ours[voice][n]);
                  const down = asked.chord.some((each) => versetOwn.midiOf(each) === key);
                  if (!down) room.session.stage.played(key);
                }}
                if (asked.n === n) asked.close(); // two voices share a note
              }});
              const right = room.session.verdict.textContent.includes("Right");
              if (!right) found.push([task.id, room.session.verdict.textContent]);
            }}
            room.session.end();
          }}
          return found;
        }}"""
    )
    assert [each for each in faults if each[1]] == []


def test_syllables_may_change_the_hexachord_on_a_note_that_both_have(page: Page) -> None:
    begin(page, "syllables")
    task = next(t for t in page.evaluate(f"({TASKS})('syllables')") if t["step"] == 3 and t["fifths"] == 0)
    show = f"(task) => {ROOM}.session.show({{ drill: 'syllables', task }})"
    page.evaluate(show, task)
    for syllable in page.evaluate(f"{ROOM}.session.asked.best()"):
        page.keyboard.press("urmfsl"[syllable])
    assert "Right" in verdict(page)
    page.evaluate(show, task)
    for _ in task["shown"]:
        page.keyboard.press("u")
    assert "Not so" in verdict(page)


def test_an_answer_is_right_in_any_octave_and_named(page: Page) -> None:
    begin(page, "answers")
    right = now(page)["right"][0]
    for step, alter in right["notes"]:
        page.evaluate(f"(key) => {ROOM}.session.stage.played(key)", midi([step - 7, alter]))
    assert "Right" in verdict(page) and "exact answer" in verdict(page)


def test_entries_and_closes_are_marked_by_keys_alone(page: Page) -> None:
    begin(page, "entries")
    marks = now(page)["marks"]
    for n in range(len(now(page)["shown"])):
        if n:
            page.keyboard.press("ArrowRight")
        for kind, letter in (("entries", "e"), ("cadences", "c")):
            if n in marks[kind]:
                page.keyboard.press(letter)
                page.keyboard.press(" ")
    page.keyboard.press("Enter")
    assert "Right" in verdict(page)


def test_a_session_ends_after_ten_minutes_and_the_day_is_kept(page: Page) -> None:
    begin(page, "clefs")
    page.keyboard.press("?")
    page.evaluate(f"{ROOM}.session.boxes.clock = () => Date.now() + 601000")
    page.keyboard.press("Enter")
    assert "The ten minutes are over" in page.locator(".verset-drill-room").inner_text()
    page.reload()
    opened(page)
    page.get_by_text("What was done").click()
    assert "0 of 1 right" in page.locator(".verset-drill-days").inner_text()


def test_progress_goes_into_a_file_and_comes_back_and_a_bad_file_changes_nothing(
    page: Page, tmp_path: Path
) -> None:
    begin(page, "clefs")
    page.keyboard.press("?")
    page.get_by_role("button", name="Stop here").click()
    page.get_by_role("button", name="Back to the list").click()
    page.get_by_text("What was done").click()
    with page.expect_download() as got:
        page.get_by_role("button", name="Save to a file").click()
    text = Path(got.value.path()).read_text("utf-8")
    assert len(json.loads(text)["items"]) == 1
    page.evaluate("localStorage.clear()")
    page.reload()
    opened(page)
    page.get_by_text("What was done").click()
    bad = tmp_path / "bad.json"
    for wrong in (
        "{",
        "[]",
        '{"v":1,"items":{"a":[9,9]}}',
        '{"v":1,"days":{"2026-01-01":{"clefs":["<b>",1,1]}}}',
    ):
        bad.write_text(wrong, "utf-8")
        page.locator(".verset-drills input[type=file]").set_input_files(bad)
        page.get_by_text("has no progress").wait_for()
        assert page.evaluate(f"Object.keys({ROOM}.progress.items).length") == 0
    good = tmp_path / "good.json"
    good.write_text(text, "utf-8")
    page.locator(".verset-drills input[type=file]").set_input_files(good)
    page.get_by_text("you go on where").wait_for()
    assert page.evaluate(f"Object.keys({ROOM}.progress.items).length") == 1


def test_steps_rise_when_most_answers_are_right(page: Page) -> None:
    begin(page, "clefs", seed=0.99)
    for _ in range(8):
        page.keyboard.press("cdefgab"[now(page)["right"][0]["notes"][0][0] % 7])
        page.keyboard.press("Enter")
    assert page.evaluate(f"{ROOM}.progress.steps.clefs") == 2
    assert "step 2" in page.locator(".verset-drill").inner_text()


def test_boxes_come_back_after_longer_and_longer_times(page: Page) -> None:
    days = page.evaluate(
        f"""() => {{
          const session = () => {ROOM}.session.boxes;
          {ROOM}.begin(["clefs"]);
          return new Promise((done) => setTimeout(() => {{
            const boxes = session(), task = window.versetDrills.clefs[0], found = [];
            let time = Date.UTC(2026, 0, 1, 12);
            boxes.clock = () => time;
            for (const right of [true, true, true, true, true, true, false, true]) {{
              boxes.answered("clefs", task, right, 5);
              const [, due] = boxes.progress.items[task.id];
              found.push(due - Math.floor(time / 86400000));
              time += (due - Math.floor(time / 86400000)) * 86400000;
            }}
            done(found);
          }}, 300));
        }}"""
    )
    assert days == [1, 3, 7, 16, 35, 35, 0, 1]


@pytest.mark.parametrize("drill", ["figures", "answers"])
def test_a_sheet_has_the_tasks_and_on_another_page_their_answers(page: Page, drill: str) -> None:
    page.evaluate("window.print = () => {}")
    page.evaluate(f"{ROOM}.open([{drill!r}], (drills) => 0)")
    page.get_by_role(
        "button", name="Print a sheet: " + {"figures": "Figures", "answers": "Answers"}[drill]
    ).click()
    until(page, "document.querySelector('.verset-drill-sheet ol')")
    page.emulate_media(media="print")
    tasks, answers = page.locator(".verset-drill-sheet section").all()
    count = tasks.locator("li").count()
    assert 3 <= count <= 12 and answers.locator("li").count() == count
    assert not page.locator("main").is_visible() and tasks.is_visible()
    if drill == "figures":
        heads = ".verset-system .note"
        assert answers.locator(heads).count() > tasks.locator(heads).count()
    else:
        assert answers.locator("li p:not(.verset-sheet-ask)").count() == count


@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing_in_the_list_in_a_task_and_at_the_end(
    visit: Any, drills_page: Path, width: int
) -> None:
    page = opened(visit(drills_page, width, 800))
    found = violations(page)
    for name in ("figures", "syllables", "entries"):
        begin(page, name)
        found += violations(page)
        page.evaluate(f"{ROOM}.session.judge(true)")
        found += violations(page)
        page.evaluate(f"{ROOM}.session.end()")
    assert found + violations(page) == []


def test_on_a_phone_a_task_fits_the_screen_and_keys_are_wide_enough(visit: Any, drills_page: Path) -> None:
    page = opened(visit(drills_page, 360, 740))
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    for name in STEPS:
        begin(page, name)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, name
        keys = page.locator(".verset-keyboard g").first
        if keys.is_visible():
            box = keys.bounding_box()
            assert box and box["width"] >= 24
        page.evaluate(f"{ROOM}.session.end()")


def test_a_pattern_is_chosen_by_interval_key_and_clef_and_played_on_every_degree(page: Page) -> None:
    page.get_by_text("Choose a pattern yourself").click()
    page.get_by_label("Interval", exact=True).select_option("Third up")
    page.get_by_label("Key", exact=True).select_option("♭♭")
    page.get_by_label("Clef", exact=True).select_option("C3")
    drawn = page.locator(".verset-by-pattern .verset-line")
    before = drawn.inner_html()
    page.get_by_label("Clef", exact=True).select_option("F4")
    assert drawn.inner_html() != before, "the pattern is seen in the clef that is chosen"
    page.get_by_role("button", name="Hear it").click()
    until(page, "ear.starts.length >= 3")
    assert page.locator(".verset-by-pattern select").first.bounding_box()["height"] >= 24
    page.get_by_role("button", name="Play it on every degree").click()
    until(page, f"{ROOM}.session && {ROOM}.session.asked")
    task = now(page)
    assert task["fifths"] == -2 and task["shown"][0][3] == "F4"
    assert task["right"][0]["notes"][-1][0] - task["right"][0]["notes"][0][0] == 2
    flats = {step % 7 for step, alter in task["right"][0]["notes"] if alter == -1}
    assert flats <= {2, 6}
    for step, alter in task["right"][0]["notes"]:
        page.evaluate(f"(key) => {ROOM}.session.stage.played(key)", midi([step, alter]))
    assert "Right" in verdict(page)
    degrees = page.evaluate(f"[...new Set({ROOM}.session.drills.diminution.map((t) => t.shown[0][1] % 7))]")
    assert len(degrees) >= 5
