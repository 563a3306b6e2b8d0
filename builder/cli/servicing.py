"""The call `service`: a suggestion for a Magnificat or a Mass, as a page of the course to be edited."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from builder.analysis import analyse
from builder.cli.known import known_versets
from builder.cli.telling import tell
from builder.edition.service.order import Order, parse_order
from builder.edition.service.plan import plan
from builder.edition.service.suggest import as_text, suggest
from builder.language.texts import edition_texts
from builder.source import SourceErrors, Verset
from builder.source.errors import Faults
from builder.source.wording import told


@dataclass(frozen=True, slots=True)
class _Known:
    verset: Verset
    tone: int


def suggest_service(
    of: str,
    tones: Sequence[str],
    reciting: str,
    first: str,
    minutes: float,
    config_file: Path,
    target: Path | None,
) -> int:
    """Write a suggestion to a file that is not there yet or to the terminal, and tell what a musician should
    look at; 2 when none can be made."""
    course = known_versets(config_file)
    if course is None:
        return 2
    found, language = course
    if target and target.exists():
        tell(f"{target} {told('is there already: name a new file', language)}", file=sys.stderr)
        return 2
    known = {name: _Known(verset, verset.tone or analyse(verset).tone) for name, verset in found.items()}
    try:
        order = _order(of, tones, reciting, first, minutes)
        assert order.wanted is not None
        faults, w = Faults(order.path), edition_texts(language)
        items, _ = suggest(order.wanted, known, w, faults)
        faults.stop()
    except SourceErrors as wrong:
        for error in wrong.errors:
            tell(f"verset-builder: {error.told(language).splitlines()[0].split(': ', 1)[1]}", file=sys.stderr)
        return 2
    text = as_text(w(f"service.title-{of}", tone=order.wanted.tone), items, order.wanted)
    if target:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, "utf-8")
        tell(target)
    else:
        tell(text.rstrip("\n"))
    for warning in plan(order, known, language=language).warnings:
        tell(warning, file=sys.stderr)
    return 0


def _order(of: str, tones: Sequence[str], reciting: str, first: str, minutes: float) -> Order:
    """What is wanted, read as from a page, so that it is checked as there."""
    asked = [tone.split() for tone in tones]
    keys = [
        f"{words[0].lower() if len(words) > 1 else 'tone'}: {words[-1] if words else ''}" for words in asked
    ]
    more = [f"reciting: {reciting}"] if reciting else []
    inside = ", ".join([f"of: {of}", *keys, *more, f"first: {first}", f"minutes: {minutes}"])
    return parse_order(f"---\ntitle: A\nservice:\n  suggest: {{{inside}}}\n---\n", "service")
