"""Waiting for a page, from outside of it."""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Page


def until(page: Page, expression: str, seconds: float = 60) -> Any:
    """The value of a JavaScript expression as soon as it is true; `AssertionError` when it stays false.

    The expression is put to the page again and again: a wait inside the page would have to make code out of
    a text, which the page's Content-Security-Policy forbids (rightly).
    """
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if value := page.evaluate(f"Boolean({expression})"):
            return value
        page.wait_for_timeout(20)
    raise AssertionError(f"not within {seconds} s: {expression}")


def sounds(page: Page, seconds: float) -> None:
    """Wait while the page sounds for so long by the clock of its sound, which a busy machine holds up."""
    until(page, "ear.context && ear.context.currentTime > 0")
    begun = page.evaluate("ear.context.currentTime")
    until(page, f"ear.context.currentTime >= {begun + seconds}")


def rests(page: Page, of: str) -> None:
    """Wait until what a JavaScript expression tells of the layout is the same for ten frames."""
    page.evaluate(
        f"""() => ((told) => new Promise((done) => {{
          let before = "", same = 0;
          const look = () => {{
            const now = JSON.stringify(told());
            same = now === before ? same + 1 : 0;
            before = now;
            same < 10 ? requestAnimationFrame(look) : done();
          }};
          look();
        }}))(() => {of})"""
    )
