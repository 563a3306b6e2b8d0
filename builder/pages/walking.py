"""What lies below a folder, seen once: a site of a thousand versets has a hundred thousand files."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path


def below(folder: Path) -> Iterator[tuple[str, os.DirEntry[str], os.stat_result]]:
    """Whatever lies below a folder and is no folder itself: its name there, with `/` between the parts, its
    entry, and what the system says of it. Links are not followed. `OSError` where a folder cannot be read.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as place:
    ...     (Path(place) / "a" / "b").mkdir(parents=True)
    ...     _ = (Path(place) / "a" / "b" / "c.txt").write_text("12")
    ...     [(name, seen.st_size) for name, _, seen in below(Path(place))]
    [('a/b/c.txt', 2)]
    """
    waiting = [""]
    while waiting:
        within = waiting.pop()
        with os.scandir(folder / within) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(f"{within}{entry.name}/")
                else:
                    yield f"{within}{entry.name}", entry, entry.stat(follow_symlinks=False)
