"""Waiting for a page, from outside of it."""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Page


def until(page: Page, expression: str, seconds: float = 30) -> Any:
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
