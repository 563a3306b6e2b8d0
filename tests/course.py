"""The versets of the course, each taken through the house once on a machine: setting one takes seconds.

A setting is kept in pytest's own folder under a key of code, libraries, source and version of Python, so that
no process and no later run makes again what no change has reached.
"""

from __future__ import annotations

import hashlib
import pickle
import sys
from functools import cache
from pathlib import Path

from builder.pages.locks import Lock
from builder.pages.store import code_version
from builder.setting.setting import Setting, set_verset
from builder.source import read

ROOT = Path(__file__).parents[1]
VERSETS = tuple(sorted((ROOT / "content" / "versets").glob("*.md")))
KEPT = ROOT / ".pytest_cache" / "settings"


def course_setting(name: str) -> Setting:
    """A verset of the course by the name of its file, as its source asks for it."""
    return set_once(next(path for path in VERSETS if path.stem == name))


@cache
def set_once(path: Path) -> Setting:
    """A source of the course by its file, as it asks to be set."""
    key = hashlib.sha256(repr((code_version(), sys.version, str(path))).encode() + path.read_bytes())
    kept = KEPT / key.hexdigest()
    lock = Lock(KEPT / f"{path.stem}.lock")
    lock.take()
    try:
        if kept.is_file():
            setting: Setting = pickle.loads(kept.read_bytes())
            return setting
        setting = set_verset(read(path))
        part = kept.with_suffix(".part")
        part.write_bytes(pickle.dumps(setting))
        part.replace(kept)
        return setting
    finally:
        lock.drop()
