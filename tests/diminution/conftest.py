from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from builder.analysis import Analysis, analyse
from builder.counterpoint import Realisation, realise
from builder.source import Verset, parse, read

CONTENT = Path(__file__).parents[2] / "content" / "versets"


@cache
def _plain(name: str, extra: str) -> tuple[Verset, Analysis, Realisation]:
    path = CONTENT / f"{name}.md"
    verset = parse(path.read_text(encoding="utf-8") + extra, path=str(path)) if extra else read(path)
    analysis = analyse(verset)
    return verset, analysis, realise(verset, analysis)


@pytest.fixture
def plain():  # type: ignore[no-untyped-def]
    """A verset of the course by name, with its analysis and plain realisation; perhaps with blocks added."""
    return lambda name, extra="": _plain(name, extra)
