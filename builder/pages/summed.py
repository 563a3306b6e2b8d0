"""Which entries of a store were summed on this machine, and how their files looked to the system then.

To sum the files of a large course again takes much of a build that has nothing else to do. What the system
says of a file (its size, when it was last written, its number on the disk) changes with whatever is written
into it, and with a copy from elsewhere; while it is the same, the sum is taken to be.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

from builder.pages.sealing import sealed, unsealed

YOUNG = 2.0
"""Seconds: a file written as lately as this may be written again without a change of its time (FAT counts
time in steps of two seconds)."""


def looks(files: Iterable[tuple[str, os.stat_result]]) -> str:
    """How files look to the system, by their names: a digest; nothing where one of them is too young to tell.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as place:
    ...     path = Path(place) / "a"
    ...     _ = path.write_text("music")
    ...     young = looks([("a", path.stat())])
    ...     os.utime(path, (1, 1))
    ...     old = looks([("a", path.stat())])
    ...     os.utime(path, (1, 2))
    ...     young, len(old), looks([("a", path.stat())]) == old
    ('', 32, False)
    """
    seen = sorted((name, s.st_size, s.st_mtime_ns, s.st_ino, s.st_dev) for name, s in files)
    if any(each[2] > (time.time() - YOUNG) * 1e9 for each in seen):
        return ""
    return hashlib.sha256(repr(seen).encode()).hexdigest()[:32]


class Summed:
    """What is written in the file `path`, sealed as entries are."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._looks: dict[str, str] = {}
        self._new = False

    def read(self) -> None:
        """Read the file; one that is not as it was written counts as absent."""
        self._looks, self._new = {}, False
        with contextlib.suppress(OSError, ValueError, RecursionError):
            found = json.loads(unsealed(self._path))
            if isinstance(found, dict) and all(isinstance(each, str) for each in found.values()):
                self._looks = found

    def write(self, keys: Iterable[str]) -> None:
        """Write the file, where there is news, of those entries that are still there."""
        if not self._new:
            return
        there = set(keys)
        text = json.dumps({k: v for k, v in sorted(self._looks.items()) if k in there}, indent=0)
        handle, name = tempfile.mkstemp(dir=self._path.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(sealed(text))
        os.replace(name, self._path)
        self._new = False

    def knows(self, key: str, seen: str) -> bool:
        """Whether the entry was summed when it looked so."""
        return bool(seen) and self._looks.get(key) == seen

    def remember(self, key: str, seen: str) -> None:
        """The entry was summed, and is whole."""
        if seen:
            self._looks[key] = seen
            self._new = True
