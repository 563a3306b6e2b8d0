"""What the command line says, where nothing that was typed can steer the terminal."""

from __future__ import annotations

import re
from typing import TextIO

from builder.source.errors import visible


def tell(told: object, *, file: TextIO | None = None, end: str = "\n") -> None:
    """Print a text of one or more lines; signs of steering are shown as signs.

    >>> tell("one" + chr(27) + "[2J")
    one␛[2J
    """
    print(re.sub(r"[^\n\t]+", lambda part: visible(part[0]), str(told)), file=file, end=end)
