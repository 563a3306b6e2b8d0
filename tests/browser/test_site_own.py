"""The reader's own setting: a student's whole session, and the judge against the rules themselves."""

from __future__ import annotations

import json
import os
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from builder.counterpoint.motion import false_relation, overlap
from builder.counterpoint.rule import Move, Tone
from builder.counterpoint.rules import RULES

OWN = "document.querySelector('.verset-player').verset.own"
STEP = "versets/fourth/tenor.html"
CASES = 10_000 if os.environ.get("VERSET_MANY") else 1_500
NATURAL = (0, 2, 4, 5, 7, 9, 11)
Pitch = list[int]


@pytest.fixture
def page(visit: Any, site: Path) -> Page:
    page = visit(site / STEP)
    page.wait_for_function(f"{OWN} !== undefined")
    return page


def marks(page: Page) -> list[str]:
    return page.locator(".verset-mark").all_text_contents()


def put_in(page: Page, notes: dict[str, list[Any]]) -> None:
    """Write whole voices by keys: letters choose the nearest note, arrows bring it to its octave."""
    page.locator(".verset-paper").focus()
    for voice, row in notes.items():
        page.locator(".verset-try .verset-choice").get_by_role("button", name=voice).click()
        page.locator(".verset-paper").focus()
        for _ in row:
            page.keyboard.press("ArrowLeft")
        events = page.evaluate(f"{OWN}.exercise.events.map(e => e.upper)")
        for at, pitch in enumerate(row):
            if voice not in events[at]:
                continue
            page.keyboard.press("CDEFGAB"[pitch[0] % 7].lower())
            for _ in range(30):
                now = page.evaluate(f"{OWN}.work[{json.dumps(voice)}][{at}]")
                if now[0] == pitch[0]:
                    break
                page.keyboard.press("ArrowUp" if now[0] < pitch[0] else "ArrowDown")
            for _ in range(abs(pitch[1] - now[1])):
                page.keyboard.press("+" if pitch[1] > now[1] else "-")
            page.keyboard.press("ArrowRight")


def test_a_students_session(page: Page, tmp_path: Path) -> None:
    """Put a voice in with a fault, be told, mend it, finish, come back, hear, compare, export."""
    ours = page.evaluate(f"{OWN}.exercise.ours")
    put_in(page, ours)
    assert page.evaluate(f"{OWN}.work") == ours
    assert "All 5 sonorities are in order" in page.locator(".verset-try").inner_text()
    assert set(marks(page)) <= {"✓", "~", ""}

    # A note a second above the bass contradicts the figure: told at once, with the rule's own sentence.
    page.locator(".verset-paper").focus()
    voice = page.evaluate(f"{OWN}.exercise.voices.at(-1)")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowUp")
    judged = page.locator(".verset-judged")
    if "Wrong" not in judged.inner_text():
        page.keyboard.press("ArrowUp")
    assert "Wrong" in judged.inner_text()
    assert "✕" in marks(page)
    assert any(rule.sentence in judged.inner_text() for rule in RULES.values())
    page.keyboard.press("?")
    assert "May stand here" in judged.inner_text()
    page.keyboard.press("?")
    assert page.evaluate(f"{OWN}.work") == ours
    assert "✕" not in marks(page)
    assert voice in ours

    page.reload()
    page.wait_for_function(f"{OWN} !== undefined")
    assert page.evaluate(f"{OWN}.work") == ours
    page.locator(".verset-paper").focus()
    page.keyboard.press("Space")
    page.wait_for_function("document.querySelector('.verset-paper .verset-now') !== null")
    with page.expect_download() as saved:
        page.get_by_role("button", name="MusicXML").click()
    path = tmp_path / saved.value.suggested_filename
    saved.value.save_as(path)
    _reads_back(path, ours, page.evaluate(f"{OWN}.exercise"))


def _reads_back(path: Path, ours: dict[str, list[Any]], exercise: dict[str, Any]) -> None:
    """The export, read by music21 (reference reader), has the student's notes."""
    from music21 import converter

    score = converter.parse(path)
    assert [part.partName for part in score.parts] == exercise["order"]
    for part in score.parts:
        heard = list(part.flatten().stripTies().notes)
        line = [n for n in exercise["line"] if n["voice"] == part.partName]
        expected = sorted(
            [(n["at"], n["pitch"]) for n in line]
            + [
                (event["at"], pitch)
                for event, pitch in zip(exercise["events"], ours.get(part.partName, []), strict=False)
                if pitch
            ]
        )
        midi = []
        for _, (step, alter) in expected:
            number = 12 * (step // 7 + 1) + NATURAL[step % 7] + alter
            if not midi or midi[-1] != number:
                midi.append(number)
        found: list[int] = []
        for note in heard:
            if not found or found[-1] != note.pitch.midi:
                found.append(note.pitch.midi)
        assert found == midi


def test_work_is_saved_to_a_file_and_read_from_it(page: Page, tmp_path: Path) -> None:
    page.locator(".verset-paper").focus()
    page.keyboard.press("e")
    kept = page.evaluate(f"{OWN}.work")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save to a file").click()
    path = tmp_path / "work.json"
    saved.value.save_as(path)
    page.locator(".verset-paper").focus()
    page.keyboard.press("Delete")
    page.locator(".verset-try input[type=file]").set_input_files(path)
    page.wait_for_function(
        f"JSON.stringify({OWN}.work) === {json.dumps(json.dumps(kept, separators=(',', ':')))}"
    )
    path.write_text('{"key": "another", "work": {}}')
    page.locator(".verset-try input[type=file]").set_input_files(path)
    page.wait_for_function("document.querySelector('.verset-judged').textContent.includes('does not belong')")
    assert page.evaluate(f"{OWN}.work") == kept


def test_notes_go_in_by_touch(visit: Any, site: Path) -> None:
    page = visit(site / STEP, 360, 740, has_touch=True)
    page.wait_for_function(f"{OWN} !== undefined")
    box = page.locator(".verset-paper svg").first.bounding_box()
    assert box
    page.locator(".verset-paper svg").first.scroll_into_view_if_needed()
    page.evaluate("document.querySelector('.verset-paper').scrollIntoView({block: 'center'})")
    box = page.locator(".verset-paper svg").first.bounding_box()
    assert box
    page.touchscreen.tap(box["x"] + 84 + 23, box["y"] + (6 + 40 - 35) * 7)
    voice = page.evaluate(f"{OWN}.exercise.voices[0]")
    assert page.evaluate(f"{OWN}.work[{json.dumps(voice)}][0]")[0] == 35


def test_a_verdict_comes_within_a_frame_on_a_slow_processor(page: Page) -> None:
    """16 ms on a processor four times slower: the judging itself."""
    page.evaluate(f"Object.assign({OWN}.work, {OWN}.exercise.ours)")
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    spent = page.evaluate(
        f"""(() => {{ const began = performance.now();
            for (let k = 0; k < 20; k++) {OWN}.judge(3);
            return (performance.now() - began) / 20; }})()"""
    )
    assert spent < 16


def test_the_tools_own_setting_breaks_no_rule_in_the_page(visit: Any, site: Path) -> None:
    for name in ("altus", "tenor", "cadence"):
        page = visit(site / f"versets/fourth/{name}.html")
        page.wait_for_function(f"{OWN} !== undefined")
        found = page.evaluate(
            f"""{OWN}.exercise.events.flatMap((e, n) => {OWN}.verdicts({OWN}.exercise.ours, n))
                .map(([rule]) => rule)"""
        )
        assert [rule for rule in found if RULES[rule].severity_for(3) == "error"] == [], name


# The judge against the rules: the real script in a real engine, Python's own predicates on the other side.


def midi(pitch: Pitch) -> int:
    return 12 * (pitch[0] // 7 + 1) + NATURAL[pitch[0] % 7] + pitch[1]


def move(a: Pitch, b: Pitch) -> Move:
    return Move(a[0], midi(a), b[0], midi(b))


def tones(exercise: dict[str, Any], work: dict[str, Any], n: int) -> dict[str, Pitch]:
    event = exercise["events"][n]
    found = {v: work[v][n] for v in event["upper"] if work[v][n]}
    return {**found, event["voice"]: event["bass"]}


def by_the_rules(
    exercise: dict[str, Any], work: dict[str, Any], n: int
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Verdicts of all rules that have a predicate, put to the predicates themselves."""
    event = exercise["events"][n]
    now = tones(exercise, work, n)
    past = tones(exercise, work, n - 1) if n and event["joined"] else {}
    names = list(now)
    for i, high in enumerate(names):
        for k, low in enumerate(names[i + 1 :]):
            yield from _together(exercise, n, now, past, high, low, k == 0)
    for voice in event["upper"]:
        if voice in now and voice in past and now[voice] != past[voice]:
            for rule in RULES.values():
                if rule.kind == "melody" and rule.predicate and rule.predicate(move(past[voice], now[voice])):
                    yield rule.id, (voice,)
            yield from _turn(exercise, work, n, voice)


def _together(
    exercise: dict[str, Any],
    n: int,
    now: dict[str, Pitch],
    past: dict[str, Pitch],
    high: str,
    low: str,
    next_to: bool,
) -> Iterator[tuple[str, tuple[str, ...]]]:
    event = exercise["events"][n]
    bottom, top = (Tone(now[v][0], midi(now[v])) for v in (low, high))
    for rule in RULES.values():
        if rule.kind == "sonority" and rule.predicate and rule.predicate(bottom, top):
            if rule.id == "unison" and (event["free"] or event["weight"] < 2):
                continue
            if rule.id != "unison" and (not next_to or low == event["voice"]):
                continue
            yield rule.id, (high, low)
    if not (high in past and low in past) or (past[high] == now[high] and past[low] == now[low]):
        return
    lower, upper = move(past[low], now[low]), move(past[high], now[high])
    before = exercise["events"][n - 1]["voice"]
    outer = high == next(iter(now)) == next(iter(past)) and low == event["voice"] == before
    for rule in RULES.values():
        if rule.kind != "motion" or not rule.predicate or not rule.predicate(lower, upper):
            continue
        if rule.id.startswith("direct") and not outer:
            continue
        if rule.predicate is overlap and (not next_to or low == event["voice"]):
            continue
        yield rule.id, (high, low)


def _turn(
    exercise: dict[str, Any], work: dict[str, Any], n: int, voice: str
) -> Iterator[tuple[str, tuple[str, ...]]]:
    rows = [tones(exercise, work, k).get(voice) for k in range(n + 1)]
    k = n - 1
    while k > 0 and exercise["events"][k]["joined"] and rows[k - 1] == rows[n - 1]:
        k -= 1
    if k == 0 or not exercise["events"][k]["joined"] or not rows[k - 1]:
        return
    first, second = move(rows[k - 1], rows[n - 1]), move(rows[n - 1], rows[n])  # type: ignore[arg-type]
    if max(abs(first.steps), abs(second.steps)) > 9:
        return  # a leap so wide is judged by its own rule
    for rule in RULES.values():
        if rule.kind == "line" and rule.predicate and rule.predicate(first, second):
            yield rule.id, (voice,)


def test_the_script_judges_as_the_rules_do(visit: Any, site: Path) -> None:
    """Random settings; 10,000 with VERSET_MANY=1."""
    page = visit(site / "versets/fourth/cadence.html")
    page.wait_for_function(f"{OWN} !== undefined")
    exercise = page.evaluate(f"{OWN}.exercise")
    chance = random.Random(1)
    compass = exercise["compass"]
    judged = {
        r.id for r in RULES.values() if r.kind in ("motion", "sonority", "melody", "line") and r.predicate
    }
    assert false_relation in {r.predicate for r in RULES.values()}
    works, places = [], []
    for _ in range(CASES):
        work: dict[str, Any] = {}
        for voice in exercise["voices"]:
            low, high = compass[voice]
            at = chance.randint(low, high)
            row = []
            for event in exercise["events"]:
                at = min(high, max(low, at + chance.choice((-12, -7, -4, -2, -1, -1, 0, 1, 1, 2, 3, 5, 9))))
                row.append([at, chance.choice((-1, 0, 0, 0, 1))] if voice in event["upper"] else None)
            work[voice] = row
        works.append(work)
        places.append(chance.randrange(len(exercise["events"])))
    said = page.evaluate(
        f"([works, places]) => works.map((work, k) => {OWN}.verdicts(work, places[k]))", [works, places]
    )
    seen: set[str] = set()
    for work, n, heard in zip(works, places, said, strict=True):
        script = {(rule, tuple(voices)) for rule, voices in heard if rule in judged}
        rules = {(rule, voices) for rule, voices in by_the_rules(exercise, work, n)}
        allowed = set(exercise["events"][n]["allowed"])
        assert script == {(rule, voices) for rule, voices in rules if rule not in allowed}, (work, n)
        seen |= {rule for rule, _ in rules}
    assert seen >= judged - {"contrary-octaves", "parallel-unisons"}, judged - seen
