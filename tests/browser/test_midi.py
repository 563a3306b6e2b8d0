"""Keyboards through Web MIDI (W3C), here instruments of the test's own: messages as MIDI 1.0 has them,
keyboards that come and go, and browsers that give no leave or know none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from waiting import until

OWN = "document.querySelector('.verset-player').verset.own"
STAND_IN = """
  class Access extends EventTarget {
    inputs = new Map();
    plug(name) {
      const input = Object.assign(new EventTarget(), { name, state: "connected", onmidimessage: null });
      this.inputs.set(name, input);
      this.dispatchEvent(new Event("statechange"));
      return input;
    }
    pull(name) {
      this.inputs.get(name).state = "disconnected";
      this.inputs.delete(name);
      this.dispatchEvent(new Event("statechange"));
    }
  }
  window.access = new Access();
  window.asked = 0;
  window.leave = true;
  Object.defineProperty(navigator, "requestMIDIAccess", { configurable: true, value: async () => {
    window.asked += 1;
    if (!window.leave) throw new DOMException("no leave", "SecurityError");
    return window.access;
  } });
  window.send = (name, ...bytes) => access.inputs.get(name).onmidimessage({ data: Uint8Array.from(bytes) });
  0
"""


@pytest.fixture
def page(visit: Any, site: Path) -> Page:
    opened: Page = visit(site / "versets/fourth/altus.html")
    until(opened, f"document.querySelector('.verset-player').verset && {OWN}")
    opened.evaluate(STAND_IN)
    return opened


def said(page: Page) -> str:
    return page.evaluate(f"{OWN}.taking.midi.textContent")


def keys(page: Page) -> list[tuple[int, bool]]:
    """The keys of the take so far, and whether each has been let go."""
    notes = page.evaluate(f"{OWN}.taking.notes.map(({{ key, off }}) => [key, off < Infinity])")
    return [(key, ended) for key, ended in notes]


def play(page: Page) -> None:
    page.get_by_role("button", name="Play in your own time").click()
    until(page, f"{OWN}.taking.mode === 'free'")


def test_running_status_and_a_strength_of_nothing_are_read_as_midi_has_them(page: Page) -> None:
    page.evaluate("access.plug('Two manuals') && 0")
    play(page)
    until(page, "access.inputs.get('Two manuals').onmidimessage !== null")
    assert said(page) == "Heard: Two manuals."
    # One status for two keys, a clock tick between the bytes of the second, a message of another kind.
    page.evaluate("send('Two manuals', 0x90, 30, 64, 31, 0xf8, 64)")
    page.evaluate("send('Two manuals', 0xb0, 64, 127)")
    assert keys(page) == [(30, False), (31, False)]
    page.evaluate("send('Two manuals', 0x93, 30, 0)")
    assert keys(page) == [(30, True), (31, False)]
    page.evaluate("send('Two manuals', 0x80, 31, 64)")
    assert keys(page) == [(30, True), (31, True)]
    # A message may come in pieces; after a message of the system no status goes on.
    page.evaluate("send('Two manuals', 0x90, 33), send('Two manuals', 64)")
    page.evaluate("send('Two manuals', 0xf0, 1, 2, 0xf7, 35, 64)")
    assert keys(page)[2:] == [(33, False)]


def test_keyboards_come_and_go_and_leave_no_key_down(page: Page) -> None:
    play(page)
    until(page, "asked === 1")
    until(page, f"{OWN}.taking.midi.textContent.startsWith('No MIDI keyboard')")
    page.evaluate("access.plug('Positive') && 0")
    assert said(page) == "Heard: Positive."
    page.evaluate("access.plug('Regal') && 0")
    assert said(page) == "Heard: Positive, Regal."
    page.evaluate("send('Positive', 0x90, 40, 64), send('Regal', 0x90, 41, 64)")
    assert page.evaluate(f"{OWN}.held.size") == 2
    page.evaluate("access.pull('Positive')")
    assert said(page) == "Heard: Regal." and keys(page) == [(40, True), (41, False)]
    assert page.evaluate(f"[...{OWN}.held.keys()]") == [41]
    page.evaluate("access.pull('Regal')")
    assert said(page).startswith("No MIDI keyboard") and page.evaluate(f"{OWN}.held.size") == 0
    page.evaluate("access.plug('Positive') && 0")
    page.evaluate("send('Positive', 0x90, 40, 64)")
    assert keys(page)[-1] == (40, False)


def test_leave_that_is_refused_is_said_and_asked_for_again(page: Page) -> None:
    page.evaluate("window.leave = false")
    play(page)
    until(page, "asked === 1")
    until(page, f"{OWN}.taking.midi.textContent.includes('pages from a disk')")
    page.get_by_role("button", name="Enough").click()
    page.evaluate("window.leave = true; access.plug('Positive') && 0")
    play(page)
    until(page, f"{OWN}.taking.midi.textContent === 'Heard: Positive.'")
    assert page.evaluate("asked") == 2


def test_a_browser_that_knows_no_keyboards_says_so(page: Page) -> None:
    page.evaluate("Object.defineProperty(navigator, 'requestMIDIAccess', { value: undefined })")
    play(page)
    until(page, f"{OWN}.taking.midi.textContent.startsWith('This browser knows no MIDI keyboards')")
