"""Whatever is sent in is read or refused in words, in little time and memory (`fuzz.py` beside this file)."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

COUNT = 2_000_000 if os.environ.get("VERSET_MANY") else 20_000
HERE = Path(__file__).parent


def test_twenty_thousand_inputs_are_read_or_refused_in_words() -> None:
    command = [sys.executable, str(HERE / "fuzz.py"), str(COUNT)]
    env = os.environ | {"PYTHONPATH": str(HERE.parents[1])}
    done = subprocess.run(command, capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout)
    assert found["inputs"] == COUNT
    for kind in ("grammar", "whole_file", "front", "service", "score", "options"):
        # what is always refused, or never, tests little
        assert found["became"][f"{kind} read"] > COUNT / 400, found
        assert found["became"][f"{kind} refused"] > COUNT / 100, found
    assert found["uncaught"] == 0, found["told"]
    assert found["phrases"] > 400 and not found["untranslated"], found["untranslated"]
    assert found["slowest"] < 2, found["slow"]
    assert found["memory"] < 300, found
