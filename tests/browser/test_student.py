"""A student's whole session: on the phone by touch, on the tablet by mouse, at the desk by keys."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from waiting import until

from builder.counterpoint.rules.rulebook import RULES

PLAYER = "document.querySelector('.verset-player').verset"
OWN = f"{PLAYER}.own"
STEP = "versets/fourth/tenor.html"
NATURAL = (0, 2, 4, 5, 7, 9, 11)
WAYS = {"touch": (360, 740), "mouse": (768, 1024), "keys": (1280, 900)}
Pitch = list[int]


class Student:
    """Does everything by one way of input only."""

    def __init__(self, page: Page, way: str) -> None:
        self.page, self.way = page, way
        until(page, f"{OWN} !== undefined")

    def press(self, name: str, within: str = ".verset-player") -> None:
        button = self.page.locator(within).get_by_role("button", name=name, exact=True).first
        if self.way == "touch":
            button.tap()
        elif self.way == "mouse":
            button.click()
        else:
            button.focus()
            self.page.keyboard.press("Enter")

    def enter(self, voice: str, at: int, pitch: Pitch) -> None:
        """Put a note in at a sonority."""
        self.page.evaluate("document.querySelector('.verset-paper').scrollIntoView({block: 'center'})")
        if self.way == "keys":
            self._by_keys(voice, at, pitch)
        else:
            self.press(voice, ".verset-try .verset-choice")
            self._by_finger(voice, at, pitch)
        for _ in range(2):
            now = self.page.evaluate(f"{OWN}.work[{json.dumps(voice)}][{at}]")
            if now[1] != pitch[1]:
                up = pitch[1] > now[1]
                if self.way == "keys":
                    self.page.keyboard.press("+" if up else "-")
                else:
                    self.press("Sharpen" if up else "Flatten", ".verset-try")

    def _by_finger(self, voice: str, at: int, pitch: Pitch) -> None:
        # In the middle of the screen, where neither the theme's head nor the tools lie over it.
        column = f".verset-column[data-at='{at}']"
        self.page.locator(column).evaluate("e => e.scrollIntoView({block: 'center'})")
        x, y = self.page.evaluate(f"{OWN}.pointOf({at}, {json.dumps(voice)}, {pitch[0]})")
        if self.way == "touch":
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def _by_keys(self, voice: str, at: int, pitch: Pitch) -> None:
        keyboard = self.page.keyboard
        self.press(voice, ".verset-try .verset-choice")
        self.page.locator(".verset-paper").focus()
        events = self.page.evaluate(f"{OWN}.exercise.events.map(e => e.upper)")
        mine = [n for n, upper in enumerate(events) if voice in upper]
        for _ in events:
            keyboard.press("ArrowLeft")
        for _ in range(mine.index(at)):
            keyboard.press("ArrowRight")
        keyboard.press("CDEFGAB"[pitch[0] % 7].lower())
        for _ in range(30):
            now = self.page.evaluate(f"{OWN}.work[{json.dumps(voice)}][{at}]")
            if now[0] == pitch[0]:
                return
            keyboard.press("ArrowUp" if now[0] < pitch[0] else "ArrowDown")

    def open(self, title: str) -> None:
        """Unfold what stands under a title."""
        fold = self.page.locator(".verset-try summary", has_text=title)
        if self.way == "keys":
            fold.focus()
            self.page.keyboard.press("Enter")
        elif self.way == "touch":
            fold.tap()
        else:
            fold.click()

    def told(self) -> str:
        return self.page.locator(".verset-judged").inner_text()

    def marks(self) -> list[str]:
        return self.page.locator(".verset-mark").all_text_contents()


def wrong_note(page: Page) -> tuple[str, int, Pitch, str]:
    """A wrong note for our setting: the first that is an error, and the rule it breaks."""
    found = page.evaluate(
        f"""(() => {{ const own = {OWN}, ex = own.exercise;
            for (let n = 1; n < ex.events.length; n++) for (const voice of ex.events[n].upper)
              for (let step = ex.compass[voice][0]; step <= ex.compass[voice][1]; step++) {{
                const work = structuredClone(ex.ours);
                work[voice][n] = [step, ex.signature[step % 7]];
                const found = own.judge(n, work).find((each) => each.severity === 'error');
                if (found) return [voice, n, work[voice][n], found.rule];
              }} }})()"""
    )
    assert found, "there must be a place for a fault"
    return found[0], found[1], found[2], found[3]


@pytest.mark.parametrize("way", WAYS)
def test_a_student_listens_sets_is_told_mends_finishes_and_takes_the_work_home(
    visit: Any, site: Path, tmp_path: Path, way: str
) -> None:
    width, height = WAYS[way]
    page = visit(
        site / STEP, width, height, **({"has_touch": True, "is_mobile": True} if way == "touch" else {})
    )
    student = Student(page, way)
    exercise, ours = page.evaluate(f"{OWN}.exercise"), page.evaluate(f"{OWN}.exercise.ours")

    # Listen, slower, one bar again and again.
    student.press("Slower", ".verset-strip")
    student.press("Slower", ".verset-strip")
    assert page.evaluate(f"{PLAYER}.speed") == 90
    first = page.evaluate(f"{PLAYER}.barSpan[0]")
    _repeat(student, first)
    assert page.evaluate(f"{PLAYER}.transport.settings.repeat") == [first, first]
    _go(student)
    until(page, "ear.starts.length > 0 && document.querySelector('.verset-music .verset-now')")
    _go(student)
    until(page, f"!{PLAYER}.transport.going")

    # Put all voices in, one note of them wrong.
    wrong_voice, wrong_at, wrong, broken = wrong_note(page)
    for voice, row in ours.items():
        for at, pitch in enumerate(row):
            if pitch and (voice, at) != (wrong_voice, wrong_at):
                student.enter(voice, at, pitch)
    student.enter(wrong_voice, wrong_at, wrong)
    rule = RULES[broken]
    assert f"Wrong: {rule.title}" in student.told() and rule.sentence in student.told()
    assert "✕" in student.marks()
    assert "in order" in page.locator(".verset-try").inner_text()

    # Mend it, and be done.
    student.enter(wrong_voice, wrong_at, ours[wrong_voice][wrong_at])
    assert page.evaluate(f"{OWN}.work") == ours
    assert "✕" not in student.marks() and rule.title not in student.told()
    assert (
        f"All {len(exercise['events'])} sonorities are in order" in page.locator(".verset-try").inner_text()
    )

    # Compare by ear.
    student.press("Hear yours", ".verset-try")
    until(page, "document.querySelector('.verset-paper .verset-now')")
    student.press("Hear ours", ".verset-try")
    assert page.evaluate(f"{PLAYER}.transport.settings.version") == "plain"

    # Come back another day; take it along.
    page.reload()
    until(page, f"{OWN} !== undefined")
    assert page.evaluate(f"{OWN}.work") == ours
    student.open("Keep, print, begin anew")
    with page.expect_download() as saved:
        student.press("MusicXML", ".verset-try")
    path = tmp_path / saved.value.suggested_filename
    saved.value.save_as(path)
    reads_back(path, ours, exercise)


def _go(student: Student) -> None:
    if student.way == "keys":
        student.page.locator(".verset-strip .verset-go").focus()
        student.page.keyboard.press("Enter")
    elif student.way == "touch":
        student.page.locator(".verset-strip .verset-go").tap()
    else:
        student.page.locator(".verset-strip .verset-go").click()


def _repeat(student: Student, bar: int) -> None:
    """Choose a bar to repeat: on the music itself, or by the key."""
    page = student.page
    if student.way == "keys":
        page.locator(".verset-strip .verset-go").focus()
        page.keyboard.press("r")
        return
    student.press("Bars")
    student.press("Choose on the music")
    ground = f".verset-bar[data-bar='{bar}'] .verset-bar-ground:visible"
    for _ in range(2):
        box = page.locator(ground).first
        box.scroll_into_view_if_needed()
        place = box.bounding_box()
        assert place
        x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
        if student.way == "touch":
            page.touchscreen.tap(x, y)
        else:
            page.mouse.click(x, y)


def reads_back(path: Path, ours: dict[str, list[Any]], exercise: dict[str, Any]) -> None:
    """The export, read by music21 (reference reader), has the student's notes and the line's, in time."""
    from music21 import converter

    score = converter.parse(path)
    assert [part.partName for part in score.parts] == exercise["order"]
    start = exercise["bars"][0][1]
    for part in score.parts:
        heard = [(float(n.offset) + start, n.pitch.midi) for n in part.flatten().stripTies().notes]
        line = [(n["at"], n["pitch"]) for n in exercise["line"] if n["voice"] == part.partName]
        mine = [
            (event["at"], pitch)
            for n, event in enumerate(exercise["events"])
            if (pitch := ours.get(part.partName, [None] * 99)[n])
        ]
        # A note of the student's that repeats his own last one is held; one that repeats the line is struck.
        expected: list[tuple[float, int]] = []
        held_from = None
        for at, (step, alter) in sorted([*line, *mine]):
            number = 12 * (step // 7 + 1) + NATURAL[step % 7] + alter
            own = (at, [step, alter]) in mine
            if not (own and held_from == number):
                expected.append((at, number))
            held_from = number if own else None
        assert heard == expected, part.partName
