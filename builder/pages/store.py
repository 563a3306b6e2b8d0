"""Finished work kept by content: the same source, options, code and libraries give the same files,
so they are made once."""

from __future__ import annotations

import hashlib
import pickle
import shutil
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from builder.pages.assets import source_folder

_LIBRARIES = ("verovio", "music21", "numpy", "scipy", "soundfile", "typst", "pyloudnorm", "fonttools")


@cache
def code_version() -> str:
    """A digest of this package, what it ships to readers, and the libraries that shape its output."""
    digest = hashlib.sha256()
    package = Path(__file__).resolve().parent.parent
    for folder in (package, source_folder()):
        for path in sorted(p for p in folder.rglob("*") if p.is_file() and p.suffix != ".pyc"):
            digest.update(path.relative_to(folder).as_posix().encode())
            digest.update(path.read_bytes())
    for library in _LIBRARIES:
        digest.update(f"{library} {version(library)}".encode())
    return digest.hexdigest()


class Store:
    """A folder of finished work. Entries are written whole or not at all.

    An entry is a folder named by its key: the files it holds, and the value that goes with them.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def key(self, *parts: str) -> str:
        digest = hashlib.sha256(code_version().encode())
        for part in parts:
            digest.update(b"\0" + part.encode())
        return digest.hexdigest()[:32]

    def path(self, key: str) -> Path:
        return self.folder / key

    def get(self, key: str) -> Any | None:
        """The value kept under a key, or None; an entry that cannot be read counts as absent."""
        try:
            return pickle.loads((self.path(key) / "value.pickle").read_bytes())
        except (OSError, pickle.UnpicklingError, EOFError, AttributeError, ImportError):
            return None

    def value(self, key: str) -> Any:
        """The value kept under a key; `KeyError` when there is none."""
        found = self.get(key)
        if found is None:
            raise KeyError(key)
        return found

    def begin(self, key: str) -> Path:
        """An empty folder in which to make an entry's files."""
        work = self.folder / f"{key}.making"
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir(parents=True)
        return work

    def keep(self, key: str, value: Any) -> Path:
        """Finish an entry begun before; gives its folder."""
        work = self.folder / f"{key}.making"
        (work / "value.pickle").write_bytes(pickle.dumps(value))
        final = self.path(key)
        shutil.rmtree(final, ignore_errors=True)
        work.rename(final)
        return final

    def prune(self, keys: frozenset[str]) -> None:
        """Drop every finished entry that the last build did not use; what is in the making may be
        another build's."""
        if self.folder.is_dir():
            for entry in sorted(self.folder.iterdir()):
                if entry.is_dir() and entry.suffix != ".making" and entry.name not in keys:
                    shutil.rmtree(entry, ignore_errors=True)
