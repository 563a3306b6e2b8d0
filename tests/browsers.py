"""Finds a Chromium for the tests, or fetches one."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


@cache
def chromium() -> str:
    """Path of a Chromium: the variable VERSET_CHROMIUM, the system's own, Playwright's own; else one is
    fetched. `RuntimeError` says what to do when none can be had."""
    found = next(_installed(), None)
    if found:
        return found
    _fetch()
    found = next(_installed(), None)
    if found:
        return found
    raise RuntimeError(
        "No Chromium was found and none could be fetched. Install one (Debian: apt-get install chromium; "
        "any system: playwright install chromium), or set VERSET_CHROMIUM to its path."
    )


def _installed() -> Iterator[str]:
    named = os.environ.get("VERSET_CHROMIUM")
    if named:
        yield named
    for name in _NAMES:
        path = shutil.which(name)
        if path:
            yield path
    own = _own()
    if own and own.exists():
        yield str(own)


def _own() -> Path | None:
    """Where Playwright keeps its own browser, whether or not it is there."""
    from playwright.sync_api import Error, sync_playwright

    try:
        with sync_playwright() as playwright:
            return Path(playwright.chromium.executable_path)
    except Error:
        return None


def _fetch() -> None:
    """Try Playwright's download, then the package of a Debian system when we may install."""
    attempts = [[sys.executable, "-m", "playwright", "install", "--with-deps", "chromium"]]
    if os.name == "posix" and os.geteuid() == 0 and shutil.which("apt-get"):
        attempts.append(["apt-get", "update"])
        attempts.append(["apt-get", "install", "-y", "--no-install-recommends", "chromium"])
    for attempt in attempts:
        done = subprocess.run(attempt, check=False, capture_output=True, timeout=900)
        if done.returncode == 0 and next(_installed(), None):
            return
