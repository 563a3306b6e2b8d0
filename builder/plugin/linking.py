"""Files of the store on the site: one file with two names, not two copies."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from mkdocs.structure.files import File


class StoredFile(File):
    """A file that the store keeps. The site has it by a hard link: to copy the editions of a large course
    takes longer than all else that a rebuild does with them, and as much room again. Where the system makes
    no link, for one to another disk, it is copied.

    Who writes into such a file of the site in place changes what is kept: its sum is wrong then, and the next
    build makes it anew.
    """

    def copy_file(self, dirty: bool = False) -> None:
        assert self.abs_src_path is not None
        link(Path(self.abs_src_path), Path(self.abs_dest_path))


def link(kept: Path, place: Path) -> None:
    """Give a kept file another name, or copy it where the system makes no link."""
    place.parent.mkdir(parents=True, exist_ok=True)
    # What stands there may be another entry's file: never write into it.
    place.unlink(missing_ok=True)
    try:
        os.link(kept, place)
    except OSError:
        shutil.copyfile(kept, place)
