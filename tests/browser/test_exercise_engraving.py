"""The exercise is drawn as the book is: the page's drawing beside the engraver's own document."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pymupdf
import pytest
from course import course_setting
from playwright.sync_api import Page
from waiting import until

from builder.engraving import keyboard
from builder.engraving.hands import hands
from builder.music import Note, Part, Pitch, notated
from builder.setting.setting import Setting

ROOT = Path(__file__).parents[2]
OWN = "document.querySelector('.verset-player').verset.own"
DRAWN = """() => [...document.querySelectorAll('.verset-paper .note')].map((note) => {
  const sign = note.querySelector('[data-kind]');
  return [note.dataset.voice, Number(note.dataset.onset), note.dataset.stem,
    sign ? Number([...note.querySelectorAll('[data-kind]')].at(-1).dataset.alter) : null];
})"""
SIGNS = {"s": 1, "f": -1, "n": 0}


@pytest.fixture(scope="module")
def sixth() -> Setting:
    return course_setting("sixth")


def opened(visit: Any, site: Path, name: str, width: int = 1280) -> Page:
    page: Page = visit(site / f"versets/{name}.html", width)
    until(page, f"{OWN} !== undefined")
    return page


def shown(page: Page, work: dict[str, Any]) -> None:
    page.evaluate(f"(work) => {OWN}.show(work)", work)


def test_the_stave_has_clefs_signature_and_metre_and_shows_what_is_judged(visit: Any, site: Path) -> None:
    """With a flat in the signature a B is B flat, on paper and for the judge; a natural is seen."""
    page = opened(visit, site, "sixth/tenor")
    assert page.evaluate(f"{OWN}.exercise.signature[6]") == -1
    first = page.locator(".verset-paper .verset-system").first
    assert first.locator(".verset-clef").count() == 2
    assert first.locator(".verset-key").evaluate_all("all => all.map((e) => e.dataset.step)") == ["34", "20"]
    assert first.locator(".verset-metre").count() == 4, "3 over 2 on both staves"
    for system in page.locator(".verset-paper .verset-system").all():
        assert system.locator(".verset-key").count() == 2
    page.locator(".verset-paper").focus()
    page.keyboard.press("b")
    at = page.evaluate(f"{OWN}.exercise.events.findIndex((event) => event.upper.includes('cantus'))")
    assert page.evaluate(f"{OWN}.work.cantus[{at}][1]") == -1
    note = page.locator(f".verset-paper [data-id='mine-cantus-{at}']")
    assert note.locator(".verset-accidental").count() == 0, "the signature says it"
    page.keyboard.press("+")
    assert page.evaluate(f"{OWN}.work.cantus[{at}][1]") == 0
    assert note.locator(".verset-accidental").evaluate_all("all => all.map((e) => e.dataset.alter)") == ["0"]


def random_fill(exercise: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    work: dict[str, Any] = {}
    for voice in exercise["voices"]:
        low, high = exercise["compass"][voice]
        at = chance.randint(low + 3, high - 3)
        row: list[Any] = []
        for event in exercise["events"]:
            at = min(high, max(low, at + chance.choice((-3, -2, -1, -1, 0, 0, 1, 1, 2))))
            row.append([at, chance.choice((-1, 0, 0, 0, 1))] if voice in event["upper"] else None)
        work[voice] = row
    return work


def engraved(
    setting: Setting, exercise: dict[str, Any], work: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> list[tuple[str, float, str, int | None]]:
    """Voice, onset, stem and written accidental of each note in the engraver's document."""
    start, end = Fraction(exercise["events"][0]["at"]), Fraction(sum(exercise["bars"][-1][1:3]))
    plain = setting.scores["plain"].excerpt(start, end)
    given = setting.scores["given"].excerpt(start, end)
    parts = []
    for part in plain.parts:
        held: list[Note] = []
        for n, event in enumerate(exercise["events"]):
            tone = work[part.voice][n] if part.voice in work else None
            if not tone:
                continue
            at, length, pitch = Fraction(event["at"]), Fraction(event["length"]), Pitch(*tone)
            if held and held[-1].end == at and held[-1].pitch == pitch:
                held[-1] = replace(held[-1], duration=held[-1].duration + length)
            else:
                held.append(Note(at, length, pitch))
        own = [n for p in given.parts if p.voice == part.voice for n in p.notes if n.pitch]
        parts.append(Part(part.voice, tuple(sorted((*held, *own), key=lambda n: n.onset))))
    score = notated(replace(plain, parts=tuple(parts)))
    share = hands(setting.scores["plain"])
    monkeypatch.setattr(keyboard, "hands", lambda _: share)
    monkeypatch.setattr(keyboard, "crossings", lambda *_: {})  # the reader's voices stay on their staves
    onsets = {n.id: (p.voice, float(n.onset)) for p in score.parts for n in p.notes}
    found = []
    for note in keyboard.keyboard_document(score).iter("note"):
        accid = note.find("accid")
        written = SIGNS[accid.get("accid", "")] if accid is not None else None
        name = note.get("{http://www.w3.org/XML/1998/namespace}id", "")
        found.append((*onsets[name], note.get("stem.dir", ""), written))
    return sorted(found)


@pytest.mark.parametrize(("verset", "step"), [("fourth", "cadence"), ("sixth", "cadence")])
def test_a_hundred_random_fillings_are_drawn_as_the_engraver_writes_them(
    visit: Any, site: Path, verset: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Notes in their order, ties and dots, accidentals and stems; to a voice alone on its stave the engraver
    prescribes none."""
    setting = course_setting(verset)
    page = opened(visit, site, f"{verset}/{step}")
    exercise = page.evaluate(f"{OWN}.exercise")
    chance = random.Random(3)
    signed = stemmed = more = notes = 0
    for _ in range(50):
        work = random_fill(exercise, chance)
        shown(page, work)
        drawn = sorted((v, at, stem, sign) for v, at, stem, sign in page.evaluate(DRAWN))
        expected = engraved(setting, exercise, work, monkeypatch)
        assert [note[:2] for note in drawn] == [note[:2] for note in expected]
        signs = [(a, b) for (*_, a), (*_, b) in zip(drawn, expected, strict=True)]
        assert all(a == b for a, b in signs if b is not None)
        more += sum(1 for a, b in signs if a != b)
        notes += len(signs)
        stems = [(a, b) for (*_, a, _), (*_, b, _) in zip(drawn, expected, strict=True) if b]
        assert all(a == b for a, b in stems)
        stemmed += len(stems)
        signed += sum(1 for *_, sign in drawn if sign is not None)
    assert signed > 100
    assert more <= notes / 100, "the page reminds of a sign more often than the engraver in a few places"
    assert stemmed > 500 or verset == "sixth", "in two voices each has a stave to itself"


def test_seconds_and_unisons_of_two_voices_stand_beside_each_other(visit: Any, site: Path) -> None:
    page = opened(visit, site, "fourth/cadence")
    exercise = page.evaluate(f"{OWN}.exercise")
    high, low = exercise["bars"][0][3][:2]
    at = next(n for n, event in enumerate(exercise["events"]) if {high, low} <= {*event["upper"]})
    for apart in (0, 1, 2):
        own: dict[str, list[Any]] = {v: [None] * len(exercise["events"]) for v in exercise["voices"]}
        own[high][at], own[low][at] = [33 + apart, 0], [33, 0]
        shown(page, own)
        heads = [
            page.locator(f".verset-paper [data-id='mine-{v}-{at}'] .notehead").bounding_box()
            for v in (high, low)
        ]
        assert heads[0] and heads[1]
        beside = abs(heads[0]["x"] - heads[1]["x"]) > 8
        assert beside == (apart == 1), apart


def test_a_printed_exercise_is_whole_on_a4(visit: Any, site: Path) -> None:
    """Every bar line and the close lie on the sheet (MuPDF reads the drawings)."""
    for width in (1280, 360):
        page = opened(visit, site, "fourth/cadence", width)
        shown(page, page.evaluate(f"{OWN}.exercise.ours"))
        sheets = pymupdf.open(stream=page.pdf(format="A4"), filetype="pdf")
        wide = [d["rect"] for sheet in sheets for d in sheet.get_drawings() if d["rect"].width > 100]
        assert wide and max(r.x1 for r in wide) <= sheets[0].rect.width - 10
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        systems = page.locator(".verset-paper .verset-system")
        assert systems.count() > 1
        bars = page.evaluate(
            "[...document.querySelectorAll('.verset-paper .note')].map((n) => Number(n.dataset.onset))"
        )
        last = page.evaluate(f"{OWN}.exercise.events.at(-1).at")
        assert max(bars) == last, "the close is drawn"


def test_what_is_undone_comes_back(visit: Any, site: Path) -> None:
    page = opened(visit, site, "fourth/tenor")
    page.locator(".verset-paper").focus()
    page.keyboard.press("e")
    page.keyboard.press("ArrowUp")
    voice = page.evaluate(f"{OWN}.exercise.voices[0]")
    first = page.evaluate(f"{OWN}.exercise.events.findIndex((event) => event.upper.includes('{voice}'))")
    work = f"{OWN}.work['{voice}'][{first}]"
    assert page.evaluate(work)[0] % 7 == 3
    page.get_by_role("button", name="Undo").click()
    assert page.evaluate(work)[0] % 7 == 2
    page.locator(".verset-paper").focus()
    page.keyboard.press("Control+z")
    assert page.evaluate(work) is None
    page.keyboard.press("Control+Shift+z")
    page.get_by_role("button", name="Redo").click()
    assert page.evaluate(work)[0] % 7 == 3
    assert re.search("disabled", page.get_by_role("button", name="Redo").evaluate("e => e.outerHTML"))
