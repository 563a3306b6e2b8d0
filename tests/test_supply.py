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


def test_what_ships_to_readers_is_listed_with_its_licence() -> None:
    from importlib.metadata import metadata

    from builder.pages.assets import all_assets

    (listed,) = (a.content.decode() for a in all_assets() if a.uri.endswith("licences.txt"))
    rows = [line.split("; ") for line in listed.splitlines()]
    found = {(row[0].rpartition(": ")[2], row[2].split()[1]) for row in rows}
    # The theme's own files, and those of this package, as their packages say themselves.
    for package in ("mkdocs-material", "verset-builder"):
        said = metadata(package).get("License-Expression") or metadata(package).get("License")
        assert (said, package) in found
    theme = Path(__import__("material").__file__).parent / "templates"
    assert "creativecommons.org/licenses/by/4.0" in (theme / ".icons/fontawesome/LICENSE.txt").read_text(
        "utf-8"
    )
    assert {"OFL-1.1", "CC-BY-4.0", "Apache-2.0", "MIT"} == {licence for licence, _ in found}


def test_the_lock_names_no_host() -> None:
    for name in ("requirements.lock", ".ci/hashes.txt"):
        assert "://" not in (ROOT / name).read_text("utf-8")
