"""Versets written in a line or two."""

from collections.abc import Callable

import pytest

from builder.analysis import Analysis, analyse
from builder.source import Verset, parse

Write = Callable[..., Verset]
Hear = Callable[..., Analysis]


@pytest.fixture
def write() -> Write:
    """A verset from its given line, with metre, signature and tone where a test needs them."""

    def verset(
        given: str, metre: str = "C", signature: str = "none", tone: int | None = None, pins: str = ""
    ) -> Verset:
        lines = "\n".join(line.strip() for line in given.strip().splitlines())
        named = f"  tone: {tone}\n" if tone else ""
        front = f"---\ntitle: A verset\nverset:\n  metre: {metre}\n  signature: {signature}\n{named}---\n"
        return parse(f"{front}\n```given\n{lines}\n```\n{pins}")

    return verset


@pytest.fixture
def hear(write: Write) -> Hear:
    """The analysis of a verset written so."""

    def analysis(given: str, **front: object) -> Analysis:
        return analyse(write(given, **front))

    return analysis
