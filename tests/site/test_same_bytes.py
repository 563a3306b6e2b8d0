"""Two builds in two folders, with other clocks' time zones and hash seeds, give the same bytes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def test_two_builds_in_two_folders_give_the_same_bytes(tmp_path: Path, contents) -> None:
    built = []
    for name, seed, zone in (("one", "1", "UTC"), ("two", "4242", "Asia/Tokyo")):
        folder = tmp_path / name / "course"
        folder.parent.mkdir()
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": "1700000000"}
        subprocess.run([sys.executable, "-m", "builder.cli", "new", str(folder)], env=env, check=True)
        subprocess.run([sys.executable, "-m", "mkdocs", "build", "-q"], cwd=folder, env=env, check=True)
        built.append(contents(folder / "site"))
    assert built[0].keys() == built[1].keys()
    assert [name for name in built[0] if built[0][name] != built[1][name]] == []
