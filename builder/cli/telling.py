"""What the command line says, where nothing that was typed can steer the terminal."""

from __future__ import annotations

from typing import TextIO

from builder.source.errors import harmless_lines


def tell(told: object, *, file: TextIO | None = None, end: str = "\n") -> None:
    """Print a text of one or more lines; signs of steering are shown as signs.

    >>> tell("one" + chr(27) + "[2J")
    one␛[2J
    """
    print(harmless_lines(str(told)), file=file, end=end)
