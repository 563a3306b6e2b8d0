"""A folder of files that is written whole or not at all."""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def whole(folder: Path) -> Iterator[Path]:
    """An empty folder to write into; when nothing fails its files go into `folder`, else nothing stays of
    them, nor of a folder that was not there before."""
    new = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(prefix=".making-", dir=folder))
    try:
        yield work
        for path in sorted(work.iterdir()):
            path.replace(folder / path.name)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        for each in new:
            with contextlib.suppress(OSError):
                each.rmdir()
        raise
    work.rmdir()
