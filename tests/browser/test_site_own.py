"""The reader's own setting: a student's whole session, and the judge against the rules themselves."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from waiting import rests, until

from builder.counterpoint.rules.rulebook import RULES

PLAYER = "document.querySelector('.verset-player').verset"
OWN = "document.querySelector('.verset-player').verset.own"
STEP = "versets/fourth/tenor.html"
BUSY = "versets/first/tenor.html"
"""A step in which a note of ours may clash with what is held."""
CASES = 10_000 if os.environ.get("VERSET_MANY") else 1_500
NATURAL = (0, 2, 4, 5, 7, 9, 11)
Pitch = list[int]


@pytest.fixture
def page(visit: Any, site: Path) -> Page:
    page = visit(site / STEP)
    until(page, f"{OWN} !== undefined")
    return page


@pytest.fixture
def busy(visit: Any, site: Path) -> Page:
    page = visit(site / BUSY)
    until(page, f"{OWN} !== undefined")
    return page


def test_work_is_saved_to_a_file_and_read_from_it(page: Page, tmp_path: Path) -> None:
    page.locator(".verset-paper").focus()
    page.keyboard.press("e")
    kept = page.evaluate(f"{OWN}.work")
    page.get_by_text("Keep, print, begin anew").click()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save to a file").click()
    path = tmp_path / "work.json"
    saved.value.save_as(path)
    page.locator(".verset-paper").focus()
    page.keyboard.press("Delete")
    page.locator(".verset-try input[type=file]").set_input_files(path)
    until(page, f"JSON.stringify({OWN}.work) === {json.dumps(json.dumps(kept, separators=(',', ':')))}")
    path.write_text('{"key": "another", "work": {}}')
    page.locator(".verset-try input[type=file]").set_input_files(path)
    until(page, "document.querySelector('.verset-judged').textContent.includes('does not belong')")
    assert page.evaluate(f"{OWN}.work") == kept


def test_all_is_cleared_even_from_where_the_voice_is_silent(page: Page) -> None:
    page.locator(".verset-paper").focus()
    page.keyboard.press("e")
    assert page.locator(".verset-paper [data-id^='mine-']").count() == 1
    page.evaluate(f"{OWN}.exercise.events[1].upper = []")
    page.locator(".verset-paper .verset-column").nth(1).click(position={"x": 5, "y": 5})
    page.get_by_text("Keep, print, begin anew").click()
    page.once("dialog", lambda asked: asked.accept())
    page.get_by_role("button", name="Begin anew").click()
    assert page.locator(".verset-paper [data-id^='mine-']").count() == 0
    page.reload()
    until(page, f"{OWN} !== undefined")
    assert page.locator(".verset-paper [data-id^='mine-']").count() == 0


def test_hints_show_what_may_stand_here_and_then_the_best(page: Page) -> None:
    page.locator(".verset-paper").focus()
    page.keyboard.press("?")
    judged = page.locator(".verset-judged")
    assert "May stand here" in judged.inner_text()
    page.keyboard.press("?")
    voice = page.evaluate(f"{OWN}.exercise.voices[0]")
    put = page.evaluate(f"{OWN}.work[{json.dumps(voice)}][0]")
    assert put == page.evaluate(f"{OWN}.exercise.ours[{json.dumps(voice)}][0]")
    assert "Wrong" not in judged.inner_text()


def test_a_note_may_be_divided_and_the_second_one_must_pass(busy: Page) -> None:
    busy.evaluate(f"Object.assign({OWN}.work, structuredClone({OWN}.exercise.ours))")
    busy.locator(".verset-paper").focus()
    # The note on which the voice before ends, in two halves, stands before the entry.
    busy.keyboard.press("ArrowRight")
    busy.keyboard.press("ArrowRight")
    busy.keyboard.press("/")
    voice = json.dumps(busy.evaluate(f"{OWN}.exercise.voices[0]"))
    first = busy.evaluate(f"{OWN}.work[{voice}][2]")
    second = busy.evaluate(f"{OWN}.work.then[{voice}][2]")
    assert abs(second[0] - first[0]) == 1
    assert busy.locator(".verset-paper [data-id$='-2-2']").count() == 1
    # A leap to a clash does not pass: some step of an octave away is judged wrong, and told why.
    met = set()
    for _ in range(6):
        busy.keyboard.press("ArrowUp")
        met |= {rule for rule, _ in busy.evaluate(f"{OWN}.verdicts({OWN}.work, 2)")}
    assert met & {"dissonance", "escape-note"}
    busy.reload()
    until(busy, f"{OWN} !== undefined")
    kept = busy.evaluate(f"{OWN}.work.then[{voice}][2]")
    assert kept[0] == min(second[0] + 6, 40), "up to the highest note the paper has"
    played = busy.evaluate(f"{PLAYER}.timeline.versions.mine.notes.flatMap(n => n.pieces).map(([id]) => id)")
    assert any(name.endswith("-2-2") for name in played)
    busy.locator(".verset-paper").focus()
    for _ in range(3):
        busy.keyboard.press("ArrowRight")
    busy.keyboard.press("Delete")
    assert busy.evaluate(f"{OWN}.work.then") is None
    assert busy.evaluate(f"{OWN}.work[{voice}][2]") == first


def test_a_midi_keyboard_puts_notes_in(visit: Any, site: Path) -> None:
    """Through `navigator.requestMIDIAccess` (W3C Web MIDI), here an instrument of the test's own."""
    page = visit(site / STEP)
    page.add_init_script(
        """const keys = {}; window.keys = keys;
           navigator.requestMIDIAccess = async () => {
             window.asked = true;
             return Object.assign(new EventTarget(), {inputs: new Map([['one', keys]])});
           };"""
    )
    page.reload()
    until(page, f"{OWN} !== undefined")
    assert page.evaluate("window.asked") is None, "nobody is asked for a keyboard before working here"
    page.locator(".verset-paper").focus()
    until(page, "Boolean(keys.onmidimessage)")
    voice = json.dumps(page.evaluate(f"{OWN}.exercise.voices[0]"))
    page.evaluate("keys.onmidimessage({data: [0x90, 71, 64]}), keys.onmidimessage({data: [0x80, 71, 0]})")
    page.evaluate("keys.onmidimessage({data: [0x91, 73, 1]}), keys.onmidimessage({data: [0x90, 73, 0]})")
    assert page.evaluate(f"{OWN}.work[{voice}].slice(0, 2)") == [[34, 0], [35, 1]], "B4, then C sharp 5"


def test_the_answers_wait_until_they_are_asked_for(page: Page) -> None:
    plain = page.locator(".verset-music[data-version=plain]")
    assert plain.count() and not plain.first.is_visible()
    assert page.locator(".verset-music[data-version=given]").first.is_visible()
    table = page.locator("table").first
    assert not table.is_visible()
    page.get_by_text("Show our setting in a table").first.click()
    assert table.is_visible()
    page.get_by_role("button", name="Hear ours").click()
    assert plain.first.is_visible()
    until(page, "document.querySelector('.verset-music[data-version=plain] .verset-now')")


def test_a_pattern_for_a_plain_note_is_seen_heard_judged_and_kept(page: Page) -> None:
    page.get_by_text("Break a plain note").click()
    notes = page.evaluate(f"{PLAYER}.gracing.notes")
    assert all(2 <= len(note["patterns"]) <= 9 for note in notes if note["length"] == 2)
    for note in notes:
        for pattern in note["patterns"]:
            assert abs(sum(length for _, length, *_ in pattern["notes"]) - note["length"]) < 1e-9
    broken = [rule for note in notes for p in note["patterns"] for rule, _ in p["met"]]
    assert broken and set(broken) <= set(RULES)
    at = next(k for k, note in enumerate(notes) if any(p["met"] for p in note["patterns"]))
    for _ in range(at):
        page.locator(".verset-grace").get_by_role("button", name="Next note").click()
    rows = page.locator(".verset-pattern")
    assert rows.count() == len(notes[at]["patterns"])
    for row, pattern in zip(rows.all(), notes[at]["patterns"], strict=True):
        text = row.inner_text()
        assert pattern["names"] in text and pattern["source"] in text
        assert ("breaks no rule" in text) == (not pattern["met"])
        for rule, _ in pattern["met"]:
            assert RULES[rule].title in text and RULES[rule].sentence in text
        assert row.locator("svg .note").count() == len(pattern["notes"]) + 1
    page.evaluate("ear.starts.length = 0")
    rows.first.get_by_role("button", name="Hear it").click()
    until(page, f"{PLAYER}.transport.going")
    graced = page.evaluate(f"{PLAYER}.timeline.versions.graced.notes.map(n => [n.start, n.hertz])")
    for start, _, _, _, hertz in notes[at]["patterns"][0]["notes"]:
        assert [start, hertz] in graced
    rows.first.get_by_role("button", name="Keep it").click()
    assert page.locator(".verset-pattern [aria-pressed=true]").count() == 1
    assert page.get_by_role("button", name="Hear all that you keep").is_enabled()


def test_no_picture_of_a_pattern_is_cut(visit: Any, site: Path) -> None:
    for width in (360, 1280):
        page = visit(site / STEP, width, 800)
        until(page, f"{OWN} !== undefined")
        page.get_by_text("Break a plain note").click()
        cut = page.evaluate(
            """async () => {
                const grace = document.querySelector('.verset-player').verset.gracing, cut = [];
                for (const _ of grace.notes) {
                  for (const svg of document.querySelectorAll('.verset-pattern > svg')) {
                    const box = svg.getBoundingClientRect();
                    for (const head of svg.querySelectorAll('.notehead, .verset-lines')) {
                      const its = head.getBoundingClientRect();
                      if (its.right > box.right + 1 || its.bottom > box.bottom + 1) cut.push(grace.at);
                    }
                  }
                  grace.go(1);
                }
                return cut; }"""
        )
        assert cut == [], width


def test_a_verdict_names_the_notes_and_the_place_of_the_one_at_fault(busy: Page) -> None:
    """A note that clashes and does not resolve is judged where it goes; what is told is where it stands."""
    voice, n, first, then = busy.evaluate(
        f"""(() => {{ const own = {OWN}, ex = own.exercise, voice = ex.voices[0];
            const [low, high] = ex.compass[voice], work = structuredClone(ex.ours);
            for (let n = 1; n < ex.events.length; n++)
              for (let one = low; one <= high; one++) for (let two = low; two <= high; two++) {{
                Object.assign(work[voice], ex.ours[voice]);
                work[voice][n - 1] = [one, 0];
                work[voice][n] = [two, 0];
                Object.assign(own.work, structuredClone(work));
                if (own.judge(n).some(each => each.owed)) return [voice, n, one, two];
              }} }})()"""
    )
    busy.locator(".verset-paper").focus()
    for _ in range(n):
        busy.keyboard.press("ArrowRight")
    where = busy.evaluate(f"{OWN}.exercise.events[{n - 1}].where")
    told = busy.locator(".verset-judged li").all_inner_texts()
    assert any(f"({voice} {'CDEFGAB'[first % 7]}, {where})" in line for line in told), told
    busy.evaluate(f"{OWN}.work[{json.dumps(voice)}][{n}] = [{then}, 0]")


def test_stave_verdict_and_controls_stand_together_on_a_phone(visit: Any, site: Path) -> None:
    page = visit(site / "versets/fourth/cadence.html", 360, 740)
    until(page, f"{OWN} !== undefined")
    paper = page.locator(".verset-paper")
    paper.focus()
    room = page.locator(".verset-try").bounding_box()
    for _ in page.evaluate(f"{OWN}.exercise.events"):
        page.keyboard.press("ArrowRight")
        here = page.locator(".verset-column.is-here")
        system = here.locator("xpath=..").bounding_box()
        assert 0 < page.locator(".verset-judged").bounding_box()["y"] - system["y"] < 370, "half a screen"
        assert system["x"] >= room["x"] - 1 and system["x"] + system["width"] <= room["x"] + room["width"] + 1
    assert page.locator(".verset-paper .verset-system").count() > 1
    tools = page.locator(".verset-tools").bounding_box()
    assert tools["y"] + tools["height"] <= 740 and tools["height"] < 70, "one row above the strip"


@pytest.mark.parametrize("name", ["altus", "tenor", "cadence"])
def test_what_is_remembered_of_the_rules_is_what_they_say(visit: Any, site: Path, name: str) -> None:
    """Notes are changed, taken away, held on, and divided at random; each time every sonority stands as one
    that is judged for the first time."""
    page = visit(site / f"versets/fourth/{name}.html")
    until(page, f"{OWN} !== undefined")
    found = page.evaluate(
        f"""() => {{
          const own = {OWN}, {{ events, voices, ours }} = own.exercise, work = structuredClone(ours);
          let state = 7, met = 0;
          const dice = (size) => (state = (state * 1664525 + 1013904223) % 4294967296) % 65536 % size;
          const filled = () => Object.fromEntries(voices.map((voice) => [voice, events.map(() => null)]));
          work.then = filled();
          for (let k = 0; k < 1500; k++) {{
            const voice = voices[dice(voices.length)], n = dice(events.length), old = work[voice][n];
            const act = dice(10), near = old ?? ours[voice].find((each) => each);
            if (!near || !events[n].upper.includes(voice)) continue;
            if (act === 0) work[voice][n] = null;
            else if (act < 4) work.then[voice][n] = old && events[n].half ? [old[0] + dice(5) - 2, 0] : null;
            else if (act < 8 && n) work[voice][n] = work[voice][n - 1];
            else work[voice][n] = act === 8 ? ours[voice][n] : [near[0] + dice(5) - 2, dice(8) ? 0 : 1];
            if (!work[voice][n]) work.then[voice][n] = null;
            for (let at = 0; at < events.length; at++) {{
              const told = own.rulings.judge(work, at).map(({{ rule, voices }}) => [rule, voices]);
              met += told.length;
              const fresh = JSON.stringify(own.verdicts(work, at));
              if (JSON.stringify(told) !== fresh) return [k, at, told, fresh];
            }}
          }}
          return met;
        }}"""
    )
    assert isinstance(found, int) and found > 1000, found


def test_only_what_changed_is_drawn_anew(visit: Any, site: Path) -> None:
    """On a phone, where the exercise has several systems: notes are put in and taken back, and
    ours is compared; each time the paper is what a paper drawn from nothing shows."""
    page = visit(site / BUSY, 360, 740)
    until(page, f"{OWN} !== undefined")
    page.evaluate(
        f"""window.look = () => [...{OWN}.paper.element.querySelectorAll('.verset-system')]
                .map(s => s.outerHTML.replace(/ class="[^"]*"/g, m => m.replace(/ verset-(now|here)/g, '')));
            window.parts = () => [...{OWN}.paper.element.querySelectorAll('.verset-system')]
                .map(s => [...s.children]);
            window.fresh = () => {{ const p = {OWN}.paper, seen = look();
                for (const each of p.drawn) each.svg.remove();
                p.drawn = []; p.redraw(); return JSON.stringify(seen) === JSON.stringify(look()); }};"""
    )
    exercise = page.evaluate(f"{OWN}.exercise")
    asked = [n for n, event in enumerate(exercise["events"]) if event["upper"]]
    assert page.evaluate("look().length") > 2
    for n in asked[-3:]:
        page.evaluate("window.before = parts()")
        page.evaluate(
            f"(() => {{ const w = structuredClone({OWN}.work);"
            f" for (const v of {OWN}.exercise.events[{n}].upper) w[v][{n}] = {OWN}.exercise.ours[v][{n}];"
            f" {OWN}.show(w); }})()"
        )
        kept = page.evaluate("before.map((parts) => parts.map((part) => part.isConnected))")
        assert all(kept[0]) and not all(map(all, kept)), "the first system stays, the sonority is new"
        assert sum(map(sum, kept)) > 0.6 * sum(map(len, kept)), "and of its system most"
        assert page.evaluate("fresh()")
    page.locator(".verset-paper").focus()
    for key in ["Home", *["ArrowRight"] * len(asked), "ArrowUp", "ArrowLeft"]:
        page.keyboard.press(key)
        assert page.evaluate("fresh()"), f"the reader's place after {key}"
    # A note at the end of a system that changes how the next system's first sonority stands.
    assert (
        page.evaluate(
            f"""(() => {{ const own = {OWN}, {{ events, ours: set }} = own.exercise;
            const ours = structuredClone(set);
            own.show(ours);
            const state = (at) => own.paper.view.states[at];
            for (let at = 1; at < events.length; at++) {{
              if (own.paper.systemOf(at) === own.paper.systemOf(at - 1)) continue;
              const before = state(at);
              for (const voice of events[at - 1].upper) for (let by = -5; by <= 5; by++) {{
                const tried = structuredClone(ours);
                if (!tried[voice][at - 1]) continue;
                tried[voice][at - 1][0] += by;
                own.show(tried);
                if (state(at) !== before) return fresh() ? "same" : "another";
              }}
            }}
            return "none"; }})()"""
        )
        == "same"
    )
    for act in (f"{OWN}.undo.click()", f"{OWN}.redo.click()", f"{OWN}.compare = true; {OWN}.draw()"):
        page.evaluate(f"(() => {{ {act}; }})()")
        assert page.evaluate("fresh()"), act
    page.set_viewport_size({"width": 740, "height": 360})
    rests(page, "look()")
    assert page.evaluate("fresh()"), "on its side"


def test_the_tools_own_setting_breaks_no_rule_in_the_page(visit: Any, site: Path) -> None:
    for name in ("altus", "tenor", "cadence"):
        page = visit(site / f"versets/fourth/{name}.html")
        until(page, f"{OWN} !== undefined")
        found = page.evaluate(
            f"""{OWN}.exercise.events.flatMap((e, n) => {OWN}.verdicts({OWN}.exercise.ours, n))
                .map(([rule]) => rule)"""
        )
        assert [rule for rule in found if RULES[rule].severity_for(3) == "error"] == [], name


def test_print_has_the_readers_notes_and_no_controls(page: Page) -> None:
    """The PDF that the browser prints, read by MuPDF (reference reader)."""
    import pymupdf

    page.evaluate(
        f"localStorage.setItem('verset.work.' + {OWN}.exercise.key,"
        f" JSON.stringify({{key: {OWN}.exercise.key, work: {OWN}.exercise.ours}}))"
    )
    page.reload()
    until(page, f"{OWN} !== undefined")
    sheets = pymupdf.open(stream=page.pdf(format="A4"), filetype="pdf")
    text = "\n".join(sheet.get_text() for sheet in sheets)
    assert "Put in the voices yourself" in text
    for control in (
        "Slower",
        "Hint",
        "Show our setting",
        "Break a plain note",
        "✓",
        "Hear yours",
        "Keep, print",
    ):
        assert control not in text
    page.emulate_media(media="print")
    assert page.locator(".verset-paper .note").count() > 5
    assert page.locator(".verset-paper .note").first.is_visible()
    ink = page.evaluate("getComputedStyle(document.querySelector('.verset-paper .verset-chosen')).color")
    assert ink == "rgb(0, 0, 0)"
