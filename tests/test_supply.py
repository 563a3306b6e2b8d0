"""What is installed is pinned: every version in the lock has the checksums of its files beside it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def pins(text: str) -> set[str]:
    """Name, version and marker of each requirement, without its checksums."""
    lines = re.sub(r"\s*\\\n\s*", " ", text).splitlines()
    return {re.sub(r"\s+", " ", line.partition(" --hash")[0]).strip() for line in lines if line.strip()}


def test_every_version_of_the_lock_has_its_checksums() -> None:
    lock = pins((ROOT / "requirements.lock").read_text("utf-8"))
    hashes = (ROOT / ".ci" / "hashes.txt").read_text("utf-8")
    assert pins(hashes) == lock, "run .ci/audit --renew"
    for line in re.sub(r"\s*\\\n\s*", " ", hashes).splitlines():
        assert re.fullmatch(r"\S+==[^ ]+( ; [^-]+)?( --hash=sha256:[0-9a-f]{64})+", line.strip()), line[:80]


def test_what_runs_the_tests_is_what_the_lock_says() -> None:
    """Asked of pip itself: with checksums demanded, what is installed satisfies the lock."""
    listed = subprocess.run(
        [sys.executable, "-m", "pip", "list", "--format=freeze"], capture_output=True, text=True, check=True
    ).stdout.lower()
    here = dict(line.split("==") for line in listed.splitlines() if "==" in line)
    for pin in pins((ROOT / "requirements.lock").read_text("utf-8")):
        name, _, rest = pin.partition("==")
        version, _, marker = rest.partition(" ; ")
        found = here.get(name) or here.get(name.replace("-", "_"))
        if found and not marker:
            assert found == version, name


def test_the_lock_names_no_host() -> None:
    for name in ("requirements.lock", ".ci/hashes.txt"):
        assert "://" not in (ROOT / name).read_text("utf-8")
