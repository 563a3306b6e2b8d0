"""A finished site takes the place of the old one, whole or not at all.

Beside the site's folder stands, while a build is under way, a folder of the same name with `.build` behind
it: the new site in the making, for a moment the old one, and the lock that keeps two builds of one course
apart. A build that finds it left by one that died puts the old site back where it is missing, and clears
the rest.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path

from builder.pages.locks import Lock

_LOCK = "verset-builder.lock"


class PublishingError(ValueError):
    """Why a site cannot be published here."""


class Publication:
    """One build of a site: `begin`, then fill `new`, then `exchange` it for the old one; or `abandon` it."""

    def __init__(self, site: Path) -> None:
        self.site = site
        self.room = site.with_name(f"{site.name}.build")
        self.new, self.old = self.room / "new", self.room / "old"
        self._lock = Lock(self.room / _LOCK)

    def begin(self, waiting: Callable[[], None] = lambda: None) -> None:
        """Take the place where the site is made; `waiting` is called when another build has it, and must
        be waited for. `PublishingError` when the place is taken by files of another's."""
        if self.room.is_dir() and os.listdir(self.room) and not self._lock.path.is_file():
            raise PublishingError(
                f"{self.room} is in the way: verset-builder would make the new site there, and did not put "
                "there what is in it"
            )
        if not self._lock.take(wait=False):
            waiting()
            self._lock.take()
        self._clear()
        self.new.mkdir()

    def exchange(self) -> None:
        """Put the new site in the place of the old one. Files whose names begin with a dot are not the
        builder's (`.git`, `.nojekyll`): they stay."""
        if os.path.lexists(self.site):
            self.site.rename(self.old)
        try:
            self.new.rename(self.site)
        except OSError:
            self._put_back()
            raise
        self.abandon()

    def abandon(self) -> None:
        """Leave nothing behind; without effect when this build has nothing here."""
        if self._lock.held:
            with contextlib.suppress(OSError):
                self._clear()
            self._lock.drop(remove=True)
            with contextlib.suppress(OSError):
                self.room.rmdir()

    def _clear(self) -> None:
        """The old site where it belongs, and no left-over."""
        self._put_back()
        if self.old.is_dir():
            self._keep_hidden()
        for folder in (self.old, self.new):
            if folder.is_symlink():
                folder.unlink()
            shutil.rmtree(folder, ignore_errors=True)

    def _put_back(self) -> None:
        if os.path.lexists(self.old) and not os.path.lexists(self.site):
            self.old.rename(self.site)

    def _keep_hidden(self) -> None:
        for path in sorted(self.old.iterdir()):
            target = self.site / path.name
            if path.name.startswith(".") and not os.path.lexists(target):
                path.rename(target)
