"""Locks that the system itself opens when their holder dies, however it dies."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class Lock:
    """A file that one process at a time holds. Whoever gives it up may remove it: a lock taken on a file that
    is no longer there is taken anew."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: int | None = None

    @property
    def held(self) -> bool:
        return self._file is not None

    def take(self, *, wait: bool = True, together: bool = False) -> bool:
        """Take the lock; False when another has it and we do not `wait`. Holders `together` share it with one
        another (where the system has such locks), not with one that wants it alone."""
        while True:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            try:
                file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
            except FileNotFoundError:
                continue  # its folder was removed in this moment
            try:
                taken = _take(file, wait, together)
            except BaseException:
                os.close(file)
                raise
            if not taken:
                os.close(file)
                return False
            if self._still_there(file):
                self._file = file
                return True
            os.close(file)

    def drop(self, *, remove: bool = False) -> None:
        """Give the lock up, and its file too when it is to go."""
        if self._file is None:
            return
        if remove:
            with contextlib.suppress(OSError):
                self.path.unlink()
        os.close(self._file)
        self._file = None

    def _still_there(self, file: int) -> bool:
        try:
            return os.path.samestat(os.fstat(file), self.path.stat())
        except FileNotFoundError:
            return False


if sys.platform == "win32":

    def _take(file: int, wait: bool, together: bool) -> bool:
        """One byte of the file stands for the lock; the system knows none that is shared."""
        while True:
            try:
                os.lseek(file, 0, os.SEEK_SET)
                msvcrt.locking(file, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
                return True
            except OSError:
                if not wait:
                    return False

else:

    def _take(file: int, wait: bool, together: bool) -> bool:
        how = (fcntl.LOCK_SH if together else fcntl.LOCK_EX) | (0 if wait else fcntl.LOCK_NB)
        try:
            fcntl.flock(file, how)
        except BlockingIOError:
            return False
        return True
