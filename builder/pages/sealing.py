"""Files that begin with a seal: it shows that they are whole, and with a secret that one of ours wrote it."""

from __future__ import annotations

import hashlib
import hmac
import os
import stat
from pathlib import Path

SECRET = "VERSET_STORE_SECRET"
_LARGEST = 64 << 20
"""Bytes beyond which a file is none of ours."""


def sealed(text: str) -> str:
    """What to write in a file, for `unsealed` to read.

    >>> sealed("{}").splitlines()[1:]
    ['{}']
    """
    return f"{_seal(text)}\n{text}\n"


def unsealed(path: Path) -> str:
    """The text of such a file; `ValueError` or `OSError` for one that was changed, or sealed by another.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "entry.json"
    ...     _ = path.write_text(sealed("{}"))
    ...     unsealed(path)
    '{}'
    """
    found = path.lstat()
    if not stat.S_ISREG(found.st_mode) or found.st_size > _LARGEST:
        raise ValueError(f"{path.name} is no file of ours")
    seal, _, text = path.read_text("utf-8").partition("\n")
    text = text.rstrip("\n")
    if not hmac.compare_digest(_seal(text).encode(), seal.encode()):
        raise ValueError(f"{path.name} was changed, or sealed by another")
    return text


def _seal(text: str) -> str:
    secret = os.environ.get(SECRET, "")
    if secret:
        return hmac.digest(secret.encode("utf-8", "surrogateescape"), text.encode(), "sha256").hex()
    return hashlib.sha256(text.encode()).hexdigest()
