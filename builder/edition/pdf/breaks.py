"""Where lines of music break: every line about as full as the others, the last one too."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence

from builder.engraving.barlines import OPEN

_MEI = "http://www.music-encoding.org/ns/mei"
_SVG = "{http://www.w3.org/2000/svg}"


def even_lines(widths: Sequence[float], lines: int) -> list[int]:
    """How many bars stand on each line when bars of these natural widths are set on so many lines:
    the exact least sum of squared lengths.

    >>> even_lines([10, 10, 10, 10, 10], 2)
    [2, 3]
    >>> even_lines([10, 10, 30, 10], 2)
    [2, 2]
    """
    count = len(widths)
    lines = max(1, min(lines, count))
    ends = [0.0]
    for width in widths:
        ends.append(ends[-1] + width)
    best = {(0, 0): (0.0, 0)}
    for line in range(1, lines + 1):
        for stop in range(line, count - (lines - line) + 1):
            best[line, stop] = min(
                (best[line - 1, start][0] + (ends[stop] - ends[start]) ** 2, start)
                for start in range(line - 1, stop)
                if (line - 1, start) in best
            )
    counts, stop = [], count
    for line in range(lines, 0, -1):
        start = best[line, stop][1]
        counts.append(stop - start)
        stop = start
    return counts[::-1]


def together(mei: str, widths: Sequence[float], column: float) -> list[int]:
    """How many bars stand between two bar lines each time: no line of music parts them, unless they are wider
    than the column.

    >>> mei = '<m xmlns="http://www.music-encoding.org/ns/mei"><measure type="open"/><measure/><measure/></m>'
    >>> together(mei, [10, 10, 10], 90), together(mei, [10, 10, 10], 15)
    ([2, 1], [1, 1, 1])
    """
    found: list[int] = []
    joined, wide = False, 0.0
    for measure, width in zip(ET.fromstring(mei).iter(f"{{{_MEI}}}measure"), widths, strict=True):
        if joined and wide + width <= column:
            found[-1] += 1
        else:
            found.append(1)
        joined, wide = measure.get("type") == OPEN, width
    return found


def natural_widths(svg: str) -> list[float]:
    """Widths of the bars of a single long system as it is drawn when nothing pulls it out."""
    widths = []
    for measure in ET.fromstring(svg).iter(f"{_SVG}g"):
        if measure.attrib.get("class", "").split()[:1] != ["measure"]:
            continue
        line = measure.find(f"{_SVG}g[@class='staff']/{_SVG}path")
        ends = re.findall(r"[-\d.]+", line.attrib["d"]) if line is not None else ["0"] * 4
        widths.append(float(ends[2]) - float(ends[0]))
    return widths


def broken(mei: str, counts: Sequence[int]) -> str:
    """The MEI with a break after so many bars each time: a page break, so that every line becomes a
    picture of its own."""
    ET.register_namespace("", _MEI)
    root = ET.fromstring(mei)
    section = next(root.iter(f"{{{_MEI}}}section"))
    measures = [n for n, child in enumerate(section) if child.tag == f"{{{_MEI}}}measure"]
    starts = [measures[sum(counts[:n])] for n in range(1, len(counts))]
    for start in reversed(starts):
        before = section[start - 1]
        if before.get("type") == OPEN:  # a line of music ends with a bar line
            before.attrib.pop("right", None)
        section.insert(start, ET.Element(f"{{{_MEI}}}pb"))
    return ET.tostring(root, encoding="unicode")
