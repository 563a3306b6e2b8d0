"""What nobody foresaw, as a message for people and a log for those who mend the program."""

from __future__ import annotations

import contextlib
import platform
import tempfile
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path

LOG = "verset-builder.log"


def log_of(traces: Iterable[str], folder: Path) -> Path | None:
    """Write traces into a log in `folder`, or where that cannot be written, among the system's temporary
    files; gives its place, or None where nothing can be written at all. The last log is replaced."""
    versions = f"verset-builder {version('verset-builder')}, Python {platform.python_version()}, "
    text = "\n".join([versions + platform.platform(), *traces])
    for place in (folder, Path(tempfile.gettempdir())):
        with contextlib.suppress(OSError):
            path = place / LOG
            path.write_text(text, "utf-8", errors="replace")
            return path
    return None


def asked_for(log: Path | None) -> str:
    """The sentence that asks for a report."""
    if log is None:
        return "No log could be written. Please report it, with the words above and the file."
    return f"Please report it with the file it names and the log: {log}"
