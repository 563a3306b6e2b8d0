"""Finished work kept by content: the same source, options, code and libraries give the same files,
so they are made once.

A store is a folder that this program made; `CACHEDIR.TAG` in it says so (bford.info/cachedir), and nothing is
ever deleted in a folder without that mark. In it are

    entries/<key>/entry.json     what is kept: a value as JSON, and size and SHA-256 of every file beside it
    making/…                     entries in the making, each locked by the process that makes it
    in-use                       a lock that every build under way holds together with the others
    summed                       which entries were summed on this machine (`summed.py`)

What cannot be read, was changed, or stands under another key counts as absent, and is made anew. An entry
is summed when this machine first reads it, whenever a file of it was written since, and for every release.
The sums find damage, not malice: whoever may write here can make them. So a store is made for its owner
alone, and one that everybody may write to is refused. Who acts as the owner may write to the sources of the
course as well. Where entries come from machines of others, a secret that all of ours know
(`VERSET_STORE_SECRET` in the environment) seals each: what was sealed with another, or with none, counts as
absent too.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from builder.language.glyphs import fonts
from builder.pages.assets import source_folder
from builder.pages.locks import Lock
from builder.pages.sealing import sealed, unsealed
from builder.pages.summed import Summed, looks
from builder.pages.walking import below

Json = dict[str, Any]
FORMAT = 1
MANIFEST = "entry.json"
MARK = "CACHEDIR.TAG"
_TAG = (
    "Signature: 8a477f597d28d172789f06886806bc55\n"
    "# Finished work of verset-builder, which makes and empties this folder. Safe to delete.\n"
)
_KEY = re.compile(r"[0-9a-f]{32}")
_LIBRARIES = ("verovio", "music21", "numpy", "scipy", "soundfile", "typst", "pyloudnorm", "fonttools")
_AT_ONCE = 1 << 20
"""Bytes of a file that are read at once."""


class StoreError(ValueError):
    """A folder that cannot be the store, and why."""


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
    digest.update(fonts().encode())
    return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class Entry:
    """What is kept under a key: a value, and files in a folder, by their names there."""

    folder: Path
    value: Json
    files: frozenset[str]

    def file(self, name: str) -> Path:
        """Where a file of the entry lies; `ValueError` for one that it has not."""
        if name not in self.files:
            raise ValueError(f"no file {name!r} is kept here")
        return self.folder / name


class Store:
    """A folder of finished work. Entries are written whole or not at all, and only whole ones are read."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._in_use = Lock(folder / "in-use")
        self._summed = Summed(folder / "summed")

    def check(self, apart: Sequence[Path], within: Sequence[Path] = ()) -> None:
        """See that the folder lies where it harms nothing; `StoreError` in a teacher's words where it does.
        `apart`: folders that it may not be, hold or lie in; `within`: those that it may lie in."""
        own = self.folder.resolve()
        for other in (*within, *apart):
            path = other.resolve()
            if own == path:
                what = "is"
            elif own in path.parents:
                what = "holds"
            elif path in own.parents and other in apart:
                what = "lies in"
            else:
                continue
            raise StoreError(f"cache: {self.folder} {what} {other}: name a folder of its own")

    def open(self, *, sum_all: bool = False) -> None:
        """Make the store, or see that it is one, and clean what dead builds left. `StoreError` when the
        folder is another's. `sum_all`: trust no sum that was taken before."""
        mark = self.folder / MARK
        if not mark.is_file():
            if self.folder.is_dir() and (found := next(iter(sorted(os.listdir(self.folder))), "")):
                raise StoreError(
                    f"cache: {self.folder} holds files that verset-builder did not put there ({found}): "
                    "name a folder of its own, or one that does not exist yet"
                )
            self.folder.parent.mkdir(parents=True, exist_ok=True)
            self.folder.mkdir(mode=0o700, exist_ok=True)
            mark.write_text(_TAG, "utf-8")
        elif not mark.read_text("utf-8", errors="replace").startswith(_TAG):
            raise StoreError(f"cache: {self.folder} belongs to another program: name a folder of its own")
        if os.name == "posix" and self.folder.stat().st_mode & stat.S_IWOTH:
            raise StoreError(
                f"cache: everybody on this machine may write to {self.folder}, and change what is published: "
                "take that right away, or name another folder"
            )
        self._in_use.take(together=True)
        self._clean()
        if not sum_all:
            self._summed.read()

    def close(self, limit: int = 0, keys: Iterable[str] = ()) -> None:
        """The build that opened the store is done with it. With a `limit` in bytes the entries longest
        unused go until the others take no more; those of `keys` stay, and all stay while another build is
        under way."""
        if self._in_use.held:
            with contextlib.suppress(OSError):
                self._summed.write(os.listdir(self.folder / "entries"))
        self._in_use.drop()
        alone = Lock(self._in_use.path)
        if limit and alone.take(wait=False):
            try:
                self._prune(limit, frozenset(keys))
            finally:
                alone.drop()

    def key(self, *parts: str) -> str:
        digest = hashlib.sha256(code_version().encode())
        for part in parts:
            digest.update(b"\0" + part.encode("utf-8", "surrogatepass"))
        return digest.hexdigest()[:32]

    def get(self, key: str) -> Entry | None:
        """What is kept under a key; None where nothing is, or what is there is not whole as it was made."""
        folder = self._entry(key)
        try:
            entry = _read(folder, key, self._summed)
        except (OSError, ValueError, RecursionError):
            return None
        with contextlib.suppress(OSError):
            os.utime(folder / MANIFEST)  # the entries longest unused go first
        return entry

    def __contains__(self, key: str) -> bool:
        """Whether something stands under a key, whole or not."""
        return (self._entry(key) / MANIFEST).is_file()

    def get_all(self, keys: Iterable[str]) -> dict[str, Entry | None]:
        """Many at once: reading and checking files runs side by side."""
        asked = list(dict.fromkeys(keys))
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            return dict(zip(asked, pool.map(self.get, asked)))

    def discard(self, key: str) -> None:
        """Remove what is kept under a key, for it is not what the key stands for."""
        _remove(self._entry(key))

    @contextlib.contextmanager
    def making(self) -> Iterator[Path]:
        """An empty folder in which to make an entry's files; gone afterwards unless it was kept."""
        (self.folder / "making").mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(suffix=".lock", dir=self.folder / "making")
        os.close(handle)
        lock = Lock(Path(name))
        lock.take()
        work = Path(name).with_suffix("")
        work.mkdir()
        try:
            yield work
        finally:
            shutil.rmtree(work, ignore_errors=True)
            lock.drop(remove=True)

    def keep(self, key: str, work: Path, value: Json) -> None:
        """Finish an entry whose files were made in `work`. What another build has kept meanwhile stays."""
        _write(work, key, value)
        final = self._entry(key)
        final.parent.mkdir(parents=True, exist_ok=True)
        for _ in range(8):
            try:
                work.rename(final)
                return
            except OSError:
                if not os.path.lexists(final):
                    raise
            if self.get(key) is not None:
                return
            _remove(final)
        raise StoreError(f"{final} cannot be replaced")

    def _prune(self, limit: int, keys: frozenset[str]) -> None:
        found = [each for each in map(_age_and_size, self._entries()) if each]
        total = sum(size for _, size, _ in found)
        for _, size, entry in sorted(found):
            if total <= limit:
                break
            if entry.name not in keys:
                _remove(entry)
                total -= size

    def _entry(self, key: str) -> Path:
        return self.folder / "entries" / key

    def _entries(self) -> Iterator[Path]:
        """The folders of entries that carry our mark, whole or not."""
        folder = self.folder / "entries"
        for entry in sorted(folder.iterdir()) if folder.is_dir() else ():
            if _KEY.fullmatch(entry.name) and not entry.is_symlink() and (entry / MANIFEST).is_file():
                yield entry

    def _clean(self) -> None:
        """Remove what dead builds left in the making: its lock can be taken."""
        folder = self.folder / "making"
        for path in sorted(folder.glob("*.lock")) if folder.is_dir() else ():
            lock = Lock(path)
            if lock.take(wait=False):
                shutil.rmtree(path.with_suffix(""), ignore_errors=True)
                lock.drop(remove=True)


def _remove(entry: Path) -> None:
    """Remove what stands in the place of an entry; a link itself, never what it leads to."""
    if entry.is_symlink() or not entry.is_dir():
        entry.unlink(missing_ok=True)
    else:
        shutil.rmtree(entry, ignore_errors=True)


def _write(work: Path, key: str, value: Json) -> None:
    files = {name: [s.st_size, _sum(path, s.st_size)] for name, (path, s) in _files(work).items()}
    body = {"format": FORMAT, "key": key, "value": value, "files": files}
    (work / MANIFEST).write_text(sealed(_text(body)), "utf-8")


def _read(folder: Path, key: str, summed: Summed) -> Entry:
    """An entry that is whole; `ValueError` or `OSError` for any other."""
    if folder.is_symlink():
        raise ValueError("a link in the place of an entry")
    body = json.loads(unsealed(folder / MANIFEST))
    if not isinstance(body, dict) or body.get("format") != FORMAT or body.get("key") != key:
        raise ValueError("the manifest of another entry")
    value, files = body.get("value"), body.get("files")
    if not isinstance(value, dict) or not isinstance(files, dict):
        raise ValueError("no manifest of ours")
    here = _files(folder)
    # Sizes first: what was planted may be too large to read.
    sizes = {name: [seen.st_size] for name, (_, seen) in here.items()}
    if files.keys() != here.keys() or any(size != files[name][:1] for name, size in sizes.items()):
        raise ValueError("a file was cut, added or lost")
    look = looks((name, seen) for name, (_, seen) in here.items())
    if not summed.knows(key, look):
        if any(_sum(path, seen.st_size) != files[name][1] for name, (path, seen) in here.items()):
            raise ValueError("a file was changed")
        summed.remember(key, look)
    return Entry(folder, value, frozenset(files))


def _files(folder: Path) -> dict[str, tuple[str, os.stat_result]]:
    """The files of an entry but its manifest: where they lie, and what the system says of them; `ValueError`
    for a link or what else is no file."""
    found = {}
    for name, entry, seen in below(folder):
        if not stat.S_ISREG(seen.st_mode):
            raise ValueError(f"{name} is no file")
        found[name] = entry.path, seen
    found.pop(MANIFEST, None)
    return found


def _sum(path: str, size: int) -> str:
    with open(path, "rb", buffering=0) as file:
        if size <= _AT_ONCE:
            return hashlib.sha256(file.read(_AT_ONCE)).hexdigest()
        return hashlib.file_digest(file, "sha256").hexdigest()


def _text(body: Mapping[str, Any]) -> str:
    return json.dumps(body, ensure_ascii=True, sort_keys=True, separators=(",", ":"))


def _age_and_size(entry: Path) -> tuple[float, int, Path] | None:
    try:
        size = sum(seen.st_size for _, _, seen in below(entry) if stat.S_ISREG(seen.st_mode))
        return (entry / MANIFEST).lstat().st_mtime, size, entry
    except OSError:
        return None
