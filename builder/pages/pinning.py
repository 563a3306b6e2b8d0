"""Writes what was chosen by ear on a page into the source of its verset, while a course is served on the
teacher's own machine, and takes it back."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import stat
import tempfile
import threading
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeGuard

from builder.music import Version
from builder.pages.course_folder import CourseFolder
from builder.source import SourceErrors
from builder.source.files import decode
from builder.source.pinning import NotPins, with_pins
from builder.source.wording import told

MOST_STEPS = 50
"""How many writings of one source can be taken back."""
MOST_LINES = 200
_MARK = b"\xef\xbb\xbf"
CHANGED = "nothing was written: the source has changed since this page was made; choose again on the new page"
UNKNOWN = "nothing was written: this is no request of a page of this course"
NOTHING = "nothing was written: there is nothing to take back"
DENIED = "nothing was written: the file cannot be changed ({why})"


class Refused(ValueError):
    """Why nothing was written, in the language asked for."""


@dataclass(frozen=True, slots=True)
class _Written:
    """One writing: the file before and after it, and the lines that it added."""

    before: bytes
    after: bytes
    lines: tuple[str, ...]


class PinWriter:
    """Writes pins into the sources of one course.

    A page is given (`page`) the name of its source, the checksum of the file that it was made from and a
    token that only pages of this server know. It hands them back with what it asks; a file that is another
    by then is left alone. Files are exchanged whole, so that a reader or an editor finds the old or the new.
    """

    def __init__(self) -> None:
        self.token = secrets.token_urlsafe(24)
        self._lock = threading.Lock()
        self._folder = Path()
        self._sums: dict[str, str] = {}
        self._written: dict[str, list[_Written]] = {}

    def read(self, folder: Path) -> None:
        """Note what the sources of a course are before they are built: Markdown alone can be written."""
        course = CourseFolder(folder.resolve())
        uris = [uri for uri in course.sources() if uri in course.texts]
        sums = {uri: _sum(course.source(uri).read_bytes()) for uri in uris if course.source(uri).is_file()}
        with self._lock:
            self._folder, self._sums = course.folder, sums

    def page(self, uri: str) -> dict[str, str] | None:
        """What a page made from a source is given; nothing where its source cannot be written."""
        if uri not in self._sums:
            return None
        return {"source": uri, "sum": self._sums[uri], "token": self.token}

    def knows(self, token: str) -> bool:
        """Whether a token is that of this server."""
        return hmac.compare_digest(token.encode(), self.token.encode())

    def last(self, uri: object, language: str = "en") -> list[str]:
        """The lines that were written last and can be taken back; `Refused` for what is no source."""
        with self._lock:
            path = self._path(uri, language)
            written = self._written.get(str(uri), [])
            now = path.read_bytes() if written and path.is_file() else b""
        return [*written[-1].lines] if written and written[-1].after == now else []

    def act(self, asked: Mapping[str, Any], language: str = "en") -> str:
        """Do what a page asks (`back`: take the last writing back, else write `lines` of `version`) and say
        what was done; `Refused` says why nothing was."""
        with self._lock:
            path = self._path(asked.get("source"), language)
            uri, back = str(asked["source"]), asked.get("back") is True
            try:
                before = path.read_bytes()
                if _sum(before) != asked.get("sum"):
                    raise Refused(told(CHANGED, language))
                done = self._back(uri, before, language) if back else _added(before, asked, path, language)
                _exchange(path, before, done.after, language)
            except OSError as problem:
                why = problem.strerror or type(problem).__name__
                raise Refused(told(DENIED.replace("{why}", f'"{why}"'), language)) from None
            steps = self._written.setdefault(uri, [])
            steps[:] = steps[:-1] if back else [*steps, done][-MOST_STEPS:]
        return told(f'taken back: "{uri}"' if back else f'written into "{uri}"', language)

    def _path(self, uri: object, language: str) -> Path:
        """The file of a source that this course has, and that lies in its folder."""
        path = self._folder / uri if isinstance(uri, str) and uri in self._sums else None
        if path is None or not path.resolve().is_relative_to(self._folder):
            raise Refused(told(UNKNOWN, language))
        return path.resolve()

    def _back(self, uri: str, now: bytes, language: str) -> _Written:
        steps = self._written.get(uri)
        if not steps or steps[-1].after != now:
            raise Refused(told(NOTHING, language))
        return _Written(now, steps[-1].before, ())


def _added(before: bytes, asked: Mapping[str, Any], path: Path, language: str) -> _Written:
    """The file with the lines that are asked for."""
    version, lines = asked.get("version"), asked.get("lines")
    if version not in (Version.PLAIN, Version.DIMINISHED) or not _are_lines(lines):
        raise Refused(told(UNKNOWN, language))
    try:
        after = with_pins(decode(before, str(path)), Version(str(version)), lines, path.name)
    except SourceErrors as wrong:
        raise Refused(f"{told('nothing was written', language)}:\n{wrong.told(language)}") from None
    except NotPins:
        raise Refused(told(UNKNOWN, language)) from None
    mark = _MARK if before.startswith(_MARK) else b""
    return _Written(before, mark + after.encode(), tuple(lines))


def _are_lines(lines: object) -> TypeGuard[list[str]]:
    """Whether something is a list of some lines of text."""
    if not isinstance(lines, list) or not 0 < len(lines) <= MOST_LINES:
        return False
    return all(isinstance(line, str) and line.isprintable() for line in lines)


def _exchange(path: Path, before: bytes, after: bytes, language: str) -> None:
    """Put a new file in the place of one, whole or not at all, unless that has become another meanwhile."""
    handle, name = tempfile.mkstemp(prefix=".verset-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(after)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(stat.S_IMODE(path.stat().st_mode))
        if path.read_bytes() != before:
            raise Refused(told(CHANGED, language))
        Path(name).replace(path)
    finally:
        with suppress(FileNotFoundError):
            Path(name).unlink()


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
