"""The step page in a stock Firefox, from the disk with the network cut, at phone, tablet and desktop size.

Needs Firefox (Debian: `apt-get install firefox-esr`) and, to hear on a machine without a sound device,
`pulseaudio`; without Firefox these tests are skipped.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import firefox
import pytest
from axe_playwright_python.base import AXE_SCRIPT

PLAYER = "document.querySelector('.verset-player').verset"
OWN = f"{PLAYER}.own"
STEP = "versets/fourth/tenor.html"
SIZES = {"phone": (360, 740), "tablet": (768, 1024), "desktop": (1280, 900)}


@pytest.fixture
def running() -> Iterator[firefox.Firefox]:
    """A Firefox of its own for each test, so that none inherits the sound of another."""
    program = firefox.path()
    if program is None:
        pytest.skip("there is no Firefox here (Debian: apt-get install firefox-esr; or set VERSET_FIREFOX)")
    browser = firefox.started(program)
    yield browser
    browser.close()


@pytest.fixture(params=SIZES)
def page(running: firefox.Firefox, site: Path, request: pytest.FixtureRequest) -> Iterator[firefox.Firefox]:
    """The step page at each size, with nothing kept from before; at the end nothing may have gone wrong."""
    running.faults.clear()
    running.open(site / STEP, *SIZES[request.param])
    running.ask("localStorage.clear()")
    running.open(site / STEP, *SIZES[request.param])
    running.wait(f"{PLAYER} && {OWN} !== undefined")
    yield running
    running.ask(f"{PLAYER}.transport.stop()")
    running.ask("1")  # a last answer brings what was still on its way
    assert running.faults == []


def go(page: firefox.Firefox) -> None:
    page.tap_on(".verset-strip .verset-go")
    page.wait(f"{PLAYER}.transport.going")
    try:
        page.wait(f"{PLAYER}.organ.context.currentTime > 0.2", 8)
    except AssertionError:
        pytest.skip("this Firefox has no sound device, and there is no pulseaudio to stand in for one")


def test_the_letters_of_the_printed_book_come_with_the_site(page: firefox.Firefox) -> None:
    page.wait("[...document.fonts].filter(f => f.status === 'loaded').length > 1")
    assert page.ask("getComputedStyle(document.querySelector('.md-content p')).fontFamily").startswith(
        '"Libertinus'
    )


def test_the_page_sounds_is_followed_repeats_and_lets_a_voice_be_silent(page: firefox.Firefox) -> None:
    page.ask(f"{PLAYER}.setVersion('plain')")
    width = page.ask("[document.documentElement.scrollWidth, innerWidth]")
    assert width[0] <= width[1]
    go(page)
    lit = page.wait("[...document.querySelectorAll('.verset-now')].map(n => n.dataset.id)")
    assert {name.split("-")[0] for name in lit} == {"given", "plain"}
    assert page.ask("document.querySelectorAll('.verset-here').length") > 0
    first = page.ask(f"{PLAYER}.barSpan[0]")
    page.ask(f"({PLAYER}.setSpeed(150), 1)")
    page.ask(f"({PLAYER}.setRepeat([{first}, {first}]), 1)")
    started = page.ask(f"{PLAYER}.organ.context.currentTime")
    length = page.ask(f"{PLAYER}.timeline.barEnd({first}) - {PLAYER}.timeline.barStart({first})") / 1.5
    page.wait(f"{PLAYER}.organ.context.currentTime > {started + length + 0.3}", 30)
    assert page.ask(f"{PLAYER}.transport.going") and page.ask(f"{PLAYER}.marks.bar") == first
    voice = page.ask(f"{PLAYER}.sounding[0]")
    page.tap_on("[aria-controls=verset-drawer-voices]")
    page.tap_on(".verset-voice")
    assert page.ask(f"[...{PLAYER}.silent]") == [voice]
    assert page.ask("document.querySelector('.verset-voice').getAttribute('aria-pressed')") == "false"
    assert page.ask("document.querySelectorAll('.verset-music:not([hidden]) .verset-silent').length") > 0


def test_sound_and_marks_stay_together(page: firefox.Firefox) -> None:
    """What is marked is what the clock of the sound says, within 20 ms and a frame."""
    go(page)
    late = page.ask(
        f"""new Promise(done => {{ const seen = []; const p = {PLAYER};
            const look = () => {{
              const marked = [...document.querySelectorAll('.verset-music .verset-now')];
              const lit = marked.map(n => n.dataset.id);
              const near = [-0.02, 0, 0.02].map(d => p.timeline.sounding('given', p.transport.position(d)));
              seen.push(near.some(ids => ids.every(id => lit.includes(id))));
              seen.length < 60 ? requestAnimationFrame(look) : done(seen.filter(ok => !ok).length);
            }}; requestAnimationFrame(look); }})"""
    )
    assert late <= 2


def test_a_note_is_entered_by_finger_and_by_key_and_judged(page: firefox.Firefox) -> None:
    place = page.ask(
        f"""(() => {{ document.querySelector('.verset-paper svg').scrollIntoView({{block: 'center'}});
            return {OWN}.pointOf(0, {OWN}.exercise.voices[0], 35); }})()"""
    )
    page.tap(*place, "touch")
    voice = json.dumps(page.ask(f"{OWN}.exercise.voices[0]"))
    assert page.ask(f"{OWN}.work[{voice}][0][0]") == 35
    page.ask("(document.querySelector('.verset-paper').focus(), 1)")
    page.press("ArrowUp", "ArrowUp")
    assert page.ask(f"{OWN}.work[{voice}][0][0]") == 37
    for _ in range(7):
        if "Wrong" in page.ask("document.querySelector('.verset-judged').innerText"):
            break
        page.press("ArrowUp")
    assert "Wrong" in page.ask("document.querySelector('.verset-judged').innerText")
    assert page.ask("[...document.querySelectorAll('.verset-mark')].some(m => m.textContent === '✕')")
    page.press("Delete")
    assert page.ask(f"{OWN}.work[{voice}][0]") is None


def violations(page: firefox.Firefox) -> list[list[str]]:
    """What axe finds on the page as it stands: the rule, and where."""
    return page.ask(
        f"""(async () => {{ if (!window.axe) {{ {AXE_SCRIPT} }}
            const {{ violations }} = await axe.run(document, {{ preload: false }});
            return violations.flatMap(v => v.nodes.map(n => [v.id, n.html.slice(0, 150)])); }})()"""
    )


def push(page: firefox.Firefox, words: str) -> None:
    """The button that is seen with these words."""
    page.ask(
        f"""([...document.querySelectorAll('button')]
            .find(b => b.offsetParent && b.textContent.trim() === {json.dumps(words)}).click(), 1)"""
    )


def test_a_line_is_drawn_with_the_pencil_and_stays_with_its_bar(page: firefox.Firefox) -> None:
    push(page, "More")
    push(page, "Take the pencil")
    push(page, "Pen")
    x, y, wide = page.ask(
        f"""(() => {{ const m = {PLAYER}.music, b = m.bars.find(each => m.seen(each));
            b.measure.scrollIntoView({{ block: 'center', behavior: 'instant' }});
            const r = b.measure.querySelector('.staff > path').getBoundingClientRect();
            return [r.x, r.y, r.width]; }})()"""
    )
    page.drag((x + wide * 0.2, y - 6), (x + wide * 0.5, y - 12), (x + wide * 0.8, y - 8))
    (line,) = page.ask(f"{PLAYER}.pencil.marks")
    assert abs(line["points"][0][0] - 0.2) < 0.04 and abs(line["points"][-1][0] - 0.8) < 0.15
    assert violations(page) == []
    push(page, "Undo")
    assert page.ask(f"{PLAYER}.pencil.marks") == []
    push(page, "Put away")


def test_a_class_is_shown_one_thing_after_another(page: firefox.Firefox) -> None:
    room = f"{PLAYER}.classroom"
    page.ask(f"({room}.open(), 1)")
    page.wait(f"{room}.isOpen")
    seen = [page.ask("document.querySelector('.verset-classroom .verset-sheet').innerText.trim()")]
    assert violations(page) == []
    for _ in range(12):
        page.press("PageDown")
        page.ask("new Promise(done => setTimeout(done, 120))")
        # Behind the last thing the next page of the lesson opens, which takes its time.
        head = "document.querySelector('.verset-class-head')"
        (text,) = page.wait(f"(head => head && [head.textContent])({head})")
        if text and text not in seen:
            seen.append(text)
    assert seen[0].startswith("Tenor enters")
    assert seen[1:3] == ["Set it yourself first: what stands above each note?", "plain"]
    assert violations(page) == []
    page.press("Escape")
    page.wait(f"!{room}.isOpen && document.querySelector('.verset-player .verset-strip') !== null")
