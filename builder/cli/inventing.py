"""A new verset from the command line."""

from __future__ import annotations

import sys
from pathlib import Path

from builder.cli.language import language_of
from builder.cli.telling import tell
from builder.invention import Order, OrderError, invent
from builder.source.wording import told


def invent_source(order: Order, target: Path | None, language: str = "") -> int:
    """Write a new verset as ordered, to a file that is not there yet or to the terminal; 2 when the order
    cannot be met. `language` empty: that of the course."""
    speaks = language or language_of(target or Path("verset.md"))
    if target and target.exists():
        tell(f"{target} {told('is there already: name a new file', speaks)}", file=sys.stderr)
        return 2
    try:
        made = invent(order, language=speaks)
    except OrderError as error:
        tell(f"verset-builder: {error.told(speaks)}", file=sys.stderr)
        return 2
    if target is None:
        tell(made.text.rstrip("\n"))
        return 0
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(made.text, "utf-8")
    tell(target)
    return 0
