"""The clefs of the incipit by geometry: staves whose clefs hang towards each other stand apart."""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import pytest

from builder.edition.pdf.incipit import incipit
from builder.source import parse

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
from geometry import named_boxes

CLEFS = ("E050", "E05C", "E062")
"""G, C and F clef in SMuFL."""
SPACE = 180
HEAD = "---\ntitle: Clefs\nverset:\n  metre: C\n  signature: none\n---\n\n"


def air_between_clefs(upper: str, lower: str) -> list[float]:
    """Stave spaces between each clef and the next below it."""
    drawn = incipit(parse(f"{HEAD}```given\ncantus {upper} | B4/1\ntenor {lower} | B3/1\n```\n")).svg
    boxes = sorted((box for code, box in named_boxes(drawn) if code in CLEFS), key=lambda box: box[1])
    assert len(boxes) == 2
    return [(below[1] - above[3]) / SPACE for above, below in pairwise(boxes)]


@pytest.mark.parametrize(
    ("upper", "lower"),
    [("C1", "C4"), ("C1", "C3"), ("G2", "C2"), ("G2", "C4"), ("C2", "C4"), ("C1", "F3"), ("C3", "C4")],
)
def test_the_clefs_of_neighbouring_staves_stand_a_stave_space_apart(upper: str, lower: str) -> None:
    """Natural and high clefs; C1 over C4 hang furthest towards each other. A stave space is our own measure
    (common practice, no source)."""
    assert min(air_between_clefs(upper, lower)) >= 1
